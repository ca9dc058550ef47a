//! Small shapes of the plan: footprints, sides, standing areas, and distances between them.

use crate::survey::codes::Side;
use crate::survey::shape::coord_of;
use crate::survey::units::{PointFt, SizeFt};
use geo::{Coord, Distance, Euclidean, Line, Rect, coord};

/// The rectangle that something of this size covers around its centre.
pub fn footprint(at: PointFt, size: SizeFt) -> Option<Rect> {
    let at = coord_of(at)?;
    let half = coord_of(PointFt {
        x: size.x.get() / 2.0,
        y: size.y.get() / 2.0,
    })?;
    Some(Rect::new(at - half, at + half))
}

/// One side of a footprint, from west to east or from south to north.
pub fn side_line(rect: &Rect, side: Side) -> Line {
    let (low, high) = (rect.min(), rect.max());
    match side {
        Side::North => Line::new((low.x, high.y), (high.x, high.y)),
        Side::South => Line::new((low.x, low.y), (high.x, low.y)),
        Side::East => Line::new((high.x, low.y), (high.x, high.y)),
        Side::West => Line::new((low.x, low.y), (low.x, high.y)),
    }
}

/// The side across.
pub const fn opposite(side: Side) -> Side {
    match side {
        Side::North => Side::South,
        Side::South => Side::North,
        Side::East => Side::West,
        Side::West => Side::East,
    }
}

/// The area a person stands in to work at one side: so deep, and as wide as the side but no
/// narrower than `least_width`.
pub fn standing_area(rect: &Rect, side: Side, depth: f64, least_width: f64) -> Rect {
    let line = side_line(rect, side);
    let (start, end) = (line.start, line.end);
    let widen = |low: f64, high: f64| {
        let more = ((least_width - (high - low)) / 2.0).max(0.0);
        (low - more, high + more)
    };
    match side {
        Side::North | Side::South => {
            let (west, east) = widen(start.x, end.x);
            let far = if side == Side::North {
                start.y + depth
            } else {
                start.y - depth
            };
            Rect::new((west, start.y), (east, far))
        }
        Side::East | Side::West => {
            let (south, north) = widen(start.y, end.y);
            let far = if side == Side::East {
                start.x + depth
            } else {
                start.x - depth
            };
            Rect::new((start.x, south), (far, north))
        }
    }
}

/// Distance from a rectangle to a line; 0 where they touch or overlap.
pub(crate) fn rect_to_line(rect: &Rect, line: &Line) -> f64 {
    if rect.min() == rect.max() {
        return Euclidean.distance(&geo::Point(rect.min()), line);
    }
    if rect.min().x == rect.max().x || rect.min().y == rect.max().y {
        return Euclidean.distance(&Line::new(rect.min(), rect.max()), line);
    }
    Euclidean.distance(&rect.to_polygon(), line)
}

/// Gap between two rectangles; 0 where they touch or overlap.
pub fn gap(a: &Rect, b: &Rect) -> f64 {
    let between = |a_low: f64, a_high: f64, b_low: f64, b_high: f64| {
        (b_low - a_high).max(a_low - b_high).max(0.0)
    };
    let x = between(a.min().x, a.max().x, b.min().x, b.max().x);
    let y = between(a.min().y, a.max().y, b.min().y, b.max().y);
    x.hypot(y)
}

/// The point of a rectangle that is nearest to a place.
pub(crate) fn nearest_in(rect: &Rect, to: Coord) -> Coord {
    coord! {
        x: to.x.clamp(rect.min().x, rect.max().x),
        y: to.y.clamp(rect.min().y, rect.max().y),
    }
}

/// A rectangle of no extent.
pub(crate) fn spot(at: Coord) -> Rect {
    Rect::new(at, at)
}
