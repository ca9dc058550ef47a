//! What two people said differently, who said it, and the history of a field.

use super::doc::SurveyDoc;
use super::error::DocumentError;
use super::held::Entry;
use super::place::Place;
use super::reopen::{is_open_key, opened};
use super::schema::{ONLY, Table, from_scalar, same_value};
use super::stamp::{Means, Message, Stamp};
use super::stand::is_stand_key;
use super::units::Units;
use super::view::{Row, plain};
use crate::survey::SITE;
use automerge::legacy::{Key, ObjectId, OpType};
use automerge::{ObjId, ReadDoc};
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeSet;
use std::sync::Arc;

/// A value that a field was given, and by whom.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Candidate {
    /// The value; null where someone cleared the field.
    pub value: Value,
    /// Whether this is the value that the survey shows for now.
    pub current: bool,
    /// Who, where and when; absent for what the survey began with.
    pub stamp: Option<Stamp>,
    /// How it came about.
    pub means: Means,
    /// The entry that holds it: of a joined unit, the member.
    pub entry: String,
}

/// A field with more than one value, until someone chooses by setting it.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Conflict {
    /// Tag of the unit, [`SITE`], or the id of the entry; good as `about` of an edit.
    #[serde(rename = "ref")]
    pub about: String,
    /// Name of the table.
    pub table: String,
    /// The entry, by id.
    pub entry: String,
    /// The field's path; good as `field` of an edit.
    pub field: String,
    /// The values, the one shown for now first.
    pub candidates: Vec<Candidate>,
}

impl Conflict {
    /// Whether people entered different values by hand, so that nobody was merely misheard.
    pub fn between_people(&self) -> bool {
        let mut typed = self.candidates.iter().filter(|c| c.means == Means::Typed);
        let first = typed.next().map(|candidate| &candidate.value);
        typed.any(|candidate| Some(&candidate.value) != first)
    }
}

/// One step in the life of a field.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct HistoryStep {
    /// The value given; null where the field was cleared.
    pub value: Value,
    /// Who, where and when; absent for what the survey began with.
    pub stamp: Option<Stamp>,
    /// How it came about.
    pub means: Means,
    /// The change that did it, in hex.
    pub change: String,
}

/// A field of one entry with the values it was given.
#[derive(Debug)]
pub(super) struct Dispute {
    field: String,
    candidates: Vec<Candidate>,
}

/// Fields that keep the books of an entry; two people writing them do not disagree.
const BOOKS: [&str; 3] = ["withdrawn_by", "same_as", "needs_confirmation"];

fn keeps_books(field: &str) -> bool {
    BOOKS.contains(&field)
        || field.starts_with("confirmed_by.")
        || is_open_key(field)
        || is_stand_key(field)
}

impl SurveyDoc {
    /// Every field with more than one value: first those in which people contradict each other,
    /// then those with something dictated; each in the order of the survey.
    pub fn conflicts(&self) -> Vec<Conflict> {
        let mut found = Vec::new();
        let units = self.units();
        for table in Table::ALL {
            if table == Table::Equipment {
                for unit in &units.units {
                    let tag = unit.row.text("tag").unwrap_or(&unit.row.id);
                    let about = match units.find(tag) {
                        Some(first) if first.row.id == unit.row.id => tag,
                        _ => &unit.row.id,
                    };
                    self.contested(units, table, about, &unit.row, &mut found);
                }
                continue;
            }
            for entry in self.in_view(table) {
                let about = if entry.id == ONLY { SITE } else { &entry.id };
                self.contested(units, table, about, entry, &mut found);
            }
        }
        found.sort_by_key(|conflict| !conflict.between_people());
        found
    }

    fn contested(
        &self,
        units: &Units,
        table: Table,
        about: &str,
        entry: &Entry,
        found: &mut Vec<Conflict>,
    ) {
        let disputes = entry.disputes.get_or_init(|| self.disputes(table, entry));
        for Dispute { field, candidates } in disputes {
            let mut candidates = candidates.clone();
            if field == "ref" {
                for candidate in &mut candidates {
                    if let Value::String(stored) = &mut candidate.value {
                        *stored = units.tag_of(stored).to_owned();
                    }
                }
            }
            let first = candidates.first().map(|c| c.value.clone());
            if candidates.iter().any(|c| Some(&c.value) != first.as_ref()) {
                found.push(Conflict {
                    about: about.to_owned(),
                    table: table.name().to_owned(),
                    entry: entry.id.clone(),
                    field: field.clone(),
                    candidates,
                });
            }
        }
    }

