//! The rules asked of a unit by where it stands: edges, room to work, power, air, water.

use super::asked::Asked;
use super::unit::{draws_outdoor_air, has_coil, wants_receptacle};
use crate::plan::{Opposite, Place, SitePlan, footprint, gap, side_line};
use crate::survey::units::{Feet, PointFt, SpanFt};
use crate::survey::{Equipment, Roof};
use crate::trade::air::OutletSeen;
use crate::trade::water::HoseRun;
use crate::trade::workspace::{Facing, SideSeen};
use crate::trade::{Limits, Outcome, Rule, air, falls, guards, num, receptacle, water, workspace};
use geo::Rect;

/// Farthest that any class of exhaust is asked to be, beyond which a fan is of no interest.
const FAN_REACH_FT: f64 = 10.0;

pub(super) fn ask(
    plan: &SitePlan<'_>,
    index: usize,
    unit: &Equipment,
    limits: &Limits,
    asked: &mut Vec<Asked>,
) {
    let mut rules: Vec<&'static Rule> = vec![
        &workspace::DEPTH,
        &falls::EDGE_DISTANCE,
        &guards::EDGE_GUARD,
    ];
    if wants_receptacle(unit.kind) {
        rules.push(&receptacle::WITHIN_25_FT);
    }
    if draws_outdoor_air(unit.kind) || unit.outdoor_air_side.is_some() {
        rules.push(&air::INTAKE_SEPARATION);
    }
    if has_coil(unit.kind) {
        rules.push(&water::HOSE_REACH);
    }
    let stand = match stand(plan, index) {
        Ok(stand) => stand,
        Err(outcome) => {
            for rule in rules {
                let one = Asked::of_unit(rule, index, &unit.tag, (*outcome).clone());
                let centre = (rule.id == falls::EDGE_DISTANCE.id)
                    .then(|| centre_distance(plan, index))
                    .flatten();
                asked.push(match centre {
                    Some((ft, because)) => {
                        let mut one = one.at(Some(ft));
                        one.outcome.because = because;
                        one
                    }
                    None => one,
                });
            }
            return;
        }
    };
    let path = plan
        .roofs
        .get(stand.roof)
        .map_or("site.roof", |r| r.path.as_str());
    for rule in rules {
        let mut distance = None;
        let outcome = match rule.id {
            id if id == workspace::DEPTH.id => depth(plan, index, unit, limits),
            id if id == falls::EDGE_DISTANCE.id => {
                edge_distance(plan, index, unit, &stand, &mut distance)
            }
            id if id == guards::EDGE_GUARD.id => edge_guard(plan, &stand, limits),
            id if id == receptacle::WITHIN_25_FT.id => nearest_receptacle(plan, &stand, limits),
            id if id == air::INTAKE_SEPARATION.id => separation(plan, index, unit, &stand),
            _ => hose(plan, &stand),
        };
        let asked_of = Asked::of_unit(rule, index, &unit.tag, outcome);
        asked.push(asked_of.on(stand.roof, path).at(distance));
    }
}

/// Where a unit stands, size included.
struct Stand {
    roof: usize,
    rect: Rect,
    accuracy: f64,
}

/// Where a unit stands, or why no distance can be told.
fn stand(plan: &SitePlan<'_>, index: usize) -> Result<Stand, Box<Outcome>> {
    let (because, need) = match plan.place(index) {
        Place::On {
            roof,
            footprint: Some(rect),
            accuracy,
            ..
        } => {
            return Ok(Stand {
                roof,
                rect,
                accuracy,
            });
        }
        Place::On {
            footprint: None, ..
        } => (
            "The unit's size was not recorded, so no distance from its sides can be told.",
            "size_ft",
        ),
        Place::Unknown => ("The unit's place on the plan was not recorded.", "at_ft"),
        Place::OffRoof => (
            "The unit's place lies outside every roof outline; it was entered wrongly, or the unit does not stand on a roof.",
            "at_ft",
        ),
        Place::NoOutline => (
            "No roof outline was recorded that the unit could stand on.",
            "site.roof.outline_ft",
        ),
    };
    Err(Box::new(Outcome::unknown(because, &[need])))
}

