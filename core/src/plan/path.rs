//! The shortest way on a roof round what stands in it: a stretched string, or a hose laid out.
//!
//! A visibility graph over the corners of only those obstacles that are in the way, found step by
//! step, so that a roof full of obstacles costs no more than the few that matter.

use super::geometry::nearest_in;
use super::site::RoofPlan;
use crate::survey::shape::polygon;
use geo::coordinate_position::{CoordPos, CoordinatePosition};
use geo::line_intersection::{LineIntersection, line_intersection};
use geo::{Coord, Distance, Euclidean, Intersects, Line, Point, Polygon, Rect, coord};
use std::cmp::Ordering;
use std::collections::{BTreeSet, BinaryHeap};

/// What can be walked on and what stands in the way.
#[derive(Debug, Default)]
pub(super) struct Ground {
    outline: Option<Polygon>,
    obstacles: Vec<Polygon>,
}

impl Ground {
    /// The roof's outline, its obstacles, and higher roofs that stand on it.
    pub(super) fn of(index: usize, roofs: &[RoofPlan<'_>]) -> Self {
        let Some(plan) = roofs.get(index) else {
            return Self::default();
        };
        let mut obstacles: Vec<Polygon> = plan
            .roof
            .obstacles
            .iter()
            .filter_map(|o| polygon(&o.outline_ft))
            .collect();
        let higher = roofs.iter().enumerate().filter(|(i, other)| {
            *i != index
                && matches!((plan.roof.height_ft, other.roof.height_ft), (Some(a), Some(b)) if b.get() > a.get())
        });
        if let Some(outline) = &plan.polygon {
            obstacles.extend(
                higher
                    .filter_map(|(_, o)| o.polygon.clone())
                    .filter(|p| p.intersects(outline)),
            );
        }
        Self {
            outline: plan.polygon.clone(),
            obstacles,
        }
    }

    pub(super) fn obstacles(&self) -> &[Polygon] {
        &self.obstacles
    }
}

/// Length of the shortest way from a place to a rectangle. None where the plan shows no way.
pub(super) fn shortest(ground: &Ground, from: Coord, to: &Rect) -> Option<f64> {
    // An obstacle drawn round the start or the goal is not gone round but stood in.
    let solid: Vec<&Polygon> = ground
        .obstacles
        .iter()
        .filter(|o| !inside(o, from) && !inside(o, nearest_in(to, from)))
        .collect();
    // Someone standing on the ground, or a unit past the edge, is not kept on the roof.
    let outline = ground
        .outline
        .as_ref()
        .filter(|o| o.intersects(&Point(from)) && o.intersects(&Point(nearest_in(to, from))));
    let mut met = BTreeSet::new();
    loop {
        let near: Vec<&Polygon> = met
            .iter()
            .filter_map(|i: &usize| solid.get(*i).copied())
            .collect();
        let way = dijkstra(from, to, &near, outline)?;
        let more: Vec<usize> = solid
            .iter()
            .enumerate()
            .filter(|(i, o)| {
                !met.contains(i)
                    && way
                        .windows(2)
                        .any(|leg| leg_of(leg).is_some_and(|l| cuts(o, l)))
            })
            .map(|(i, _)| i)
            .collect();
        if more.is_empty() {
            return Some(
                way.windows(2)
                    .filter_map(leg_of)
                    .map(|l| Euclidean.distance(&Point(l.start), &Point(l.end)))
                    .sum(),
            );
        }
        met.extend(more);
    }
}

fn leg_of(pair: &[Coord]) -> Option<Line> {
    match pair {
        [a, b] => Some(Line::new(*a, *b)),
        _ => None,
    }
}

fn inside(polygon: &Polygon, at: Coord) -> bool {
    polygon.coordinate_position(&at) == CoordPos::Inside
}

/// Points along a leg between which nothing changes: its meetings with a polygon's sides.
fn middles(polygon: &Polygon, leg: Line) -> Vec<Coord> {
    let length2 = leg.dx().powi(2) + leg.dy().powi(2);
    let along =
        |c: Coord| ((c.x - leg.start.x) * leg.dx() + (c.y - leg.start.y) * leg.dy()) / length2;
    let mut at = vec![0.0, 1.0];
    for side in polygon.exterior().lines() {
        match line_intersection(leg, side) {
            Some(LineIntersection::SinglePoint { intersection, .. }) => {
                at.push(along(intersection))
            }
            Some(LineIntersection::Collinear { intersection }) => {
                at.extend([along(intersection.start), along(intersection.end)]);
            }
            None => {}
        }
    }
    at.sort_by(f64::total_cmp);
    at.windows(2)
        .filter_map(|w| match w {
            [a, b] if b - a > 1e-9 => Some((a + b) / 2.0),
            _ => None,
        })
        .map(|t| coord! { x: leg.start.x + t * leg.dx(), y: leg.start.y + t * leg.dy() })
        .collect()
}

/// Whether a leg passes through a polygon; running along its side does not count.
fn cuts(polygon: &Polygon, leg: Line) -> bool {
    leg.start != leg.end
        && polygon.intersects(&leg)
        && middles(polygon, leg)
            .into_iter()
            .any(|m| inside(polygon, m) && depth(polygon, m) > 1e-9)
}

fn depth(polygon: &Polygon, at: Coord) -> f64 {
    Euclidean.distance(&Point(at), polygon.exterior())
}

/// Whether a leg leaves the outline.
fn leaves(outline: &Polygon, leg: Line) -> bool {
    leg.start != leg.end
        && middles(outline, leg).into_iter().any(|m| {
            outline.coordinate_position(&m) == CoordPos::Outside && depth(outline, m) > 1e-9
        })
}

#[derive(PartialEq)]
struct Step {
    length: f64,
    node: usize,
}

impl Eq for Step {}

impl Ord for Step {
    fn cmp(&self, other: &Self) -> Ordering {
        other
            .length
            .total_cmp(&self.length)
            .then(other.node.cmp(&self.node))
    }
}

impl PartialOrd for Step {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// The shortest chain of legs over the corners of some obstacles and of the outline.
fn dijkstra(
    from: Coord,
    to: &Rect,
    obstacles: &[&Polygon],
    outline: Option<&Polygon>,
) -> Option<Vec<Coord>> {
    let open = |leg: Line| {
        !obstacles.iter().any(|o| cuts(o, leg)) && !outline.is_some_and(|o| leaves(o, leg))
    };
    let straight = Line::new(from, nearest_in(to, from));
    if open(straight) {
        return Some(vec![straight.start, straight.end]);
    }
    let (low, high) = (to.min(), to.max());
    let mut nodes = vec![from];
    nodes.extend(
        obstacles
            .iter()
            .chain(outline.iter())
            .flat_map(|p| p.exterior().coords())
            .copied(),
    );
    let goals_from = nodes.len();
    nodes.extend([
        low,
        coord! { x: high.x, y: low.y },
        high,
        coord! { x: low.x, y: high.y },
    ]);
    let mut best = vec![f64::INFINITY; nodes.len()];
    let mut before: Vec<Option<usize>> = vec![None; nodes.len()];
    let mut end: Option<(f64, Vec<Coord>)> = None;
    let mut heap = BinaryHeap::from([Step {
        length: 0.0,
        node: 0,
    }]);
    if let Some(first) = best.first_mut() {
        *first = 0.0;
    }
    while let Some(Step { length, node }) = heap.pop() {
        let Some(here) = nodes.get(node).copied() else {
            continue;
        };
        if best.get(node).is_none_or(|b| length > *b) {
            continue;
        }
        if end.as_ref().is_some_and(|(e, _)| *e <= length) {
            break;
        }
        let landing = if node >= goals_from {
            here
        } else {
            nearest_in(to, here)
        };
        let last = Line::new(here, landing);
        if node >= goals_from || open(last) {
            let total = length + Euclidean.distance(&Point(here), &Point(landing));
            if end.as_ref().is_none_or(|(e, _)| total < *e) {
                end = Some((total, chain(&nodes, &before, node, landing)));
            }
        }
        for (next, there) in nodes.iter().enumerate() {
            let total = length + Euclidean.distance(&Point(here), &Point(*there));
            if next != node
                && best.get(next).is_some_and(|b| total < *b)
                && open(Line::new(here, *there))
            {
                if let (Some(b), Some(p)) = (best.get_mut(next), before.get_mut(next)) {
                    *b = total;
                    *p = Some(node);
                }
                heap.push(Step {
                    length: total,
                    node: next,
                });
            }
        }
    }
    end.map(|(_, way)| way)
}

fn chain(nodes: &[Coord], before: &[Option<usize>], last: usize, landing: Coord) -> Vec<Coord> {
    let mut way = vec![landing];
    let mut node = Some(last);
    while let Some(at) = node {
        way.extend(nodes.get(at));
        node = before.get(at).copied().flatten();
    }
    way.reverse();
    way
}