    /// The fields of an entry that were given several values, references as they are stored.
    fn disputes(&self, table: Table, row: &Row) -> Vec<Dispute> {
        let about = if row.id == ONLY { SITE } else { &row.id };
        let mut doubtful: BTreeSet<&str> = row.contested.iter().map(String::as_str).collect();
        doubtful.extend(opened(row));
        let mut found = Vec::new();
        for field in doubtful {
            if keeps_books(field) {
                continue;
            }
            let mut candidates: Vec<Candidate> = Vec::new();
            for object in &row.objects {
                let all = self.am.get_all(object, field).unwrap_or_default();
                for (value, op) in all.iter().rev() {
                    let (stamp, means) = self.signed(op);
                    candidates.push(Candidate {
                        value: plain(value),
                        current: candidates.is_empty(),
                        stamp,
                        means,
                        entry: self.entry_of(table, row, object),
                    });
                }
            }
            for other in self.against(about, row, field) {
                let mut held = candidates.iter_mut();
                match held.find(|c| same_value(&c.value, &other.value)) {
                    // Whoever opened the field again did not give it this value.
                    Some(held) => (held.stamp, held.means) = (other.stamp, other.means),
                    None => candidates.push(other),
                }
            }
            found.push(Dispute {
                field: field.to_owned(),
                candidates,
            });
        }
        found
    }

    fn entry_of(&self, table: Table, row: &Row, object: &ObjId) -> String {
        let parents = self.am.parents(object).ok();
        let key = parents
            .and_then(|mut parents| parents.next())
            .map(|parent| parent.prop);
        match key {
            Some(automerge::Prop::Map(key)) if !table.is_single() => key,
            _ => row.id.clone(),
        }
    }

    /// Who made the operation `op`, and how.
    pub(super) fn signed(&self, op: &ObjId) -> (Option<Stamp>, Means) {
        let hash = self.am.hash_for_opid(op);
        let meta = hash.and_then(|hash| self.am.get_change_meta_by_hash(&hash));
        let message = meta.and_then(|meta| Message::parse(meta.message.as_deref()));
        message.map_or((None, Means::Typed), |m| (Some(m.stamp), m.means))
    }

    /// Every value that a field was ever given, oldest first as the document orders changes.
    ///
    /// # Errors
    /// [`DocumentError::NoSuchEntry`].
    pub fn history(&self, about: &str, field: &str) -> Result<Vec<HistoryStep>, DocumentError> {
        let units = self.index();
        let place = self.place(&units, about, field)?;
        let mut steps = Vec::new();
        for change in self.am.get_changes(&[]) {
            let expanded = change.decode();
            for op in &expanded.operations {
                let key = matches!(&op.key, Key::Map(key) if key.as_str() == place.field);
                if !key || !place.row.objects.iter().any(|object| is(object, &op.obj)) {
                    continue;
                }
                let value = match &op.action {
                    OpType::Put(value) => from_scalar(&value.clone().into()),
                    // Settling on the value already shown only strikes out the others.
                    OpType::Delete => self.value_at(&place, change.hash()),
                    _ => continue,
                };
                let message = Message::parse(expanded.message.as_deref());
                let (stamp, means) =
                    message.map_or((None, Means::Typed), |m| (Some(m.stamp), m.means));
                steps.push(HistoryStep {
                    value,
                    stamp,
                    means,
                    change: change.hash().to_string(),
                });
            }
        }
        Ok(steps)
    }

    fn value_at(&self, place: &Place, change: automerge::ChangeHash) -> Value {
        let at = |object| {
            self.am
                .get_at(object, place.field.as_str(), &[change])
                .ok()?
        };
        let held = place.row.objects.iter().find_map(at);
        held.map_or(Value::Null, |(value, _)| plain(&value))
    }

    /// Entries that someone withdrew and someone else, not knowing, has edited: table and id.
    pub fn withdrawn_but_edited(&self) -> Vec<(&'static str, String)> {
        let mut found = Vec::new();
        for table in Table::ALL {
            let withdrawn = |entry: &&Arc<Entry>| entry.get("withdrawn_by").is_some();
            let edited = self.in_view(table).filter(withdrawn);
            found.extend(edited.map(|entry| (table.name(), entry.id.clone())));
        }
        found
    }
}

pub(super) fn is(object: &ObjId, id: &ObjectId) -> bool {
    match (object, id) {
        (ObjId::Root, ObjectId::Root) => true,
        (ObjId::Id(counter, actor, _), ObjectId::Id(op)) => {
            *counter == op.counter() && actor == &op.1
        }
        _ => false,
    }
}
