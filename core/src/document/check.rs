//! Whether a value fits a field: asked of the plain types themselves, so no list is kept twice.

use super::error::DocumentError;
use super::schema::{Fields, Table, flatten, unflatten};
use crate::survey::{
    AirPoint, Draft, Equipment, Finding, FollowUp, Hazard, Note, Obstacle, Opening, Photo,
    Receptacle, Roof, Site, Survey, WaterSource, read,
};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};

/// The value as the field's type writes it; null clears the field.
///
/// # Errors
/// [`DocumentError::BadValue`] with `about` and the field as the place.
pub(super) fn normalise(
    table: Table,
    about: &str,
    field: &str,
    value: &Value,
) -> Result<Value, DocumentError> {
    let bad = |problem: String| DocumentError::BadValue {
        place: format!("{about}.{field}"),
        problem,
    };
    let least = least(table);
    if value.is_null() {
        if least.contains_key(field) {
            return Err(bad(
                "cannot be cleared; withdraw the entry instead".to_owned()
            ));
        }
        return Ok(Value::Null);
    }
    if KEPT_BY_OTHER_MEANS.contains(&field) {
        return Err(bad(
            "is not set as a field; use the edit made for it".to_owned()
        ));
    }
    let is_part_roof = field == "roof" && Table::PARTS.contains(&table);
    if is_part_roof || field.starts_with("photos.") {
        return Ok(value.clone());
    }
    let mut fields: Fields = least;
    let listed = matches!((field, value), ("filters" | "belts", Value::Object(_)));
    let value = if listed {
        json!([value])
    } else {
        value.clone()
    };
    fields.insert(field.to_owned(), value.clone());
    let entry = Value::Object(unflatten(table, fields));
    let typed = retype(table, &entry).map_err(|error| bad(error.problem))?;
    let empty = value.as_array().is_some_and(Vec::is_empty);
    match flatten(table, &typed).remove(field) {
        Some(value) => Ok(value),
        None if empty => Ok(Value::Null),
        None => Err(bad("is not a field of this entry".to_owned())),
    }
}

const KEPT_BY_OTHER_MEANS: [&str; 4] = ["withdrawn_by", "same_as", "survey_id", "id"];

/// What an entry of the table cannot do without.
fn least(table: Table) -> Fields {
    let entry = match table {
        Table::Equipment => json!({"tag": "EQ-1", "kind": "other"}),
        Table::Openings => json!({"kind": "hole", "at_ft": [0.0, 0.0]}),
        Table::Obstacles => json!({"outline_ft": []}),
        Table::WaterSources | Table::Receptacles => json!({"at_ft": [0.0, 0.0]}),
        Table::AirPoints => json!({"kind": "flue", "at_ft": [0.0, 0.0]}),
        Table::Findings => json!({"ref": "site", "component": "curb", "condition": "good"}),
        Table::Hazards => json!({"kind": "other"}),
        Table::FollowUps => json!({"ref": "site", "about": "nameplate"}),
        Table::Drafts => json!({"ref": "site", "field": "name", "value": ""}),
        Table::Photos => json!({"hash": ""}),
        Table::Notes => json!({"segments": []}),
        Table::Survey | Table::Site | Table::Roofs => json!({}),
    };
    entry
        .as_object()
        .map(|entry| flatten(table, entry))
        .unwrap_or_default()
}

/// Reads an entry as its plain type and writes it back. The place of an error is within it.
pub(super) fn retype(table: Table, entry: &Value) -> Result<Map<String, Value>, read::InputError> {
    match table {
        Table::Survey => via::<Survey>(entry),
        Table::Site => via::<Site>(entry),
        Table::Roofs => {
            let roof: Roof = read::from_value(entry)?;
            check_roof(Roof {
                // Which corners there are is not known of one field alone; reading looks at it.
                edges: Vec::new(),
                ..roof.clone()
            })?;
            Ok(write(&roof))
        }
        Table::Openings => {
            let opening: Opening = read::from_value(entry)?;
            check_roof(Roof {
                openings: vec![opening.clone()],
                ..Roof::default()
            })?;
            Ok(write(&opening))
        }
        Table::Obstacles => {
            let obstacle: Obstacle = read::from_value(entry)?;
            check_roof(Roof {
                obstacles: vec![obstacle.clone()],
                ..Roof::default()
            })?;
            Ok(write(&obstacle))
        }
        Table::WaterSources => via::<WaterSource>(entry),
        Table::Receptacles => via::<Receptacle>(entry),
        Table::AirPoints => via::<AirPoint>(entry),
        Table::Findings => via::<Finding>(entry),
        Table::Hazards => via::<Hazard>(entry),
        Table::FollowUps => via::<FollowUp>(entry),
        Table::Drafts => via::<Draft>(&with_id(entry)),
        Table::Notes => via::<Note>(&with_id(entry)),
        Table::Photos => via::<Photo>(entry),
        Table::Equipment => {
            let unit: Equipment = read::from_value(entry)?;
            let on = Roof {
                id: unit.roof.clone(),
                ..Roof::default()
            };
            let mut survey = Survey {
                equipment: vec![unit.clone()],
                ..Survey::default()
            };
            survey.site.roof = Some(on);
            read::check(&survey)?;
            Ok(write(&unit))
        }
    }
}

