//! The edges of a roof: what stands along them, and what lies beyond.
//!
//! An edge is cut where a neighbouring roof begins or ends, since one stretch may look down on a
//! lower roof, the next up a wall, and the third out into the air.

use super::site::RoofPlan;
use crate::survey::Roof;
use crate::survey::shape::coord_of;
use crate::survey::units::{Feet, Inches};
use geo::{
    BoundingRect, Coord, Distance, Euclidean, Intersects, Line, Point, Polygon, Rect, coord,
};

/// How far outside an edge a neighbouring roof is looked for; plans are drawn to about a foot.
const PROBE_FT: f64 = 0.3;

/// What lies beyond a stretch of edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beyond {
    /// A drop of so much, if known.
    Drop(Option<Feet>),
    /// The wall of a higher roof: nobody falls there.
    Wall,
    /// Another roof at the same height: the surface goes on.
    Level,
}

/// A stretch of a roof's edge.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeRun {
    /// From corner to corner, or part of that.
    pub line: Line,
    /// Corner at which the whole edge begins.
    pub from: usize,
    /// Name for people, such as `west edge`.
    pub name: String,
    /// Field that holds its parapet.
    pub field: String,
    /// Height of its parapet or rail, if recorded.
    pub parapet: Option<Inches>,
    /// What lies beyond.
    pub beyond: Beyond,
    /// Direction off the roof, of length 1.
    pub out: Coord,
}

/// All stretches of one roof's outline, in order.
pub(super) fn edge_runs(index: usize, roofs: &[RoofPlan<'_>]) -> Vec<EdgeRun> {
    let Some(plan) = roofs.get(index) else {
        return Vec::new();
    };
    let Some(polygon) = &plan.polygon else {
        return Vec::new();
    };
    let corners: Vec<Coord> = plan
        .roof
        .outline_ft
        .iter()
        .filter_map(|p| coord_of(*p))
        .collect();
    let around = grown(polygon);
    let neighbours: Vec<&RoofPlan<'_>> = roofs
        .iter()
        .enumerate()
        .filter(|(i, other)| {
            *i != index
                && other
                    .polygon
                    .as_ref()
                    .and_then(BoundingRect::bounding_rect)
                    .is_some_and(|b| around.is_some_and(|a| a.intersects(&b)))
        })
        .map(|(_, other)| other)
        .collect();
    let counter_clockwise = twice_area(&corners) >= 0.0;
    let mut runs = Vec::new();
    for (from, start) in corners.iter().enumerate() {
        let Some(end) = corners.get((from + 1) % corners.len()) else {
            continue;
        };
        if start == end {
            continue;
        }
        let line = Line::new(*start, *end);
        let out = outward(line, counter_clockwise);
        let listed = plan
            .roof
            .edges
            .iter()
            .enumerate()
            .find(|(_, e)| e.from == from);
        let field = match listed {
            Some((k, _)) => format!("{}.edges[{k}].parapet_in", plan.path),
            None => format!("{}.edges[from {from}].parapet_in", plan.path),
        };
        for piece in pieces(line, &neighbours) {
            runs.push(EdgeRun {
                line: piece,
                from,
                name: format!("{} edge", compass(out)),
                field: field.clone(),
                out,
                parapet: listed.and_then(|(_, e)| e.parapet_in),
                beyond: beyond(
                    piece,
                    out,
                    polygon,
                    plan.roof,
                    listed.and_then(|(_, e)| e.drop_ft),
                    &neighbours,
                ),
            });
        }
    }
    runs
}

fn grown(polygon: &Polygon) -> Option<Rect> {
    let bounds = polygon.bounding_rect()?;
    let more = coord! { x: 2.0 * PROBE_FT, y: 2.0 * PROBE_FT };
    Some(Rect::new(bounds.min() - more, bounds.max() + more))
}

fn twice_area(corners: &[Coord]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    corners
        .iter()
        .zip(next)
        .map(|(a, b)| a.x * b.y - b.x * a.y)
        .sum()
}

/// Unit vector pointing off the roof.
fn outward(line: Line, counter_clockwise: bool) -> Coord {
    let (dx, dy) = (line.dx(), line.dy());
    let length = dx.hypot(dy);
    let right = coord! { x: dy / length, y: -dx / length };
    if counter_clockwise { right } else { -right }
}

/// Name of a direction.
fn compass(out: Coord) -> &'static str {
    let eighth = (out.x.atan2(out.y).to_degrees() / 45.0).round() as i32;
    match eighth.rem_euclid(8) {
        0 => "north",
        1 => "north-east",
        2 => "east",
        3 => "south-east",
        4 => "south",
        5 => "south-west",
        6 => "west",
        _ => "north-west",
    }
}

