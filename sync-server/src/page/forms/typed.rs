//! What a person types into a field, as the value that the survey holds. Values are written the
//! way the page shows them, so that what is shown can be typed back.

use scupper_core::survey::InputError;
use scupper_core::survey::codes::Side;
use serde_json::{Value, json};

/// The last part of a field's name that makes it a number, apart from those with a unit.
const NUMBERS: &[&str] = &["phase", "hertz", "manufactured_year", "slope_rise_in_12"];
/// Ends of names that carry a unit.
const UNITS: &[&str] = &[
    "_ft", "_in", "_a", "_v", "_lb", "_tons", "_btuh", "_cfm", "_wg",
];
/// The last part of a field's name that makes it yes or no.
const YES_OR_NO: &[&str] = &[
    "in_sight",
    "guarded",
    "gfci",
    "at_grade",
    "ladder_safety_system",
];
/// Fields that hold several numbers.
const LISTS: &[&str] = &["other_a", "line_voltage_v", "at_ft", "size_ft"];

/// What sort of value a field takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::page) enum Sort {
    Number,
    Numbers,
    YesOrNo,
    Filters,
    Belts,
    Sides,
    Text,
}

impl Sort {
    pub(in crate::page) fn of(field: &str) -> Self {
        let last = field.rsplit('.').next().unwrap_or(field);
        if LISTS.contains(&last) {
            Self::Numbers
        } else if YES_OR_NO.contains(&last) {
            Self::YesOrNo
        } else if last == "filters" {
            Self::Filters
        } else if last == "belts" {
            Self::Belts
        } else if last == "service_sides" {
            Self::Sides
        } else if NUMBERS.contains(&last) || UNITS.iter().any(|unit| last.ends_with(unit)) {
            Self::Number
        } else {
            Self::Text
        }
    }

    /// An example of how it is written, for those that need one.
    pub(in crate::page) const fn example(self) -> Option<&'static str> {
        match self {
            Self::Numbers => Some("1.4, 3"),
            Self::Filters => Some("4 of 20 x 25 x 2"),
            Self::Belts => Some("2 of A42"),
            Self::Sides => Some("N, E"),
            _ => None,
        }
    }
}

/// Reads what was typed into a field.
///
/// # Errors
/// [`InputError`] with the field as its place and how such a value is written.
pub fn typed(field: &str, text: &str) -> Result<Value, InputError> {
    let wrong = |problem: String| InputError::at(field, problem);
    match Sort::of(field) {
        Sort::Text => Ok(json!(text)),
        Sort::Number => number(text)
            .ok_or_else(|| wrong(format!("\"{text}\" is not a number; write one such as 24"))),
        Sort::Numbers => {
            let parts = text.split([',', ';']).map(number);
            let all: Option<Vec<Value>> = parts.collect();
            all.map(Value::Array)
                .ok_or_else(|| wrong(format!("\"{text}\" is not a list of numbers; write 1.4, 3")))
        }
        Sort::YesOrNo => match text.to_lowercase().as_str() {
            "yes" | "y" | "true" => Ok(json!(true)),
            "no" | "n" | "false" => Ok(json!(false)),
            _ => Err(wrong(format!("\"{text}\" is neither yes nor no"))),
        },
        Sort::Filters => list(text, filter).ok_or_else(|| {
            wrong(format!(
                "\"{text}\" is not a filter; write 4 of 20 x 25 x 2, more of them after commas"
            ))
        }),
        Sort::Sides => list(text, side).ok_or_else(|| {
            wrong(format!(
                "\"{text}\" is not a list of sides; write N, E, S or W"
            ))
        }),
        Sort::Belts => list(text, belt).ok_or_else(|| {
            wrong(format!(
                "\"{text}\" is not a belt; write 2 of A42, more of them after commas"
            ))
        }),
    }
}

/// A number, whatever unit stands behind it; a thousands comma is not a decimal point.
fn number(text: &str) -> Option<Value> {
    let text = text.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+')))
        .unwrap_or(text.len());
    let (digits, unit) = text.split_at(end);
    if unit.chars().any(|c| c.is_ascii_digit()) {
        return None;
    }
    let grouped = digits
        .split(',')
        .skip(1)
        .all(|group| group.split('.').next().is_some_and(|g| g.len() == 3));
    if !grouped {
        return None;
    }
    let digits = digits.replace(',', "");
    if let Ok(whole) = digits.parse::<i64>() {
        return Some(json!(whole));
    }
    digits
        .parse::<f64>()
        .ok()
        .filter(|n| n.is_finite())
        .map(|n| json!(n))
}

