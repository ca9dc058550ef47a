//! The marks of the plan: each a shape that reads in black and white and at a few pixels.

use super::canvas::{Canvas, px};
use crate::survey::codes::{AirPointKind, OpeningKind, Side};
use geo::{Coord, Rect, coord};
use std::fmt::Write;

/// Radius of a point symbol.
pub(super) const DOT: f64 = 5.0;

/// The hazard mark: a filled triangle with a white bar and dot.
pub(super) fn triangle(canvas: &mut Canvas, at: Coord, r: f64) {
    let fill = canvas.ink("#b00018");
    let d = format!(
        "M{:.1},{:.1} L{:.1},{:.1} L{:.1},{:.1} Z",
        at.x,
        at.y - r,
        at.x + r,
        at.y + r * 0.8,
        at.x - r,
        at.y + r * 0.8
    );
    canvas.path(
        &d,
        &format!("fill=\"{fill}\" stroke=\"#fff\" stroke-width=\"1\" paint-order=\"stroke\""),
    );
    let bar = format!(
        "M{:.1},{:.1} V{:.1}",
        at.x,
        at.y - r * 0.35,
        at.y + r * 0.25
    );
    canvas.path(&bar, "stroke=\"#fff\" stroke-width=\"1.1\"");
    canvas.circle(coord! { x: at.x, y: at.y + r * 0.52 }, 0.7, "fill=\"#fff\"");
}

/// An opening: crossed if it can be fallen through, plain if guarded, with a question mark if
/// nobody looked.
pub(super) fn opening_mark(
    canvas: &mut Canvas,
    area: &Rect,
    kind: OpeningKind,
    guarded: Option<bool>,
) {
    let (low, high, middle) = (area.min(), area.max(), area.center());
    canvas.rect(area, "fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.4\"");
    if kind == OpeningKind::Hatch {
        let bar = format!(
            "M{},{} H{}",
            px(low.x),
            px(low.y + area.height() * 0.3),
            px(high.x)
        );
        canvas.path(&bar, "stroke=\"#000\" stroke-width=\"1\"");
    }
    match guarded {
        Some(true) => canvas.rect(
            &Rect::new((low.x - 2.5, low.y - 2.5), (high.x + 2.5, high.y + 2.5)),
            "fill=\"none\" stroke=\"#000\" stroke-width=\"1\"",
        ),
        Some(false) => {
            let cross = format!(
                "M{},{} L{},{} M{},{} L{},{}",
                px(low.x),
                px(low.y),
                px(high.x),
                px(high.y),
                px(low.x),
                px(high.y),
                px(high.x),
                px(low.y)
            );
            canvas.path(&cross, "stroke=\"#000\" stroke-width=\"1\"");
            triangle(canvas, coord! { x: high.x, y: low.y }, 5.5);
        }
        None => canvas.text(
            coord! { x: middle.x, y: middle.y + 3.2 },
            "middle",
            9.0,
            true,
            "?",
        ),
    }
}

/// Water: a drop.
pub(super) fn water_mark(canvas: &mut Canvas, at: Coord) {
    let fill = canvas.ink("#0b5394");
    let d = format!(
        "M{x},{top} C{x},{top} {left},{mid} {left},{low} A{r},{r} 0 0 0 {right},{low} C{right},{mid} {x},{top} {x},{top} Z",
        x = px(at.x),
        top = px(at.y - 8.0),
        mid = px(at.y - 1.0),
        low = px(at.y + 1.5),
        left = px(at.x - DOT),
        right = px(at.x + DOT),
        r = DOT
    );
    canvas.path(
        &d,
        &format!("fill=\"{fill}\" stroke=\"#fff\" stroke-width=\"1\""),
    );
}

/// Power: a round outlet with two slots.
pub(super) fn receptacle_mark(canvas: &mut Canvas, at: Coord) {
    canvas.circle(
        at,
        DOT,
        "fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.2\"",
    );
    let d = format!(
        "M{},{} v4 M{},{} v4",
        px(at.x - 1.7),
        px(at.y - 2.0),
        px(at.x + 1.7),
        px(at.y - 2.0)
    );
    canvas.path(&d, "stroke=\"#000\" stroke-width=\"1.2\"");
}

/// The letter or digit of an outlet: exhaust class, V plumbing vent, F flue, T cooling tower.
pub(super) const fn air_letter(kind: AirPointKind) -> &'static str {
    match kind {
        AirPointKind::PlumbingVent => "V",
        AirPointKind::ExhaustClass1 => "1",
        AirPointKind::ExhaustClass2 => "2",
        AirPointKind::ExhaustClass3 => "3",
        AirPointKind::ExhaustClass4 => "4",
        AirPointKind::Flue => "F",
        AirPointKind::CoolingTower => "T",
    }
}

/// An outlet of air: a hexagon with its letter.
pub(super) fn air_mark(canvas: &mut Canvas, at: Coord, kind: AirPointKind) {
    let mut d = String::new();
    for k in 0..6 {
        let angle = (f64::from(k) * 60.0).to_radians();
        let (x, y) = (at.x + 6.0 * angle.cos(), at.y + 6.0 * angle.sin());
        let _ = write!(d, "{}{},{} ", if k == 0 { 'M' } else { 'L' }, px(x), px(y));
    }
    canvas.path(
        &format!("{d}Z"),
        "fill=\"#fff\" stroke=\"#000\" stroke-width=\"1\"",
    );
    canvas.raw(&format!(
        "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\" font-size=\"7.5\">{}</text>",
        px(at.x),
        px(at.y + 2.7),
        air_letter(kind)
    ));
}

/// The way up: a ladder.
pub(super) fn access_mark(canvas: &mut Canvas, at: Coord) {
    canvas.rect(
        &Rect::new((at.x - 5.5, at.y - 9.0), (at.x + 5.5, at.y + 9.0)),
        "fill=\"#fff\"",
    );
    let mut d = format!(
        "M{},{} v16 M{},{} v16",
        px(at.x - 3.5),
        px(at.y - 8.0),
        px(at.x + 3.5),
        px(at.y - 8.0)
    );
    for k in 0..4 {
        let _ = write!(
            d,
            " M{},{} h7",
            px(at.x - 3.5),
            px(at.y - 6.0 + 4.0 * f64::from(k))
        );
    }
    canvas.path(&d, "stroke=\"#000\" stroke-width=\"1.3\" fill=\"none\"");
}

/// Outdoor air: an open arrowhead pointing into the unit.
pub(super) fn air_arrow(canvas: &mut Canvas, at: Coord, side: Side) {
    let (dx, dy) = match side {
        Side::North => (0.0, -1.0),
        Side::South => (0.0, 1.0),
        Side::East => (1.0, 0.0),
        Side::West => (-1.0, 0.0),
    };
    let back = coord! { x: at.x + dx * 7.0, y: at.y + dy * 7.0 };
    let d = format!(
        "M{},{} L{},{} L{},{} Z",
        px(at.x),
        px(at.y),
        px(back.x + dy * 4.0),
        px(back.y + dx * 4.0),
        px(back.x - dy * 4.0),
        px(back.y - dx * 4.0)
    );
    let stroke = canvas.ink("#0b5394");
    canvas.path(
        &d,
        &format!("fill=\"#fff\" stroke=\"{stroke}\" stroke-width=\"1.2\""),
    );
}
