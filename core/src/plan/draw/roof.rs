//! Roof surfaces and what is fixed to them: zones, edges, openings, obstacles, water, power, air.

use super::canvas::{Canvas, SMALL, px, words_width};
use super::labels::Labels;
use super::marks::{DOT, access_mark, air_mark, opening_mark, receptacle_mark, water_mark};
use crate::plan::edges::{Beyond, EdgeRun};
use crate::plan::site::{RoofPlan, SitePlan};
use crate::survey::shape::polygon;
use crate::survey::units::Feet;
use crate::trade::falls::{FALL, FAR, GUARD, NEAR};
use crate::trade::num;
use geo::{Coord, Polygon, Rect, coord};
use std::fmt::Write;

/// A closed outline as path data.
pub(super) fn outline(canvas: &Canvas, polygon: &Polygon) -> String {
    let mut d = String::new();
    for (i, corner) in polygon.exterior().coords().enumerate() {
        let at = canvas.at(*corner);
        let _ = write!(
            d,
            "{}{},{} ",
            if i == 0 { 'M' } else { 'L' },
            px(at.x),
            px(at.y)
        );
    }
    d.push('Z');
    d
}

/// Whether the plan hatches the surface along an edge.
fn open(edge: &EdgeRun) -> bool {
    let Beyond::Drop(drop) = edge.beyond else {
        return false;
    };
    let guarded = edge.parapet.is_some_and(|p| p.get() >= GUARD.get());
    !guarded && drop.is_none_or(|d| d.get() >= FALL.get())
}

/// Surfaces, lowest first, each with its zones and edges.
pub(super) fn surfaces(plan: &SitePlan<'_>, canvas: &mut Canvas) {
    let mut order: Vec<usize> = (0..plan.roofs.len()).collect();
    let height = |i: &usize| {
        plan.roofs
            .get(*i)
            .and_then(|r| r.roof.height_ft)
            .map_or(0.0, Feet::get)
    };
    order.sort_by(|a, b| height(a).total_cmp(&height(b)).then(a.cmp(b)));
    for i in order {
        if let Some(roof) = plan.roofs.get(i)
            && let Some(shape) = &roof.polygon
        {
            surface(i, roof, shape, canvas);
        }
    }
}

fn surface(index: usize, roof: &RoofPlan<'_>, shape: &Polygon, canvas: &mut Canvas) {
    let d = outline(canvas, shape);
    canvas.path(&d, "fill=\"#fff\"");
    canvas.raw(&format!(
        "<clipPath id=\"roof-{index}\"><path d=\"{d}\"/></clipPath>"
    ));
    canvas.raw(&format!(
        "<g clip-path=\"url(#roof-{index})\" fill=\"none\" stroke-linecap=\"round\">"
    ));
    let scale = canvas.scale();
    for (paint, depth) in [("url(#mid)", FAR), ("#fff", NEAR), ("url(#near)", NEAR)] {
        let width = px(2.0 * depth.get() * scale);
        for edge in roof.edges.iter().filter(|e| open(e)) {
            let (a, b) = (canvas.at(edge.line.start), canvas.at(edge.line.end));
            canvas.path(
                &format!("M{},{} L{},{}", px(a.x), px(a.y), px(b.x), px(b.y)),
                &format!("stroke=\"{paint}\" stroke-width=\"{width}\""),
            );
        }
    }
    canvas.raw("</g>");
    for edge in &roof.edges {
        let style = match (edge.beyond, edge.parapet) {
            (Beyond::Level, _) => "stroke=\"#000\" stroke-width=\"0.8\" stroke-dasharray=\"2 3\"",
            (Beyond::Wall, _) => "stroke=\"#000\" stroke-width=\"1.2\"",
            (Beyond::Drop(_), Some(p)) if p.get() >= GUARD.get() => {
                "stroke=\"#000\" stroke-width=\"4\""
            }
            (Beyond::Drop(_), Some(_)) => "stroke=\"#000\" stroke-width=\"1.6\"",
            (Beyond::Drop(_), None) => {
                "stroke=\"#000\" stroke-width=\"1.6\" stroke-dasharray=\"7 4\""
            }
        };
        let (a, b) = (canvas.at(edge.line.start), canvas.at(edge.line.end));
        canvas.line(a, b, style);
    }
}

/// What is written along an edge: the height of its parapet, and its drop where a roof is below.
fn edge_words(edge: &EdgeRun, roof: &RoofPlan<'_>) -> Option<String> {
    let Beyond::Drop(drop) = edge.beyond else {
        return None;
    };
    let parapet = match edge.parapet {
        Some(p) if p.get() == 0.0 => "no parapet".to_owned(),
        Some(p) => format!("{} in", num(p.get())),
        None => "not recorded".to_owned(),
    };
    Some(match drop {
        Some(d) if Some(d) != roof.roof.height_ft => format!("{parapet}, drop {} ft", num(d.get())),
        _ => parapet,
    })
}

