//! How much room there is in front of a side of a unit, and what ends it.

use super::edges::Beyond;
use super::geometry::{opposite, side_line};
use super::site::{Place, SitePlan};
use crate::survey::codes::Side;
use crate::survey::units::SpanFt;
use geo::coordinate_position::{CoordPos, CoordinatePosition};
use geo::{Line, Polygon, Rect};
use rstar::AABB;

/// How far ahead of a side is looked; more is more than any rule asks.
const LOOK_FT: f64 = 10.0;
/// Overlap across the side that does not count: a neighbour exactly in line is beside, not ahead.
const BESIDE_FT: f64 = 1e-6;

/// What ends the room in front of a side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Opposite {
    /// Nothing within 10 ft.
    Nothing,
    /// The roof ends, with a parapet of so much or none.
    Edge,
    /// A wall, a screen or another thing drawn as an obstacle.
    Obstacle,
    /// The wall of a higher roof.
    Wall,
    /// Another unit, by its index in the survey.
    Unit {
        /// Its index.
        index: usize,
        /// Whether it is serviced on the side that faces.
        serviced: bool,
    },
}

/// Room in front of one side of a unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clearance {
    /// Depth of it, no more than 10 ft.
    pub depth: SpanFt,
    /// What ends it.
    pub ends_at: Opposite,
}

impl SitePlan<'_> {
    /// Room in front of a side of a unit whose place and size are known.
    pub fn clearance(&self, unit: usize, side: Side) -> Option<Clearance> {
        let Place::On {
            roof,
            footprint: Some(rect),
            accuracy,
            ..
        } = self.place(unit)
        else {
            return None;
        };
        let nearest = self.look(unit, roof, &rect, side, accuracy, Guess::Nearest);
        if !self.rough {
            return Some(Clearance {
                depth: SpanFt::exact(nearest.0),
                ends_at: nearest.1,
            });
        }
        let farthest = self.look(unit, roof, &rect, side, -accuracy, Guess::Farthest);
        Some(Clearance {
            depth: SpanFt {
                low: (nearest.0 - accuracy).max(0.0),
                high: (farthest.0 + accuracy).min(LOOK_FT),
            },
            ends_at: nearest.1,
        })
    }

    /// Nearest thing ahead of a side that is widened by `widen` at each end.
    fn look(
        &self,
        unit: usize,
        roof: usize,
        rect: &Rect,
        side: Side,
        widen: f64,
        guess: Guess,
    ) -> (f64, Opposite) {
        let ahead = Ahead::of(rect, side, widen);
        let mut nearest = (LOOK_FT, Opposite::Nothing);
        let mut meet = |depth: Option<f64>, what: Opposite| {
            if let Some(depth) = depth
                && depth < nearest.0
            {
                nearest = (depth, what);
            }
        };
        let Some(plan) = self.roofs.get(roof) else {
            return nearest;
        };
        let (low, high) = (ahead.region.min(), ahead.region.max());
        let region = AABB::from_corners([low.x, low.y], [high.x, high.y]);
        let level = || plan.level_with.iter().filter_map(|i| self.roofs.get(*i));
        for roof in level() {
            for other in roof.units.locate_in_envelope_intersecting(&region) {
                let (index, corners) = (other.data, other.geom());
                if index == unit {
                    continue;
                }
                let theirs = Rect::new(corners.lower(), corners.upper());
                let serviced = self
                    .survey
                    .equipment
                    .get(index)
                    .is_some_and(|e| e.service_sides.contains(&opposite(side)));
                let off = match self.place(index) {
                    Place::On { accuracy, .. } => accuracy,
                    _ => 0.0,
                };
                let depth = ahead.depth(&theirs.to_polygon()).map(|d| match guess {
                    Guess::Nearest => (d - off).max(0.0),
                    Guess::Farthest => d + off,
                });
                meet(depth, Opposite::Unit { index, serviced });
            }
            for obstacle in roof.ground.obstacles() {
                meet(ahead.depth(obstacle), Opposite::Obstacle);
            }
            for edge in &roof.edges {
                let what = match edge.beyond {
                    Beyond::Level => continue,
                    Beyond::Wall => Opposite::Wall,
                    Beyond::Drop(_) => Opposite::Edge,
                };
                meet(ahead.hit(edge.line), what);
            }
        }
        let outside = |p: &Polygon| p.coordinate_position(&ahead.middle()) == CoordPos::Outside;
        if plan.polygon.is_some() && level().all(|r| r.polygon.as_ref().is_none_or(outside)) {
            meet(Some(0.0), Opposite::Edge);
        }
        nearest
    }
}

