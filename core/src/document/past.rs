//! What was before: an entry's life field by field, and the document as it once stood. To be
//! read only; nothing here edits.

use super::change::ChangeHash;
use super::conflict::{HistoryStep, is};
use super::doc::SurveyDoc;
use super::error::DocumentError;
use super::ids::Actor;
use super::place::missing;
use super::reopen::is_open_key;
use super::schema::{MAIN_ROOF, ONLY, Table, from_scalar};
use super::stamp::{Means, Message};
use super::stand::is_stand_key;
use super::view::{plain, row};
use crate::survey::SITE;
use automerge::legacy::{Key, OpType};
use automerge::{ObjId, ReadDoc};
use serde_json::Value;
use std::collections::BTreeSet;

/// Fields that keep the books of an entry and say nothing of the roof.
const BOOKS: [&str; 4] = [
    "same_as",
    "apart_from.",
    "withdrawn_by",
    "needs_confirmation",
];

impl SurveyDoc {
    /// Every value that any field of an entry was given, oldest first as the document orders
    /// changes, each with the field as an edit names it. `about` is as in [`super::Edit`].
    ///
    /// # Errors
    /// [`DocumentError::NoSuchEntry`].
    pub fn life(&self, about: &str) -> Result<Vec<(String, HistoryStep)>, DocumentError> {
        let objects = self.all_of(about)?;
        let mut steps = Vec::new();
        for change in self.am.get_changes(&[]) {
            let expanded = change.decode();
            let message = Message::parse(expanded.message.as_deref());
            let (stamp, means) = message.map_or((None, Means::Typed), |m| (Some(m.stamp), m.means));
            for op in &expanded.operations {
                let Key::Map(key) = &op.key else { continue };
                let of = objects.iter().find(|(object, _)| is(object, &op.obj));
                let Some((object, before)) = of.filter(|_| !is_book(key)) else {
                    continue;
                };
                let value = match &op.action {
                    OpType::Put(value) => from_scalar(&value.clone().into()),
                    OpType::Delete => self.then(object, key, change.hash()),
                    _ => continue,
                };
                steps.push((
                    format!("{before}{key}"),
                    HistoryStep {
                        value,
                        stamp: stamp.clone(),
                        means,
                        change: change.hash().to_string(),
                    },
                ));
            }
        }
        Ok(steps)
    }

    /// The maps that hold an entry's fields, each with what an edit puts before their names.
    fn all_of(&self, about: &str) -> Result<Vec<(ObjId, &'static str)>, DocumentError> {
        if about != SITE {
            let objects = self.whole_entry(&self.index(), about)?;
            return Ok(objects.into_iter().map(|object| (object, "")).collect());
        }
        let mut found = Vec::new();
        let places = [
            (Table::Site, ONLY, ""),
            (Table::Survey, ONLY, ""),
            (Table::Roofs, MAIN_ROOF, "roof."),
        ];
        for (table, id, before) in places {
            let objects = row(&self.am, &self.tables, table, id).map(|row| row.objects);
            found.extend(objects.into_iter().flatten().map(|object| (object, before)));
        }
        match found.is_empty() {
            true => Err(missing(about)),
            false => Ok(found),
        }
    }

    fn then(&self, object: &ObjId, field: &str, change: automerge::ChangeHash) -> Value {
        let held = self.am.get_at(object, field, &[change]).ok().flatten();
        held.map_or(Value::Null, |(value, _)| plain(&value))
    }

    /// The document as it stood when these were its heads; none if one of them is not in it.
    ///
    /// # Errors
    /// [`DocumentError::Unreadable`] if what it is made of cannot be read back.
    pub fn as_it_stood(
        &self,
        heads: &[ChangeHash],
        actor: Actor,
    ) -> Result<Option<Self>, DocumentError> {
        let mut wanted: BTreeSet<ChangeHash> = heads.iter().copied().collect();
        let Some(all) = self
            .changes_since(&[])
            .filter(|_| heads.iter().all(|h| self.has(h)))
        else {
            return Ok(None);
        };
        let mut kept = Vec::new();
        // Children come after their parents, so from the end each parent is known in time.
        for change in all.iter().rev() {
            if wanted.contains(&change.hash()) {
                wanted.extend(change.deps());
                kept.push(change.bytes());
            }
        }
        let chunk = kept.into_iter().rev().flatten().copied().collect();
        Self::load(self.survey_id(), &[chunk], actor).map(Some)
    }
}

fn is_book(key: &str) -> bool {
    BOOKS.iter().any(|book| key.starts_with(book)) || is_open_key(key) || is_stand_key(key)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::{Edit, Stamp, UuidIds};
    use super::*;
    use chrono::DateTime;
    use serde_json::json;

    fn stamp(at: &str) -> Stamp {
        Stamp {
            author: "ana".into(),
            device: "phone-a".into(),
            at: DateTime::parse_from_rfc3339(at).unwrap(),
            clock_offset_ms: None,
        }
    }

    fn set(doc: &mut SurveyDoc, about: &str, field: &str, value: Value, at: &str) {
        let edit = Edit::Set {
            about: about.into(),
            field: field.into(),
            value,
        };
        doc.edit(&stamp(at), edit).unwrap();
    }

    #[test]
    fn a_life_tells_every_value_and_the_past_can_be_read_again() {
        let mut doc = SurveyDoc::create("s", Actor::of_device("phone-a", [1; 6])).unwrap();
        let survey = crate::survey::read::survey_from_json(
            r#"{"survey_id": "s", "equipment": [{"tag": "RTU-1", "kind": "packaged_rooftop_unit"}]}"#,
        );
        let mut n = 0_u64;
        let mut ids = UuidIds::new(move || {
            n += 1;
            n.to_be_bytes()
        });
        doc.import(
            &stamp("2026-04-14T08:00:00-08:00"),
            &survey.unwrap(),
            &mut ids,
        )
        .unwrap();
        set(
            &mut doc,
            "RTU-1",
            "nameplate.mca_a",
            json!(24.0),
            "2026-04-14T09:00:00-08:00",
        );
        let then = doc.heads();
        set(
            &mut doc,
            "RTU-1",
            "nameplate.mca_a",
            json!(42.0),
            "2026-04-14T10:00:00-08:00",
        );
        set(
            &mut doc,
            SITE,
            "roof.height_ft",
            json!(22.0),
            "2026-04-14T10:01:00-08:00",
        );
        let life = doc.life("RTU-1").unwrap();
        let mca: Vec<&Value> = life
            .iter()
            .filter(|(field, _)| field == "nameplate.mca_a")
            .map(|(_, step)| &step.value)
            .collect();
        assert_eq!(mca, [&json!(24.0), &json!(42.0)]);
        assert!(life.iter().all(|(_, step)| step.stamp.is_some()));
        let site = doc.life(SITE).unwrap();
        assert!(site.iter().any(|(field, _)| field == "roof.height_ft"));
        assert!(doc.life("RTU-9").is_err());

        let actor = Actor::of_device("office", [2; 6]);
        let past = doc.as_it_stood(&then, actor).unwrap().unwrap();
        assert_eq!(past.heads(), then);
        let plate = &past.survey().equipment[0].nameplate;
        assert_eq!(serde_json::to_value(plate).unwrap()["mca_a"], json!(24.0));
        let strange = ChangeHash::from_bytes(&[7; 32]).unwrap();
        let actor = Actor::of_device("office", [3; 6]);
        assert!(doc.as_it_stood(&[strange], actor).unwrap().is_none());
    }
}
