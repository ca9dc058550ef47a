//! Small pieces of text that page and command line write the same way.

use scupper_core::survey::codes::Certainty;
use scupper_core::survey::{SITE, Survey};
use scupper_core::trade::{Quantity, Requirement, Source};

/// A tag, or what the whole site is called.
pub(crate) fn place(about: &str) -> &str {
    if about == SITE { "Site" } else { about }
}

/// The value that a survey has in a field of a unit, found by tag or id, or of the site.
pub(crate) fn held(survey: &Survey, about: &str, field: &str) -> Option<serde_json::Value> {
    let whole = match about {
        SITE => serde_json::to_value(&survey.site),
        _ => serde_json::to_value(survey.unit(about)?),
    };
    within(&whole.ok()?, about, field).cloned()
}

/// A field of the site or a unit, of all its fields.
pub(crate) fn within<'v>(
    whole: &'v serde_json::Value,
    about: &str,
    field: &str,
) -> Option<&'v serde_json::Value> {
    let field = match about {
        SITE => field.strip_prefix("site.").unwrap_or(field),
        _ => field,
    };
    whole.pointer(&format!("/{}", field.replace('.', "/")))
}

/// A tag as part of an element's id.
pub(crate) fn slug(tag: &str) -> String {
    tag.chars()
        .map(|c| if c.is_ascii_alphanumeric() { c } else { '-' })
        .collect()
}

/// A code with a capital.
pub(crate) fn sentence(words: &str) -> String {
    let mut chars = words.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// A field as people say it: `nameplate.mca_a` is "nameplate MCA (A)".
pub(crate) fn field(name: &str) -> String {
    const UNITS: &[(&str, &str)] = &[
        ("ft", "ft"),
        ("in", "in"),
        ("a", "A"),
        ("v", "V"),
        ("lb", "lb"),
        ("tons", "tons"),
        ("btuh", "BTU/h"),
        ("cfm", "cfm"),
        ("wg", "wg"),
    ];
    let mut parts: Vec<String> = Vec::new();
    let mut unit = String::new();
    let words: Vec<&str> = name.split(['.', '_']).collect();
    for (i, word) in words.iter().enumerate() {
        let last = i + 1 == words.len() || (words.get(i + 1) == Some(&"wg"));
        match (*word, UNITS.iter().find(|(code, _)| code == word)) {
            (_, Some((_, shown))) if last && i > 0 => {
                unit = if unit.is_empty() {
                    (*shown).to_owned()
                } else {
                    format!("{unit} {shown}")
                };
            }
            ("mca" | "mocp" | "rla", _) => parts.push(word.to_uppercase()),
            (plain, _) => parts.push(plain.to_owned()),
        }
    }
    let name = parts.join(" ");
    if unit.is_empty() {
        name
    } else {
        format!("{name} ({unit})")
    }
}

/// A value of a field as people read it.
pub(crate) fn value(value: &serde_json::Value) -> String {
    use serde_json::Value;
    match value {
        Value::Null => "nothing".to_owned(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::String(text) => text.clone(),
        // 30 rather than 30.0: nobody writes amperes with a decimal point.
        Value::Number(number) => number
            .as_f64()
            .map_or_else(|| number.to_string(), |n| n.to_string()),
        Value::Array(items) => items.iter().map(self::value).collect::<Vec<_>>().join(", "),
        Value::Object(map) => {
            let number = |key: &str| map.get(key).map(self::value);
            match (
                number("width_in"),
                number("height_in"),
                number("depth_in"),
                number("quantity"),
            ) {
                (Some(w), Some(h), Some(d), Some(q)) => format!("{q} of {w} x {h} x {d} in"),
                _ => match (number("designation"), number("quantity")) {
                    (Some(belt), Some(q)) => format!("{q} of {belt}"),
                    _ => map
                        .iter()
                        .map(|(key, item)| format!("{} {}", field(key), self::value(item)))
                        .collect::<Vec<_>>()
                        .join(", "),
                },
            }
        }
    }
}

/// How sure the speaker was, when it is not the plain case.
pub(crate) fn certainty(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Observed => "",
        Certainty::Suspected => " (suspected)",
        Certainty::Absent => " (said not to be there)",
    }
}

/// A number with its unit.
pub(crate) fn quantity(quantity: &Quantity) -> String {
    format!("{} {}", quantity.value, quantity.unit)
}

/// What a standard asks.
pub(crate) fn requirement(asked: &Requirement) -> String {
    let bounds = [
        ("at least", asked.at_least),
        ("at most", asked.at_most),
        ("more than", asked.more_than),
        ("less than", asked.less_than),
    ];
    bounds
        .iter()
        .filter_map(|(words, bound)| bound.map(|b| format!("{words} {b} {}", asked.unit)))
        .collect::<Vec<_>>()
        .join(", ")
}

/// Where a requirement comes from, as one cites it.
pub(crate) fn source(source: &Source) -> String {
    let mut text = source.standard.clone();
    if !source.edition.is_empty() {
        text.push_str(&format!(" ({})", source.edition));
    }
    if !source.section.is_empty() {
        text.push_str(&format!(" {}", source.section));
    }
    text
}

/// A count with its noun: `1 unit`, `3 units`.
pub(crate) fn count(n: usize, one: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {one}s")
    }
}

/// Money as it is written on paper: `1,234.50 USD`.
pub(crate) fn money(cents: i64, currency: &str) -> String {
    let whole = (cents / 100).unsigned_abs().to_string();
    let mut grouped = String::new();
    for (i, digit) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    let sign = if cents < 0 { "-" } else { "" };
    format!("{sign}{grouped}.{:02} {currency}", (cents % 100).abs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn money_is_grouped() {
        for (cents, written) in [
            (0, "0.00 USD"),
            (5, "0.05 USD"),
            (123_450, "1,234.50 USD"),
            (-100_000_007, "-1,000,000.07 USD"),
        ] {
            assert_eq!(money(cents, "USD"), written);
        }
    }

    #[test]
    fn fields_and_values_read_as_people_say_them() {
        for (name, said) in [
            ("nameplate.mca_a", "nameplate MCA (A)"),
            ("disconnect.in_sight", "disconnect in sight"),
            ("condensate.static_in_wg", "condensate static (in wg)"),
            ("filters", "filters"),
            ("roof.edges.0.parapet_in", "roof edges 0 parapet (in)"),
            ("disconnect.distance_ft", "disconnect distance (ft)"),
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
    }
}
