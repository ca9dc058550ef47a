//! Small pieces of text that every part of the page writes the same way: those of the whole
//! crate, and what only a page needs.

pub(super) use crate::words::{certainty, count, money, place, sentence, slug, within};

use chrono::{DateTime, FixedOffset};
use maud::{Markup, html};
use scupper_core::survey::codes::Severity;
use scupper_core::trade::{Basis, Quantity, RULES, Requirement, Source, Verdict};
use serde_json::Value;
use std::fmt::Write;

/// A text as the value of a query parameter.
pub(super) fn query(text: &str) -> String {
    let mut out = String::new();
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            // Writing to a string cannot fail.
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

/// A time as people in the office read it.
pub(super) fn moment(at: &DateTime<FixedOffset>) -> Markup {
    html! { time datetime=(at.to_rfc3339()) { (at.format("%-d %b %Y %H:%M")) } }
}

/// A day, of Unix seconds.
pub(super) fn day(unix: i64) -> String {
    DateTime::from_timestamp(unix, 0)
        .map_or_else(String::new, |at| at.format("%-d %b %Y").to_string())
}

/// The time of day alone, where the day is known from around it.
pub(super) fn hour(at: &DateTime<FixedOffset>) -> Markup {
    html! { time datetime=(at.to_rfc3339()) { (at.format("%H:%M")) } }
}

/// A field as people say it: `nameplate.mca_a` is "nameplate MCA (A)".
pub(super) fn field(name: &str) -> String {
    const UNITS: &[(&str, &str)] = &[
        ("_in_wg", "in wg"),
        ("_rise_in_12", "in 12"),
        ("_ft", "ft"),
        ("_in", "in"),
        ("_a", "A"),
        ("_v", "V"),
        ("_lb", "lb"),
        ("_tons", "tons"),
        ("_btuh", "BTU/h"),
        ("_cfm", "cfm"),
    ];
    if name == "ref" {
        return "subject".to_owned();
    }
    let unit = UNITS.iter().find(|(end, _)| name.ends_with(end));
    let bare = unit.map_or(name, |(end, _)| name.strip_suffix(end).unwrap_or(name));
    let words: Vec<String> = bare
        .split(['.', '_'])
        .map(|word| match word {
            "mca" | "mocp" | "rla" | "gfci" => word.to_uppercase(),
            plain => plain.to_owned(),
        })
        .collect();
    match unit {
        Some((_, unit)) => format!("{} ({unit})", words.join(" ")),
        None => words.join(" "),
    }
}

/// A value of a field as people read it.
pub(super) fn value(value: &Value) -> String {
    match value {
        Value::Null => "nothing".to_owned(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::String(text) => text.clone(),
        Value::Number(n) => n.as_f64().map_or_else(|| n.to_string(), number),
        Value::Array(items) => {
            let all: Vec<String> = items.iter().map(self::value).collect();
            all.join(", ")
        }
        Value::Object(map) => {
            let part = |key: &str| map.get(key).map(self::value);
            let sides = (part("width_in"), part("height_in"), part("depth_in"));
            match (part("quantity"), sides, part("designation")) {
                (Some(q), (Some(w), Some(h), Some(d)), _) => format!("{q} of {w} x {h} x {d} in"),
                (Some(q), _, Some(belt)) => format!("{q} of {belt}"),
                _ => {
                    let all = map
                        .iter()
                        .map(|(key, item)| format!("{} {}", field(key), self::value(item)));
                    all.collect::<Vec<_>>().join(", ")
                }
            }
        }
    }
}

/// A value with the unit that its field's name carries: `24 A`.
pub(super) fn with_unit(name: &str, shown: &Value) -> String {
    let text = match shown {
        // Codes are told as words.
        Value::String(code)
            if ["kind", "membrane", "access"]
                .iter()
                .any(|end| name.ends_with(end)) =>
        {
            code.replace('_', " ")
        }
        other => value(other),
    };
    let unit = field(name)
        .rsplit_once('(')
        .and_then(|(_, unit)| unit.strip_suffix(')').map(str::to_owned));
    match unit {
        Some(unit) if shown.is_number() || shown.is_array() => format!("{text} {unit}"),
        _ => text,
    }
}

/// What a rule looks at, in words.
pub(super) fn rule(id: &str) -> String {
    let known = RULES.iter().find(|rule| rule.id == id);
    known.map_or_else(
        || sentence(&id.replace('-', " ")),
        |rule| sentence(rule.title),
    )
}

/// What core says with the names of rules in it, with their words instead: `needed for a-rule,
/// another-rule`, `a-rule could not be checked on: RTU-1`.
pub(super) fn rules_in(text: &str) -> String {
    if let Some(rules) = text.strip_prefix("needed for ") {
        let rules: Vec<String> = rules.split(", ").map(rule).collect();
        return format!("needed for {}", rules.join(", "));
    }
    match text.split_once(" could not be checked on: ") {
        Some((id, units)) if !id.contains(' ') => {
            format!("{} could not be checked on: {units}", sentence(&rule(id)))
        }
        _ => text.to_owned(),
    }
}

/// A number without a tail of zeroes.
pub(super) fn number(n: f64) -> String {
    let rounded = (n * 1000.0).round() / 1000.0;
    format!("{rounded}")
}

/// The sign of a severity.
pub(super) fn severity(severity: Severity) -> Markup {
    html! { span class={ "sign " (severity.code()) } { (severity.words()) } }
}

/// The word of a verdict.
pub(super) const fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fail => "not met",
        Verdict::Advise => "look at it",
        Verdict::Unknown => "not known",
        Verdict::Pass => "met",
    }
}

