//! The whole site laid out once: every roof with its edges, every unit with its place.

use super::edges::{Beyond, EdgeRun, edge_runs};
use super::geometry::{footprint, gap, rect_to_line, spot, standing_area};
use super::path::{Ground, shortest};
use crate::survey::codes::{EquipmentKind, Side};
use crate::survey::shape::{coord_of, crosses_itself, polygon};
use crate::survey::units::{Feet, PointFt, SpanFt};
use crate::survey::{Equipment, Roof, Survey};
use crate::trade::falls::EdgeSeen;
use crate::trade::workspace::{LEAST_DEPTH, LEAST_WIDTH};
use geo::{Centroid, Coord, Intersects, Polygon, Rect, coord};
use rstar::RTree;
use rstar::primitives::{GeomWithData, Rectangle};

/// One roof laid out.
#[derive(Debug)]
pub struct RoofPlan<'a> {
    /// Where it is in the survey: `site.roof` or `site.more_roofs[0]`.
    pub path: String,
    /// What was recorded.
    pub roof: &'a Roof,
    /// Its outline, if there are three corners and no two sides cross.
    pub polygon: Option<Polygon>,
    /// Whether two sides of the outline cross, so that it bounds nothing.
    pub crossed: bool,
    /// Its edges.
    pub edges: Vec<EdgeRun>,
    /// Roofs at the same height that it runs into, itself included.
    pub level_with: Vec<usize>,
    pub(super) ground: Ground,
    pub(super) units: RTree<GeomWithData<Rectangle<[f64; 2]>, usize>>,
}

/// Where a unit stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Place {
    /// On a roof; its footprint, if its size is known.
    On {
        /// Which roof.
        roof: usize,
        /// Its centre.
        at: Coord,
        /// What it covers.
        footprint: Option<Rect>,
        /// How far off its place may be.
        accuracy: f64,
    },
    /// Its place was not recorded, or is no place.
    Unknown,
    /// Its place lies outside every outline.
    OffRoof,
    /// No roof was recorded, or several without outlines.
    NoOutline,
}

/// A survey laid out on its plan.
#[derive(Debug)]
pub struct SitePlan<'a> {
    /// The survey.
    pub survey: &'a Survey,
    /// Its roofs, the main one first.
    pub roofs: Vec<RoofPlan<'a>>,
    places: Vec<Place>,
    /// Where the exhaust fans stand in the survey's equipment.
    fans: Vec<usize>,
    /// Whether any place is only roughly known.
    pub(super) rough: bool,
}

impl<'a> SitePlan<'a> {
    /// Lays out a survey.
    pub fn new(survey: &'a Survey) -> Self {
        let main = survey.site.roof.iter().map(|r| ("site.roof".to_owned(), r));
        let more = survey.site.more_roofs.iter().enumerate();
        let mut roofs: Vec<RoofPlan<'a>> = main
            .chain(more.map(|(i, r)| (format!("site.more_roofs[{i}]"), r)))
            .map(|(path, roof)| (path, roof, polygon(&roof.outline_ft)))
            .map(|(path, roof, outline)| RoofPlan {
                path,
                roof,
                crossed: outline.as_ref().is_some_and(crosses_itself),
                polygon: outline.filter(|o| !crosses_itself(o)),
                edges: Vec::new(),
                level_with: Vec::new(),
                ground: Ground::default(),
                units: RTree::new(),
            })
            .collect();
        let edges: Vec<_> = (0..roofs.len()).map(|i| edge_runs(i, &roofs)).collect();
        for (roof, edges) in roofs.iter_mut().zip(edges) {
            roof.edges = edges;
        }
        let places: Vec<Place> = survey
            .equipment
            .iter()
            .map(|unit| place(unit, &roofs))
            .collect();
        let mut stands: Vec<Vec<_>> = vec![Vec::new(); roofs.len()];
        for (i, place) in places.iter().enumerate() {
            if let Place::On {
                roof,
                footprint: Some(rect),
                ..
            } = place
                && let Some(on) = stands.get_mut(*roof)
            {
                let corners = Rectangle::from_corners(
                    [rect.min().x, rect.min().y],
                    [rect.max().x, rect.max().y],
                );
                on.push(GeomWithData::new(corners, i));
            }
        }
        let grounds: Vec<_> = (0..roofs.len()).map(|i| Ground::of(i, &roofs)).collect();
        let levels: Vec<_> = (0..roofs.len()).map(|i| level_group(i, &roofs)).collect();
        for (((roof, units), ground), level) in
            roofs.iter_mut().zip(stands).zip(grounds).zip(levels)
        {
            roof.units = RTree::bulk_load(units);
            roof.ground = ground;
            roof.level_with = level;
        }
        let fans = (0..survey.equipment.len())
            .filter(|i| {
                let unit = survey.equipment.get(*i);
                unit.is_some_and(|u| u.kind == EquipmentKind::ExhaustFan)
            })
            .collect();
        let rough = places
            .iter()
            .any(|p| matches!(p, Place::On { accuracy, .. } if *accuracy > 0.0));
        Self {
            survey,
            roofs,
            places,
            fans,
            rough,
        }
    }

