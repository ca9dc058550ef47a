//! The switch that isolates a unit: is it big enough, made for the voltage, and in sight?
//!
//! Pure functions of plate and switch; which units they apply to is decided by `assess`.

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::profile::Standard::Nec;
use super::source::Verdict::{Fail, Pass};
use crate::survey::Loads;
use crate::survey::units::{Amps, Feet, Volts};

/// Is the switch rated for the current of the nameplate?
pub const AMPACITY: Rule = Rule {
    id: "disconnect-ampacity",
    title: "Rating of the disconnect against the nameplate",
    cite: Cite::published(Nec, "440.12"),
    applies: "every unit; one without a compressor is held to 430.110, which asks the same 115 %",
    formula: "rating >= the larger of the marked MCA and 115 % of the sum of the listed loads",
    note: "440.12(B)(2) asks 115 % of the sum of the currents; a plate that lists them is held to \
           that. Where it lists none, the marked MCA stands in, being the current the maker says \
           the circuit must carry. Where both are known the larger counts, and both are said.",
    examples: || {
        let loads = loads(14.1, &[1.4, 3.0]);
        let many = loads_of_two_circuits();
        vec![
            (
                "30 A switch, MCA 24 A, loads 14.1 + 1.4 + 3.0 A",
                ampacity(
                    Some(Amps::of(30.0)),
                    Some(Amps::of(24.0)),
                    Some(&loads),
                    true,
                ),
            ),
            (
                "60 A switch, no MCA, loads 19 + 19 + 16.7 + 10.6 + 10.6 A",
                ampacity(Some(Amps::of(60.0)), None, Some(&many), true),
            ),
            (
                "MCA not read",
                ampacity(Some(Amps::of(30.0)), None, None, true),
            ),
        ]
    },
};

const FANS: Cite = Cite::memory(Nec, "430.110(A)");

/// The rule [`AMPACITY`]. `compressor` tells whether Article 440 applies to the unit.
pub fn ampacity(
    rating: Option<Amps>,
    mca: Option<Amps>,
    loads: Option<&Loads>,
    compressor: bool,
) -> Outcome {
    let sum = loads.and_then(total).map(|sum| settle(1.15 * sum));
    let asked = match (mca.map(Amps::get), sum) {
        (Some(mca), Some(sum)) => Some((
            mca.max(sum),
            format!(
                "MCA {} A and 115 % of the listed loads {} A",
                num(mca),
                num(sum)
            ),
        )),
        (Some(mca), None) => Some((mca, format!("MCA {} A", num(mca)))),
        (None, Some(sum)) => Some((sum, format!("115 % of the listed loads {} A", num(sum)))),
        (None, None) => None,
    };
    let outcome = match (rating.map(Amps::get), asked) {
        (Some(rating), Some((asked, words))) => {
            let (verdict, verb) = if settle(rating) >= settle(asked) {
                (Pass, "meets")
            } else {
                (Fail, "is below")
            };
            Outcome::new(
                verdict,
                format!("The {} A disconnect {verb} the {words}.", num(rating)),
            )
            .measured(rating, "A")
            .at_least(asked, "A")
        }
        (None, Some((asked, words))) => Outcome::unknown(
            format!("The disconnect's rating was not recorded; the nameplate asks {words}."),
            &["disconnect.rating_a"],
        )
        .at_least(asked, "A"),
        (Some(rating), None) => Outcome::unknown(
            format!(
                "The disconnect is rated {} A, but neither MCA nor loads were recorded.",
                num(rating)
            ),
            &["nameplate.mca_a"],
        )
        .measured(rating, "A"),
        (None, None) => Outcome::unknown(
            "Neither the disconnect's rating nor the nameplate's MCA was recorded.",
            &["disconnect.rating_a", "nameplate.mca_a"],
        ),
    };
    if compressor {
        outcome
    } else {
        outcome.citing(FANS)
    }
}

/// Sum of the listed currents; none if the largest motor is not among them.
pub(crate) fn total(loads: &Loads) -> Option<f64> {
    let largest = loads.largest_motor_rla_a?.get();
    Some(largest + loads.other_a.iter().map(|a| a.get()).sum::<f64>())
}

/// Frames that general-duty safety switches are made in, amperes; common practice, no source.
pub const SWITCH_FRAMES_A: &[f64] = &[30.0, 60.0, 100.0, 200.0, 400.0, 600.0];

/// The smallest switch frame that carries 115 % of these currents.
pub fn smallest_frame(loads_a: &[Amps]) -> Option<Amps> {
    let asked = settle(1.15 * loads_a.iter().map(|a| a.get()).sum::<f64>());
    let frame = SWITCH_FRAMES_A.iter().find(|frame| **frame >= asked)?;
    Some(Amps::of(*frame))
}

