//! Values that are hard to believe: two numbers of one unit that do not go together, a year that
//! has not come, a voltage that no network has. Either the roof is wrong or the reading is, so a
//! person looks once more; nothing here is a verdict.

use super::types::Check;
use crate::survey::{Equipment, Survey};
use crate::trade::Verdict;
use chrono::{Datelike, NaiveDate};
use serde_json::Value;
use std::collections::BTreeMap;

/// A value to look at once more, or several that do not go together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OddValue {
    /// Tag of the unit.
    pub about: String,
    /// Id of the unit; empty where the survey gives none.
    pub id: String,
    /// The fields in question, all of which hold a value.
    pub fields: Vec<String>,
    /// Why, with the numbers.
    pub because: String,
}

/// Checks that compare numbers read off plates, and the fields those stand in. A check that is not
/// met for what the roof is like says nothing against anyone's reading.
const READ_OFF: &[(&str, &[&str])] = &[
    (
        "disconnect-ampacity",
        &["nameplate.mca_a", "disconnect.rating_a"],
    ),
    (
        "overcurrent-max",
        &["nameplate.mocp_a", "disconnect.fuse_a"],
    ),
    (
        "overcurrent-standard-size",
        &["nameplate.mocp_a", "disconnect.fuse_a"],
    ),
    (
        "nameplate-mca-recomputed",
        &[
            "nameplate.mca_a",
            "nameplate.loads.largest_motor_rla_a",
            "nameplate.loads.other_a",
        ],
    ),
];

/// Rated voltages of equipment in use: ANSI C84.1 (2020) table 1 with the utilisation voltages
/// beside it, and IEC 60038 for what comes from elsewhere. From memory.
const VOLTAGES: &[f64] = &[
    24.0, 110.0, 115.0, 120.0, 127.0, 200.0, 208.0, 220.0, 230.0, 240.0, 265.0, 277.0, 346.0,
    347.0, 380.0, 400.0, 415.0, 440.0, 460.0, 480.0, 575.0, 600.0,
];

/// No packaged unit on a roof is older. Common practice, no source.
const OLDEST: i32 = 1950;

/// Which fields a comparing check rests on; empty for any other check.
pub fn read_off(rule: &str) -> &'static [&'static str] {
    let found = READ_OFF.iter().find(|(id, _)| *id == rule);
    found.map_or(&[], |(_, fields)| *fields)
}

/// Values to look at once more, unit by unit. `today` is the day of the visit or of asking.
pub fn odd_values(survey: &Survey, checks: &[Check], today: Option<NaiveDate>) -> Vec<OddValue> {
    let mut failed: BTreeMap<&str, Vec<&Check>> = BTreeMap::new();
    for check in checks.iter().filter(|c| c.verdict == Verdict::Fail) {
        failed.entry(&check.about).or_default().push(check);
    }
    let mut found = Vec::new();
    for unit in &survey.equipment {
        let odd = |fields: &[&str], because: String| OddValue {
            about: unit.tag.clone(),
            id: unit.id.clone(),
            fields: fields.iter().map(|&field| field.to_owned()).collect(),
            because,
        };
        found.extend(alone(unit, today).map(|(field, because)| odd(&[field], because)));
        let whole = serde_json::to_value(unit).unwrap_or_default();
        for check in failed.get(unit.tag.as_str()).into_iter().flatten() {
            let fields = read_off(&check.rule).iter().copied();
            let held: Vec<&str> = fields.filter(|field| holds(&whole, field)).collect();
            if !held.is_empty() {
                found.push(odd(&held, check.because.clone()));
            }
        }
    }
    found
}

fn holds(unit: &Value, field: &str) -> bool {
    let at = unit.pointer(&format!("/{}", field.replace('.', "/")));
    at.is_some_and(|value| !value.is_null() && value.as_array().is_none_or(|all| !all.is_empty()))
}

/// Values that are odd by themselves.
fn alone(
    unit: &Equipment,
    today: Option<NaiveDate>,
) -> impl Iterator<Item = (&'static str, String)> {
    let plate = &unit.nameplate;
    let year = plate.manufactured_year.and_then(|year| {
        let now = today.map(|day| day.year());
        match now {
            Some(now) if year > now => Some(format!(
                "The nameplate's year is {year}, after the visit in {now}."
            )),
            _ if year < OLDEST => Some(format!("The nameplate's year is {year}, before {OLDEST}.")),
            _ => None,
        }
    });
    let volts = |volts: f64, of: &str| {
        let known = VOLTAGES.iter().any(|known| (known - volts).abs() < 0.5);
        (!known).then(|| format!("The {of} says {volts} V, which no supply or rating has."))
    };
    let hertz = plate.hertz.map(|hertz| hertz.get());
    let hertz = hertz.filter(|hertz| (hertz - 50.0).abs() > 0.5 && (hertz - 60.0).abs() > 0.5);
    let (mca, mocp) = (plate.mca_a.map(|a| a.get()), plate.mocp_a.map(|a| a.get()));
    let above = mca.zip(mocp).filter(|(mca, mocp)| mca > mocp);
    [
        year.map(|because| ("nameplate.manufactured_year", because)),
        plate
            .voltage_v
            .and_then(|v| Some(("nameplate.voltage_v", volts(v.get(), "nameplate")?))),
        hertz.map(|n| {
            let because = format!("The nameplate says {n} Hz; supplies have 50 or 60.");
            ("nameplate.hertz", because)
        }),
        above.map(|(mca, mocp)| {
            let because = format!("The MCA of {mca} A is above the MOCP of {mocp} A.");
            ("nameplate.mca_a", because)
        }),
    ]
    .into_iter()
    .flatten()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::{AssessOptions, assess};
    use super::*;
    use crate::survey::read;

    fn odd(unit: &str) -> Vec<(Vec<String>, String)> {
        let survey = format!(
            r#"{{"survey_id": "s", "surveyed_on": "2026-04-14", "equipment":
            [{{"tag": "RTU-1", "kind": "packaged_rooftop_unit", {unit}}}]}}"#
        );
        let survey = read::survey_from_json(&survey).unwrap();
        let found = assess(&survey, &AssessOptions::default());
        let all = odd_values(&survey, &found.checks, survey.surveyed_on);
        all.into_iter()
            .map(|odd| (odd.fields, odd.because))
            .collect()
    }

    #[test]
    fn what_is_hard_to_believe_is_named_and_what_is_usual_is_not() {
        for (unit, fields) in [
            (
                r#""nameplate": {"manufactured_year": 2044}"#,
                "nameplate.manufactured_year",
            ),
            (
                r#""nameplate": {"manufactured_year": 1899}"#,
                "nameplate.manufactured_year",
            ),
            (r#""nameplate": {"voltage_v": 46}"#, "nameplate.voltage_v"),
            (
                r#""nameplate": {"mca_a": 42, "mocp_a": 24}"#,
                "nameplate.mca_a",
            ),
            (
                r#""nameplate": {"mca_a": 24}, "disconnect": {"rating_a": 15}"#,
                "nameplate.mca_a disconnect.rating_a",
            ),
        ] {
            let found = odd(unit);
            assert!(
                found.iter().any(|(named, _)| named.join(" ") == fields),
                "{unit}: {found:?}"
            );
        }
        let usual = r#""nameplate": {"manufactured_year": 2026, "voltage_v": 460, "phase": 3,
            "hertz": 60, "mca_a": 24, "mocp_a": 30}, "disconnect": {"rating_a": 30}"#;
        assert_eq!(odd(usual), []);
    }
}