    /// The exhaust fans of the survey, each with its index, listed once for all who ask.
    pub fn exhaust_fans(&self) -> impl Iterator<Item = (usize, &'a Equipment)> {
        let survey = self.survey;
        let fan = move |i: &usize| Some((*i, survey.equipment.get(*i)?));
        self.fans.iter().filter_map(fan)
    }

    /// Where the unit at this index of the survey stands.
    pub fn place(&self, unit: usize) -> Place {
        self.places.get(unit).copied().unwrap_or(Place::Unknown)
    }

    /// Every stretch of edge that has a drop beyond it, on this roof and those level with it, as
    /// seen from the nearest of some areas.
    pub fn edges_seen(&self, roof: usize, areas: &[Rect], accuracy: f64) -> Vec<EdgeSeen> {
        let Some(plan) = self.roofs.get(roof) else {
            return Vec::new();
        };
        let level = || plan.level_with.iter().filter_map(|i| self.roofs.get(*i));
        let falls: Vec<(&EdgeRun, Option<Feet>)> = level()
            .flat_map(|r| &r.edges)
            .filter_map(|edge| match edge.beyond {
                Beyond::Drop(drop) => Some((edge, drop)),
                _ => None,
            })
            .collect();
        // Nobody stands past an edge: where an area lies wholly outside, its nearest edge is at 0.
        let past: Vec<f64> = areas
            .iter()
            .map(|area| {
                let on = |r: &RoofPlan<'_>| r.polygon.as_ref().is_some_and(|p| touches(p, area));
                let all = falls.iter().map(|(e, _)| rect_to_line(area, &e.line));
                if level().any(on) {
                    f64::NEG_INFINITY
                } else {
                    all.fold(f64::INFINITY, f64::min)
                }
            })
            .collect();
        falls
            .into_iter()
            .filter_map(|(edge, drop)| {
                let distances = areas.iter().zip(&past).map(|(area, past)| {
                    let ft = rect_to_line(area, &edge.line);
                    if ft <= *past { 0.0 } else { ft }
                });
                let nearest = distances.min_by(f64::total_cmp)?;
                Some(EdgeSeen {
                    name: edge.name.clone(),
                    field: edge.field.clone(),
                    distance: SpanFt::about(nearest, accuracy),
                    parapet: edge.parapet,
                    drop,
                })
            })
            .collect()
    }

    /// The areas a person stands in to work at a unit: along its service sides, or all round it
    /// where none was recorded. None where its place or size is not known.
    pub fn standing_areas(&self, unit: usize) -> Vec<Rect> {
        let (
            Some(equipment),
            Place::On {
                footprint: Some(rect),
                ..
            },
        ) = (self.survey.equipment.get(unit), self.place(unit))
        else {
            return Vec::new();
        };
        let sides: &[Side] = match equipment.service_sides.as_slice() {
            [] => Side::ALL,
            sides => sides,
        };
        sides
            .iter()
            .map(|side| standing_area(&rect, *side, LEAST_DEPTH.get(), LEAST_WIDTH.feet().get()))
            .collect()
    }

