//! Words on the plan, placed so that none covers another or a symbol.

use super::canvas::{Box2, Canvas, words_width};
use super::marks::triangle;
use geo::{Coord, Rect, coord};
use rstar::primitives::Rectangle;
use rstar::{AABB, RTree};

/// Distances from what is named at which a place is tried, in pixels.
const RINGS: &[f64] = &[3.0, 9.0, 16.0, 25.0, 36.0, 50.0, 68.0];
/// Directions tried on each ring, best first.
const WAYS: &[(f64, f64)] = &[
    (0.0, -1.0),
    (1.0, 0.0),
    (0.0, 1.0),
    (-1.0, 0.0),
    (1.0, -1.0),
    (1.0, 1.0),
    (-1.0, 1.0),
    (-1.0, -1.0),
];

/// One label: lines of words for something that covers a box.
pub(super) struct Label {
    pub(super) of: Box2,
    pub(super) lines: Vec<String>,
    pub(super) size: f64,
    pub(super) bold: bool,
    /// A hazard triangle before the last line.
    pub(super) warns: bool,
    /// Opening and closing markup round it, such as a link.
    pub(super) wrap: Option<(String, String)>,
}

struct Placed {
    label: Label,
    at: Box2,
    leader: bool,
}

/// All labels of a plan and the boxes they keep clear of.
pub(super) struct Labels {
    bounds: Box2,
    taken: RTree<Rectangle<[f64; 2]>>,
    /// What had better stay visible, but may be covered rather than send a label far away.
    lines: RTree<Rectangle<[f64; 2]>>,
    placed: Vec<Placed>,
}

impl Labels {
    pub(super) fn new(bounds: Box2) -> Self {
        Self {
            bounds,
            taken: RTree::new(),
            lines: RTree::new(),
            placed: Vec::new(),
        }
    }

    /// Keeps labels off a box.
    pub(super) fn keep_clear(&mut self, area: &Box2) {
        self.taken.insert(rectangle(area));
    }

    /// Places a label: inside what it names if there is room, else near it with a leader.
    pub(super) fn place(&mut self, label: Label) {
        let widest = label
            .lines
            .iter()
            .map(|l| words_width(l, label.size, label.bold))
            .fold(0.0, f64::max);
        let width = widest + if label.warns { label.size + 2.0 } else { 0.0 };
        let height = label.lines.len() as f64 * (label.size + 1.5);
        if width + 2.0 <= label.of.width() && height + 2.0 <= label.of.height() {
            let at = around(label.of.center(), width, height);
            self.placed.push(Placed {
                label,
                at,
                leader: false,
            });
            return;
        }
        let mut best: Option<(f64, Box2, f64)> = None;
        for (ring, away) in RINGS.iter().enumerate() {
            for (order, (dx, dy)) in WAYS.iter().enumerate() {
                let centre = coord! {
                    x: label.of.center().x + dx * (label.of.width() / 2.0 + away + width / 2.0),
                    y: label.of.center().y + dy * (label.of.height() / 2.0 + away + height / 2.0),
                };
                let at = around(centre, width, height);
                let cost = self.overlap(&at) * 4.0
                    + self.lines_met(&at) * 2.0
                    + ring as f64 * 8.0
                    + order as f64 * 0.5;
                if inside(&at, &self.bounds) && best.as_ref().is_none_or(|(c, ..)| cost < *c) {
                    best = Some((cost, at, *away));
                }
            }
            if best
                .as_ref()
                .is_some_and(|(cost, ..)| *cost < (ring as f64 + 1.0) * 8.0)
            {
                break;
            }
        }
        let Some((_, at, away)) = best else { return };
        self.taken.insert(rectangle(&at));
        self.placed.push(Placed {
            label,
            at,
            leader: away > 8.0,
        });
    }

    /// Places words at the first of some centres where they cover nothing, or not at all.
    pub(super) fn place_free(
        &mut self,
        words: String,
        size: f64,
        centres: impl IntoIterator<Item = Coord>,
    ) {
        let (width, height) = (words_width(&words, size, false), size + 1.5);
        for centre in centres {
            let at = around(centre, width, height);
            if inside(&at, &self.bounds) && self.overlap(&at) + self.lines_met(&at) == 0.0 {
                self.taken.insert(rectangle(&at));
                let label = Label {
                    of: at,
                    lines: vec![words],
                    size,
                    bold: false,
                    warns: false,
                    wrap: None,
                };
                self.placed.push(Placed {
                    label,
                    at,
                    leader: false,
                });
                return;
            }
        }
    }

