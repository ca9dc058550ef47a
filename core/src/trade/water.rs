//! Water for washing coils: does a hose reach, and what is left of the pressure up there?

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::source::Verdict::{Advise, Fail, Pass, Unknown};
use crate::survey::units::{Feet, SpanFt};

/// Does a hose from the nearest water source reach the coil?
pub const HOSE_REACH: Rule = Rule {
    id: "hose-reach",
    title: "Hose run from water to the coil",
    cite: Cite::practice("hose run for coil washing"),
    applies: "units with a coil to wash: packaged rooftop, condensing, heat pump, chiller, \
              dedicated outdoor air and ductless outdoor units",
    formula: "hose run = shortest way round obstacles to the footprint + rise: at most 100 ft \
              passes, at most 150 ft is advised on, beyond that no usual hose reaches",
    note: "Water at grade adds the height of the roof; water on another roof adds the difference \
           in height. Every foot of rise costs 0.43 psi (62.4 lb/ft3 / 144).",
    examples: || {
        let run = |ft: f64, rise: f64| {
            Some(HoseRun {
                length: SpanFt::exact(ft),
                rise: Feet::of(rise),
            })
        };
        vec![
            ("80 ft on the roof", hose_reach(run(80.0, 0.0), None)),
            (
                "24 ft up and 90 ft along",
                hose_reach(run(114.0, 24.0), None),
            ),
            (
                "24 ft up and 140 ft along",
                hose_reach(run(164.0, 24.0), None),
            ),
            (
                "no water source on the plan",
                hose_reach(None, Some("a hose bibb by the dock")),
            ),
        ]
    },
};

/// Run that one length of hose covers.
pub const USUAL_RUN: Feet = Feet::of(100.0);
/// Longest run that is usual.
pub const LONGEST_RUN: Feet = Feet::of(150.0);
/// Pressure lost for each foot of rise, psi: 62.4 lb/ft3 of water over 144 in2.
pub const PSI_PER_FT: f64 = 62.4 / 144.0;

/// A hose from a water source to a unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoseRun {
    /// Length of hose, rise included.
    pub length: SpanFt,
    /// How far it rises.
    pub rise: Feet,
}

impl HoseRun {
    /// Pressure lost to the rise alone.
    pub fn loss_psi(&self) -> f64 {
        settle(self.rise.get() * PSI_PER_FT)
    }
}

/// The rule [`HOSE_REACH`], for the shortest run. `said` is where water was said to be, in words.
pub fn hose_reach(run: Option<HoseRun>, said: Option<&str>) -> Outcome {
    let (usual, longest) = (USUAL_RUN.get(), LONGEST_RUN.get());
    let Some(run) = run else {
        let because = match said {
            Some(said) => format!(
                "Water was said to be at {said}, but its place on the plan was not recorded."
            ),
            None => "No water source was recorded.".to_owned(),
        };
        return Outcome::unknown(because, &["site.roof.water_sources"]).at_most(usual, "ft");
    };
    let (low, high) = (settle(run.length.low), settle(run.length.high));
    let class = |ft: f64| {
        if ft <= usual {
            Pass
        } else if ft <= longest {
            Advise
        } else {
            Fail
        }
    };
    let rise = if run.rise.get() > 0.0 {
        format!(
            ", {} ft of it up, which costs {} psi",
            num(run.rise.get()),
            num(run.loss_psi())
        )
    } else {
        String::new()
    };
    let (verdict, because) = if class(low) != class(high) {
        (
            Unknown,
            format!(
                "The hose run is between {} and {} ft{rise}, by how well the unit's place is known; {} ft is usual.",
                num(low),
                num(high),
                num(usual)
            ),
        )
    } else {
        match class(low) {
            Pass => (
                Pass,
                format!(
                    "The hose run is {} ft{rise}, within {} ft.",
                    num(low),
                    num(usual)
                ),
            ),
            Advise => (
                Advise,
                format!(
                    "The hose run is {} ft{rise}, more than the usual {} ft but within {} ft.",
                    num(low),
                    num(usual),
                    num(longest)
                ),
            ),
            _ => (
                Fail,
                format!(
                    "The hose run is {} ft{rise}, beyond the {} ft that hoses usually reach.",
                    num(low),
                    num(longest)
                ),
            ),
        }
    };
    let bound = if verdict == Fail { longest } else { usual };
    let outcome = Outcome::new(verdict, because)
        .measured(low, "ft")
        .at_most(bound, "ft");
    if verdict == Unknown {
        outcome.needing(&["at_ft"])
    } else {
        outcome
    }
}