fn list(text: &str, one: fn(&str) -> Option<Value>) -> Option<Value> {
    text.split([',', ';'])
        .map(|part| one(part.trim()))
        .collect::<Option<Vec<Value>>>()
        .map(Value::Array)
}

/// `4 of 20 x 25 x 2 in`.
fn filter(text: &str) -> Option<Value> {
    let (quantity, size) = text.split_once("of")?;
    let quantity: u32 = quantity.trim().parse().ok()?;
    let size = size.trim().trim_end_matches("in");
    let sides: Vec<f64> = size
        .split(['x', 'X', '×'])
        .map(|side| side.trim().parse().ok())
        .collect::<Option<_>>()?;
    let [width, height, depth] = sides.try_into().ok()?;
    Some(json!({"width_in": width, "height_in": height, "depth_in": depth, "quantity": quantity}))
}

/// `N`.
fn side(text: &str) -> Option<Value> {
    let letter = text.to_uppercase();
    Side::from_code(&letter).map(|side| json!(side.code()))
}

/// `2 of A42`.
fn belt(text: &str) -> Option<Value> {
    let (quantity, designation) = text.split_once("of")?;
    let quantity: u32 = quantity.trim().parse().ok()?;
    let designation = designation.trim();
    (!designation.is_empty()).then(|| json!({"designation": designation, "quantity": quantity}))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::page::words;

    #[test]
    fn what_is_typed_becomes_the_fields_kind_of_value() {
        for (field, text, value) in [
            ("nameplate.mca_a", "24", json!(24)),
            ("nameplate.mca_a", "24.5 A", json!(24.5)),
            ("nameplate.gas_input_btuh", "400,000", json!(400_000)),
            ("condensate.static_in_wg", "-1.5", json!(-1.5)),
            ("nameplate.manufactured_year", "2009", json!(2009)),
            ("nameplate.serial", "007", json!("007")),
            ("disconnect.in_sight", "Yes", json!(true)),
            ("nameplate.loads.other_a", "5, 3.375", json!([5, 3.375])),
            (
                "filters",
                "4 of 20x25x2, 1 of 16 x 20 x 1 in",
                json!([{"width_in": 20.0, "height_in": 25.0, "depth_in": 2.0, "quantity": 4},
                       {"width_in": 16.0, "height_in": 20.0, "depth_in": 1.0, "quantity": 1}]),
            ),
            (
                "belts",
                "2 of A42",
                json!([{"designation": "A42", "quantity": 2}]),
            ),
        ] {
            assert_eq!(typed(field, text).unwrap(), value, "{field} {text}");
        }
    }

    #[test]
    fn what_makes_no_sense_is_refused_at_its_field() {
        for (field, text) in [
            ("nameplate.mca_a", "about twenty"),
            ("nameplate.mca_a", "1,5"),
            ("nameplate.mca_a", "24/30"),
            ("nameplate.mca_a", "NaN"),
            ("disconnect.in_sight", "maybe"),
            ("filters", "20x25x2"),
            ("filters", "4 of 20x25"),
            ("belts", "A42"),
            ("service_sides", "N, up"),
            ("nameplate.loads.other_a", "5, x"),
        ] {
            assert_eq!(typed(field, text).unwrap_err().place, field, "{text}");
        }
    }

    #[test]
    fn what_is_shown_can_be_typed_back() {
        for (field, value) in [
            ("nameplate.mca_a", json!(12.5)),
            ("disconnect.in_sight", json!(false)),
            ("nameplate.loads.other_a", json!([5.5, 3.375])),
            (
                "filters",
                json!([{"width_in": 20.0, "height_in": 25.0, "depth_in": 2.5, "quantity": 4}]),
            ),
            ("belts", json!([{"designation": "B75", "quantity": 2}])),
        ] {
            assert_eq!(typed(field, &words::value(&value)).unwrap(), value);
        }
    }
}
