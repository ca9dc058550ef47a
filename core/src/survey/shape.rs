//! Shapes drawn on the plan, as far as telling a possible one from an impossible one needs.
//!
//! Distances and ways are `plan`'s; this is only what reading a survey has to know.

use super::units::PointFt;
use geo::{Coord, Line, Polygon, coord};

/// Coordinates beyond this are no place on a roof; survey reading refuses them.
pub(crate) const FARTHEST_FT: f64 = 1e6;

/// A point of the plan, if it is one.
pub(crate) fn coord_of(point: PointFt) -> Option<Coord> {
    let fits = |v: f64| v.is_finite() && v.abs() <= FARTHEST_FT;
    (fits(point.x) && fits(point.y)).then_some(coord! { x: point.x, y: point.y })
}

/// A closed outline as a polygon; none with fewer than three corners that differ.
pub(crate) fn polygon(corners: &[PointFt]) -> Option<Polygon> {
    let mut ring: Vec<Coord> = corners
        .iter()
        .map(|p| coord_of(*p))
        .collect::<Option<_>>()?;
    ring.dedup();
    if ring.len() > 1 && ring.first() == ring.last() {
        ring.pop();
    }
    (ring.len() >= 3).then(|| Polygon::new(ring.into(), Vec::new()))
}

/// Whether two of an outline's sides cross. Sides that only touch do not: a courtyard may be drawn
/// with a slit leading to it, and two wings may meet at a corner.
pub(crate) fn crosses_itself(polygon: &Polygon) -> bool {
    use geo::line_intersection::{LineIntersection, line_intersection};
    let sides: Vec<Line> = polygon.exterior().lines().collect();
    sides.iter().enumerate().any(|(i, a)| {
        sides.iter().skip(i + 1).any(|b| {
            matches!(
                line_intersection(*a, *b),
                Some(LineIntersection::SinglePoint {
                    is_proper: true,
                    ..
                })
            )
        })
    })
}
