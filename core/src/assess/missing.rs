//! What to fetch before the roof is left, in the order of one more lap, and how, with panels shut.

use super::asked::Asked;
use super::register::tag_order;
use super::types::Missing;
use crate::plan::{Beyond, Place, SitePlan};
use crate::survey::{SITE, Survey};
use crate::trade::falls::EDGE_DISTANCE;
use crate::trade::guards::EDGE_GUARD;
use crate::trade::{Profile, Verdict};
use std::collections::{BTreeMap, BTreeSet};

/// How a field is got without opening a panel; the first line whose words begin or end the field.
const HOW: &[(&str, &str)] = &[
    (
        "nameplate.mca_a",
        "Read the nameplate; MCA stands beside the voltage. If weathered, rub chalk over it and photograph it at a slant.",
    ),
    (
        "nameplate.mocp_a",
        "Read the nameplate: MOCP, MOP or maximum fuse.",
    ),
    (
        "nameplate.loads",
        "Read the nameplate's RLA and FLA lines, every motor; photograph them.",
    ),
    (
        "nameplate.manufactured_year",
        "Read the printed date on the nameplate; never guess it from the serial number. Else ask the owner.",
    ),
    (
        "nameplate.refrigerant",
        "Read the nameplate, or the label at the service ports.",
    ),
    (
        "nameplate.charge_lb",
        "Read the nameplate: factory charge, each circuit.",
    ),
    (
        "nameplate.capacity_tons",
        "Read the nameplate, or look the model number up later; photograph it.",
    ),
    ("nameplate", "Read the nameplate; photograph it."),
    (
        "disconnect.rating_a",
        "Read the label on the outside of the disconnect; do not open it. Else leave it to a qualified person.",
    ),
    (
        "disconnect.fuse_a",
        "Read the label on the disconnect, or the panel schedule with the owner; do not open it.",
    ),
    (
        "disconnect.distance_ft",
        "Pace it from the unit to the disconnect.",
    ),
    (
        "disconnect.in_sight",
        "Stand at the unit's service side and look for the disconnect.",
    ),
    (
        "disconnect",
        "Read the label on the outside of the disconnect; do not open it.",
    ),
    (
        "readings.line_voltage_v",
        "Leave it to a qualified person on the first maintenance visit.",
    ),
    (
        "condensate.trap_depth_in",
        "Measure the outside of the trap: from the weir to the bottom of the loop.",
    ),
    (
        "condensate.static_in_wg",
        "From the unit's start-up record or fan data; else on the first maintenance visit.",
    ),
    (
        "condensate.drain_size_in",
        "Read the pipe's print, or measure it across.",
    ),
    (
        "filters",
        "Read the label on the filter door or ask the owner; else count them on the first maintenance visit.",
    ),
    (
        "airflow_cfm",
        "From the unit's schedule or balance report; ask the owner.",
    ),
    (
        "service_sides",
        "Note the sides with access panels and the control cover.",
    ),
    (
        "outdoor_air_side",
        "Note the side with the outdoor air hood or screen.",
    ),
    (
        "outdoor_air_height_ft",
        "Measure from the roof to the bottom of the outdoor air opening.",
    ),
    ("size_ft", "Tape or pace the footprint."),
    (
        "at_ft",
        "Pace it from two roof edges, or set it on the plan.",
    ),
    ("surveyed_on", "Enter the day of the visit."),
    (
        "parapet_in",
        "Measure the parapet's height from the roof, standing well back from the edge.",
    ),
    (
        "guarded",
        "Look for a cover, screen or rail; never step on it.",
    ),
    (
        "outline_ft",
        "Walk the roof well inside its edges and pace the corners, or trace it from a drawing.",
    ),
    (
        "height_ft",
        "Take it from a drawing, or count the storeys and ask the owner.",
    ),
    (
        "receptacles",
        "Walk round the unit and note the nearest outlet, within 25 ft or not.",
    ),
    (
        "water_sources",
        "Look for a hose bibb on the roof, at the walls and at the ground; set it on the plan.",
    ),
    (
        "air_points",
        "Note every exhaust, flue and vent near an outdoor air intake, what it serves and how high it ends.",
    ),
    (
        "access.extends_ft",
        "Measure from the landing to the top of the rails, tied off or from inside.",
    ),
    (
        "access.climb_ft",
        "Measure or count rungs, which are about a foot apart.",
    ),
    (
        "access.ladder_safety_system",
        "Look for a rail or cable up the middle of the ladder.",
    ),
    ("access", "Note how the roof was reached and where."),
];

/// What no lap of the roof settles, panels shut: it comes after everything that one does.
const AFTERWARDS: &[&str] = &[
    "readings.line_voltage_v",
    "condensate.static_in_wg",
    "airflow_cfm",
];

