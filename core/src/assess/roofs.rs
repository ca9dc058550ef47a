//! The rules asked of a roof: openings, ladders, access, hatches near an edge.

use super::asked::Asked;
use crate::plan::{Place, RoofPlan, SitePlan};
use crate::survey::codes::{AccessKind, OpeningKind};
use crate::survey::units::{PointFt, SizeFt};
use crate::trade::{Limits, Outcome, falls, guards, ladders, num};
use geo::Rect;

pub(super) fn ask(plan: &SitePlan<'_>, limits: &Limits, asked: &mut Vec<Asked>) {
    let mut occupied = vec![false; plan.roofs.len()];
    for index in 0..plan.survey.equipment.len() {
        if let Place::On { roof, .. } = plan.place(index)
            && let Some(on) = occupied.get_mut(roof)
        {
            *on = true;
        }
    }
    let alone = plan.roofs.len() == 1 && !plan.survey.equipment.is_empty();
    for (i, roof) in plan.roofs.iter().enumerate() {
        openings(i, roof, asked);
        let equipped = alone || occupied.get(i) == Some(&true);
        access(plan, (i, roof), equipped, limits, asked);
    }
}

/// Roofs after the first are named in what is said of them.
fn named(roof: &RoofPlan<'_>, mut outcome: Outcome) -> Outcome {
    if let Some(id) = &roof.roof.id {
        outcome.because = format!("Roof {id}: {}", outcome.because);
    }
    outcome
}

/// The extent of an opening; one not measured counts as a spot.
pub(super) fn extent(at: PointFt, size: Option<SizeFt>) -> Option<Rect> {
    let spot = Rect::new((at.x, at.y), (at.x, at.y));
    let fits = at.x.is_finite() && at.y.is_finite();
    match size {
        Some(size) => crate::plan::footprint(at, size),
        None => fits.then_some(spot),
    }
}

fn openings(index: usize, roof: &RoofPlan<'_>, asked: &mut Vec<Asked>) {
    for (k, opening) in roof.roof.openings.iter().enumerate() {
        let drop = opening.drop_ft.or(roof.roof.height_ft);
        let mut outcome = falls::opening_guarded(opening.kind, opening.guarded, drop);
        outcome.because = format!(
            "At ({}, {}): {}",
            num(opening.at_ft.x),
            num(opening.at_ft.y),
            outcome.because
        );
        if outcome.verdict == crate::trade::Verdict::Unknown {
            outcome
                .needs
                .push(format!("site.roof.openings[{k}].guarded"));
        }
        let rule = &falls::OPENING_GUARDED;
        let mut one = Asked::of_roof(rule, index, &roof.path, named(roof, outcome));
        one.opening = Some(k);
        asked.push(one);
    }
}

fn access(
    plan: &SitePlan<'_>,
    (index, roof): (usize, &RoofPlan<'_>),
    equipped: bool,
    limits: &Limits,
    asked: &mut Vec<Asked>,
) {
    let access = roof.roof.access.as_ref();
    // A roof one walks onto from another, level or not, needs no ladder of its own.
    let joined = access.is_none()
        && roof
            .level_with
            .iter()
            .any(|i| *i != index && plan.roofs.get(*i).is_some_and(|r| r.roof.access.is_some()));
    if joined || !equipped && access.is_none() {
        return;
    }
    let kind = access.map(|a| a.kind);
    let climb = access.and_then(|a| a.climb_ft);
    let mut push = |rule, outcome| {
        asked.push(Asked::of_roof(
            rule,
            index,
            &roof.path,
            named(roof, outcome),
        ));
    };
    if let Some(outcome) = ladders::extension(kind, access.and_then(|a| a.extends_ft)) {
        push(&ladders::EXTENSION, outcome);
    }
    let system = access.and_then(|a| a.ladder_safety_system);
    if let Some(outcome) = ladders::fixed_over_24(kind, climb, roof.roof.height_ft, system) {
        push(&ladders::FIXED_OVER_24, outcome);
    }
    if equipped {
        push(
            &ladders::ACCESS_OVER_16,
            ladders::access_over_16(kind, roof.roof.height_ft, climb, limits),
        );
    }
    let way_up = access
        .filter(|a| a.kind == AccessKind::Hatch)
        .and_then(|a| a.at_ft)
        .map(|at| (at, None));
    let hatches = roof
        .roof
        .openings
        .iter()
        .filter(|o| o.kind == OpeningKind::Hatch);
    let hatches: Vec<_> = hatches.map(|o| (o.at_ft, o.size_ft)).collect();
    let alone = way_up.filter(|_| hatches.is_empty());
    for (at, size) in hatches.into_iter().chain(alone) {
        let Some(rect) = extent(at, size) else {
            continue;
        };
        let edges = plan.edges_seen(index, &[rect], 0.0);
        if edges.is_empty() {
            continue;
        }
        let mut outcome = guards::edge_guard(&edges, limits);
        outcome.because = format!("Roof hatch: {}", outcome.because);
        push(&guards::EDGE_GUARD, outcome);
    }
}
