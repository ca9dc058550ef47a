//! The electrical supply: voltage balance, volts to ground, shock boundaries.
//!
//! Readings are taken by qualified people only; nothing here asks a technician to take one.

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::profile::Standard::{ElectricalSafety, Motors};
use super::source::Verdict::{Advise, Fail, Pass};
use crate::survey::units::{Feet, Inches, Percent, Volts};

/// Are the three line voltages alike?
pub const UNBALANCE: Rule = Rule {
    id: "voltage-unbalance",
    title: "Balance of the line voltages",
    cite: Cite::published(Motors, "14.36, 20.24"),
    applies: "three-phase units, and any unit with three line readings",
    formula: "100 x largest deviation from the average / average: 1 % or less passes, more than \
              1 % up to 5 % is advised on, more than 5 % fails",
    note: "Above 1 % a motor is derated; above 5 % it should not run. The derating curve is read \
           off a graph to about 0.02. Live readings are for qualified people.",
    examples: || {
        let volts = |v: [f64; 3]| v.map(Volts::of);
        vec![
            ("462, 463, 455 V", unbalance(&volts([462.0, 463.0, 455.0]))),
            ("208, 208, 208 V", unbalance(&volts([208.0, 208.0, 208.0]))),
            ("230, 230, 200 V", unbalance(&volts([230.0, 230.0, 200.0]))),
            ("not taken", unbalance(&[])),
        ]
    },
};

/// Unbalance of three line voltages; none unless there are three and they are not all zero.
pub fn unbalance_percent(lines: &[Volts]) -> Option<Percent> {
    let [a, b, c] = lines else { return None };
    let average = (a.get() + b.get() + c.get()) / 3.0;
    if average <= 0.0 {
        return None;
    }
    let deviation = [a, b, c]
        .iter()
        .map(|v| (v.get() - average).abs())
        .fold(0.0, f64::max);
    Some(Percent::of(settle(100.0 * deviation / average)))
}

/// The rule [`UNBALANCE`].
pub fn unbalance(lines: &[Volts]) -> Outcome {
    let Some(percent) = unbalance_percent(lines) else {
        let because = if lines.is_empty() {
            "No line voltages were recorded."
        } else if lines.len() == 3 {
            "The line voltages read 0 V: the supply was off."
        } else {
            "Three line-to-line voltages are needed."
        };
        return Outcome::unknown(because, &["readings.line_voltage_v"]).at_most(1.0, "%");
    };
    let percent = percent.get();
    let (verdict, words) = if percent <= 1.0 {
        (Pass, "within 1 %".to_owned())
    } else if percent <= 5.0 {
        let factor = derating(Percent::of(percent)).map_or(String::new(), |f| {
            format!(", where a motor carries about {} of its rating", num(f))
        });
        (Advise, format!("above 1 %{factor}"))
    } else {
        (
            Fail,
            "above the 5 % at which a motor should not run".to_owned(),
        )
    };
    Outcome::new(
        verdict,
        format!(
            "The line voltages are {} % out of balance, {words}.",
            num(percent)
        ),
    )
    .measured(percent, "%")
    .at_most(if verdict == Fail { 5.0 } else { 1.0 }, "%")
}

/// Do the line voltages fit the nameplate?
pub const VOLTAGE: Rule = Rule {
    id: "supply-voltage",
    title: "Line voltage against the nameplate",
    cite: Cite::memory(Motors, "12.44"),
    applies: "units whose line voltages and rated voltage were recorded",
    formula: "every line voltage within 10 % of the rated voltage",
    note: "The 10 % were seen in a published restatement, the section is from memory. More is \
           advised on: a plate marked with two voltages, 208/230 say, is recorded with one of them.",
    examples: || {
        let on = |lines: &[f64], rated: f64| {
            let lines: Vec<Volts> = lines.iter().map(|v| Volts::of(*v)).collect();
            voltage(&lines, Volts::of(rated))
        };
        vec![
            (
                "208, 208, 209 V on a 230 V plate",
                on(&[208.0, 208.0, 209.0], 230.0),
            ),
            (
                "208, 208, 209 V on a 240 V plate",
                on(&[208.0, 208.0, 209.0], 240.0),
            ),
        ]
        .into_iter()
        .filter_map(|(words, outcome)| Some((words, outcome?)))
        .collect()
    },
};

