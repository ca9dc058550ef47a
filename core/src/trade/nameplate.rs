//! Does a nameplate agree with itself? Ampacity and protection recomputed from its own loads.
//!
//! The marked values govern; a disagreement means that something was misread, left out or is
//! not listed (electric heat, say), so these rules advise and never fail.

use super::catalogue::{Cite, Rule};
use super::disconnect::{loads_of_two_circuits, total};
use super::outcome::{Outcome, num, settle};
use super::overcurrent::{example_loads, round_down, round_up};
use super::profile::Standard::Nec;
use super::source::Verdict::{Advise, Pass};
use crate::survey::Loads;
use crate::survey::units::Amps;

/// Does the marked MCA agree with the listed loads?
pub const MCA: Rule = Rule {
    id: "nameplate-mca-recomputed",
    title: "Marked MCA against the listed loads",
    cite: Cite::published(Nec, "440.32, 440.33"),
    applies: "every unit",
    formula: "1.25 x the largest motor + all other loads; the plate agrees if it is no more than \
              0.5 A below that, nor above it by both 1 A and 10 %",
    note: "The tolerance is ours: plates round to a whole ampere and often leave small loads off. \
           A disagreement is advised on, because the marked value governs (440.4(B)).",
    examples: || {
        let loads = example_loads();
        vec![
            (
                "MCA 24 A, loads 14.1 + 1.4 + 3.0 A",
                mca(Some(Amps::of(24.0)), Some(&loads)),
            ),
            (
                "MCA 20 A, the same loads",
                mca(Some(Amps::of(20.0)), Some(&loads)),
            ),
            ("MCA 24 A, no loads listed", mca(Some(Amps::of(24.0)), None)),
        ]
    },
};

/// Minimum circuit ampacity of these loads, 440.32 and 440.33. Given the larger of rated-load
/// and branch-circuit selection current where a plate shows both.
pub fn computed_mca(loads: &Loads) -> Option<Amps> {
    let largest = loads.largest_motor_rla_a?.get();
    Some(Amps::of(settle(0.25 * largest + total(loads)?)))
}

/// The rule [`MCA`].
pub fn mca(marked: Option<Amps>, loads: Option<&Loads>) -> Outcome {
    let computed = loads.and_then(computed_mca);
    match (marked.map(Amps::get), computed.map(Amps::get)) {
        (Some(marked), Some(computed)) => {
            let short = settle(marked) < settle(computed - 0.5);
            let long =
                settle(marked) > settle(computed + 1.0) && settle(marked) > settle(computed * 1.1);
            let (verdict, words) = if short {
                (
                    Advise,
                    ": more than 0.5 A below; a number was misread, or the largest motor is not the one noted",
                )
            } else if long {
                (
                    Advise,
                    ": more than 10 % above; a load may be missing from the list, or a number was misread",
                )
            } else {
                (Pass, ", which agrees")
            };
            Outcome::new(
                verdict,
                format!(
                    "The plate's MCA is {} A and its loads come to {} A{words}.",
                    num(marked),
                    num(computed)
                ),
            )
            .measured(marked, "A")
            .at_least(computed, "A")
        }
        (None, Some(computed)) => Outcome::unknown(
            format!(
                "The listed loads come to {} A, but the plate's MCA was not recorded.",
                num(computed)
            ),
            &["nameplate.mca_a"],
        )
        .at_least(computed, "A"),
        (marked, None) => {
            let mut needs = vec!["nameplate.loads"];
            if marked.is_none() {
                needs.push("nameplate.mca_a");
            }
            let outcome = Outcome::unknown("The currents of the motors were not recorded.", &needs);
            match marked {
                Some(marked) => outcome.measured(marked, "A"),
                None => outcome,
            }
        }
    }
}

/// Does the marked maximum of protection agree with the listed loads?
pub const MOCP: Rule = Rule {
    id: "nameplate-mocp-recomputed",
    title: "Marked maximum protection against the listed loads",
    cite: Cite::published(Nec, "440.22"),
    applies: "units whose plate lists both the loads and a maximum",
    formula: "2.25 x the largest motor + all other loads, rounded down to a standard size, but \
              never under 15 A nor under the first standard size that carries the MCA",
    note: "1.75 x is the ordinary setting and 2.25 x the most where a motor will not start. \
           Taking the first standard size at or above the MCA where rounding down would fall \
           below it is rating practice, not code text.",
    examples: || {
        let two = loads_of_two_circuits();
        vec![
            (
                "MOCP 90 A, loads 19 + 19 + 16.7 + 10.6 + 10.6 A",
                mocp(Amps::of(90.0), &two),
            ),
            ("MOCP 100 A, the same loads", mocp(Amps::of(100.0), &two)),
        ]
        .into_iter()
        .filter_map(|(words, outcome)| Some((words, outcome?)))
        .collect()
    },
};

/// The most that 440.22 allows for a set of loads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LargestProtection {
    /// 2.25 x the largest + the others.
    pub raw: Amps,
    /// That as a standard size.
    pub standard: Amps,
}

/// Protection of these loads at a multiple of the largest (1.75 as a rule, 2.25 at most),
/// before rounding.
pub fn protection(loads: &Loads, multiple: f64) -> Option<Amps> {
    let largest = loads.largest_motor_rla_a?.get();
    Some(Amps::of(settle((multiple - 1.0) * largest + total(loads)?)))
}

/// The most that 440.22 allows for these loads, as a standard size.
pub fn largest_protection(loads: &Loads) -> Option<LargestProtection> {
    let raw = protection(loads, 2.25)?;
    let mca = computed_mca(loads)?;
    let down = round_down(raw);
    let standard = if down.get() < mca.get() {
        round_up(mca)?
    } else {
        down
    };
    Some(LargestProtection { raw, standard })
}

/// The rule [`MOCP`]; no outcome when the largest motor is not listed.
pub fn mocp(marked: Amps, loads: &Loads) -> Option<Outcome> {
    let most = largest_protection(loads)?;
    let (verdict, words) = if settle(marked.get()) > most.standard.get() {
        (
            Advise,
            "is above; a number was misread, or a load is missing from the list",
        )
    } else {
        (Pass, "keeps to it")
    };
    Some(
        Outcome::new(
            verdict,
            format!(
                "The loads allow at most {} A, which is {} A as a standard size; the plate's {} A {words}.",
                num(most.raw.get()),
                num(most.standard.get()),
                num(marked.get())
            ),
        )
        .measured(marked.get(), "A")
        .at_most(most.standard.get(), "A"),
    )
}
