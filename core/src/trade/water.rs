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
           in height; where that is not known the run can only be found too long. Every foot of rise costs 0.43 psi (62.4 lb/ft3 / 144).",
    examples: || {
        let run = |ft: f64, rise: f64| {
            vec![HoseRun {
                length: SpanFt::exact(ft),
                rise: Some(Feet::of(rise)),
            }]
        };
        vec![
            ("80 ft on the roof", hose_reach(&run(80.0, 0.0), None)),
            (
                "24 ft up and 90 ft along",
                hose_reach(&run(114.0, 24.0), None),
            ),
            (
                "24 ft up and 140 ft along",
                hose_reach(&run(164.0, 24.0), None),
            ),
            (
                "no water source on the plan",
                hose_reach(&[], Some("a hose bibb by the dock")),
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
    /// Length of hose, its rise included if known.
    pub length: SpanFt,
    /// How far it rises, if known.
    pub rise: Option<Feet>,
}

impl HoseRun {
    /// Pressure lost to the rise alone, if that is known.
    pub fn loss_psi(&self) -> Option<f64> {
        Some(settle(self.rise?.get() * PSI_PER_FT))
    }
}

/// The rule [`HOSE_REACH`], for the run that serves best. `said` is where water was said to be.
pub fn hose_reach(runs: &[HoseRun], said: Option<&str>) -> Outcome {
    let best = runs.iter().map(|run| (run.length.low, judge(run)));
    let best = best.min_by(|a, b| {
        let order = |outcome: &Outcome| match outcome.verdict {
            Pass => 0,
            Advise => 1,
            Unknown => 2,
            Fail => 3,
        };
        order(&a.1).cmp(&order(&b.1)).then(a.0.total_cmp(&b.0))
    });
    if let Some((_, outcome)) = best {
        return outcome;
    }
    let because = match said {
        Some(said) => {
            format!("Water was said to be at {said}, but its place on the plan was not recorded.")
        }
        None => "No water source was recorded.".to_owned(),
    };
    Outcome::unknown(because, &["site.roof.water_sources"]).at_most(USUAL_RUN.get(), "ft")
}

fn judge(run: &HoseRun) -> Outcome {
    let (usual, longest) = (USUAL_RUN.get(), LONGEST_RUN.get());
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
    let rise = match run.rise.zip(run.loss_psi()) {
        Some((rise, loss)) if rise.get() > 0.0 => format!(
            ", {} ft of it up, which costs {} psi",
            num(rise.get()),
            num(loss)
        ),
        Some(_) => String::new(),
        None => " and an unknown rise".to_owned(),
    };
    if run.rise.is_none() && class(low) != Fail {
        let because = format!(
            "The hose run is {} ft along{rise}, since the height of the roof was not recorded.",
            num(low)
        );
        return Outcome::unknown(because, &["site.roof.height_ft"])
            .measured(low, "ft")
            .at_most(usual, "ft");
    }
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