/// The rule [`VOLTAGE`], for the reading that is farthest off; no outcome without a reading.
pub fn voltage(lines: &[Volts], rated: Volts) -> Option<Outcome> {
    let rated = rated.get();
    let off = |v: &Volts| settle(100.0 * (v.get() - rated) / rated);
    let worst = lines
        .iter()
        .max_by(|a, b| off(a).abs().total_cmp(&off(b).abs()))?;
    let percent = off(worst);
    let (verdict, words) = if percent.abs() <= 10.0 {
        (Pass, "within")
    } else {
        (Advise, "more than")
    };
    let side = if percent < 0.0 { "below" } else { "above" };
    let because = format!(
        "The reading of {} V is {} % {side} the plate's {} V, {words} 10 %.",
        num(worst.get()),
        num(percent.abs()),
        num(rated)
    );
    Some(
        Outcome::new(verdict, because)
            .measured(percent.abs(), "%")
            .at_most(10.0, "%"),
    )
}

/// Readings of the derating curve: percent unbalance, factor.
const DERATING: &[(f64, f64)] = &[
    (1.0, 1.0),
    (1.5, 0.97),
    (2.0, 0.95),
    (2.5, 0.93),
    (3.0, 0.89),
    (3.5, 0.85),
    (4.0, 0.82),
    (4.5, 0.78),
    (5.0, 0.76),
];

/// Share of its rating that a motor carries at this unbalance, good to 0.02 (a graph's reading);
/// none above 5 %, where it should not run.
pub fn derating(unbalance: Percent) -> Option<f64> {
    let x = unbalance.get();
    if x <= 1.0 {
        return Some(1.0);
    }
    DERATING.windows(2).find_map(|pair| match pair {
        [(x0, y0), (x1, y1)] if x <= *x1 => Some(settle(y0 + (y1 - y0) * (x - x0) / (x1 - x0))),
        _ => None,
    })
}

/// Volts to ground of a unit by its rated line voltage; a range where the plate leaves the
/// system open (a 240 V three-phase supply may have a 208 V high leg, a 480 V one a grounded
/// corner). From memory of the definitions in NFPA 70 Article 100.
pub fn volts_to_ground(line: Volts, phase: Option<u8>) -> VoltsToGround {
    let v = line.get();
    let root3 = 3.0_f64.sqrt();
    let (low, high) = if v <= 150.0 {
        (v, v)
    } else if v <= 215.0 {
        (v / root3, v / root3)
    } else if v <= 250.0 {
        (
            v / 2.0,
            if phase == Some(1) {
                v / 2.0
            } else {
                v * root3 / 2.0
            },
        )
    } else if v <= 300.0 {
        (v, v)
    } else {
        (v / root3, if phase == Some(1) { v / root3 } else { v })
    };
    VoltsToGround { low, high }
}

/// Volts to ground between two values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VoltsToGround {
    /// No less than this.
    pub low: f64,
    /// No more than this.
    pub high: f64,
}

/// How near live parts a person may come, by voltage between phases.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShockBoundaries {
    /// Limited approach to exposed movable conductors.
    pub limited_movable: Feet,
    /// Limited approach to exposed fixed parts.
    pub limited_fixed: Inches,
    /// Restricted approach; none where the table says to avoid contact.
    pub restricted: Option<Inches>,
}

/// Where [`shock_boundaries`] comes from; the 50 to 150 V row is from memory.
pub const SHOCK: Cite = Cite::published(ElectricalSafety, "Table 130.4(E)(a)");

/// Shock boundaries for alternating current up to 750 V between phases; none below 50 V, where
/// the table specifies none, and none above 750 V, which is not this trade's work.
pub fn shock_boundaries(phase_to_phase: Volts) -> Option<ShockBoundaries> {
    let v = phase_to_phase.get();
    let restricted = if !(50.0..=750.0).contains(&v) {
        return None;
    } else if v <= 150.0 {
        None
    } else {
        Some(Inches::of(12.0))
    };
    Some(ShockBoundaries {
        limited_movable: Feet::of(10.0),
        limited_fixed: Inches::of(42.0),
        restricted,
    })
}