    /// Keeps labels off a line, as far as there is room elsewhere.
    pub(super) fn keep_off_line(&mut self, a: Coord, b: Coord) {
        let steps = ((b.x - a.x).hypot(b.y - a.y) / 8.0)
            .ceil()
            .clamp(1.0, 400.0);
        for k in 0..=(steps as u32) {
            let at = a + (b - a) * (f64::from(k) / steps);
            self.lines.insert(rectangle(&around(at, 2.0, 2.0)));
        }
    }

    /// Area of a box that is taken already, in square pixels.
    fn overlap(&self, area: &Box2) -> f64 {
        let (low, high) = (area.min(), area.max());
        self.taken
            .locate_in_envelope_intersecting(&AABB::from_corners([low.x, low.y], [high.x, high.y]))
            .map(|other| {
                let (a, b) = (other.lower(), other.upper());
                let wide = (high.x.min(b[0]) - low.x.max(a[0])).max(0.0);
                let tall = (high.y.min(b[1]) - low.y.max(a[1])).max(0.0);
                (wide * tall).max(0.1)
            })
            .sum()
    }

    #[cfg(test)]
    pub(super) fn boxes(&self) -> Vec<Box2> {
        self.placed.iter().map(|p| p.at).collect()
    }

    fn lines_met(&self, area: &Box2) -> f64 {
        let (low, high) = (area.min(), area.max());
        let envelope = AABB::from_corners([low.x, low.y], [high.x, high.y]);
        self.lines
            .locate_in_envelope_intersecting(&envelope)
            .count() as f64
    }

    /// Draws every label: leaders first, so that no leader crosses words.
    pub(super) fn write(&mut self, canvas: &mut Canvas) {
        for placed in self.placed.iter().filter(|p| p.leader) {
            let to = nearest(&placed.label.of, placed.at.center());
            let from = nearest(&placed.at, to);
            canvas.line(from, to, "stroke=\"#000\" stroke-width=\"0.6\"");
        }
        for placed in self.placed.drain(..) {
            let Placed { label, at, .. } = placed;
            if let Some((open, _)) = &label.wrap {
                canvas.raw(open);
            }
            let last = label.lines.len().saturating_sub(1);
            for (i, line) in label.lines.iter().enumerate() {
                let baseline = at.min().y + (i as f64 + 1.0) * (label.size + 1.5) - 2.5;
                let middle = at.center().x;
                if label.warns && i == last {
                    // Anchored at the mark, so that the two stay together in any font.
                    let half = (words_width(line, label.size, true) + label.size) / 2.0;
                    let mark = coord! { x: middle - half + label.size * 0.5, y: baseline - label.size * 0.38 };
                    triangle(canvas, mark, label.size * 0.52);
                    let from = coord! { x: mark.x + label.size * 0.62, y: baseline };
                    canvas.text(from, "start", label.size, true, line);
                } else {
                    let bold = label.bold && i == 0;
                    canvas.text(
                        coord! { x: middle, y: baseline },
                        "middle",
                        label.size,
                        bold,
                        line,
                    );
                }
            }
            if let Some((_, close)) = &label.wrap {
                canvas.raw(close);
            }
        }
    }
}

fn rectangle(area: &Box2) -> Rectangle<[f64; 2]> {
    Rectangle::from_corners([area.min().x, area.min().y], [area.max().x, area.max().y])
}

fn around(centre: Coord, width: f64, height: f64) -> Box2 {
    let half = coord! { x: width / 2.0, y: height / 2.0 };
    Rect::new(centre - half, centre + half)
}

fn inside(inner: &Box2, outer: &Box2) -> bool {
    inner.min().x >= outer.min().x
        && inner.min().y >= outer.min().y
        && inner.max().x <= outer.max().x
        && inner.max().y <= outer.max().y
}

fn nearest(area: &Box2, to: Coord) -> Coord {
    crate::plan::geometry::nearest_in(area, to)
}
