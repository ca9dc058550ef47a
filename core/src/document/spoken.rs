//! Entering what a dictation was understood to say.
//!
//! A dictated value is kept as a draft with the words it came from. It also becomes the field's
//! value when the field is empty, or held an unconfirmed dictated value of the same speaker; it
//! never replaces what a person typed or confirmed, nor what someone else said: then the draft
//! waits for a person.

use super::change::Change;
use super::check::{normalise, write};
use super::doc::SurveyDoc;
use super::edit::says;
use super::error::DocumentError;
use super::held::Entry;
use super::ids::Ids;
use super::place::on_site;
use super::schema::{Fields, Table, canonical, flatten};
use super::stamp::{Means, Stamp};
use super::units::{Units, compared};
use super::view::row;
use crate::survey::codes::EquipmentKind;
use crate::survey::spoken::{Evidence, Fact, Interpretation, Transcript};
use crate::survey::{Draft, Finding, FollowUp, Hazard, Note, Origin, SITE};
use automerge::ReadDoc;
use serde::Serialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::sync::Arc;

impl SurveyDoc {
    /// Enters a note and what was understood of it as one change. A note that is there already
    /// is not entered twice: none is returned.
    ///
    /// # Errors
    /// [`DocumentError::Internal`] only; a value that does not fit its field stays a draft that
    /// says why.
    pub fn add_interpretation(
        &mut self,
        stamp: &Stamp,
        transcript: &Transcript,
        heard: &Interpretation,
        ids: &mut dyn Ids,
    ) -> Result<Option<Change>, DocumentError> {
        let note_id = match transcript.note_id.as_str() {
            "" => ids.next_id(stamp.at_ms()),
            id => id.to_owned(),
        };
        if row(&self.am, &self.tables, Table::Notes, &note_id).is_some() {
            return Ok(None);
        }
        let entry = NoteEntry::plan(self, stamp, &note_id, transcript, heard, ids);
        self.commit(stamp, Means::Dictated, |edits| {
            for (table, id, fields) in &entry.new {
                let object = edits.make(*table, id)?;
                edits.put_all(&object, fields)?;
            }
            for ((table, id, field), value) in &entry.values {
                if let Some(object) = edits.at(*table, id) {
                    edits.put(&object, field, value)?;
                }
            }
            Ok(())
        })
    }
}

/// What one note adds to the document.
struct NoteEntry<'a> {
    doc: &'a SurveyDoc,
    ids: &'a mut dyn Ids,
    at_ms: i64,
    origin: Origin,
    units: Arc<Units>,
    drafts: Vec<Arc<Entry>>,
    /// New units of this note, by compared tag.
    made: BTreeMap<String, String>,
    new: Vec<(Table, String, Fields)>,
    values: BTreeMap<(Table, String, String), Value>,
}

struct Planned {
    new: Vec<(Table, String, Fields)>,
    values: BTreeMap<(Table, String, String), Value>,
}

impl<'a> NoteEntry<'a> {
    fn plan(
        doc: &'a SurveyDoc,
        stamp: &Stamp,
        note_id: &str,
        transcript: &Transcript,
        heard: &Interpretation,
        ids: &'a mut dyn Ids,
    ) -> Planned {
        let author = transcript
            .author
            .clone()
            .unwrap_or_else(|| stamp.author.clone());
        let at = transcript.recorded_at.unwrap_or(stamp.at);
        let mut entry = NoteEntry {
            doc,
            ids,
            at_ms: stamp.at_ms(),
            origin: Origin {
                author: Some(author.clone()),
                at: Some(at),
                note_id: Some(note_id.to_owned()),
                ..Origin::default()
            },
            units: doc.index(),
            drafts: doc.entries(Table::Drafts).cloned().collect(),
            made: BTreeMap::new(),
            new: Vec::new(),
            values: BTreeMap::new(),
        };
        let note = Note {
            id: note_id.to_owned(),
            author: Some(author),
            recorded_at: Some(at),
            segments: transcript.segments.clone(),
        };
        entry.push(Table::Notes, note_id.to_owned(), &note);
        for mention in &heard.equipment {
            entry.unit(&mention.tag, Some(mention.kind));
        }
        for fact in &heard.facts {
            entry.fact(fact);
        }
        entry.entries(heard);
        Planned {
            new: entry.new,
            values: entry.values,
        }
    }

    fn entries(&mut self, heard: &Interpretation) {
        for finding in &heard.findings {
            let finding = Finding {
                id: String::new(),
                about: self.unit(&finding.about, None),
                component: finding.component,
                condition: finding.condition,
                certainty: finding.certainty,
                severity: finding.severity,
                action: finding.action,
                remark: None,
                origin: self.origin(
                    finding.evidence,
                    Some(finding.confidence),
                    finding.needs_confirmation.clone(),
                ),
            };
            self.fresh(Table::Findings, &finding);
        }
        for hazard in &heard.hazards {
            let hazard = Hazard {
                id: String::new(),
                kind: hazard.kind,
                about: hazard.about.as_deref().map(|about| self.unit(about, None)),
                at_ft: None,
                remark: None,
                origin: self.origin(hazard.evidence, Some(hazard.confidence), None),
            };
            self.fresh(Table::Hazards, &hazard);
        }
        for follow_up in &heard.follow_ups {
            let follow_up = FollowUp {
                id: String::new(),
                about: self.unit(&follow_up.about, None),
                what: follow_up.what.clone(),
                origin: self.origin(follow_up.evidence, None, None),
            };
            self.fresh(Table::FollowUps, &follow_up);
        }
    }

