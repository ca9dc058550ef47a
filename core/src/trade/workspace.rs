//! Working space in front of live equipment: how deep it must be, and whether it is.

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::profile::Limits;
use super::profile::Standard::Nec;
use super::source::Verdict::{Advise, Fail, Pass, Unknown};
use super::supply::volts_to_ground;
use crate::survey::codes::Side;
use crate::survey::units::{Feet, Inches, SpanFt, Volts};

/// Is there room to stand in front of every side that is serviced?
pub const DEPTH: Rule = Rule {
    id: "working-space-depth",
    title: "Depth of the working space at each service side",
    cite: Cite::published(Nec, "110.26(A)(1)"),
    applies: "every unit",
    formula: "clear depth >= 3 ft up to 150 V to ground; 3, 3.5 or 4 ft from 151 to 600 V and 3, 4 \
              or 5 ft from 601 to 1000 V for condition 1, 2 or 3",
    note: "Condition 1: nothing live or grounded opposite. 2: something grounded opposite; another \
           unit's casing, a wall and any obstacle on the plan are taken as grounded, a parapet is not. 3: \
           live parts on both sides, taken where the unit opposite is serviced on the side that \
           faces. Volts to ground: 208Y/120 gives 120 V; 480Y/277 gives 277 V; 240 V three-phase \
           may have a 208 V leg, and if that decides, the verdict is advise. The 3.5 ft cell and \
           the 601 to 1000 V row are from memory. Of several sides the one that fares worst counts. The space ends at the roof's edge.",
    examples: || {
        let facing = |depth: f64, facing| {
            vec![SideSeen {
                side: Side::North,
                depth: SpanFt::exact(depth),
                facing,
            }]
        };
        let unit = || Facing::Grounded("RTU-2".to_owned());
        let case = |volts, phase, sides: &[SideSeen]| depth(volts, phase, sides, &Limits::USUAL);
        vec![
            (
                "208 V, another casing 3.2 ft in front",
                case(Some(Volts::of(208.0)), Some(3), &facing(3.2, unit())),
            ),
            (
                "460 V, another casing 3.2 ft in front",
                case(Some(Volts::of(460.0)), Some(3), &facing(3.2, unit())),
            ),
            (
                "240 V three-phase, another casing 3.2 ft in front",
                case(Some(Volts::of(240.0)), Some(3), &facing(3.2, unit())),
            ),
            (
                "voltage not read",
                case(None, None, &facing(9.0, Facing::Nothing)),
            ),
        ]
    },
};

/// Least depth at any voltage of the table: what a person is taken to stand in.
pub const LEAST_DEPTH: Feet = Feet::of(3.0);

/// Least width of the space, or the equipment's if that is more, 110.26(A)(2).
pub const LEAST_WIDTH: Inches = Inches::of(30.0);

/// Least height of the space, or the equipment's if that is more, 110.26(A)(3).
pub const LEAST_HEIGHT: Feet = Feet::of(6.5);

/// What stands opposite a service side.
#[derive(Debug, Clone, PartialEq)]
pub enum Facing {
    /// Nothing within reach of the table: condition 1.
    Nothing,
    /// The roof ends there, without a wall: condition 1.
    OpenEdge,
    /// Something grounded, by name: condition 2.
    Grounded(String),
    /// Live parts that are serviced from the same space, by name: condition 3.
    Live(String),
}

impl Facing {
    /// The condition of the table.
    pub fn condition(&self) -> u8 {
        match self {
            Self::Nothing | Self::OpenEdge => 1,
            Self::Grounded(_) => 2,
            Self::Live(_) => 3,
        }
    }

    fn words(&self) -> String {
        match self {
            Self::Nothing => "with nothing opposite".to_owned(),
            Self::OpenEdge => "where the roof ends".to_owned(),
            Self::Grounded(name) => format!("before {name}, taken as grounded"),
            Self::Live(name) => format!("between it and the service side of {name}"),
        }
    }
}