/// How far the centre of a unit of unknown size is from an unguarded edge; whoever works at it may
/// be nearer.
fn centre_distance(plan: &SitePlan<'_>, index: usize) -> Option<(f64, String)> {
    let Place::On {
        roof,
        at,
        footprint: None,
        accuracy,
    } = plan.place(index)
    else {
        return None;
    };
    let edges = plan.edges_seen(roof, &[Rect::new(at, at)], accuracy);
    let edge = falls::nearest_unguarded(&edges)?;
    let ft = edge.distance.low;
    let because = format!(
        "The unit's size was not recorded; its centre is {} ft from the {}, and work at it may be nearer.",
        num(ft),
        edge.name
    );
    Some((ft, because))
}

fn depth(plan: &SitePlan<'_>, index: usize, unit: &Equipment, limits: &Limits) -> Outcome {
    let sides: Vec<SideSeen> = unit
        .service_sides
        .iter()
        .filter_map(|side| {
            let seen = plan.clearance(index, *side)?;
            let facing = match seen.ends_at {
                Opposite::Nothing => Facing::Nothing,
                Opposite::Edge => Facing::OpenEdge,
                Opposite::Obstacle => Facing::Grounded("an obstacle".to_owned()),
                Opposite::Wall => Facing::Grounded("the wall of the higher roof".to_owned()),
                Opposite::Unit { index, serviced } => {
                    let name = plan
                        .survey
                        .equipment
                        .get(index)
                        .map_or(String::new(), |u| u.tag.clone());
                    if serviced {
                        Facing::Live(name)
                    } else {
                        Facing::Grounded(name)
                    }
                }
            };
            Some(SideSeen {
                side: *side,
                depth: seen.depth,
                facing,
            })
        })
        .collect();
    workspace::depth(
        unit.nameplate.voltage_v,
        unit.nameplate.phase,
        &sides,
        limits,
    )
}

fn outline_missing(plan: &SitePlan<'_>, stand: &Stand) -> Option<Outcome> {
    let roof = plan.roofs.get(stand.roof)?;
    let because = match (&roof.polygon, roof.crossed) {
        (Some(_), _) => return None,
        (None, true) => "The outline of the roof crosses itself; its corners have to be put right.",
        (None, false) => "The outline of the roof was not recorded.",
    };
    Some(Outcome::unknown(because, &["site.roof.outline_ft"]))
}

fn edge_distance(
    plan: &SitePlan<'_>,
    index: usize,
    unit: &Equipment,
    stand: &Stand,
    distance: &mut Option<f64>,
) -> Outcome {
    if let Some(outcome) = outline_missing(plan, stand) {
        return outcome;
    }
    let areas = plan.standing_areas(index);
    let edges = plan.edges_seen(stand.roof, &areas, stand.accuracy);
    *distance = falls::nearest_unguarded(&edges).map(|edge| edge.distance.low);
    let slope = plan
        .roofs
        .get(stand.roof)
        .and_then(|r| r.roof.slope_rise_in_12);
    let outcome = falls::edge_distance(&edges, slope);
    // With the sides known, fewer may count: worth a look unless all four are far enough.
    if unit.service_sides.is_empty() && outcome.verdict != crate::trade::Verdict::Pass {
        return outcome.needing(&["service_sides"]);
    }
    outcome
}

fn edge_guard(plan: &SitePlan<'_>, stand: &Stand, limits: &Limits) -> Outcome {
    outline_missing(plan, stand).unwrap_or_else(|| {
        let edges = plan.edges_seen(stand.roof, &[stand.rect], stand.accuracy);
        guards::edge_guard(&edges, limits)
    })
}

fn nearest(points: impl Iterator<Item = PointFt>, stand: &Stand) -> Option<SpanFt> {
    points
        .filter_map(|at| straight(at, &stand.rect))
        .map(|ft| SpanFt::about(ft, stand.accuracy))
        .reduce(SpanFt::min)
}

fn straight(at: PointFt, rect: &Rect) -> Option<f64> {
    let fits = at.x.is_finite() && at.y.is_finite();
    fits.then(|| gap(&Rect::new((at.x, at.y), (at.x, at.y)), rect))
}

