//! From what a person calls an entry and a field to where it stands in the document.

use super::doc::SurveyDoc;
use super::edit::says;
use super::error::DocumentError;
use super::held::Entry;
use super::schema::{MAIN_ROOF, ONLY, Table};
use super::units::{Unit, Units};
use super::view::{Row, row};
use crate::survey::SITE;
use automerge::ObjId;
use serde_json::Value;
use std::sync::Arc;

/// A field of an entry.
pub(super) struct Place {
    pub(super) table: Table,
    pub(super) row: Row,
    /// The map that an edit of the field writes to.
    pub(super) object: ObjId,
    pub(super) field: String,
}

impl SurveyDoc {
    /// Finds the field that `about` and `field` mean.
    pub(super) fn place(
        &self,
        units: &Units,
        about: &str,
        field: &str,
    ) -> Result<Place, DocumentError> {
        let (table, row, field) = if about == SITE {
            let (table, id, field) = on_site(field);
            let row = row(&self.am, &self.tables, table, id);
            (table, row.ok_or_else(|| missing(about))?, field)
        } else if let Some(unit) = units.find(about) {
            (Table::Equipment, self.unit_row(unit), field.to_owned())
        } else {
            let (table, row) = self.entry(about)?;
            (table, row, field.to_owned())
        };
        let object = row.objects.first().cloned().ok_or_else(|| missing(about))?;
        Ok(Place {
            table,
            row,
            object,
            field,
        })
    }

    /// A unit with all its fields as they stand.
    pub(super) fn unit_row(&self, unit: &Unit) -> Row {
        let read = |member: &Arc<Entry>| row(&self.am, &self.tables, Table::Equipment, &member.id);
        let mut members = unit.members.iter().filter_map(read);
        let mut whole = members.next().unwrap_or_else(|| Row::clone(&unit.row));
        members.for_each(|member| whole.absorb(&member));
        whole
    }

    /// The entry with this id, in whatever table.
    pub(super) fn entry(&self, id: &str) -> Result<(Table, Row), DocumentError> {
        let tables = Table::ALL.into_iter().filter(|table| !table.is_single());
        let mut found = tables.filter_map(|table| {
            let row = row(&self.am, &self.tables, table, id)?;
            Some((table, row))
        });
        found.next().ok_or_else(|| missing(id))
    }

    /// Whether an entry of any kind has this id, in view or not.
    pub fn has_entry(&self, id: &str) -> bool {
        self.entry(id).is_ok()
    }

    /// The map of an entry, the one to write to.
    pub(super) fn object(&self, table: Table, id: &str) -> Result<ObjId, DocumentError> {
        let row = row(&self.am, &self.tables, table, id);
        let object = row.and_then(|row| row.objects.into_iter().next());
        object.ok_or_else(|| missing(id))
    }

    /// Every map of an entry; of a joined unit, those of all its members.
    pub(super) fn whole_entry(
        &self,
        units: &Units,
        about: &str,
    ) -> Result<Vec<ObjId>, DocumentError> {
        match units.find(about) {
            Some(unit) => Ok(unit.row.objects.clone()),
            None => Ok(self.entry(about)?.1.objects),
        }
    }

    /// The id of the unit with this tag or id.
    pub(super) fn unit_id(&self, units: &Units, about: &str) -> Result<String, DocumentError> {
        let unit = units.find(about).ok_or_else(|| missing(about))?;
        Ok(unit.row.id.clone())
    }

    /// Unconfirmed drafts that say what the field now holds.
    pub(super) fn drafts_saying(&self, place: &Place, value: &Value) -> Vec<String> {
        let drafts = self.entries(Table::Drafts);
        let about = match place.table {
            Table::Equipment => place.row.id.as_str(),
            _ => SITE,
        };
        let matching = drafts.filter(|draft| {
            let field = draft.text("field").unwrap_or_default();
            let on_site = || {
                let (table, _, field) = on_site(field);
                (table, field.as_str()) == (place.table, place.field.as_str())
            };
            draft.text("ref") == Some(about)
                && (field == place.field || about == SITE && on_site())
                && draft.get("value").is_some_and(|said| says(value, said))
                && !draft
                    .fields
                    .iter()
                    .any(|(f, word)| f.starts_with("confirmed_by.") && !word.is_null())
        });
        matching.map(|draft| draft.id.clone()).collect()
    }
}

pub(super) fn missing(about: &str) -> DocumentError {
    DocumentError::NoSuchEntry {
        about: about.to_owned(),
    }
}

/// Table, entry and field that a field of the site means.
pub(super) fn on_site(field: &str) -> (Table, &'static str, String) {
    let field = field.strip_prefix("site.").unwrap_or(field);
    let main = |field: &str| (Table::Roofs, MAIN_ROOF, field.to_owned());
    match field {
        "roof_membrane" => main("membrane"),
        "roof_height_ft" => main("height_ft"),
        "surveyed_on" | "parent" => (Table::Survey, ONLY, field.to_owned()),
        _ => match field.strip_prefix("roof.") {
            Some(field) => main(field),
            None => (Table::Site, ONLY, field.to_owned()),
        },
    }
}