    /// Where a place lies on a walk round a roof: degrees clockwise from its way up, seen from the
    /// middle of the outline; from the north where the way up is not on the plan.
    pub fn bearing(&self, roof: usize, at: Coord) -> f64 {
        let Some(plan) = self.roofs.get(roof) else {
            return 0.0;
        };
        let Some(middle) = plan.polygon.as_ref().and_then(Centroid::centroid) else {
            return 0.0;
        };
        let angle = |to: Coord| (to.x - middle.x()).atan2(to.y - middle.y()).to_degrees();
        let start = plan
            .roof
            .access
            .as_ref()
            .and_then(|a| a.at_ft)
            .and_then(coord_of)
            .map_or(0.0, angle);
        (angle(at) - start).rem_euclid(360.0)
    }

    /// Shortest way on this roof from a place to a rectangle, round obstacles; straight where the
    /// plan shows none.
    pub fn way(&self, roof: usize, from: PointFt, to: &Rect) -> Option<f64> {
        let from = coord_of(from)?;
        let ground = &self.roofs.get(roof)?.ground;
        Some(shortest(ground, from, to).unwrap_or_else(|| gap(&spot(from), to)))
    }
}

/// Roofs that one can walk onto without a step, itself first.
fn level_group(start: usize, roofs: &[RoofPlan<'_>]) -> Vec<usize> {
    let mut group = vec![start];
    let mut next = 0;
    while let Some(here) = group.get(next).copied() {
        next += 1;
        let Some(plan) = roofs.get(here) else {
            continue;
        };
        if !plan.edges.iter().any(|e| e.beyond == Beyond::Level) {
            continue;
        }
        for (i, other) in roofs.iter().enumerate() {
            let same = other.roof.height_ft == plan.roof.height_ft && plan.roof.height_ft.is_some();
            let meets = plan
                .edges
                .iter()
                .filter(|e| e.beyond == Beyond::Level)
                .any(|e| {
                    other.edges.iter().any(|o| {
                        o.beyond == Beyond::Level
                            && rect_to_line(&Rect::new(e.line.start, e.line.end), &o.line) < 1.0
                    })
                });
            if same && meets && !group.contains(&i) {
                group.push(i);
            }
        }
    }
    group
}

/// How far an area may miss a roof that it touches: what moving a plan does to its last digits.
const TOUCH_FT: f64 = 1e-6;

/// Whether an area is on a roof or touches it.
fn touches(roof: &Polygon, area: &Rect) -> bool {
    let room = coord! { x: TOUCH_FT, y: TOUCH_FT };
    roof.intersects(&Rect::new(area.min() - room, area.max() + room))
}

fn place(unit: &Equipment, roofs: &[RoofPlan<'_>]) -> Place {
    let Some(at) = unit.at_ft.and_then(coord_of) else {
        return Place::Unknown;
    };
    let area = unit
        .at_ft
        .zip(unit.size_ft)
        .and_then(|(at, size)| footprint(at, size));
    let named = unit
        .roof
        .as_deref()
        .and_then(|id| roofs.iter().position(|r| r.roof.id.as_deref() == Some(id)));
    let holds = |plan: &RoofPlan<'_>, exactly: bool| {
        plan.polygon.as_ref().is_some_and(|p| {
            let spot = Rect::new(at, at);
            touches(p, &spot) || (!exactly && area.is_some_and(|a| touches(p, &a)))
        })
    };
    let found = |exactly: bool| {
        roofs
            .iter()
            .enumerate()
            .filter(|(i, plan)| named.is_none_or(|n| n == *i) && holds(plan, exactly))
            .max_by(|a, b| {
                let height = |r: &Roof| r.height_ft.map_or(f64::NEG_INFINITY, Feet::get);
                height(a.1.roof)
                    .total_cmp(&height(b.1.roof))
                    .then(b.0.cmp(&a.0))
            })
            .map(|(i, _)| i)
    };
    // A roof without an outline can still hold receptacles and water, whose distances are known.
    let bare = || {
        let mut bare = roofs
            .iter()
            .enumerate()
            .filter(|(i, plan)| named.is_none_or(|n| n == *i) && plan.polygon.is_none());
        match (bare.next(), bare.next()) {
            (Some((i, _)), None) => Some(i),
            _ => None,
        }
    };
    match found(true).or_else(|| found(false)).or_else(bare) {
        Some(roof) => Place::On {
            roof,
            at,
            footprint: area,
            accuracy: unit.at_accuracy_ft.map_or(0.0, Feet::get),
        },
        None if roofs.iter().any(|plan| plan.polygon.is_some()) => Place::OffRoof,
        None => Place::NoOutline,
    }
}
