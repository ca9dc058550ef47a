//! Reading JSON from outside: a wrong shape is an error that names the place and the mend.
//!
//! Shape and sign are checked by the types as they are read; what only makes sense of the
//! whole (a filter of no size, an edge that begins at no corner) is checked by [`check`].

use super::placed::Placed;
use super::shape::{coord_of, crosses_itself, polygon};
use super::{Equipment, Roof, Survey};
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::cell::OnceCell;

/// Input that cannot be used. Nothing was changed by it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{place}: {problem}")]
pub struct InputError {
    /// Where, as a path such as `equipment[3].nameplate.mca_a`, or a line and column.
    pub place: String,
    /// What is wrong there and what would be right.
    pub problem: String,
}

impl InputError {
    /// An error at a place.
    pub fn at(place: impl Into<String>, problem: impl Into<String>) -> Self {
        Self {
            place: place.into(),
            problem: problem.into(),
        }
    }
}

/// Reads any of the contract's shapes from JSON text.
pub fn from_json<T: DeserializeOwned>(json: &str) -> Result<T, InputError> {
    let mut reader = serde_json::Deserializer::from_str(json);
    let value: Value = serde_path_to_error::deserialize(&mut reader).map_err(|error| {
        let path = error.path().to_string();
        let inner = error.into_inner();
        let at = format!("line {} column {}", inner.line(), inner.column());
        let text = inner.to_string();
        let problem = text.split(" at line ").next().unwrap_or(&text).to_owned();
        // A syntax error leaves no path: `.` at the top, `?` inside what was not finished.
        if path == "." || path.ends_with('?') {
            InputError::at(at, problem)
        } else {
            InputError::at(path, format!("{problem} ({at})"))
        }
    })?;
    reader.end().map_err(|error| {
        InputError::at(
            format!("line {} column {}", error.line(), error.column()),
            "there is more text after the end of the JSON value; remove it",
        )
    })?;
    from_value(&value)
}

/// Reads any of the contract's shapes from a JSON value.
pub fn from_value<T: DeserializeOwned>(value: &Value) -> Result<T, InputError> {
    let wrong = OnceCell::new();
    T::deserialize(Placed::top(value, &wrong)).map_err(|error| {
        InputError::at(
            wrong.into_inner().unwrap_or_else(|| ".".to_owned()),
            error.to_string(),
        )
    })
}

/// Reads and checks a survey.
pub fn survey_from_json(json: &str) -> Result<Survey, InputError> {
    let survey: Survey = from_json(json)?;
    check(&survey)?;
    Ok(survey)
}

/// Refuses a survey that no building could have.
pub fn check(survey: &Survey) -> Result<(), InputError> {
    for (i, unit) in survey.equipment.iter().enumerate() {
        let at = |field: &str| format!("equipment[{i}].{field}");
        if unit.tag.trim().is_empty() {
            return Err(InputError::at(
                at("tag"),
                "is empty; give a tag such as RTU-2",
            ));
        }
        if unit.nameplate.voltage_v.is_some_and(|v| v.get() == 0.0) {
            return Err(InputError::at(
                at("nameplate.voltage_v"),
                "is 0; give the rated voltage, or leave it out when it cannot be read",
            ));
        }
        check_place(survey, i, unit)?;
        for (field, value) in [
            ("nameplate.mca_a", unit.nameplate.mca_a),
            ("nameplate.mocp_a", unit.nameplate.mocp_a),
            ("disconnect.rating_a", unit.disconnect.rating_a),
            ("disconnect.fuse_a", unit.disconnect.fuse_a),
        ] {
            if value.is_some_and(|amps| amps.get() == 0.0) {
                return Err(InputError::at(
                    at(field),
                    "is 0; give the marked amperes, or leave it out when there are none",
                ));
            }
        }
        if unit.nameplate.phase.is_some_and(|p| p != 1 && p != 3) {
            return Err(InputError::at(at("nameplate.phase"), "must be 1 or 3"));
        }
        for (k, filter) in unit.filters.iter().enumerate() {
            let sides = [filter.width_in, filter.height_in, filter.depth_in];
            if sides.iter().any(|side| side.get() == 0.0) {
                return Err(InputError::at(
                    at(&format!("filters[{k}]")),
                    "has a side of 0 in; give width, height and depth above 0",
                ));
            }
        }
        for (k, belt) in unit.belts.iter().enumerate() {
            if belt.designation.trim().is_empty() {
                return Err(InputError::at(
                    at(&format!("belts[{k}].designation")),
                    "is empty; give the printed designation such as A42",
                ));
            }
        }
    }
    for (place, roof) in roofs(survey) {
        for (k, edge) in roof.edges.iter().enumerate() {
            if let Some(twice) = roof.edges.iter().take(k).position(|e| e.from == edge.from) {
                return Err(InputError::at(
                    format!("{place}.edges[{k}].from"),
                    format!(
                        "is {}, as in edges[{twice}]; list every edge once",
                        edge.from
                    ),
                ));
            }
            if edge.from >= roof.outline_ft.len() {
                return Err(InputError::at(
                    format!("{place}.edges[{k}].from"),
                    format!(
                        "is {}, but the outline has {} corners, counted from 0",
                        edge.from,
                        roof.outline_ft.len()
                    ),
                ));
            }
        }
        check_roof(&place, roof)?;
    }
    Ok(())
}