/// Openings, obstacles, points, the way up, and what is written along edges.
pub(super) fn fixtures(plan: &SitePlan<'_>, canvas: &mut Canvas, labels: &mut Labels) {
    for roof in &plan.roofs {
        for obstacle in &roof.roof.obstacles {
            if let Some(shape) = polygon(&obstacle.outline_ft) {
                let d = outline(canvas, &shape);
                canvas.path(
                    &d,
                    "fill=\"url(#solid)\" stroke=\"#000\" stroke-width=\"0.8\"",
                );
            }
        }
        for opening in &roof.roof.openings {
            let Some(at) = canvas.point(opening.at_ft) else {
                continue;
            };
            let size = opening
                .size_ft
                .map_or((4.0, 4.0), |s| (s.x.get(), s.y.get()));
            let half = coord! {
                x: (size.0 * canvas.scale()).max(7.0) / 2.0,
                y: (size.1 * canvas.scale()).max(7.0) / 2.0,
            };
            let area = Rect::new(at - half, at + half);
            opening_mark(canvas, &area, opening.kind, opening.guarded);
            labels.keep_clear(&area);
            if opening.guarded == Some(false) {
                let corner = coord! { x: area.max().x, y: area.min().y };
                labels.keep_clear(&Rect::new(
                    corner - coord! { x: 6.0, y: 6.0 },
                    corner + coord! { x: 6.0, y: 6.0 },
                ));
            }
        }
        points(roof, canvas, labels);
    }
    for roof in &plan.roofs {
        for edge in &roof.edges {
            labels.keep_off_line(canvas.at(edge.line.start), canvas.at(edge.line.end));
            if let Some(words) = edge_words(edge, roof) {
                along(canvas, labels, edge, &words);
            }
        }
    }
}

/// Words along the outside of an edge, if it is long enough.
fn along(canvas: &mut Canvas, labels: &mut Labels, edge: &EdgeRun, words: &str) {
    let (a, b) = (canvas.at(edge.line.start), canvas.at(edge.line.end));
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let length = dx.hypot(dy);
    let width = words_width(words, SMALL, false);
    if length < width + 6.0 {
        return;
    }
    let out = coord! { x: edge.out.x, y: -edge.out.y };
    let middle = (a + b) / 2.0 + out * 10.0;
    let mut turn = dy.atan2(dx).to_degrees();
    if turn > 90.0 || turn <= -90.0 {
        turn += 180.0;
    }
    let reach = (turn.to_radians().cos() * width / 2.0).abs().max(5.0);
    let rise = (turn.to_radians().sin() * width / 2.0).abs().max(5.0);
    let area = Rect::new(
        (middle.x - reach, middle.y - rise),
        (middle.x + reach, middle.y + rise),
    );
    labels.keep_clear(&area);
    canvas.raw(&format!(
        "<text transform=\"translate({},{}) rotate({})\" y=\"3\" text-anchor=\"middle\" font-size=\"{SMALL}\" stroke=\"#fff\" stroke-width=\"3\" paint-order=\"stroke\">{words}</text>",
        px(middle.x), px(middle.y), px(turn)
    ));
}

fn points(roof: &RoofPlan<'_>, canvas: &mut Canvas, labels: &mut Labels) {
    let mut clear = |at: Coord, r: f64| {
        labels.keep_clear(&Rect::new((at.x - r, at.y - r), (at.x + r, at.y + r)));
    };
    for source in &roof.roof.water_sources {
        if let Some(at) = canvas.point(source.at_ft) {
            water_mark(canvas, at);
            clear(at, DOT + 2.0);
        }
    }
    for receptacle in &roof.roof.receptacles {
        if let Some(at) = canvas.point(receptacle.at_ft) {
            receptacle_mark(canvas, at);
            clear(at, DOT);
        }
    }
    for at in roof
        .roof
        .air_points
        .iter()
        .filter_map(|p| canvas.point(p.at_ft))
    {
        clear(at, DOT + 1.0);
    }
    if let Some(at) = roof
        .roof
        .access
        .as_ref()
        .and_then(|a| a.at_ft)
        .and_then(|at| canvas.point(at))
    {
        access_mark(canvas, at);
        clear(at, 8.0);
    }
}

/// The name and height of every roof, where there is room for it inside the outline.
pub(super) fn names(plan: &SitePlan<'_>, canvas: &Canvas, labels: &mut Labels) {
    use geo::{BoundingRect, Contains};
    for roof in &plan.roofs {
        let Some((shape, bounds)) = roof
            .polygon
            .as_ref()
            .and_then(|p| Some((p, p.bounding_rect()?)))
        else {
            continue;
        };
        let words: Vec<String> = [
            roof.roof.id.as_ref().map(|id| format!("Roof {id}")),
            roof.roof
                .height_ft
                .map(|h| format!("{} ft up", num(h.get()))),
        ]
        .into_iter()
        .flatten()
        .collect();
        if words.is_empty() {
            continue;
        }
        let words = words.join(", ");
        let half = words_width(&words, SMALL, false) / 2.0 / canvas.scale();
        let share = |k: u32| f64::from(k) / 24.0;
        let spots = (1..24).flat_map(move |row| (1..24).map(move |column| (row, column)));
        let centres: Vec<Coord> = spots
            .map(|(row, column)| {
                coord! {
                    x: bounds.min().x + share(column) * bounds.width(),
                    y: bounds.max().y - share(row) * bounds.height(),
                }
            })
            .filter(|c| {
                shape.contains(&Rect::new((c.x - half, c.y - 0.5), (c.x + half, c.y + 0.5)))
            })
            .map(|c| canvas.at(c))
            .collect();
        labels.place_free(words, SMALL, centres);
    }
}

/// Outlets of air, over the fans that they belong to.
pub(super) fn outlets(plan: &SitePlan<'_>, canvas: &mut Canvas) {
    for point in plan.roofs.iter().flat_map(|r| &r.roof.air_points) {
        if let Some(at) = canvas.point(point.at_ft) {
            air_mark(canvas, at, point.kind);
        }
    }
}
