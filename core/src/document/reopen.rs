//! A settled conflict opened again: someone takes their choice back.
//!
//! A merge register that was settled holds one value for good. So the values that stand against
//! each other are written down beside the field, in a register of their own (`open.FIELD`, a
//! list, the one shown first), until someone chooses by setting the field.

use super::change::Change;
use super::check::normalise;
use super::conflict::Candidate;
use super::doc::SurveyDoc;
use super::error::DocumentError;
use super::schema::same_value;
use super::stamp::{Means, Stamp};
use super::units::Units;
use super::view::Row;
use automerge::ReadDoc;
use serde_json::{Value, json};

const OPEN: &str = "open.";

/// The register that keeps a field open.
pub(super) fn open_key(field: &str) -> String {
    format!("{OPEN}{field}")
}

/// Whether a register keeps another field open.
pub(super) fn is_open_key(field: &str) -> bool {
    field.starts_with(OPEN)
}

/// Fields of an entry that were opened again.
pub(super) fn opened(row: &Row) -> impl Iterator<Item = &str> {
    let fields = row.fields.iter().filter(|(_, value)| !value.is_null());
    fields.filter_map(|(field, _)| field.strip_prefix(OPEN))
}

impl SurveyDoc {
    /// Opens a settled field: it shows the first value, and the others stand against it.
    pub(super) fn reopen(
        &mut self,
        stamp: &Stamp,
        units: &Units,
        (about, field): (&str, &str),
        values: &[Value],
    ) -> Result<Option<Change>, DocumentError> {
        let place = self.place(units, about, field)?;
        let mut fitting = Vec::new();
        for value in values {
            fitting.push(normalise(place.table, about, &place.field, value)?);
        }
        let [shown, _, ..] = fitting.as_slice() else {
            return Err(DocumentError::BadValue {
                place: format!("{about}.{field}"),
                problem: "is open only between two values or more".to_owned(),
            });
        };
        let objects = self.holding(&place)?;
        let all = json!(fitting);
        self.commit(stamp, Means::Typed, |edits| {
            for object in &objects {
                edits.put(object, &place.field, shown)?;
            }
            edits.put(&place.object, &open_key(&place.field), &all)
        })
    }

    /// The values that a reopened field's register names, with whoever gave each before.
    pub(super) fn against(&self, about: &str, row: &Row, field: &str) -> Vec<Candidate> {
        let key = open_key(field);
        let listed = row.get(&key).and_then(Value::as_array);
        let (Some(listed), Some(at)) = (listed, row.objects.first()) else {
            return Vec::new();
        };
        let opening = self.am.get(at, key.as_str()).ok().flatten();
        let opening = opening.and_then(|(_, op)| self.am.hash_for_opid(&op));
        let opening = opening.map(|hash| hash.to_string());
        let history = self.history(about, field).unwrap_or_default();
        let candidate = |value: &Value| {
            let given = history.iter().rfind(|step| {
                same_value(&step.value, value) && Some(&step.change) != opening.as_ref()
            });
            Candidate {
                value: value.clone(),
                current: false,
                stamp: given.and_then(|step| step.stamp.clone()),
                means: given.map_or(Means::Typed, |step| step.means),
                entry: row.id.clone(),
            }
        };
        listed.iter().map(candidate).collect()
    }
}
