//! Air: how far an intake keeps from what comes out of the roof, and how high a gas vent ends.

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::profile::Standard::{FuelGasCode, MechanicalCode, Ventilation};
use super::source::Verdict::{self, Advise, Fail, Pass};
use crate::survey::codes::AirPointKind;
use crate::survey::units::{Feet, RiseIn12, SpanFt};

/// Does the outdoor air intake keep its distance from exhausts, vents and flues?
pub const INTAKE_SEPARATION: Rule = Rule {
    id: "intake-separation",
    title: "Outdoor air intake to exhausts, vents and flues",
    cite: Cite::published(Ventilation, "Table 5.5.1"),
    applies: "units that draw outdoor air",
    formula: "shortest path from the intake side to the outlet: class 1 exhaust none; class 2 at \
              least 10 ft, class 3 15 ft, class 4 30 ft; flue 15 ft; cooling tower exhaust 25 ft; \
              plumbing vent 10 ft if it ends less than 3 ft above the intake, else 3 ft",
    note: "The path is a stretched string round the obstacles on the plan; units are not gone \
           round, which can only shorten it. An outlet within the unit's own footprint goes by its \
           listing and is advised on. An exhaust fan within 10 ft of the intake, of which no class \
           was recorded, is advised on, since every class but the first would fail there. Numbers \
           are from the 2016 table; that later editions kept them is from memory. The mechanical \
           code's own 10 ft (401.4) is a separate question.",
    examples: || {
        let outlet = |kind, ft: f64, height: f64| {
            vec![OutletSeen {
                name: AirPointKind::words(kind),
                kind: Some(kind),
                distance: SpanFt::exact(ft),
                height: Some(Feet::of(height)),
                own: false,
            }]
        };
        vec![
            (
                "class 2 exhaust 9.9 ft away",
                separation(&outlet(AirPointKind::ExhaustClass2, 9.9, 1.0), None),
            ),
            (
                "flue 15 ft away",
                separation(&outlet(AirPointKind::Flue, 15.0, 2.0), None),
            ),
            (
                "plumbing vent 8 ft away, ending 1 ft above the roof",
                separation(&outlet(AirPointKind::PlumbingVent, 8.0, 1.0), None),
            ),
            (
                "plumbing vent 8 ft away, ending 5 ft above the roof, intake 2 ft up",
                separation(
                    &outlet(AirPointKind::PlumbingVent, 8.0, 5.0),
                    Some(Feet::of(2.0)),
                ),
            ),
            ("no outlets recorded", separation(&[], None)),
        ]
    },
};

/// Something that blows out air or fumes, as seen from an intake.
#[derive(Debug, Clone, PartialEq)]
pub struct OutletSeen {
    /// Name for people.
    pub name: String,
    /// What it is; none for an exhaust fan of unknown class.
    pub kind: Option<AirPointKind>,
    /// Shortest path from the intake.
    pub distance: SpanFt,
    /// Height of its end above the roof.
    pub height: Option<Feet>,
    /// Whether it is the unit's own.
    pub own: bool,
}

/// Distance that the table asks of a plumbing vent by how far it ends above the intake.
pub fn vent_separation(above_intake: f64) -> Feet {
    if settle(above_intake) < 3.0 {
        Feet::of(10.0)
    } else {
        Feet::of(3.0)
    }
}

/// Distance that the table asks, least and most, where the heights leave it open.
fn asked(outlet: &OutletSeen, intake: Option<Feet>) -> (f64, f64) {
    match outlet.kind {
        None => (0.0, 10.0),
        Some(AirPointKind::ExhaustClass1) => (0.0, 0.0),
        Some(AirPointKind::ExhaustClass2) => (10.0, 10.0),
        Some(AirPointKind::ExhaustClass3) => (15.0, 15.0),
        Some(AirPointKind::ExhaustClass4) => (30.0, 30.0),
        Some(AirPointKind::Flue) => (15.0, 15.0),
        Some(AirPointKind::CoolingTower) => (25.0, 25.0),
        Some(AirPointKind::PlumbingVent) => match (outlet.height, intake) {
            (Some(vent), Some(intake)) => {
                let asked = vent_separation(vent.get() - intake.get()).get();
                (asked, asked)
            }
            // The intake is at the roof or above it, so a short vent cannot be 3 ft above it.
            (Some(vent), None) if settle(vent.get()) < 3.0 => (10.0, 10.0),
            _ => (3.0, 10.0),
        },
    }
}

