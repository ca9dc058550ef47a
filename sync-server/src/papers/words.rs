//! How papers say what page and command line do not: money, verdicts, sources with their basis.

use crate::words::sentence;
use scupper_core::quote::Cents;
use scupper_core::trade::{Basis, Quantity, RULES, Source, Verdict};

/// Money as it is written on paper: `1,234.50 USD`.
pub(super) fn money(cents: Cents, currency: &str) -> String {
    format!("{cents} {currency}")
}

/// Where a requirement comes from, and how it is known when it was not read.
pub(super) fn source(source: &Source) -> String {
    match source.basis {
        Basis::Published => crate::words::source(source),
        Basis::Memory => format!("{}, from memory", crate::words::source(source)),
        Basis::CommonPractice => "common practice, no source".to_owned(),
    }
}

/// What a rule looks at, in a few words.
pub(super) fn rule(id: &str) -> String {
    let known = RULES.iter().find(|rule| rule.id == id);
    known.map_or_else(
        || sentence(&id.replace('-', " ")),
        |rule| rule.title.to_owned(),
    )
}

/// What is still to be recorded, for whoever did not make the form.
pub(super) fn wanted(name: &str) -> String {
    const SAID: &[(&str, &str)] = &[
        ("at_ft", "place on the plan"),
        ("size_ft", "size of the unit"),
        ("airflow_cfm", "airflow of the fan (cfm)"),
        (
            "condensate.static_in_wg",
            "suction at the drain pan (in wg)",
        ),
        (
            "condensate.trap_depth_in",
            "depth of the condensate trap (in)",
        ),
        (
            "condensate.drain_size_in",
            "size of the condensate drain (in)",
        ),
        ("disconnect.distance_ft", "distance to the disconnect (ft)"),
        ("disconnect.in_sight", "whether the disconnect is in sight"),
        ("disconnect.fuse_a", "fuse or breaker (A)"),
        ("disconnect.rating_a", "rating of the disconnect (A)"),
        ("nameplate.loads", "motors and other loads on the nameplate"),
        ("nameplate.manufactured_year", "year of manufacture"),
        ("nameplate.capacity_tons", "cooling capacity (tons)"),
        ("readings.line_voltage_v", "voltage between the lines (V)"),
        (
            "outdoor_air_height_ft",
            "height of the outdoor air intake (ft)",
        ),
    ];
    if let Some((_, said)) = SAID.iter().find(|(field, _)| *field == name) {
        return (*said).to_owned();
    }
    // A part of the roof: `site.more_roofs[0].edges[from 1].parapet_in`.
    let within = name.strip_prefix("site.").unwrap_or(name);
    let (roof, within) = match within
        .split_once("more_roofs[")
        .and_then(|(_, n)| n.split_once("]."))
    {
        Some((n, rest)) => (
            format!("roof {}, ", n.parse::<usize>().unwrap_or(0) + 2),
            rest,
        ),
        None => (
            String::new(),
            within.strip_prefix("roof.").unwrap_or(within),
        ),
    };
    let number = |part: &str| -> Option<usize> {
        let digits = part.trim_start_matches("from ").parse::<usize>();
        digits.ok().map(|n| n + 1)
    };
    let part = within.split_once('[').and_then(|(list, rest)| {
        let (n, field) = rest.split_once("].")?;
        let n = number(n)?;
        Some(match list {
            "edges" => format!("edge from corner {n}: {}", crate::words::field(field)),
            list => format!(
                "{} {n}: {}",
                list.trim_end_matches('s').replace('_', " "),
                crate::words::field(field)
            ),
        })
    });
    format!(
        "{roof}{}",
        part.unwrap_or_else(|| crate::words::field(within))
    )
}

/// A number with its unit, to two decimals at most.
pub(super) fn quantity(quantity: &Quantity) -> String {
    let value = (quantity.value * 100.0).round() / 100.0;
    format!("{value} {}", quantity.unit)
}

/// A verdict in a few words.
pub(super) fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fail => "Not met",
        Verdict::Advise => "Have it looked at",
        Verdict::Unknown => "Could not be checked",
        Verdict::Pass => "Met, as recorded",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_of_the_roof_are_said_without_brackets() {
        for (name, said) in [
            ("at_ft", "place on the plan"),
            ("nameplate.mca_a", "nameplate MCA (A)"),
            (
                "site.more_roofs[0].edges[from 1].parapet_in",
                "roof 2, edge from corner 2: parapet (in)",
            ),
            ("site.roof.openings[2].guarded", "opening 3: guarded"),
            ("site.roof.height_ft", "height (ft)"),
        ] {
            assert_eq!(wanted(name), said);
        }
        assert_eq!(rule("hose-reach"), "Hose run from water to the coil");
        assert_eq!(rule("no-such-rule"), "No such rule");
    }
}