/// Is the switch made for the supply's voltage?
pub const VOLTAGE: Rule = Rule {
    id: "disconnect-voltage",
    title: "Voltage rating of the disconnect against the nameplate",
    cite: Cite::memory(Nec, "110.4"),
    applies: "units whose disconnect's voltage rating was recorded",
    formula: "voltage rating of the switch >= rated voltage of the unit",
    note: "A 208 V or 230 V unit is commonly served by a switch marked 240 V.",
    examples: || {
        vec![
            (
                "480 V unit behind a 240 V switch",
                voltage(Volts::of(240.0), Some(Volts::of(480.0))),
            ),
            (
                "208 V unit behind a 240 V switch",
                voltage(Volts::of(240.0), Some(Volts::of(208.0))),
            ),
        ]
    },
};

/// The rule [`VOLTAGE`].
pub fn voltage(rated: Volts, supply: Option<Volts>) -> Outcome {
    let Some(supply) = supply else {
        return Outcome::unknown(
            format!("The disconnect is marked {rated}, but the unit's voltage was not recorded."),
            &["nameplate.voltage_v"],
        )
        .measured(rated.get(), "V");
    };
    let (verdict, verb) = if rated.get() >= supply.get() {
        (Pass, "covers")
    } else {
        (Fail, "is below")
    };
    Outcome::new(
        verdict,
        format!("The disconnect's {rated} rating {verb} the unit's {supply}."),
    )
    .measured(rated.get(), "V")
    .at_least(supply.get(), "V")
}

/// Can the person at the unit see the switch, and is it near?
pub const IN_SIGHT: Rule = Rule {
    id: "disconnect-in-sight",
    title: "Disconnect within sight of the unit",
    cite: Cite::published(Nec, "440.14"),
    applies: "every unit; one without a compressor is held to 430.102(B)",
    formula: "visible from the unit and not more than 50 ft away (Article 100)",
    note: "440.14 also keeps the switch off access panels and clear of the nameplate, which the \
           survey records only as a finding.",
    examples: || {
        vec![
            (
                "seen, 50 ft away",
                in_sight(Some(true), Some(Feet::of(50.0)), true),
            ),
            (
                "seen, 50.5 ft away",
                in_sight(Some(true), Some(Feet::of(50.5)), true),
            ),
            (
                "20 ft away behind a screen wall",
                in_sight(Some(false), Some(Feet::of(20.0)), true),
            ),
            ("seen, distance not taken", in_sight(Some(true), None, true)),
        ]
    },
};

/// Farthest that Article 100 calls within sight.
pub const SIGHT_FT: Feet = Feet::of(50.0);

/// The rule [`IN_SIGHT`].
pub fn in_sight(seen: Option<bool>, distance: Option<Feet>, compressor: bool) -> Outcome {
    let limit = SIGHT_FT.get();
    let far = distance.map(|d| settle(d.get()) > limit);
    let outcome = match (seen, far) {
        (_, Some(true)) => Outcome::new(
            Fail,
            format!(
                "The disconnect is {} ft away, more than {} ft.",
                num(distance.map_or(0.0, Feet::get)),
                num(limit)
            ),
        ),
        (Some(false), _) => Outcome::new(
            Fail,
            match distance {
                Some(d) => format!(
                    "The disconnect is {} ft away but cannot be seen from the unit.",
                    num(d.get())
                ),
                None => "The disconnect cannot be seen from the unit.".to_owned(),
            },
        ),
        (Some(true), Some(false)) => Outcome::new(
            Pass,
            format!(
                "The disconnect can be seen and is {} ft away, within {} ft.",
                num(distance.map_or(0.0, Feet::get)),
                num(limit)
            ),
        ),
        (Some(true), None) => Outcome::unknown(
            format!(
                "The disconnect can be seen, but whether it is within {} ft was not recorded.",
                num(limit)
            ),
            &["disconnect.distance_ft"],
        ),
        (None, Some(false)) => Outcome::unknown(
            "Whether the disconnect can be seen from the unit was not recorded.",
            &["disconnect.in_sight"],
        ),
        (None, None) => Outcome::unknown(
            "Where the disconnect is was not recorded.",
            &["disconnect.in_sight", "disconnect.distance_ft"],
        ),
    };
    let outcome = match distance {
        Some(distance) => outcome.measured(distance.get(), "ft"),
        None => outcome,
    }
    .at_most(limit, "ft");
    if compressor {
        outcome
    } else {
        outcome.citing(Cite::memory(Nec, "430.102(B)"))
    }
}

pub(super) fn loads(largest: f64, others: &[f64]) -> Loads {
    Loads {
        largest_motor_rla_a: Some(Amps::of(largest)),
        other_a: others.iter().map(|a| Amps::of(*a)).collect(),
    }
}

pub(super) fn loads_of_two_circuits() -> Loads {
    loads(19.0, &[19.0, 16.7, 10.6, 10.6])
}
