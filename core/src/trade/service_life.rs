//! Where a unit stands against the median service life of its kind.

use super::catalogue::{Cite, Rule};
use super::outcome::Outcome;
use super::profile::Standard::Handbook;
use super::source::Verdict::{Advise, Pass};
use crate::survey::codes::EquipmentKind;

/// Has the unit outlived the median of its kind?
pub const STANDING: Rule = Rule {
    id: "service-life",
    title: "Age against the median service life",
    cite: Cite::published(Handbook, "service life"),
    applies: "kinds that the table lists or that are taken as like one it lists",
    formula: "age = year of the survey - year of manufacture; past the median is advised on",
    note: "Medians: packaged rooftop unit and heat pump 15 years, condensing unit 20, roof exhaust \
           fan 20, supply fan 25; chiller and cooling tower 20, ductless outdoor unit 15 (from \
           memory). The data go back to a 1976 survey: past the median means asking about \
           condition, not an end date. A serial number is never decoded into a year.",
    examples: || {
        let rtu = EquipmentKind::PackagedRooftopUnit;
        vec![
            (
                "rooftop unit of 2008, surveyed 2026",
                standing(rtu, Some(2008), Some(2026)),
            ),
            (
                "rooftop unit of 2011, surveyed 2026",
                standing(rtu, Some(2011), Some(2026)),
            ),
            ("year not read", standing(rtu, None, Some(2026))),
        ]
        .into_iter()
        .filter_map(|(words, outcome)| Some((words, outcome?)))
        .collect()
    },
};

/// Median service life in years, and where it comes from.
pub fn median_years(kind: EquipmentKind) -> Option<(i32, Cite)> {
    let published = |years| Some((years, STANDING.cite));
    let memory = |years| Some((years, Cite::memory(Handbook, "service life")));
    match kind {
        EquipmentKind::PackagedRooftopUnit | EquipmentKind::HeatPump => published(15),
        EquipmentKind::CondensingUnit | EquipmentKind::ExhaustFan => published(20),
        EquipmentKind::SupplyFan => published(25),
        EquipmentKind::AirCooledChiller | EquipmentKind::CoolingTower => memory(20),
        EquipmentKind::DuctlessOutdoorUnit => memory(15),
        EquipmentKind::MakeupAirUnit
        | EquipmentKind::EvaporativeCooler
        | EquipmentKind::DedicatedOutdoorAirUnit
        | EquipmentKind::Other => None,
    }
}

/// The rule [`STANDING`]; no outcome for a kind without a median.
pub fn standing(kind: EquipmentKind, made: Option<i32>, surveyed: Option<i32>) -> Option<Outcome> {
    let (median, cite) = median_years(kind)?;
    let outcome = match (made, surveyed) {
        (Some(made), Some(surveyed)) if made > surveyed => Outcome::unknown(
            format!(
                "The year of manufacture, {made}, is after the survey in {surveyed}; read it again."
            ),
            &["nameplate.manufactured_year"],
        ),
        (Some(made), Some(surveyed)) => {
            let age = surveyed.saturating_sub(made);
            let (verdict, words) = if age > median {
                (Advise, "past")
            } else {
                (Pass, "within")
            };
            Outcome::new(
                verdict,
                format!(
                    "Made in {made}, it is {age} years old, {words} the median of {median} years."
                ),
            )
            .measured(f64::from(age), "years")
        }
        (None, _) => Outcome::unknown(
            format!("The year of manufacture was not recorded; the median is {median} years."),
            &["nameplate.manufactured_year"],
        ),
        (Some(made), None) => Outcome::unknown(
            format!("It was made in {made}, but the day of the survey is not known."),
            &["site.surveyed_on"],
        ),
    };
    Some(outcome.at_most(f64::from(median), "years").citing(cite))
}