fn check_roof(roof: Roof) -> Result<(), read::InputError> {
    let mut survey = Survey::default();
    survey.site.roof = Some(roof);
    read::check(&survey)
}

fn with_id(entry: &Value) -> Value {
    let mut entry = entry.clone();
    if let Some(entry) = entry.as_object_mut() {
        entry.entry("id".to_owned()).or_insert_with(|| json!("-"));
    }
    entry
}

fn via<T: DeserializeOwned + Serialize>(
    entry: &Value,
) -> Result<Map<String, Value>, read::InputError> {
    read::from_value::<T>(entry).map(|typed| write(&typed))
}

/// A plain type as a JSON object.
pub(super) fn write<T: Serialize>(typed: &T) -> Map<String, Value> {
    match serde_json::to_value(typed) {
        Ok(Value::Object(entry)) => entry,
        _ => Map::new(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[track_caller]
    fn check(table: Table, field: &str, value: Value, expected: Result<Value, &str>) {
        match (normalise(table, "X", field, &value), expected) {
            (Ok(got), Ok(expected)) => assert_eq!(got, expected),
            (Err(error), Err(expected)) => {
                let text = error.to_string();
                assert!(text.starts_with(&format!("X.{field}: ")), "{text}");
                assert!(text.contains(expected), "{text}");
            }
            (got, expected) => unreachable!("{got:?} instead of {expected:?}"),
        }
    }

    #[test]
    fn values_are_held_to_their_type() {
        let unit = Table::Equipment;
        check(unit, "nameplate.mca_a", json!(24), Ok(json!(24.0)));
        check(unit, "nameplate.mca_a", Value::Null, Ok(Value::Null));
        check(
            unit,
            "nameplate.mca_a",
            json!("24"),
            Err("invalid type: string"),
        );
        check(unit, "nameplate.mca_a", json!(-1), Err("negative"));
        check(unit, "nameplate.phase", json!(2), Err("1 or 3"));
        check(unit, "nameplate.colour", json!(1), Err("not a field"));
        check(unit, "tag", json!(" "), Err("empty"));
        check(unit, "tag", Value::Null, Err("cannot be cleared"));
        check(unit, "service_sides", json!([]), Ok(Value::Null));
        check(unit, "withdrawn_by", json!("me"), Err("use the edit"));
        let filter = json!({"width_in": 20, "height_in": 25, "depth_in": 2, "quantity": 4});
        let listed = json!([{"width_in": 20.0, "height_in": 25.0, "depth_in": 2.0, "quantity": 4}]);
        check(unit, "filters", filter, Ok(listed));
        let none = json!([{"width_in": 0, "height_in": 25, "depth_in": 2, "quantity": 4}]);
        check(unit, "filters", none, Err("0 in"));
        check(Table::Roofs, "edges.3.parapet_in", json!(8), Ok(json!(8.0)));
        check(
            Table::Roofs,
            "edges.north.parapet_in",
            json!(8),
            Err("not a field"),
        );
        let crossed = json!([[0, 0], [10, 10], [10, 0], [0, 10]]);
        check(Table::Roofs, "outline_ft", crossed, Err("crosses itself"));
        check(Table::Openings, "guarded", json!("no"), Err("boolean"));
        check(
            Table::Survey,
            "surveyed_on",
            json!("2026-04-14"),
            Ok(json!("2026-04-14")),
        );
    }
}
