//! The shape of a survey document: its tables, and how an entry becomes fields and back.
//!
//! An entry is a map of fields. A field's key is its path with dots (`nameplate.mca_a`), its
//! value one register: numbers, text and truth values as they are, anything composed (lists,
//! places, evidence) as canonical JSON in bytes, so that it always conflicts as a whole. Sets
//! of names (`confirmed_by`, `photos`) have a register a member, so that two additions both
//! stay; edges of a roof have a register a corner and property.

use automerge::{ScalarValue, ScalarValueRef};
use serde_json::{Map, Number, Value};
use std::collections::BTreeMap;

/// The fields of an entry by their dotted path.
pub(super) type Fields = BTreeMap<String, Value>;

/// A table of a survey document.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Table {
    /// The survey itself: id, day, parent. One entry.
    Survey,
    /// The building. One entry.
    Site,
    /// Roofs; the main one has the id [`MAIN_ROOF`].
    Roofs,
    /// Skylights, hatches, holes.
    Openings,
    /// Things that a hose goes round.
    Obstacles,
    /// Places to connect a hose.
    WaterSources,
    /// Power outlets.
    Receptacles,
    /// Vents, exhausts, flues.
    AirPoints,
    /// Units.
    Equipment,
    /// What is worn, broken or wrong.
    Findings,
    /// Reported dangers.
    Hazards,
    /// Things to come back for.
    FollowUps,
    /// Dictated values with their words.
    Drafts,
    /// Voice notes.
    Notes,
    /// Photos.
    Photos,
}

/// Identity of the roof that is there from the start.
pub const MAIN_ROOF: &str = "main";
/// Identity of the only entry of a table with one entry.
pub(super) const ONLY: &str = "";

impl Table {
    /// All tables, in the order of the first change.
    pub(super) const ALL: [Self; 15] = [
        Self::Survey,
        Self::Site,
        Self::Roofs,
        Self::Openings,
        Self::Obstacles,
        Self::WaterSources,
        Self::Receptacles,
        Self::AirPoints,
        Self::Equipment,
        Self::Findings,
        Self::Hazards,
        Self::FollowUps,
        Self::Drafts,
        Self::Notes,
        Self::Photos,
    ];

    /// The key of the table in the document.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Survey => "survey",
            Self::Site => "site",
            Self::Roofs => "roofs",
            Self::Openings => "openings",
            Self::Obstacles => "obstacles",
            Self::WaterSources => "water_sources",
            Self::Receptacles => "receptacles",
            Self::AirPoints => "air_points",
            Self::Equipment => "equipment",
            Self::Findings => "findings",
            Self::Hazards => "hazards",
            Self::FollowUps => "follow_ups",
            Self::Drafts => "drafts",
            Self::Notes => "notes",
            Self::Photos => "photos",
        }
    }

    /// Whether the table is itself the entry.
    pub(super) const fn is_single(self) -> bool {
        matches!(self, Self::Survey | Self::Site)
    }

    /// The part lists of a roof.
    pub(super) const PARTS: [Self; 5] = [
        Self::Openings,
        Self::Obstacles,
        Self::WaterSources,
        Self::Receptacles,
        Self::AirPoints,
    ];

    /// Whether `key`, at the top of an entry, is a set of names.
    fn is_set(self, key: &str) -> bool {
        let dictated = matches!(
            self,
            Self::Findings | Self::Hazards | Self::FollowUps | Self::Drafts
        );
        dictated && matches!(key, "confirmed_by" | "photos")
    }

    /// Whether an object under `key` is one value rather than a group of fields.
    fn is_whole(self, key: &str) -> bool {
        key == "evidence" || (self == Self::Drafts && key == "value")
    }
}

