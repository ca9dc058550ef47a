//! Falling off the roof or through it: how near to an edge a person works, and what guards.
//!
//! The federal rule counts the person's distance from an edge (6 and 15 ft); the mechanical code's
//! own question about the equipment is in `guards`. Nothing here ever calls a
//! place safe: a pass says which requirement is met and which work rule it hangs on.

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::profile::Standard::OshaGeneral;
use super::source::Verdict::{Advise, Fail, Pass, Unknown};
use crate::survey::codes::OpeningKind;
use crate::survey::units::{Feet, Inches, RiseIn12, SpanFt};

/// Top of a guard, 1910.29(b)(1): 42 in, give or take 3 in. A parapet this high is a guard.
pub const GUARD: Inches = Inches::of(39.0);
/// A drop from here on needs protection, 1910.28(b)(1)(i) and (b)(3)(i).
pub const FALL: Feet = Feet::of(4.0);
/// Work nearer than this to an unguarded edge needs conventional protection.
pub const NEAR: Feet = Feet::of(6.0);
/// Work from here on may rest on a work rule, if infrequent and temporary.
pub const FAR: Feet = Feet::of(15.0);
/// Steepest slope that is called low, 1910.21(b).
pub const LOW_SLOPE: RiseIn12 = RiseIn12::of(4.0);

/// An edge of the roof, as seen from where someone works or something stands.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeSeen {
    /// Name for people, such as `west edge`.
    pub name: String,
    /// Field that holds its parapet.
    pub field: String,
    /// Distance to it.
    pub distance: SpanFt,
    /// Height of its parapet or rail, if recorded.
    pub parapet: Option<Inches>,
    /// Drop beyond it, if known.
    pub drop: Option<Feet>,
}

impl EdgeSeen {
    /// Whether a person can fall over it: no guard was recorded, and the drop is 4 ft or more
    /// or not known.
    pub fn unguarded(&self) -> bool {
        let guarded = self.parapet.is_some_and(|p| settle(p.get()) >= GUARD.get());
        let falls = self.drop.is_none_or(|d| settle(d.get()) >= FALL.get());
        !guarded && falls
    }

    /// What is known of its parapet, in words.
    pub(super) fn guard_words(&self) -> String {
        match self.parapet {
            Some(p) => format!("{} in high", num(p.get())),
            None => "no parapet recorded".to_owned(),
        }
    }
}

/// Distance class of an edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Zone {
    /// Less than 6 ft.
    Under6,
    /// At least 6 ft and less than 15 ft.
    From6To15,
    /// At least 15 ft.
    Over15,
}

impl Zone {
    /// The zone of a distance.
    pub fn of(distance: f64) -> Self {
        let distance = settle(distance);
        if distance < NEAR.get() {
            Self::Under6
        } else if distance < FAR.get() {
            Self::From6To15
        } else {
            Self::Over15
        }
    }

    /// As written in an assessment.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Under6 => "under_6_ft",
            Self::From6To15 => "6_to_15_ft",
            Self::Over15 => "over_15_ft",
        }
    }
}

/// How far from an unguarded edge does a person work?
pub const EDGE_DISTANCE: Rule = Rule {
    id: "edge-distance",
    title: "Distance of the person at work from an unguarded edge",
    cite: Cite::published(OshaGeneral, "1910.28(b)(13)"),
    applies: "every unit whose place is known",
    formula: "from the area a person stands in, 3 ft deep along each service side, to the nearest \
              edge without a guard of 39 in or more and with a drop of 4 ft or more: less than 6 ft \
              fails, at least 6 and less than 15 ft is advised on, at least 15 ft passes",
    note: "Where no service side is recorded all four count. An edge without a recorded parapet \
           counts as unguarded, an unknown drop as a fall, and an unknown slope as low. On a slope \
           above 4 in 12 these distances do not apply: every unguarded edge is then at least \
           advised on under 1910.28(b)(1)(i) (from memory). A pass at 15 ft or more rests on work \
           that is infrequent and temporary and on a work rule, set and enforced, that keeps \
           people from going nearer.",
    examples: || {
        let at = |ft: f64, parapet: Option<f64>| {
            vec![EdgeSeen {
                name: "west edge".to_owned(),
                field: "site.roof.edges[3].parapet_in".to_owned(),
                distance: SpanFt::exact(ft),
                parapet: parapet.map(Inches::of),
                drop: Some(Feet::of(24.0)),
            }]
        };
        vec![
            (
                "5.9 ft from an 8 in parapet",
                edge_distance(&at(5.9, Some(8.0)), None),
            ),
            (
                "6.0 ft from an 8 in parapet",
                edge_distance(&at(6.0, Some(8.0)), None),
            ),
            (
                "14.9 ft from an edge not recorded",
                edge_distance(&at(14.9, None), None),
            ),
            (
                "15.0 ft from an 8 in parapet",
                edge_distance(&at(15.0, Some(8.0)), None),
            ),
            (
                "2 ft from a 39 in parapet",
                edge_distance(&at(2.0, Some(39.0)), None),
            ),
        ]
    },
};

/// The unguarded edge nearest to where someone works.
pub fn nearest_unguarded(edges: &[EdgeSeen]) -> Option<&EdgeSeen> {
    edges
        .iter()
        .filter(|edge| edge.unguarded())
        .min_by(|a, b| a.distance.low.total_cmp(&b.distance.low))
}

