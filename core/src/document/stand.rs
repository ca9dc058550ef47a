//! A value that looks wrong and was looked at: someone stands behind it.
//!
//! Written down beside the field (`stands.FIELD`, the value), so that it holds only as long as
//! the field says the same. Null takes the word back.

use super::change::Change;
use super::doc::SurveyDoc;
use super::error::DocumentError;
use super::place::Place;
use super::schema::{Table, same_value};
use super::stamp::Stamp;
use super::units::Units;
use super::view::Row;
use serde_json::Value;
use std::collections::BTreeSet;

const STANDS: &str = "stands.";

/// Whether a register keeps someone's word for another field.
pub(super) fn is_stand_key(field: &str) -> bool {
    field.starts_with(STANDS)
}

fn stood(row: &Row) -> impl Iterator<Item = &str> {
    row.fields.iter().filter_map(|(key, word)| {
        let field = key.strip_prefix(STANDS)?;
        same_value(row.get(field)?, word).then_some(field)
    })
}

impl SurveyDoc {
    pub(super) fn stand(
        &mut self,
        stamp: &Stamp,
        units: &Units,
        (about, field): (&str, &str),
        holds: bool,
    ) -> Result<Option<Change>, DocumentError> {
        let Place {
            table,
            row,
            object,
            field,
        } = self.place(units, about, field)?;
        let held = row.get(&field).filter(|_| table == Table::Equipment);
        let word = match (held, holds) {
            (Some(held), true) => held.clone(),
            (_, false) => Value::Null,
            (None, true) => {
                return Err(DocumentError::NotAllowed {
                    about: about.to_owned(),
                    problem: format!("{field} holds no value of a unit to stand behind"),
                });
            }
        };
        self.put_each(stamp, &[object], &format!("{STANDS}{field}"), &word)
    }

    /// Fields of units whose value someone looked at and stands behind: unit's id and field.
    pub fn stood(&self) -> BTreeSet<(String, String)> {
        let mut found = BTreeSet::new();
        for unit in &self.units().units {
            found.extend(stood(&unit.row).map(|field| (unit.row.id.clone(), field.to_owned())));
        }
        found
    }
}