/// An edge cut where a neighbour's corners come near it or a neighbour's sides cross it.
fn pieces(line: Line, neighbours: &[&RoofPlan<'_>]) -> Vec<Line> {
    use geo::line_intersection::{LineIntersection, line_intersection};
    let length2 = line.dx().powi(2) + line.dy().powi(2);
    let along =
        |c: Coord| ((c.x - line.start.x) * line.dx() + (c.y - line.start.y) * line.dy()) / length2;
    let mut cuts = vec![0.0, 1.0];
    for side in neighbours
        .iter()
        .filter_map(|n| n.polygon.as_ref())
        .flat_map(|p| p.exterior().lines())
    {
        if Euclidean.distance(&Point(side.start), &line) <= 2.0 * PROBE_FT {
            cuts.push(along(side.start));
        }
        if let Some(LineIntersection::SinglePoint { intersection, .. }) =
            line_intersection(line, side)
        {
            cuts.push(along(intersection));
        }
    }
    cuts.retain(|t| (0.0..=1.0).contains(t));
    cuts.sort_by(f64::total_cmp);
    let at = |t: f64| coord! { x: line.start.x + t * line.dx(), y: line.start.y + t * line.dy() };
    let long_enough = |a: f64, b: f64| (b - a) * length2.sqrt() > PROBE_FT;
    let mut pieces = Vec::new();
    let mut start = 0.0;
    for t in cuts {
        if long_enough(start, t) {
            pieces.push(Line::new(at(start), at(t)));
            start = t;
        }
    }
    match pieces.last_mut() {
        Some(last) => last.end = line.end,
        None => pieces.push(line),
    }
    pieces
}

fn beyond(
    piece: Line,
    out: Coord,
    own: &Polygon,
    roof: &Roof,
    stated: Option<Feet>,
    neighbours: &[&RoofPlan<'_>],
) -> Beyond {
    let middle = (piece.start + piece.end) / 2.0;
    let probe = Point(middle + out * PROBE_FT);
    // Both sides of a slit that leads to a courtyard look onto the roof itself.
    if own.intersects(&probe) {
        return Beyond::Level;
    }
    let found = neighbours
        .iter()
        .filter(|n| n.polygon.as_ref().is_some_and(|p| p.intersects(&probe)))
        .max_by(|a, b| height(a.roof).total_cmp(&height(b.roof)));
    let Some(neighbour) = found else {
        return Beyond::Drop(stated.or(roof.height_ft));
    };
    match (roof.height_ft, neighbour.roof.height_ft) {
        (Some(here), Some(there)) if there.get() > here.get() => Beyond::Wall,
        (Some(here), Some(there)) if there.get() == here.get() => Beyond::Level,
        (Some(here), Some(there)) => {
            Beyond::Drop(stated.or(Feet::new(here.get() - there.get()).ok()))
        }
        _ => Beyond::Drop(stated),
    }
}

fn height(roof: &Roof) -> f64 {
    roof.height_ft.map_or(f64::NEG_INFINITY, Feet::get)
}