/// Which way a rough place is taken.
#[derive(Clone, Copy)]
enum Guess {
    Nearest,
    Farthest,
}

/// The strip in front of a side.
struct Ahead {
    side: Side,
    line: Line,
    region: Rect,
}

impl Ahead {
    fn of(rect: &Rect, side: Side, widen: f64) -> Self {
        let line = side_line(rect, side);
        let (mut low, mut high) = (line.start, line.end);
        // Narrowing stops at the middle of the side.
        let shrink = |length: f64| (widen - BESIDE_FT).max(BESIDE_FT - length / 2.0);
        match side {
            Side::North | Side::South => {
                let by = shrink(high.x - low.x);
                low.x -= by;
                high.x += by;
            }
            Side::East | Side::West => {
                let by = shrink(high.y - low.y);
                low.y -= by;
                high.y += by;
            }
        }
        match side {
            Side::North => high.y += LOOK_FT,
            Side::South => low.y -= LOOK_FT,
            Side::East => high.x += LOOK_FT,
            Side::West => low.x -= LOOK_FT,
        }
        Self {
            side,
            line,
            region: Rect::new(low, high),
        }
    }

    fn middle(&self) -> geo::Coord {
        (self.line.start + self.line.end) / 2.0
    }

    /// How far ahead of the side a point is.
    fn out(&self, at: geo::Coord) -> f64 {
        match self.side {
            Side::North => at.y - self.line.start.y,
            Side::South => self.line.start.y - at.y,
            Side::East => at.x - self.line.start.x,
            Side::West => self.line.start.x - at.x,
        }
    }

    /// Depth at which a solid shape begins; none if it is not ahead.
    fn depth(&self, shape: &Polygon) -> Option<f64> {
        if shape.coordinate_position(&self.middle()) == CoordPos::Inside {
            return Some(0.0);
        }
        shape
            .exterior()
            .lines()
            .filter_map(|side| self.hit(side))
            .min_by(f64::total_cmp)
    }

    /// Depth at which a line is met; none if it is not ahead. A line along the side itself, as of
    /// a unit that stands back to back, is met at 0 only if it reaches into the strip.
    fn hit(&self, line: Line) -> Option<f64> {
        let clipped = clip(line, &self.region)?;
        Some(self.out(clipped.start).min(self.out(clipped.end)).max(0.0))
    }
}

/// The part of a line that lies in a rectangle (Liang and Barsky's method).
fn clip(line: Line, rect: &Rect) -> Option<Line> {
    let (mut t0, mut t1) = (0.0_f64, 1.0_f64);
    let (dx, dy) = (line.dx(), line.dy());
    let bounds = [
        (-dx, line.start.x - rect.min().x),
        (dx, rect.max().x - line.start.x),
        (-dy, line.start.y - rect.min().y),
        (dy, rect.max().y - line.start.y),
    ];
    for (p, q) in bounds {
        if p == 0.0 {
            if q < 0.0 {
                return None;
            }
        } else if p < 0.0 {
            t0 = t0.max(q / p);
        } else {
            t1 = t1.min(q / p);
        }
    }
    let at = |t: f64| geo::coord! { x: line.start.x + t * dx, y: line.start.y + t * dy };
    (t0 <= t1).then(|| Line::new(at(t0), at(t1)))
}