fn check_place(survey: &Survey, i: usize, unit: &Equipment) -> Result<(), InputError> {
    if unit.at_ft.is_some_and(|at| coord_of(at).is_none()) {
        return Err(InputError::at(format!("equipment[{i}].at_ft"), TOO_FAR));
    }
    if unit
        .size_ft
        .is_some_and(|s| s.x.get() == 0.0 || s.y.get() == 0.0)
    {
        return Err(InputError::at(
            format!("equipment[{i}].size_ft"),
            "has a side of 0 ft; give both sides of the footprint above 0",
        ));
    }
    match &unit.roof {
        Some(id) if !survey.site.roofs().any(|r| r.id.as_ref() == Some(id)) => Err(InputError::at(
            format!("equipment[{i}].roof"),
            format!("names {id}, but no roof has that id"),
        )),
        _ => Ok(()),
    }
}

const TOO_FAR: &str = "is more than 1,000,000 ft from the plan's origin; give feet on a local plan";

fn check_roof(place: &str, roof: &Roof) -> Result<(), InputError> {
    let outline = || format!("{place}.outline_ft");
    let mut points = vec![(outline(), &roof.outline_ft)];
    let obstacles = roof.obstacles.iter().enumerate();
    points.extend(
        obstacles.map(|(k, o)| (format!("{place}.obstacles[{k}].outline_ft"), &o.outline_ft)),
    );
    for (field, corners) in points {
        if corners.iter().any(|p| coord_of(*p).is_none()) {
            return Err(InputError::at(field, TOO_FAR));
        }
    }
    for (k, opening) in roof.openings.iter().enumerate() {
        if coord_of(opening.at_ft).is_none() {
            return Err(InputError::at(
                format!("{place}.openings[{k}].at_ft"),
                TOO_FAR,
            ));
        }
    }
    if roof.outline_ft.is_empty() {
        return Ok(());
    }
    match polygon(&roof.outline_ft) {
        None => Err(InputError::at(
            outline(),
            "has fewer than 3 corners that differ; give them in order round the roof",
        )),
        Some(polygon) if crosses_itself(&polygon) => Err(InputError::at(
            outline(),
            "crosses itself; give the corners in the order one would walk them",
        )),
        Some(_) => Ok(()),
    }
}

fn roofs(survey: &Survey) -> impl Iterator<Item = (String, &super::Roof)> {
    let main = survey.site.roof.iter().map(|r| ("site.roof".to_owned(), r));
    let more = survey.site.more_roofs.iter().enumerate();
    main.chain(more.map(|(i, r)| (format!("site.more_roofs[{i}]"), r)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn refused(json: &str, place: &str, problem: &str) {
        match survey_from_json(json) {
            Ok(survey) => unreachable!("read {survey:?}"),
            Err(error) => {
                assert_eq!(error.place, place, "{error}");
                assert!(error.problem.contains(problem), "{error}");
            }
        }
    }

    fn unit(rest: &str) -> String {
        format!(
            r#"{{"survey_id":"s","site":{{"name":"n"}},"equipment":[
                {{"tag":"RTU-1","kind":"packaged_rooftop_unit",{rest}}}]}}"#
        )
    }

    #[test]
    fn errors_name_the_place() {
        refused(
            &unit(r#""nameplate":{"mca_a":"lots"}"#),
            "equipment[0].nameplate.mca_a",
            "invalid type: string",
        );
        refused(
            &unit(r#""nameplate":{"mca_a":-3}"#),
            "equipment[0].nameplate.mca_a",
            "negative",
        );
        refused(
            &unit(r#""disconnect":{"distance_ft":NaN}"#),
            "equipment[0].disconnect.distance_ft",
            "expected value",
        );
        refused(
            &unit(r#""filters":[{"width_in":0,"height_in":0,"depth_in":2,"quantity":1}]"#),
            "equipment[0].filters[0]",
            "0 in",
        );
        refused(
            &unit(r#""service_sides":["up"]"#),
            "equipment[0].service_sides[0]",
            "unknown variant `up`",
        );
        refused(
            &unit(r#""nameplate":{"voltage_v":0}"#),
            "equipment[0].nameplate.voltage_v",
            "rated voltage",
        );
        refused(
            r#"{"survey_id":"s","site":{"name":"n","roof":{"outline_ft":[[0,0]],"edges":[{"from":4}]}}}"#,
            "site.roof.edges[0].from",
            "1 corners",
        );
        refused(
            r#"{"site":{"roof":{"outline_ft":[[0,0],[9,0],[9,9]],"edges":[{"from":1},{"from":1,"parapet_in":42}]}}}"#,
            "site.roof.edges[1].from",
            "list every edge once",
        );
        refused(
            r#"{"site":{"roof":{"outline_ft":[[0,0],[10,10],[10,0],[0,10]]}}}"#,
            "site.roof.outline_ft",
            "crosses itself",
        );
        refused(
            r#"{"site":{"more_roofs":[{"outline_ft":[[0,0],[10,10],[0,0]]}]}}"#,
            "site.more_roofs[0].outline_ft",
            "fewer than 3",
        );
        refused(
            &unit(r#""size_ft":[0,4]"#),
            "equipment[0].size_ft",
            "side of 0 ft",
        );
        refused(
            &unit(r#""size_ft":[-3,4]"#),
            "equipment[0].size_ft[0]",
            "negative",
        );
        refused(
            &unit(r#""at_ft":[1e300,4]"#),
            "equipment[0].at_ft",
            "1,000,000 ft",
        );
        refused(
            &unit(r#""roof":"upper""#),
            "equipment[0].roof",
            "no roof has that id",
        );
        refused(
            &unit(r#""disconnect":{"rating_a":0}"#),
            "equipment[0].disconnect.rating_a",
            "marked amperes",
        );
        refused("{", "line 1 column 1", "EOF");
    }

    #[test]
    fn unknown_fields_are_not_fatal() {
        let survey = survey_from_json(&unit(r#""colour":"grey""#));
        assert!(survey.is_ok(), "{survey:?}");
    }
}