/// The sign of a verdict.
pub(super) fn verdict(verdict: Verdict) -> Markup {
    let class = match verdict {
        Verdict::Fail => "sign fail",
        Verdict::Advise => "sign advise",
        Verdict::Unknown => "sign unknown",
        Verdict::Pass => "sign pass",
    };
    html! { span class=(class) { (verdict_word(verdict)) } }
}

/// A number with its unit.
pub(super) fn quantity(quantity: &Quantity) -> String {
    format!("{} {}", number(quantity.value), quantity.unit)
}

/// What a standard asks.
pub(super) fn requirement(asked: &Requirement) -> String {
    let bounds = [
        ("at least", asked.at_least),
        ("at most", asked.at_most),
        ("more than", asked.more_than),
        ("less than", asked.less_than),
    ];
    let given = bounds.iter().filter_map(|(words, bound)| {
        bound.map(|bound| format!("{words} {} {}", number(bound), asked.unit))
    });
    given.collect::<Vec<_>>().join(", ")
}

/// Where a requirement comes from, as one cites it.
pub(super) fn source(source: &Source) -> String {
    let mut text = source.standard.clone();
    if !source.edition.is_empty() {
        text = format!("{text} ({})", source.edition);
    }
    if !source.section.is_empty() {
        text = format!("{text} {}", source.section);
    }
    if source.basis == Basis::Memory {
        text.push_str(", from memory");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn fields_and_values_read_as_people_say_them() {
        for (name, said) in [
            ("nameplate.mca_a", "nameplate MCA (A)"),
            ("disconnect.in_sight", "disconnect in sight"),
            ("condensate.static_in_wg", "condensate static (in wg)"),
            ("filters", "filters"),
            ("roof.edges.0.parapet_in", "roof edges 0 parapet (in)"),
            ("disconnect.distance_ft", "disconnect distance (ft)"),
            ("roof.slope_rise_in_12", "roof slope (in 12)"),
        ] {
            assert_eq!(field(name), said);
        }
        let filter = json!({"width_in": 20, "height_in": 25, "depth_in": 2, "quantity": 4});
        assert_eq!(value(&json!([filter])), "4 of 20 x 25 x 2 in");
        assert_eq!(
            value(&json!({"designation": "A42", "quantity": 1})),
            "1 of A42"
        );
        assert_eq!(value(&json!(false)), "no");
        assert_eq!(with_unit("nameplate.mca_a", &json!(24.0)), "24 A");
    }

    #[test]
    fn names_of_rules_become_words_and_other_text_stays() {
        for (text, told) in [
            (
                "needed for disconnect-ampacity",
                format!("needed for {}", rule("disconnect-ampacity")),
            ),
            (
                "What a roof can carry was not checked.",
                "What a roof can carry was not checked.".to_owned(),
            ),
        ] {
            assert_eq!(rules_in(text), told);
        }
        let line = rules_in("trap-depth could not be checked on: RTU-1.");
        assert!(
            !line.contains("trap-depth") && line.ends_with("on: RTU-1."),
            "{line}"
        );
    }

    #[test]
    fn a_query_value_cannot_leave_its_place() {
        assert_eq!(query("RTU-1"), "RTU-1");
        assert_eq!(query("a&b=\"ö"), "a%26b%3D%22%C3%B6");
    }
}
