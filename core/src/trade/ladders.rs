//! The way up: ladder rails, fall protection on fixed ladders, permanent access, set-back.

use super::catalogue::{Cite, Rule};
use super::outcome::{Outcome, num, settle};
use super::profile::Limits;
use super::profile::Standard::{MechanicalCode, OshaConstruction, OshaGeneral};
use super::source::Verdict::{Fail, Pass};
use crate::survey::codes::AccessKind;
use crate::survey::units::{Feet, Inches};

/// Rails of a portable ladder above the landing.
pub const PORTABLE_RAILS: Feet = Feet::of(3.0);
/// Rails or grab bars of a fixed ladder above the landing.
pub const FIXED_RAILS: Inches = Inches::of(42.0);
/// A fixed ladder beyond this needs a ladder safety system or personal fall arrest.
pub const FIXED_CLIMB: Feet = Feet::of(24.0);

/// Do the ladder's rails reach far enough above the landing?
pub const EXTENSION: Rule = Rule {
    id: "ladder-extension",
    title: "Ladder rails above the landing",
    cite: Cite::published(OshaConstruction, "1926.1053(b)(1)"),
    applies: "roofs reached by a portable or a fixed ladder",
    formula: "portable: at least 3 ft; fixed: at least 42 in",
    note: "29 CFR 1910.23(c)(11) asks the same 3 ft (from memory). Fixed ladders are held to \
           1910.23(d)(4).",
    examples: || {
        vec![
            (
                "portable, 3 ft",
                extension(Some(AccessKind::PortableLadder), Some(Feet::of(3.0))),
            ),
            (
                "portable, 2.9 ft",
                extension(Some(AccessKind::PortableLadder), Some(Feet::of(2.9))),
            ),
            (
                "fixed, 3.4 ft",
                extension(Some(AccessKind::FixedLadder), Some(Feet::of(3.4))),
            ),
            ("way up not recorded", extension(None, None)),
        ]
        .into_iter()
        .filter_map(|(words, outcome)| Some((words, outcome?)))
        .collect()
    },
};

/// The rule [`EXTENSION`]; no outcome for a hatch or stair.
pub fn extension(kind: Option<AccessKind>, above: Option<Feet>) -> Option<Outcome> {
    let (asked, words, cite) = match kind {
        None => {
            return Some(Outcome::unknown(
                "How the roof is reached was not recorded.",
                &["site.roof.access"],
            ));
        }
        Some(AccessKind::PortableLadder) => (PORTABLE_RAILS, "3 ft", None),
        Some(AccessKind::FixedLadder) => (
            FIXED_RAILS.feet(),
            "42 in (3.5 ft)",
            Some(Cite::published(OshaGeneral, "1910.23(d)(4)")),
        ),
        Some(AccessKind::Hatch | AccessKind::Stair) => return None,
    };
    let outcome = match above.map(|a| settle(a.get())) {
        Some(above) if above >= asked.get() => Outcome::new(
            Pass,
            format!(
                "The ladder's rails reach {} ft above the landing; {words} are asked.",
                num(above)
            ),
        )
        .measured(above, "ft"),
        Some(above) => Outcome::new(
            Fail,
            format!(
                "The ladder's rails reach only {} ft above the landing; {words} are asked.",
                num(above)
            ),
        )
        .measured(above, "ft"),
        None => Outcome::unknown(
            format!(
                "How far the rails reach above the landing was not recorded; {words} are asked."
            ),
            &["site.roof.access.extends_ft"],
        ),
    }
    .at_least(asked.get(), "ft");
    Some(match cite {
        Some(cite) => outcome.citing(cite),
        None => outcome,
    })
}