/// One service side as the plan shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct SideSeen {
    /// Which side.
    pub side: Side,
    /// Clear depth in front of it.
    pub depth: SpanFt,
    /// What ends it.
    pub facing: Facing,
}

/// Depth that Table 110.26(A)(1) asks; none above the voltage that its edition ends at.
pub fn required_depth(volts_to_ground: f64, condition: u8, limits: &Limits) -> Option<Feet> {
    if volts_to_ground > limits.working_space_up_to_v.get() {
        return None;
    }
    let row = if volts_to_ground <= 150.0 {
        [3.0, 3.0, 3.0]
    } else if volts_to_ground <= 600.0 {
        [3.0, 3.5, 4.0]
    } else if volts_to_ground <= 1000.0 {
        [3.0, 4.0, 5.0]
    } else {
        return None;
    };
    row.get(usize::from(condition).checked_sub(1)?)
        .map(|d| Feet::of(*d))
}

/// The rule [`DEPTH`], for the service side that fares worst. `sides` is empty when none is
/// recorded or the unit's place is not known.
pub fn depth(
    line: Option<Volts>,
    phase: Option<u8>,
    sides: &[SideSeen],
    limits: &Limits,
) -> Outcome {
    let Some(line) = line else {
        let needs: &[&str] = match sides {
            [] => &["nameplate.voltage_v", "service_sides"],
            _ => &["nameplate.voltage_v"],
        };
        return Outcome::unknown(
            "The rated voltage was not recorded, which chooses the depth to keep.",
            needs,
        );
    };
    sides
        .iter()
        .map(|seen| side_depth(line, phase, seen, limits))
        .min_by(|a, b| (a.1.verdict.cmp(&b.1.verdict)).then(a.0.total_cmp(&b.0)))
        .map_or_else(
            || Outcome::unknown("No service side was recorded.", &["service_sides"]),
            |(_, outcome)| outcome,
        )
}

/// Spare depth (negative when short) and the outcome of one side.
fn side_depth(line: Volts, phase: Option<u8>, seen: &SideSeen, limits: &Limits) -> (f64, Outcome) {
    let ground = volts_to_ground(line, phase);
    let condition = seen.facing.condition();
    let (Some(lax), Some(strict)) = (
        required_depth(ground.low, condition, limits),
        required_depth(ground.high, condition, limits),
    ) else {
        let because = format!(
            "{line} may be above the table's {} V to ground.",
            num(limits.working_space_up_to_v.get())
        );
        return (f64::MIN, Outcome::new(Unknown, because));
    };
    let (low, high) = (settle(seen.depth.low), settle(seen.depth.high));
    let place = format!(
        "on the {} side, {}",
        side_word(seen.side),
        seen.facing.words()
    );
    let (verdict, because) = if low >= strict.get() {
        (
            Pass,
            format!(
                "There are {} ft clear {place}; {} ft are asked.",
                num(low),
                num(strict.get())
            ),
        )
    } else if high < lax.get() {
        (
            Fail,
            format!(
                "Only {} ft are clear {place}; {} ft are asked.",
                num(high),
                num(lax.get())
            ),
        )
    } else if low < high {
        (
            Unknown,
            format!(
                "Between {} and {} ft are clear {place}, by how well the positions are known; {} ft are asked.",
                num(low),
                num(high),
                num(strict.get())
            ),
        )
    } else {
        (
            Advise,
            format!(
                "{} ft are clear {place}; {} ft are asked if a leg of the supply is {} V to ground, {} ft otherwise.",
                num(low),
                num(strict.get()),
                num(ground.high.round()),
                num(lax.get())
            ),
        )
    };
    let asked = if verdict == Fail { lax } else { strict };
    let mut outcome = Outcome::new(verdict, because)
        .measured(low, "ft")
        .at_least(asked.get(), "ft");
    if verdict == Unknown {
        outcome = outcome.needing(&["at_ft"]);
    }
    (low - strict.get(), outcome)
}

pub(crate) const fn side_word(side: Side) -> &'static str {
    match side {
        Side::North => "north",
        Side::East => "east",
        Side::South => "south",
        Side::West => "west",
    }
}