fn how(field: &str) -> Option<&'static str> {
    HOW.iter()
        .find(|(key, _)| field.starts_with(key) || field.ends_with(key))
        .map(|(_, how)| *how)
}

/// Every field that some verdict lacks, once each.
pub(super) fn list(plan: &SitePlan<'_>, asked: &[Asked]) -> Vec<Missing> {
    // (stop on the lap, field) -> rules that need it
    let mut gaps: BTreeMap<(Stop, String), Vec<&'static str>> = BTreeMap::new();
    let mut stops: BTreeMap<usize, Stop> = BTreeMap::new();
    for one in asked {
        for need in &one.outcome.needs {
            let (stop, field) = match need.strip_prefix("site.") {
                Some("surveyed_on") => (Stop::site(0), "surveyed_on".to_owned()),
                Some(_) => (Stop::site(one.roof.unwrap_or(0)), need.clone()),
                None => match one.unit {
                    Some(unit) => {
                        let stop = stops.entry(unit).or_insert_with(|| Stop::unit(plan, unit));
                        let mut stop = stop.clone();
                        if AFTERWARDS.contains(&need.as_str()) {
                            stop.after = true;
                        }
                        (stop, need.clone())
                    }
                    None => (Stop::site(one.roof.unwrap_or(0)), need.clone()),
                },
            };
            let rules = gaps.entry((stop, field)).or_default();
            if !rules.contains(&one.rule.id) {
                rules.push(one.rule.id);
            }
        }
    }
    // An edge of which no parapet was recorded counts as unguarded, whatever stands near it.
    for (i, roof) in plan.roofs.iter().enumerate() {
        for edge in &roof.edges {
            if matches!(edge.beyond, Beyond::Drop(_)) && edge.parapet.is_none() {
                let rules = gaps.entry((Stop::site(i), edge.field.clone())).or_default();
                for rule in [&EDGE_DISTANCE, &EDGE_GUARD] {
                    if !rules.contains(&rule.id) {
                        rules.push(rule.id);
                    }
                }
            }
        }
    }
    gaps.into_iter()
        .map(|((stop, field), rules)| Missing {
            about: stop.about,
            why: format!("needed for {}", rules.join(", ")),
            how: how(&field).map(str::to_owned),
            field,
        })
        .collect()
}

/// A place on the lap: roof by roof, first what is noted on arriving, then the units in the order
/// one passes them walking round clockwise from the way up; then those not on the plan, and last
/// what cannot be had on a roof with its panels shut.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Stop {
    /// Whether it waits for a maintenance visit or the office.
    after: bool,
    roof: usize,
    /// 0 for the roof itself, 1 for units on the plan, 2 for others.
    group: u8,
    /// Thousandths of a degree from the way up.
    bearing: i64,
    order: (String, u64, String),
    about: String,
}

impl Stop {
    fn site(roof: usize) -> Self {
        Self {
            after: false,
            roof,
            group: 0,
            bearing: 0,
            order: Default::default(),
            about: SITE.to_owned(),
        }
    }

    fn unit(plan: &SitePlan<'_>, unit: usize) -> Self {
        let tag = plan
            .survey
            .equipment
            .get(unit)
            .map_or(String::new(), |u| u.tag.clone());
        let (roof, group, bearing) = match plan.place(unit) {
            Place::On { roof, at, .. } => (roof, 1, plan.bearing(roof, at)),
            _ => (plan.roofs.len(), 2, 0.0),
        };
        Self {
            after: false,
            roof,
            group,
            bearing: (bearing * 1000.0).round() as i64,
            order: tag_order(&tag),
            about: tag,
        }
    }
}

/// What nobody could look at, or what no verdict could be given on.
pub(super) fn not_checked(survey: &Survey, profile: &Profile, asked: &[Asked]) -> Vec<String> {
    let mut lines = vec![
        "No panel was opened and nothing was switched, measured live or taken apart: conditions inside units, disconnects, ducts and walls were not looked at.".to_owned(),
        "What a roof, cover, parapet or anchor can carry was not checked.".to_owned(),
    ];
    if let Some(named) = &survey.site.code_profile
        && named.trim() != profile.id()
    {
        lines.push(format!(
            "The survey names the codes \"{named}\"; this assessment goes by \"{}\" instead.",
            profile.id()
        ));
    }
    let mut open: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    let mut seen: BTreeSet<(&str, &str)> = BTreeSet::new();
    for one in asked
        .iter()
        .filter(|a| a.outcome.verdict == Verdict::Unknown)
    {
        if seen.insert((one.rule.id, &one.about)) {
            open.entry(one.rule.id).or_default().push(&one.about);
        }
    }
    lines.extend(
        open.into_iter()
            .map(|(rule, about)| format!("{rule} could not be checked on: {}.", about.join(", "))),
    );
    lines
}