/// Does a long fixed ladder have fall protection?
pub const FIXED_OVER_24: Rule = Rule {
    id: "ladder-fixed-over-24ft",
    title: "Fall protection on a long fixed ladder",
    cite: Cite::published(OshaGeneral, "1910.28(b)(9)(i)"),
    applies: "roofs reached by a fixed ladder",
    formula: "a climb of more than 24 ft needs a ladder safety system or personal fall arrest",
    note: "24.0 ft is not more than 24. A ladder put up before 2018-11-19 may keep a cage or well \
           for now; every such ladder needs the system by 2036-11-18 (the day is from memory, and \
           later action was not looked up), so a failure says so.",
    examples: || {
        let fixed = Some(AccessKind::FixedLadder);
        vec![
            (
                "24.0 ft, none",
                fixed_over_24(fixed, Some(Feet::of(24.0)), None, Some(false)),
            ),
            (
                "24.5 ft, none",
                fixed_over_24(fixed, Some(Feet::of(24.5)), None, Some(false)),
            ),
            (
                "30 ft, system fitted",
                fixed_over_24(fixed, Some(Feet::of(30.0)), None, Some(true)),
            ),
            (
                "30 ft, not recorded",
                fixed_over_24(fixed, Some(Feet::of(30.0)), None, None),
            ),
        ]
        .into_iter()
        .filter_map(|(words, outcome)| Some((words, outcome?)))
        .collect()
    },
};

/// The rule [`FIXED_OVER_24`]; no outcome unless the ladder is fixed. The height of the roof
/// stands in for a climb that was not measured only where it settles the matter.
pub fn fixed_over_24(
    kind: Option<AccessKind>,
    climb: Option<Feet>,
    roof_height: Option<Feet>,
    system: Option<bool>,
) -> Option<Outcome> {
    match kind {
        None => {
            return Some(Outcome::unknown(
                "How the roof is reached was not recorded.",
                &["site.roof.access"],
            ));
        }
        Some(AccessKind::FixedLadder) => {}
        Some(_) => return None,
    }
    let limit = FIXED_CLIMB.get();
    let short_roof = roof_height.filter(|h| settle(h.get()) <= limit);
    let climb = climb.or(short_roof).map(|c| settle(c.get()));
    let outcome = match (climb, system) {
        (Some(climb), _) if climb <= limit => Outcome::new(
            Pass,
            format!(
                "The fixed ladder climbs {} ft, not more than 24 ft.",
                num(climb)
            ),
        ),
        (_, Some(true)) => Outcome::new(
            Pass,
            match climb {
                Some(climb) => format!(
                    "The fixed ladder climbs {} ft, more than 24 ft, and a ladder safety system or fall arrest was seen.",
                    num(climb)
                ),
                None => {
                    "A ladder safety system or fall arrest was seen on the fixed ladder.".to_owned()
                }
            },
        ),
        (Some(climb), Some(false)) => Outcome::new(
            Fail,
            format!(
                "The fixed ladder climbs {} ft, more than 24 ft, without a ladder safety system or fall arrest; only a ladder put up before 2018-11-19 may still rely on a cage or well.",
                num(climb)
            ),
        ),
        (Some(climb), None) => Outcome::unknown(
            format!(
                "The fixed ladder climbs {} ft, more than 24 ft; whether it has a ladder safety system was not recorded.",
                num(climb)
            ),
            &["site.roof.access.ladder_safety_system"],
        ),
        (None, system) => {
            let mut needs = vec!["site.roof.access.climb_ft"];
            if system.is_none() {
                needs.push("site.roof.access.ladder_safety_system");
            }
            Outcome::unknown("How far the fixed ladder climbs was not recorded.", &needs)
        }
    };
    Some(match climb {
        Some(climb) => outcome.measured(climb, "ft").at_most(limit, "ft"),
        None => outcome.at_most(limit, "ft"),
    })
}

