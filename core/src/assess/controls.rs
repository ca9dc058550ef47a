//! The usual control of each hazard, in the order eliminate, guard, restrain, warn.
//!
//! Words only; whether a control is right for a place is for the employer and the authority.

use crate::survey::codes::HazardKind;
use crate::trade::{Cite, Standard, falls, ladders};

/// Control and where it comes from.
pub(super) struct Control {
    pub(super) words: &'static str,
    pub(super) cite: Cite,
}

/// Caution for a hazard that is shown alone.
pub(super) const CAUTION: &str = "Local code and your employer's rules decide; only qualified \
people set up fall protection or work on live parts, gas or refrigerant.";

/// The usual control of a kind of hazard, with which the control of each such entry begins; what
/// it comes to at the place follows.
pub fn usual_control(kind: HazardKind) -> &'static str {
    control(kind).words
}

pub(super) fn control(kind: HazardKind) -> Control {
    use HazardKind as K;
    let practice = Cite::practice;
    let (words, cite) = match kind {
        K::UnprotectedEdge => (
            "Eliminate: work from the sides away from the edge, or have the unit moved. Guard: a guardrail of 42 in (39 to 45 in) along the edge. Restrain: travel restraint or fall arrest on a rated anchor, for trained people. Warn: a warning line and designated area, only from 6 ft on and for infrequent and temporary work.",
            falls::EDGE_DISTANCE.cite,
        ),
        K::UnguardedOpening => (
            "Eliminate: keep the route and the work away from it. Guard: a secured cover or screen that carries twice the load expected, or a guardrail round it. Restrain: travel restraint or fall arrest. Warn: mark it; a mark alone is no protection.",
            falls::OPENING_GUARDED.cite,
        ),
        K::LadderAccess => (
            "Eliminate: use a stair or hatch. Guard: a fixed ladder with a ladder safety system, rails 42 in above the landing. Restrain: tie the ladder off, feet a quarter of its length out, rails 3 ft above the landing. Warn: three points of contact, hoist tools by rope.",
            ladders::EXTENSION.cite,
        ),
        K::LiveElectrical => (
            "Eliminate: de-energize, lock and tag out, and have a qualified person prove it dead. Guard: covers on, barriers in place. Restrain: keep unqualified people outside the limited approach boundary. Warn: signs and labels.",
            Cite::memory(Standard::OshaGeneral, "1910.333"),
        ),
        K::ExposedWiring => (
            "Eliminate: have the circuit de-energized and the wiring repaired. Guard: cover it. Restrain: keep outside the limited approach boundary, 42 in from fixed parts at 50 V or more. Warn: mark it and tell the owner today.",
            Cite::memory(Standard::OshaGeneral, "1910.303(g)(2), 1910.333"),
        ),
        K::OverheadLine => (
            "Eliminate: another way up, or the line shut off by its owner. Guard: insulation fitted by the line's owner. Restrain: stay 10 ft or more away, ladders and pipe included. Warn: a watcher on the ground.",
            Cite::memory(Standard::OshaGeneral, "1910.333(c)(3)"),
        ),
        K::GasLeak => (
            "Eliminate: no flame or switch, leave, shut the gas off from outside and call the gas supplier. Guard: let it air out. Restrain: keep people away. Warn: tell the owner at once.",
            practice("gas leak"),
        ),
        K::RefrigerantRelease => (
            "Eliminate: stay upwind until it has gone; a certified technician recovers and repairs. Guard: no flame, and none near an A2L or A3 charge. Restrain: keep others away. Warn: tell the owner.",
            Cite::memory(Standard::Ods, "82.154, 82.161"),
        ),
        K::ConfinedSpace => (
            "Eliminate: work from outside. Guard: treat it as permit-required until evaluated. Restrain: entry only by a trained crew under permit. Warn: sign it.",
            Cite::memory(Standard::OshaGeneral, "1910.146"),
        ),
        K::Structural => (
            "Eliminate: keep off; go round. Guard: spread loads only as an engineer says. Restrain: rope the place off. Warn: tell the owner and the roofer.",
            Cite::memory(Standard::OshaGeneral, "1910.22(b)"),
        ),
        K::WeatherHeat => (
            "Eliminate: come at another hour or day; leave the roof for lightning, wind or ice. Guard: shade and water. Restrain: breaks, and never alone. Warn: know the signs of heat illness.",
            practice("heat and weather"),
        ),
        K::HotSurface => (
            "Eliminate: let it cool. Guard: shields. Restrain: gloves and sleeves. Warn: mark it.",
            practice("hot surfaces"),
        ),
        K::SlipperySurface => (
            "Eliminate: wait until it is dry or cleared. Guard: walkway pads. Restrain: soft grippy soles, no running, hands free. Warn: mark the place.",
            practice("slippery surfaces"),
        ),
        K::Trip => (
            "Eliminate: move or bridge it. Guard: a marked route round it. Restrain: both hands free, look before stepping back. Warn: bright marking.",
            practice("trips"),
        ),
        K::StingingInsects => (
            "Eliminate: have the nest removed first. Guard: long sleeves. Restrain: stay away if allergic. Warn: tell the crew.",
            practice("stinging insects"),
        ),
        K::Other => (
            "Eliminate it before work begins if it can be; else guard, restrain, warn, in that order.",
            practice("order of controls"),
        ),
    };
    Control { words, cite }
}
