//! Entries as they stand in the document, read alike from a document and from an edit under way.
//!
//! Two devices may have made an entry with the same id apart; the document then holds two maps
//! under one key. They are read as one entry: the second fills the gaps of the first.

use super::schema::{Fields, ONLY, Table, from_scalar, same_value};
use automerge::{Automerge, ChangeHash, ObjId, ObjType, ROOT, ReadDoc, Value as AmValue, ValueRef};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// Where each table's map is; fixed by the first change of a survey.
pub(super) struct Tables(BTreeMap<Table, ObjId>);

impl Tables {
    /// Finds the tables as the first change made them, whatever became of their keys since.
    pub(super) fn find(am: &Automerge, first: ChangeHash) -> Option<Self> {
        let find = |table: Table| {
            let (value, id) = am.get_at(ROOT, table.name(), &[first]).ok()??;
            is_map(&value).then_some((table, id))
        };
        let found: Option<BTreeMap<Table, ObjId>> = Table::ALL.into_iter().map(find).collect();
        found.map(Self)
    }

    pub(super) fn object(&self, table: Table) -> &ObjId {
        self.0.get(&table).unwrap_or(&ROOT)
    }
}

fn is_map(value: &AmValue<'_>) -> bool {
    matches!(value, AmValue::Object(ObjType::Map))
}

/// An entry.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) id: String,
    /// The maps that make it up, the one to write to first.
    pub(super) objects: Vec<ObjId>,
    /// What the registers hold; a cleared field is null.
    pub(super) fields: Fields,
    /// Fields with more than one value.
    pub(super) contested: BTreeSet<String>,
}

impl Row {
    fn new(id: String, objects: Vec<ObjId>) -> Self {
        Self {
            id,
            objects,
            fields: Fields::new(),
            contested: BTreeSet::new(),
        }
    }

    /// A field's value; none when absent or cleared.
    pub(super) fn get(&self, field: &str) -> Option<&Value> {
        self.fields.get(field).filter(|value| !value.is_null())
    }

    pub(super) fn text(&self, field: &str) -> Option<&str> {
        self.get(field).and_then(Value::as_str)
    }

    /// Takes over what another entry knows and this one does not; notes where they differ.
    pub(super) fn absorb(&mut self, other: &Self) {
        for (field, value) in &other.fields {
            if self.get(field).is_none() {
                self.fields.insert(field.clone(), value.clone());
            } else if !value.is_null() && !same_value(&self.fields[field.as_str()], value) {
                self.contested.insert(field.clone());
            }
        }
        self.contested.extend(other.contested.iter().cloned());
        self.objects.extend(other.objects.iter().cloned());
    }
}

/// Every entry of a table, by id.
pub(super) fn rows<R: ReadDoc>(doc: &R, tables: &Tables, table: Table) -> Vec<Row> {
    let entries = rows_without_fields(doc, tables, table).into_iter();
    entries
        .map(|row| read_row(doc, row.id, row.objects))
        .collect()
}

/// Every entry of a table, by id, with its maps only.
pub(super) fn rows_without_fields<R: ReadDoc>(doc: &R, tables: &Tables, table: Table) -> Vec<Row> {
    let object = tables.object(table);
    if table.is_single() {
        return vec![Row::new(ONLY.to_owned(), vec![object.clone()])];
    }
    let mut found = Vec::new();
    for item in doc.map_range(object, ..) {
        let id = item.key.clone().into_owned();
        if item.conflict {
            let objects = objects(doc, object, &id);
            found.push(Row::new(id, objects));
        } else if matches!(item.value, ValueRef::Object(ObjType::Map)) {
            found.push(Row::new(id, vec![item.id()]));
        }
    }
    found
}

/// One entry of a table.
pub(super) fn row<R: ReadDoc>(doc: &R, tables: &Tables, table: Table, id: &str) -> Option<Row> {
    let object = tables.object(table);
    let objects = if table.is_single() {
        vec![object.clone()]
    } else {
        objects(doc, object, id)
    };
    (!objects.is_empty()).then(|| read_row(doc, id.to_owned(), objects))
}

/// The maps under one key, the winner first.
fn objects<R: ReadDoc>(doc: &R, table: &ObjId, id: &str) -> Vec<ObjId> {
    let all = doc.get_all(table, id).unwrap_or_default();
    let maps = all.into_iter().filter(|(value, _)| is_map(value));
    maps.map(|(_, id)| id).rev().collect()
}

fn read_row<R: ReadDoc>(doc: &R, id: String, objects: Vec<ObjId>) -> Row {
    let mut row = Row::new(id, Vec::new());
    for object in objects {
        let (mut fields, mut contested) = (Fields::new(), BTreeSet::new());
        for item in doc.map_range(&object, ..) {
            let ValueRef::Scalar(scalar) = &item.value else {
                continue;
            };
            let value = from_scalar(scalar);
            let field = item.key.into_owned();
            if item.conflict && values(doc, &object, &field).any(|v| !same_value(&v, &value)) {
                contested.insert(field.clone());
            }
            fields.insert(field, value);
        }
        row.absorb(&Row {
            id: String::new(),
            objects: vec![object],
            fields,
            contested,
        });
    }
    row
}

fn values<'a, R: ReadDoc>(
    doc: &'a R,
    object: &'a ObjId,
    field: &'a str,
) -> impl Iterator<Item = Value> + 'a {
    let all = doc.get_all(object, field).unwrap_or_default();
    all.into_iter().map(|(value, _)| plain(&value))
}

/// The JSON value of a register.
pub(super) fn plain(value: &AmValue<'_>) -> Value {
    match value {
        AmValue::Scalar(scalar) => from_scalar(&scalar.clone().into_owned().into()),
        AmValue::Object(_) => Value::Null,
    }
}