/// Does equipment on a high roof have permanent access?
pub const ACCESS_OVER_16: Rule = Rule {
    id: "access-over-16ft",
    title: "Permanent access to equipment on a high roof",
    cite: Cite::published(MechanicalCode, "306.5"),
    applies: "roofs with equipment",
    formula: "a roof at a height exceeding 16 ft has a fixed ladder, a hatch or a stair",
    note: "16.0 ft does not exceed 16. A portable ladder is not permanent. Whether the way keeps \
           clear of obstructions above 30 in and slopes above 4 in 12 is not checked.",
    examples: || {
        let portable = Some(AccessKind::PortableLadder);
        let access =
            |kind, height| access_over_16(kind, Some(Feet::of(height)), None, &Limits::USUAL);
        vec![
            ("16.0 ft, portable ladder", access(portable, 16.0)),
            ("16.5 ft, portable ladder", access(portable, 16.5)),
            ("30 ft, hatch", access(Some(AccessKind::Hatch), 30.0)),
            ("30 ft, way up not recorded", access(None, 30.0)),
        ]
    },
};

/// The rule [`ACCESS_OVER_16`]. A climb of more than that stands in for a height not recorded.
pub fn access_over_16(
    kind: Option<AccessKind>,
    height: Option<Feet>,
    climb: Option<Feet>,
    limits: &Limits,
) -> Outcome {
    let limit = limits.access_above_ft.get();
    let most = num(limit);
    let high_climb = climb.filter(|c| settle(c.get()) > limit);
    let height = height.or(high_climb).map(|h| settle(h.get()));
    let permanent = kind.map(|k| k != AccessKind::PortableLadder);
    let outcome = match (height, permanent) {
        (Some(height), _) if height <= limit => Outcome::new(
            Pass,
            format!(
                "The equipment is {} ft up, which does not exceed {most} ft.",
                num(height)
            ),
        ),
        (_, Some(true)) => Outcome::new(
            Pass,
            match height {
                Some(height) => format!(
                    "The equipment is {} ft up, more than {most} ft, and the way up, a {}, is permanent.",
                    num(height),
                    kind.map_or(String::new(), AccessKind::words)
                ),
                None => "The way up is permanent.".to_owned(),
            },
        ),
        (Some(height), Some(false)) => Outcome::new(
            Fail,
            format!(
                "The equipment is {} ft up, more than {most} ft, and is reached only by a portable ladder.",
                num(height)
            ),
        ),
        (Some(height), None) => Outcome::unknown(
            format!(
                "The equipment is {} ft up, more than {most} ft; how the roof is reached was not recorded.",
                num(height)
            ),
            &["site.roof.access"],
        ),
        (None, permanent) => {
            let mut needs = vec!["site.roof.height_ft"];
            if permanent.is_none() {
                needs.push("site.roof.access");
            }
            Outcome::unknown("The height of the roof was not recorded.", &needs)
        }
    };
    match height {
        Some(height) => outcome.measured(height, "ft").at_most(limit, "ft"),
        None => outcome.at_most(limit, "ft"),
    }
}

/// How a portable ladder stands against an eave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Setting {
    /// Length of rail from the ground to the eave.
    pub working_length: Feet,
    /// Distance of the feet from the wall.
    pub set_back: Feet,
    /// Least length of rail, with 3 ft above the landing.
    pub rail_length: Feet,
    /// Angle with the ground, degrees.
    pub angle_deg: f64,
}

/// Where [`set_back`] comes from.
pub const SET_BACK: Cite = Cite::published(OshaConstruction, "1926.1053(b)(5)(i)");

/// Set-back of a ladder's feet: a quarter of its working length.
pub fn set_back(working_length: Feet) -> Feet {
    Feet::of(working_length.get() / 4.0)
}

/// How a portable ladder should stand against an eave of this height.
pub fn setting(eave: Feet) -> Setting {
    let stretch = 1.0 / (1.0_f64 - 1.0 / 16.0).sqrt();
    let working_length = Feet::of(eave.get() * stretch);
    Setting {
        working_length,
        set_back: set_back(working_length),
        rail_length: Feet::of((eave.get() + PORTABLE_RAILS.get()) * stretch),
        angle_deg: 0.25_f64.acos().to_degrees(),
    }
}