/// Splits an entry's JSON object into fields. Absent and null fields give none.
pub(super) fn flatten(table: Table, entry: &Map<String, Value>) -> Fields {
    let mut fields = Fields::new();
    for (key, value) in entry {
        match value {
            Value::Array(members) if table.is_set(key) => {
                for member in members.iter().filter_map(Value::as_str) {
                    fields.insert(format!("{key}.{member}"), Value::Bool(true));
                }
            }
            Value::Array(edges) if table == Table::Roofs && key == "edges" => {
                for edge in edges.iter().filter_map(Value::as_object) {
                    let from = edge.get("from").map(Value::to_string).unwrap_or_default();
                    flatten_into(&format!("{key}.{from}"), edge, &mut fields);
                }
            }
            Value::Object(inner) if !table.is_whole(key) => {
                flatten_into(key, inner, &mut fields);
            }
            Value::Null => {}
            _ => {
                fields.insert(key.clone(), value.clone());
            }
        }
    }
    fields
}

fn flatten_into(prefix: &str, inner: &Map<String, Value>, fields: &mut Fields) {
    for (key, value) in inner {
        let path = format!("{prefix}.{key}");
        match value {
            Value::Object(deeper) => flatten_into(&path, deeper, fields),
            Value::Null => {}
            _ => {
                fields.insert(path, value.clone());
            }
        }
    }
}

/// Puts fields back together into an entry's JSON object; the inverse of [`flatten`].
pub(super) fn unflatten(table: Table, fields: Fields) -> Map<String, Value> {
    let mut entry = Map::new();
    let mut edges: BTreeMap<usize, Map<String, Value>> = BTreeMap::new();
    for (path, value) in fields {
        if value.is_null() {
            continue;
        }
        let Some((top, rest)) = path.split_once('.') else {
            entry.insert(path, value);
            continue;
        };
        if table.is_set(top) {
            if value == Value::Bool(true)
                && let Value::Array(members) = entry
                    .entry(top.to_owned())
                    .or_insert_with(|| Value::Array(Vec::new()))
            {
                members.push(Value::String(rest.to_owned()));
            }
        } else if table == Table::Roofs && top == "edges" {
            if let Some((from, property)) = rest.split_once('.')
                && let Ok(from) = from.parse::<usize>()
            {
                let edge = edges.entry(from).or_default();
                edge.insert(property.to_owned(), value);
                edge.insert("from".to_owned(), Value::Number(from.into()));
            }
        } else {
            insert_at(&mut entry, &path, value);
        }
    }
    if !edges.is_empty() {
        let edges = edges.into_values().map(Value::Object).collect();
        entry.insert("edges".to_owned(), Value::Array(edges));
    }
    entry
}

fn insert_at(entry: &mut Map<String, Value>, path: &str, value: Value) {
    match path.split_once('.') {
        None => {
            entry.insert(path.to_owned(), value);
        }
        Some((top, rest)) => {
            let inner = entry
                .entry(top.to_owned())
                .or_insert_with(|| Value::Object(Map::new()));
            if let Value::Object(inner) = inner {
                insert_at(inner, rest, value);
            }
        }
    }
}

/// JSON text with sorted keys and no spaces: equal values always give equal bytes.
pub(super) fn canonical(value: &Value) -> String {
    match value {
        Value::Array(items) => {
            let items: Vec<String> = items.iter().map(canonical).collect();
            format!("[{}]", items.join(","))
        }
        Value::Object(entries) => {
            let sorted: BTreeMap<&String, &Value> = entries.iter().collect();
            let entries: Vec<String> = sorted
                .into_iter()
                .map(|(key, value)| format!("{}:{}", Value::from(key.as_str()), canonical(value)))
                .collect();
            format!("{{{}}}", entries.join(","))
        }
        plain => plain.to_string(),
    }
}

/// The register that holds a value.
pub(super) fn to_scalar(value: &Value) -> ScalarValue {
    match value {
        Value::Null => ScalarValue::Null,
        Value::Bool(flag) => ScalarValue::Boolean(*flag),
        Value::String(text) => ScalarValue::Str(text.as_str().into()),
        Value::Number(number) => match (number.as_i64(), number.as_u64(), number.as_f64()) {
            (Some(int), _, _) => ScalarValue::Int(int),
            (None, Some(uint), _) => ScalarValue::Uint(uint),
            (None, None, float) => ScalarValue::F64(float.unwrap_or(0.0)),
        },
        composed => ScalarValue::Bytes(canonical(composed).into_bytes()),
    }
}