fn nearest_receptacle(plan: &SitePlan<'_>, stand: &Stand, limits: &Limits) -> Outcome {
    let here = plan.roofs.get(stand.roof);
    let level = |i: usize, roof: &Roof| {
        i == stand.roof
            || here.is_some_and(|h| {
                h.level_with.contains(&i)
                    || (h.roof.height_ft.is_some() && h.roof.height_ft == roof.height_ft)
            })
    };
    let points = |same: bool| {
        plan.roofs
            .iter()
            .enumerate()
            .filter(move |(i, r)| level(*i, r.roof) == same)
            .flat_map(|(_, r)| r.roof.receptacles.iter().map(|p| p.at_ft))
    };
    let (same, other) = (points(true), points(false));
    receptacle::within_25_ft(nearest(same, stand), nearest(other, stand), limits)
}

fn separation(plan: &SitePlan<'_>, index: usize, unit: &Equipment, stand: &Stand) -> Outcome {
    let Some(side) = unit.outdoor_air_side else {
        return Outcome::unknown(
            "The side where the unit draws outdoor air was not recorded.",
            &["outdoor_air_side"],
        );
    };
    let line = side_line(&stand.rect, side);
    let intake = Rect::new(line.start, line.end);
    let here = |roof: usize| roof == stand.roof;
    let mut outlets = Vec::new();
    let mut points = Vec::new();
    for (i, roof) in plan.roofs.iter().enumerate() {
        for point in &roof.roof.air_points {
            points.push(point.at_ft);
            let Some(ft) = straight(point.at_ft, &intake) else {
                continue;
            };
            // Another roof's outlets count by the straight line, which can only be shorter.
            let way = if here(i) {
                plan.way(i, point.at_ft, &intake).unwrap_or(ft)
            } else {
                ft
            };
            outlets.push(OutletSeen {
                name: point.kind.words(),
                kind: Some(point.kind),
                distance: SpanFt::about(way, stand.accuracy),
                height: point.height_ft.filter(|_| here(i)),
                own: straight(point.at_ft, &stand.rect) == Some(0.0),
            });
        }
    }
    for (other, fan) in plan.exhaust_fans() {
        if other == index {
            continue;
        }
        let Some(rect) = fan
            .at_ft
            .zip(fan.size_ft)
            .and_then(|(at, size)| footprint(at, size))
        else {
            continue;
        };
        let classed = points
            .iter()
            .any(|p| straight(*p, &rect).is_some_and(|ft| ft <= 1.0));
        let (at, ft) = (fan.at_ft, gap(&rect, &intake));
        if !classed && ft < FAN_REACH_FT && at.is_some() && !outlets.is_empty() {
            outlets.push(OutletSeen {
                name: fan.tag.clone(),
                kind: None,
                distance: SpanFt::about(ft, stand.accuracy),
                height: None,
                own: false,
            });
        }
    }
    air::separation(&outlets, unit.outdoor_air_height_ft)
}

fn hose(plan: &SitePlan<'_>, stand: &Stand) -> Outcome {
    let height = |i: usize| plan.roofs.get(i)?.roof.height_ft.map(Feet::get);
    // Each source at the least that its hose could measure, straight over everything.
    let mut sources: Vec<(f64, PointFt, Option<f64>)> = Vec::new();
    for (i, roof) in plan.roofs.iter().enumerate() {
        for source in &roof.roof.water_sources {
            let rise = if source.at_grade == Some(true) {
                height(stand.roof)
            } else if i == stand.roof {
                Some(0.0)
            } else {
                height(stand.roof)
                    .zip(height(i))
                    .map(|(a, b)| (a - b).abs())
            };
            if let Some(ft) = straight(source.at_ft, &stand.rect) {
                sources.push((ft + rise.unwrap_or(0.0), source.at_ft, rise));
            }
        }
    }
    sources.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut runs = Vec::new();
    let mut shortest = f64::INFINITY;
    for (least, at, rise) in sources {
        // What is longer even straight serves no better than a run whose rise is known.
        if least >= shortest {
            break;
        }
        if let Some(way) = plan.way(stand.roof, at, &stand.rect) {
            let length = way + rise.unwrap_or(0.0);
            if rise.is_some() {
                shortest = shortest.min(length);
            }
            runs.push(HoseRun {
                length: SpanFt::about(length, stand.accuracy),
                rise: rise.and_then(|rise| Feet::new(rise).ok()),
            });
        }
    }
    water::hose_reach(&runs, plan.survey.site.water_source.as_deref())
}