/// The rule [`INTAKE_SEPARATION`], for the outlet that comes nearest to failing.
pub fn separation(outlets: &[OutletSeen], intake: Option<Feet>) -> Outcome {
    // Of those that clear their distance only the one nearest to its limit can be the answer.
    let spare = |outlet: &OutletSeen| {
        let (low, most) = (settle(outlet.distance.low), asked(outlet, intake).1);
        (outlet.kind.is_some() && most > 0.0 && low >= most).then_some(low - most)
    };
    let clear = outlets.iter().filter_map(|o| Some((spare(o)?, o)));
    let clear = clear.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, o)| o);
    let close = outlets.iter().filter(|o| spare(o).is_none());
    close
        .chain(clear)
        .map(|outlet| judge(outlet, intake))
        .min_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .map_or_else(
            || {
                Outcome::unknown(
                    "No exhaust, vent or flue was recorded on the roof.",
                    &["site.roof.air_points"],
                )
            },
            |(_, _, outcome)| outcome,
        )
}

fn judge(outlet: &OutletSeen, intake: Option<Feet>) -> (Verdict, f64, Outcome) {
    let (least, most) = asked(outlet, intake);
    let (low, high) = (settle(outlet.distance.low), settle(outlet.distance.high));
    let name = &outlet.name;
    let outcome = if outlet.kind.is_none() {
        if high < most {
            Outcome::new(
                Advise,
                format!(
                    "{name} is {} ft from the intake and its exhaust class was not recorded; every class but the first asks 10 ft or more.",
                    num(low)
                ),
            )
            .needing(&["site.roof.air_points"])
        } else {
            Outcome::new(
                Pass,
                format!(
                    "{name}, of unknown class, is {} ft from the intake.",
                    num(low)
                ),
            )
        }
    } else if most == 0.0 {
        Outcome::new(
            Pass,
            format!(
                "The {name} is {} ft from the intake; its class asks no distance.",
                num(low)
            ),
        )
    } else if low >= most {
        Outcome::new(
            Pass,
            format!(
                "The nearest to its limit, the {name}, is {} ft from the intake; {} ft are asked.",
                num(low),
                num(most)
            ),
        )
    } else if outlet.own {
        Outcome::new(
            Advise,
            format!(
                "The {name} stands within the unit's own footprint, {} ft from the intake; it goes by the unit's listing, {} ft otherwise.",
                num(low),
                num(most)
            ),
        )
    } else if high < least {
        Outcome::new(
            Fail,
            format!(
                "The {name} is {} ft from the intake; {} ft are asked.",
                num(high),
                num(least)
            ),
        )
    } else if low < high {
        Outcome::unknown(
            format!(
                "The {name} is between {} and {} ft from the intake, by how well the unit's place is known; {} ft are asked.",
                num(low),
                num(high),
                num(most)
            ),
            &["at_ft"],
        )
    } else {
        let needs: &[&str] = if outlet.height.is_none() {
            &["site.roof.air_points"]
        } else {
            &["outdoor_air_height_ft"]
        };
        Outcome::unknown(
            format!(
                "The {name} is {} ft from the intake; 3 ft are asked if it ends 3 ft or more above the intake, else 10 ft, and the heights were not recorded.",
                num(low)
            ),
            needs,
        )
    };
    let bound = if outcome.verdict == Fail { least } else { most };
    let outcome = outcome.measured(low, "ft").at_least(bound, "ft");
    // What asks no distance, or has no class to ask one, never stands for the others.
    let spare = if most == 0.0 || outlet.kind.is_none() && outcome.verdict == Pass {
        f64::MAX
    } else {
        low - most
    };
    (outcome.verdict, spare, outcome)
}

/// Where [`gas_vent_height`] comes from.
pub const GAS_VENT: Cite = Cite::published(FuelGasCode, "503.6.4");

/// Height of a listed cap above the roof by slope: at most this rise in 12, this many feet.
const GAS_VENT_FT: &[(f64, f64)] = &[
    (6.0, 1.0),
    (7.0, 1.25),
    (8.0, 1.5),
    (9.0, 2.0),
    (10.0, 2.5),
    (11.0, 3.25),
    (12.0, 4.0),
    (14.0, 5.0),
    (16.0, 6.0),
    (18.0, 7.0),
    (20.0, 7.5),
    (21.0, 8.0),
];

/// Least height of a gas vent of at most 12 in with a listed cap, 8 ft or more from a wall; none
/// for a slope steeper than the figure shows. Packaged outdoor units go by their listing.
pub fn gas_vent_height(slope: RiseIn12) -> Option<Feet> {
    let slope = settle(slope.get());
    let row = GAS_VENT_FT.iter().find(|(rise, _)| slope <= *rise)?;
    Some(Feet::of(row.1))
}

/// Where [`code_intake_clear`] comes from.
pub const CODE_INTAKE: Cite = Cite::published(MechanicalCode, "401.4");

/// The mechanical code's question: an intake is 10 ft or more horizontally from a noxious source,
/// or, nearer than that, at least 3 ft below it.
pub fn code_intake_clear(horizontal: Feet, intake_below: Feet) -> bool {
    settle(horizontal.get()) >= 10.0 || settle(intake_below.get()) >= 3.0
}
