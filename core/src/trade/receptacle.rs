//! An outlet for tools near equipment that has to be serviced.

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::profile::Limits;
use super::profile::Standard::Nec;
use super::source::Verdict::{Fail, Pass, Unknown};
use crate::survey::units::SpanFt;

/// Is there a service receptacle within 25 ft on the same level?
pub const WITHIN_25_FT: Rule = Rule {
    id: "receptacle-25ft",
    title: "Service receptacle near the unit",
    cite: Cite::published(Nec, "210.63(A)"),
    applies: "units that heat, cool or refrigerate; a fan that only ventilates is outside the words",
    formula: "a receptacle within 25 ft of the unit's nearest side and on the same level",
    note: "Measured straight from the footprint. Another roof counts as the same level only where \
           both heights are recorded and equal. It must not be fed from the load side of the \
           unit's disconnect and must be ground-fault protected (210.8(B)), which the plan cannot \
           show.",
    examples: || {
        let at = |ft: f64| Some(SpanFt::exact(ft));
        let reach = |near, far| within_25_ft(near, far, &Limits::USUAL);
        vec![
            ("25 ft away", reach(at(25.0), None)),
            ("25.5 ft away", reach(at(25.5), None)),
            ("10 ft away, but on the lower roof", reach(None, at(10.0))),
            ("no receptacle recorded", reach(None, None)),
        ]
    },
};

/// The rule [`WITHIN_25_FT`], from the nearest receptacle on the unit's level and the nearest on
/// any other.
pub fn within_25_ft(
    same_level: Option<SpanFt>,
    other_level: Option<SpanFt>,
    limits: &Limits,
) -> Outcome {
    let reach = limits.receptacle_within_ft.get();
    let outcome = match (same_level, other_level) {
        (None, None) => Outcome::unknown(
            "No receptacle was recorded on the roof.",
            &["site.roof.receptacles"],
        ),
        (None, Some(other)) => Outcome::new(
            Fail,
            format!(
                "The nearest receptacle, {} ft away, is on another level.",
                num(other.low)
            ),
        ),
        (Some(near), _) => {
            let (low, high) = (settle(near.low), settle(near.high));
            let outcome = if high <= reach {
                Outcome::new(
                    Pass,
                    format!(
                        "A receptacle on the same level is {} ft away, within {} ft.",
                        num(high),
                        num(reach)
                    ),
                )
            } else if low > reach {
                Outcome::new(
                    Fail,
                    format!(
                        "The nearest receptacle on the same level is {} ft away, beyond {} ft.",
                        num(low),
                        num(reach)
                    ),
                )
            } else {
                Outcome::new(
                    Unknown,
                    format!(
                        "The nearest receptacle is between {} and {} ft away, by how well the unit's place and size are known; the limit is {} ft.",
                        num(low),
                        num(high),
                        num(reach)
                    ),
                )
                .needing(&["at_ft"])
            };
            outcome.measured(low, "ft")
        }
    };
    outcome.at_most(reach, "ft")
}