/// The rule [`EDGE_DISTANCE`]. `edges` are all edges of the roof, seen from the standing area.
pub fn edge_distance(edges: &[EdgeSeen], slope: Option<RiseIn12>) -> Outcome {
    let Some(edge) = nearest_unguarded(edges) else {
        return Outcome::new(
            Pass,
            "Every edge with a drop of 4 ft or more has a guard of at least 39 in recorded.",
        )
        .at_least(FAR.get(), "ft");
    };
    let steep = slope.is_some_and(|s| settle(s.get()) > LOW_SLOPE.get());
    let (low, high) = (settle(edge.distance.low), settle(edge.distance.high));
    let near = format!("the {} ({})", edge.name, edge.guard_words());
    let bound = match Zone::of(low) {
        Zone::Under6 => NEAR.get(),
        _ => FAR.get(),
    };
    let (verdict, because) = if Zone::of(low) != Zone::of(high) {
        (
            Unknown,
            format!(
                "Work here is between {} and {} ft from {near}, by how well the unit's place is known: {} or {}.",
                num(low),
                num(high),
                zone_words(Zone::of(low)),
                zone_words(Zone::of(high))
            ),
        )
    } else {
        let zone = Zone::of(low);
        let verdict = match zone {
            Zone::Under6 => Fail,
            Zone::From6To15 => Advise,
            Zone::Over15 if steep => Advise,
            Zone::Over15 => Pass,
        };
        let what = if steep {
            "on a slope above 4 in 12, where an unguarded edge needs protection at any distance"
                .to_owned()
        } else {
            zone_words(zone).to_owned()
        };
        (
            verdict,
            format!("Work here is {} ft from {near}: {what}.", num(low)),
        )
    };
    let mut outcome = Outcome::new(verdict, because)
        .measured(low, "ft")
        .at_least(bound, "ft");
    if verdict == Unknown {
        outcome = outcome.needing(&["at_ft"]);
    }
    if verdict != Pass && edge.parapet.is_none() {
        outcome = outcome.needing(&[edge.field.as_str()]);
    }
    if steep {
        outcome = outcome.citing(Cite::memory(OshaGeneral, "1910.28(b)(1)(i)"));
    }
    outcome
}

const fn zone_words(zone: Zone) -> &'static str {
    match zone {
        Zone::Under6 => {
            "less than 6 ft, where a guardrail, a net, travel restraint or fall arrest is needed"
        }
        Zone::From6To15 => {
            "at least 6 ft but less than 15 ft, where protection is needed, or a designated area \
             if the work is both infrequent and temporary"
        }
        Zone::Over15 => {
            "at least 15 ft, where infrequent and temporary work may rest on an enforced work rule \
             against going nearer"
        }
    }
}

/// Is a hole in the roof covered or railed?
pub const OPENING_GUARDED: Rule = Rule {
    id: "opening-guarded",
    title: "Cover, screen or rail at a skylight, hatch or hole",
    cite: Cite::published(OshaGeneral, "1910.28(b)(3)(i)"),
    applies: "every opening on the plan; a hatch is held to 1910.28(b)(3)(iv)",
    formula: "an opening 4 ft or more above the level below is covered or guarded",
    note: "A skylight counts as a hole. An unknown drop counts as a fall. Covers must carry twice \
           the load expected and be secured (1910.29(e), from memory), which nobody can see from \
           the roof.",
    examples: || {
        let deep = Some(Feet::of(24.0));
        vec![
            (
                "skylight, not guarded",
                opening_guarded(OpeningKind::Skylight, Some(false), deep),
            ),
            (
                "skylight, screened",
                opening_guarded(OpeningKind::Skylight, Some(true), deep),
            ),
            (
                "hatch, nobody looked",
                opening_guarded(OpeningKind::Hatch, None, deep),
            ),
            (
                "hole 3.9 ft deep",
                opening_guarded(OpeningKind::Hole, Some(false), Some(Feet::of(3.9))),
            ),
        ]
    },
};

/// The rule [`OPENING_GUARDED`]. The caller names the opening and adds the field to fetch.
pub fn opening_guarded(kind: OpeningKind, guarded: Option<bool>, drop: Option<Feet>) -> Outcome {
    let deep = match drop {
        Some(d) => format!("{} ft above the level below", num(d.get())),
        None => "at an unknown height above the level below".to_owned(),
    };
    let shallow = drop.filter(|d| settle(d.get()) < FALL.get());
    let outcome = match (guarded, shallow) {
        (_, Some(_)) => Outcome::new(
            Pass,
            format!("The {} is {deep}, less than 4 ft.", kind.words()),
        ),
        (Some(true), None) => Outcome::new(
            Pass,
            format!(
                "The {} is {deep}, and a cover or guard was seen.",
                kind.words()
            ),
        ),
        (Some(false), None) => Outcome::new(
            Fail,
            format!(
                "The {} is {deep}, 4 ft or more, with no cover or guard.",
                kind.words()
            ),
        ),
        (None, None) => Outcome::new(
            Unknown,
            format!(
                "The {} is {deep}; whether it is guarded was not recorded.",
                kind.words()
            ),
        ),
    };
    let outcome = match drop {
        Some(d) => outcome.measured(d.get(), "ft"),
        None => outcome,
    };
    if kind == OpeningKind::Hatch {
        outcome.citing(Cite::published(OshaGeneral, "1910.28(b)(3)(iv)"))
    } else {
        outcome
    }
}