/// The value that a register holds; null for what no program of ours writes.
pub(super) fn from_scalar(scalar: &ScalarValueRef<'_>) -> Value {
    match scalar {
        ScalarValueRef::Bytes(bytes) => serde_json::from_slice(bytes).unwrap_or(Value::Null),
        ScalarValueRef::Str(text) => Value::String(text.clone().into_owned()),
        ScalarValueRef::Int(int) | ScalarValueRef::Counter(int) => Value::from(*int),
        ScalarValueRef::Uint(uint) => Value::from(*uint),
        ScalarValueRef::F64(float) => Number::from_f64(*float).map_or(Value::Null, Value::Number),
        ScalarValueRef::Boolean(flag) => Value::Bool(*flag),
        _ => Value::Null,
    }
}

/// Whether two values mean the same: 24 and 24.0 do.
pub fn same_value(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => a.as_f64() == b.as_f64(),
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same_value(a, b))
        }
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len()
                && a.iter()
                    .all(|(key, a)| b.get(key).is_some_and(|b| same_value(a, b)))
        }
        (a, b) => a == b,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    #[track_caller]
    fn check(table: Table, entry: Value, fields: &[(&str, Value)]) {
        let entry = entry.as_object().unwrap().clone();
        let flat = flatten(table, &entry);
        let expected: Fields = fields
            .iter()
            .map(|(key, value)| ((*key).to_owned(), value.clone()))
            .collect();
        assert_eq!(flat, expected);
        assert_eq!(unflatten(table, flat), entry);
    }

    #[test]
    fn entries_become_fields_and_back() {
        check(
            Table::Equipment,
            json!({"tag": "CU-9", "at_ft": [1.0, 2.5], "nameplate": {"mca_a": 9.5,
                "loads": {"largest_motor_rla_a": 7.0, "other_a": [1.0]}}}),
            &[
                ("tag", json!("CU-9")),
                ("at_ft", json!([1.0, 2.5])),
                ("nameplate.mca_a", json!(9.5)),
                ("nameplate.loads.largest_motor_rla_a", json!(7.0)),
                ("nameplate.loads.other_a", json!([1.0])),
            ],
        );
        check(
            Table::Roofs,
            json!({"height_ft": 20.0, "edges": [{"from": 2, "parapet_in": 8.0}, {"from": 11}]}),
            &[
                ("height_ft", json!(20.0)),
                ("edges.2.from", json!(2)),
                ("edges.2.parapet_in", json!(8.0)),
                ("edges.11.from", json!(11)),
            ],
        );
        check(
            Table::Drafts,
            json!({"value": {"b": 1, "a": 2}, "confirmed_by": ["a.b", "c"],
                "evidence": {"segment": 0, "start": 1, "end": 2}}),
            &[
                ("value", json!({"a": 2, "b": 1})),
                ("confirmed_by.a.b", json!(true)),
                ("confirmed_by.c", json!(true)),
                ("evidence", json!({"segment": 0, "start": 1, "end": 2})),
            ],
        );
    }

    #[test]
    fn canonical_json_sorts_keys_at_every_depth() {
        let value = json!({"b": [{"z": 1.0, "a": "q\"uote"}], "a": null});
        assert_eq!(
            canonical(&value),
            r#"{"a":null,"b":[{"a":"q\"uote","z":1.0}]}"#
        );
    }

    #[test]
    fn numbers_compare_by_amount() {
        assert!(same_value(
            &json!([24, {"a": 1.0}]),
            &json!([24.0, {"a": 1}])
        ));
        assert!(!same_value(&json!("24"), &json!(24)));
    }
}
