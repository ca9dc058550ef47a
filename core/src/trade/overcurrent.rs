//! Fuses and breakers: standard sizes, rounding, and the marked maximum.

use super::catalogue::{Cite, Rule};
use super::disconnect::{loads, loads_of_two_circuits};
use super::nameplate::largest_protection;
use super::outcome::{Outcome, num, settle};
use super::profile::Standard::Nec;
use super::source::Verdict::{Advise, Fail, Pass};
use crate::survey::Loads;
use crate::survey::units::Amps;

/// Standard ampere ratings of fuses and inverse-time breakers, NFPA 70 240.6(A).
pub const STANDARD_A: &[f64] = &[
    15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 125.0,
    150.0, 175.0, 200.0, 225.0, 250.0, 300.0, 350.0, 400.0, 450.0, 500.0, 600.0, 700.0, 800.0,
    1000.0, 1200.0, 1600.0, 2000.0, 2500.0, 3000.0, 4000.0, 5000.0, 6000.0,
];

/// Ratings that 240.6(A) adds for fuses alone; never a size to round to.
pub const FUSES_ONLY_A: &[f64] = &[1.0, 3.0, 6.0, 10.0, 601.0];

/// The largest standard size that does not exceed a current, but never under 15 A, which
/// 440.22(A) does not ask.
pub fn round_down(current: Amps) -> Amps {
    let current = settle(current.get());
    let below = STANDARD_A.iter().rev().find(|size| **size <= current);
    Amps::of(below.copied().unwrap_or(15.0))
}

/// The smallest standard size that is not under a current, if there is one.
pub fn round_up(current: Amps) -> Option<Amps> {
    let current = settle(current.get());
    let above = STANDARD_A.iter().find(|size| **size >= current)?;
    Some(Amps::of(*above))
}

/// Does the fuse or breaker keep to the nameplate's maximum?
pub const MAX: Rule = Rule {
    id: "overcurrent-max",
    title: "Fuse or breaker against the nameplate's maximum",
    cite: Cite::memory(Nec, "110.3(B), 440.22(C)"),
    applies: "every unit",
    formula: "fuse or breaker <= marked maximum overcurrent protection (MOCP)",
    note: "The marked maximum governs; one computed from the listed loads is only a cross-check, \
           so where the plate's maximum was not read a device above the computed one is advised \
           on, and one below it stays unknown.",
    examples: || {
        let two = loads_of_two_circuits();
        vec![
            (
                "45 A fuse, MOCP 45 A",
                max(Some(Amps::of(45.0)), Some(Amps::of(45.0)), None),
            ),
            (
                "50 A fuse, MOCP 45 A",
                max(Some(Amps::of(50.0)), Some(Amps::of(45.0)), None),
            ),
            (
                "100 A fuse, MOCP not read, loads 19 + 19 + 16.7 + 10.6 + 10.6 A",
                max(Some(Amps::of(100.0)), None, Some(&two)),
            ),
            (
                "no fuse or breaker seen",
                max(None, Some(Amps::of(45.0)), None),
            ),
        ]
    },
};

/// The rule [`MAX`].
pub fn max(fuse: Option<Amps>, mocp: Option<Amps>, loads: Option<&Loads>) -> Outcome {
    match (fuse, mocp) {
        (Some(fuse), Some(mocp)) => {
            let (verdict, verb) = if settle(fuse.get()) <= settle(mocp.get()) {
                (Pass, "keeps to")
            } else {
                (Fail, "exceeds")
            };
            Outcome::new(
                verdict,
                format!(
                    "The {} A fuse or breaker {verb} the nameplate's maximum of {} A.",
                    num(fuse.get()),
                    num(mocp.get())
                ),
            )
            .measured(fuse.get(), "A")
            .at_most(mocp.get(), "A")
        }
        (Some(fuse), None) => match loads.and_then(largest_protection) {
            Some(most) if settle(fuse.get()) > most.standard.get() => Outcome::new(
                Advise,
                format!(
                    "The {} A fuse or breaker is above {} A, the most that the listed loads \
                     allow ({} A rounded down); the nameplate's own maximum was not recorded.",
                    num(fuse.get()),
                    num(most.standard.get()),
                    num(most.raw.get())
                ),
            )
            .measured(fuse.get(), "A")
            .at_most(most.standard.get(), "A")
            .needing(&["nameplate.mocp_a"]),
            _ => Outcome::unknown(
                format!(
                    "The fuse or breaker is {} A, but the nameplate's maximum was not recorded.",
                    num(fuse.get())
                ),
                &["nameplate.mocp_a"],
            )
            .measured(fuse.get(), "A"),
        },
        (None, Some(mocp)) => Outcome::unknown(
            format!(
                "No fuse or breaker was recorded; the nameplate allows at most {} A.",
                num(mocp.get())
            ),
            &["disconnect.fuse_a"],
        )
        .at_most(mocp.get(), "A"),
        (None, None) => Outcome::unknown(
            "Neither the fuse or breaker nor the nameplate's maximum was recorded.",
            &["disconnect.fuse_a", "nameplate.mocp_a"],
        ),
    }
}

/// Is the fuse or breaker a size that is made?
pub const STANDARD_SIZE: Rule = Rule {
    id: "overcurrent-standard-size",
    title: "Fuse or breaker of a standard size",
    cite: Cite::published(Nec, "240.6(A)"),
    applies: "every unit",
    formula: "the rating is one of 15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, \
              150, 175, 200, 225, 250, 300, 350, 400, 450, 500, 600, 700, 800, 1000, 1200, 1600, \
              2000, 2500, 3000, 4000, 5000, 6000 A",
    note: "1, 3, 6, 10 and 601 A are listed for fuses alone, and time-delay fuses are also made in \
           steps under 15 A and at 17.5 A (from memory): a recorded rating of that kind is advised \
           on, since no breaker has it and nothing rounds to it. Any other value is nearly always \
           a misread digit and fails the check, though 240.6(A) does not forbid a nonstandard \
           rating (from memory).",
    examples: || {
        vec![
            ("35 A", standard_size(Some(Amps::of(35.0)))),
            ("601 A", standard_size(Some(Amps::of(601.0)))),
            ("33 A", standard_size(Some(Amps::of(33.0)))),
        ]
    },
};

/// The rule [`STANDARD_SIZE`].
pub fn standard_size(fuse: Option<Amps>) -> Outcome {
    let Some(fuse) = fuse.map(Amps::get) else {
        return Outcome::unknown("No fuse or breaker was recorded.", &["disconnect.fuse_a"]);
    };
    let (verdict, words) = if STANDARD_A.contains(&fuse) {
        (Pass, "is a standard size")
    } else if FUSES_ONLY_A.contains(&fuse) {
        (
            Advise,
            "is listed as a fuse only; no breaker has that rating, and no calculation rounds to it",
        )
    } else if fuse < 15.0 || fuse == 17.5 {
        (
            Advise,
            "is no standard size; time-delay fuses are made in such steps, breakers are not",
        )
    } else {
        (
            Fail,
            "is not a standard size; read it again before anything is ordered",
        )
    };
    Outcome::new(verdict, format!("{} A {words}.", num(fuse))).measured(fuse, "A")
}

pub(super) fn example_loads() -> Loads {
    loads(14.1, &[1.4, 3.0])
}