    fn fact(&mut self, fact: &Fact) {
        let about = self.unit(&fact.about, None);
        let (table, id, field) = match about.as_str() {
            SITE => {
                let (table, id, field) = on_site(&fact.field);
                (table, id.to_owned(), field)
            }
            unit => (Table::Equipment, unit.to_owned(), fact.field.clone()),
        };
        let fitted = normalise(table, &fact.about, &field, &fact.value);
        let mut doubt = fact.needs_confirmation.clone();
        // A list field is heard one member at a time; a draft keeps the member.
        let (said, whole) = match fitted {
            Ok(Value::Array(mut members)) if fact.value.is_object() && members.len() == 1 => {
                let member = members.pop().unwrap_or(Value::Null);
                (member.clone(), json!([member]))
            }
            Ok(value) => (value.clone(), value),
            Err(error) => {
                doubt.get_or_insert_with(|| error.to_string());
                (fact.value.clone(), Value::Null)
            }
        };
        let key = (table, id, field);
        if doubt.is_none() {
            doubt = self.hindrance(&key, &about, &said);
        }
        let evidence = self.origin(fact.evidence, Some(fact.confidence), doubt.clone());
        if doubt.is_none() {
            match (self.values.get_mut(&key), &whole) {
                (Some(Value::Array(list)), Value::Array(more)) if fact.value.is_object() => {
                    list.extend(more.iter().cloned());
                }
                _ => {
                    self.values.insert(key, whole);
                }
            }
        }
        let draft = Draft {
            id: String::new(),
            about,
            field: fact.field.clone(),
            value: said,
            origin: evidence,
        };
        self.fresh(Table::Drafts, &draft);
    }

    /// Why a dictated value may not take its field's place.
    fn hindrance(
        &self,
        (table, id, field): &(Table, String, String),
        about: &str,
        said: &Value,
    ) -> Option<String> {
        let unit = || self.units.find(id).map(|unit| self.doc.unit_row(unit));
        let entry = match table {
            Table::Equipment => unit(),
            _ => row(&self.doc.am, &self.doc.tables, *table, id),
        }?;
        let current = entry.get(field)?;
        if says(current, said) {
            return None;
        }
        let mut ops = Vec::new();
        for object in &entry.objects {
            ops.extend(
                self.doc
                    .am
                    .get_all(object, field.as_str())
                    .unwrap_or_default(),
            );
        }
        let shown = canonical(current);
        for (_, op) in &ops {
            let (stamp, means) = self.doc.signed(op);
            let who = stamp.map_or_else(|| "someone".to_owned(), |stamp| stamp.author);
            if means == Means::Typed {
                return Some(format!("{who} entered {shown}"));
            }
        }
        let on_field = |draft: &&Arc<Entry>| {
            let same_field = draft.text("field").is_some_and(|heard| match about {
                SITE => on_site(heard).2 == *field,
                _ => heard == field,
            });
            let on = draft.text("ref").unwrap_or_default();
            let on = self.units.find(on).map_or(on, |unit| unit.row.id.as_str());
            same_field && on == about
        };
        for draft in self.drafts.iter().filter(on_field) {
            if !draft.get("value").is_some_and(|value| says(current, value)) {
                continue;
            }
            let confirmed = draft
                .fields
                .keys()
                .find_map(|f| f.strip_prefix("confirmed_by."));
            if let Some(who) = confirmed {
                return Some(format!("{who} confirmed {shown}"));
            }
            let speaker = draft.text("author").map(str::to_owned);
            if speaker != self.origin.author {
                let who = speaker.unwrap_or_else(|| "someone".to_owned());
                return Some(format!("{who} said {shown}"));
            }
        }
        None
    }

    /// The id that a spoken reference is kept under; a unit not heard of before is made.
    fn unit(&mut self, tag: &str, kind: Option<EquipmentKind>) -> String {
        if tag == SITE {
            return SITE.to_owned();
        }
        if let Some(unit) = self.units.find(tag) {
            return unit.row.id.clone();
        }
        let key = compared(tag);
        if let Some(id) = self.made.get(&key) {
            return id.clone();
        }
        let letters: String = tag.chars().take_while(char::is_ascii_alphabetic).collect();
        let by_tag = || {
            let all = EquipmentKind::ALL.iter().copied();
            all.into_iter()
                .find(|kind| kind.tag_prefix().eq_ignore_ascii_case(&letters))
        };
        let kind = kind.or_else(by_tag).unwrap_or(EquipmentKind::Other);
        let id = self.ids.next_id(self.at_ms);
        let fields = [("tag", json!(tag)), ("kind", json!(kind))];
        let fields = fields.map(|(field, value)| (field.to_owned(), value));
        self.new.push((Table::Equipment, id.clone(), fields.into()));
        self.made.insert(key, id.clone());
        id
    }

    fn origin(
        &self,
        evidence: Evidence,
        confidence: Option<f64>,
        needs_confirmation: Option<String>,
    ) -> Origin {
        Origin {
            evidence: Some(evidence),
            confidence,
            needs_confirmation,
            ..self.origin.clone()
        }
    }

    fn fresh<T: Serialize>(&mut self, table: Table, entry: &T) {
        let id = self.ids.next_id(self.at_ms);
        self.push(table, id, entry);
    }

    fn push<T: Serialize>(&mut self, table: Table, id: String, entry: &T) {
        let mut entry = write(entry);
        entry.remove("id");
        self.new.push((table, id, flatten(table, &entry)));
    }
}
