//! North, scale, and what the marks mean: only those that the plan uses.

use super::canvas::{Canvas, SMALL, px, words_width};
use super::marks::{
    access_mark, air_arrow, air_mark, opening_mark, receptacle_mark, triangle, water_mark,
};
use crate::plan::edges::Beyond;
use crate::plan::site::SitePlan;
use crate::survey::codes::{AirPointKind, OpeningKind, Side};
use crate::trade::falls::GUARD;
use geo::{Coord, Rect, coord};

/// North arrow at the top right, scale bar below the plan.
pub(super) fn frame(_plan: &SitePlan<'_>, canvas: &mut Canvas) {
    let at = coord! { x: canvas.width() - 26.0, y: 24.0 };
    let d = format!(
        "M{x},{top} L{right},{low} L{x},{mid} L{left},{low} Z",
        x = px(at.x),
        top = px(at.y - 14.0),
        low = px(at.y + 10.0),
        mid = px(at.y + 4.0),
        right = px(at.x + 7.0),
        left = px(at.x - 7.0)
    );
    canvas.path(&d, "fill=\"#000\"");
    canvas.text(
        coord! { x: at.x, y: at.y + 20.0 },
        "middle",
        SMALL,
        true,
        "N",
    );
    let feet = [
        1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0,
    ];
    let room = (canvas.width() / 3.0).min(160.0);
    let Some(bar) = feet.iter().rev().find(|f| **f * canvas.scale() <= room) else {
        return;
    };
    let (left, y) = (36.0, canvas.bottom() - 8.0);
    let length = bar * canvas.scale();
    let half = Rect::new((left, y - 5.0), (left + length / 2.0, y));
    let whole = Rect::new((left, y - 5.0), (left + length, y));
    canvas.rect(&whole, "fill=\"#fff\" stroke=\"#000\" stroke-width=\"1\"");
    canvas.rect(&half, "fill=\"#000\"");
    let end = coord! { x: left + length + 6.0, y: y };
    canvas.text(end, "start", SMALL, false, &format!("{bar} ft"));
}

/// What the plan cannot show, in words below it.
pub(super) fn below(words: &str, canvas: &mut Canvas) {
    let most = ((canvas.width() - 60.0) / (SMALL * 0.61)).floor().max(20.0) as usize;
    let mut lines = vec![String::new()];
    for word in words.split(' ') {
        match lines.last_mut() {
            Some(line) if line.is_empty() || line.chars().count() + word.chars().count() < most => {
                line.push_str(if line.is_empty() { "" } else { " " });
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    let top = canvas.bottom();
    for (i, line) in lines.iter().enumerate() {
        let at = coord! { x: 36.0, y: top + 10.0 + 13.0 * i as f64 };
        canvas.text(at, "start", SMALL, false, line);
    }
    canvas.extend(top + 4.0 + 13.0 * lines.len() as f64);
}

type Mark = fn(&mut Canvas, Coord);

/// The legend, below what is drawn so far, in as many columns as fit.
pub(super) fn legend(plan: &SitePlan<'_>, canvas: &mut Canvas) {
    let rows = rows(plan);
    if rows.is_empty() {
        return;
    }
    let widest = rows
        .iter()
        .map(|(_, words)| words_width(words, SMALL, false))
        .fold(0.0, f64::max)
        + 40.0;
    let columns = ((canvas.width() - 30.0) / widest).floor().clamp(1.0, 4.0) as usize;
    let (left, step) = (20.0, (canvas.width() - 30.0) / columns as f64);
    let top = canvas.bottom() + 12.0;
    canvas.line(
        coord! { x: left, y: top },
        coord! { x: canvas.width() - left, y: top },
        "stroke=\"#000\" stroke-width=\"0.6\"",
    );
    let deep = rows.len().div_ceil(columns);
    for (i, (mark, words)) in rows.iter().enumerate() {
        let (column, row) = (i / deep, i % deep);
        let at =
            coord! { x: left + 16.0 + column as f64 * step, y: top + 18.0 + row as f64 * 21.0 };
        mark(canvas, at);
        canvas.text(
            coord! { x: at.x + 22.0, y: at.y + 3.0 },
            "start",
            SMALL,
            false,
            words,
        );
    }
    canvas.extend(top + 14.0 + deep as f64 * 21.0);
}

fn swatch(canvas: &mut Canvas, at: Coord, fill: &str) {
    let area = Rect::new((at.x - 13.0, at.y - 7.0), (at.x + 13.0, at.y + 7.0));
    canvas.rect(
        &area,
        &format!("fill=\"{fill}\" stroke=\"#000\" stroke-width=\"0.5\""),
    );
}

fn stroke(canvas: &mut Canvas, at: Coord, style: &str) {
    let (a, b) = (
        coord! { x: at.x - 13.0, y: at.y },
        coord! { x: at.x + 13.0, y: at.y },
    );
    canvas.line(a, b, &format!("stroke=\"#000\" {style}"));
}

fn small(at: Coord, x: f64, y: f64) -> Rect {
    Rect::new((at.x - x, at.y - y), (at.x + x, at.y + y))
}

/// Marks in use and their words.
fn rows(plan: &SitePlan<'_>) -> Vec<(Mark, &'static str)> {
    let drops = || {
        plan.roofs
            .iter()
            .flat_map(|r| &r.edges)
            .filter(|e| matches!(e.beyond, Beyond::Drop(_)))
    };
    let guarded =
        |p: Option<crate::survey::units::Inches>| p.is_some_and(|p| p.get() >= GUARD.get());
    let openings = || plan.roofs.iter().flat_map(|r| &r.roof.openings);
    let airs = || plan.roofs.iter().flat_map(|r| &r.roof.air_points);
    let units = &plan.survey.equipment;
    let placed = units.iter().any(|u| u.at_ft.is_some());
    let mut rows: Vec<(Mark, &'static str)> = Vec::new();
    let mut add = |used: bool, mark: Mark, words: &'static str| {
        if used {
            rows.push((mark, words));
        }
    };
    let unguarded = drops().any(|e| !guarded(e.parapet));
    add(
        unguarded,
        |c, at| swatch(c, at, "url(#near)"),
        "under 6 ft of an open edge",
    );
    add(
        unguarded,
        |c, at| swatch(c, at, "url(#mid)"),
        "6 to 15 ft of an open edge",
    );
    add(
        drops().any(|e| guarded(e.parapet)),
        |c, at| stroke(c, at, "stroke-width=\"4\""),
        "guard of 39 in or more",
    );
    add(
        drops().any(|e| e.parapet.is_some() && !guarded(e.parapet)),
        |c, at| stroke(c, at, "stroke-width=\"1.6\""),
        "open edge: low or none",
    );
    add(
        drops().any(|e| e.parapet.is_none()),
        |c, at| stroke(c, at, "stroke-width=\"1.6\" stroke-dasharray=\"7 4\""),
        "open edge: not recorded",
    );
    add(
        units
            .iter()
            .any(|u| u.at_ft.is_some() && !u.service_sides.is_empty()),
        |c, at| {
            c.rect(
                &small(at, 11.0, 6.0),
                "fill=\"#e4e4e4\" stroke=\"#000\" stroke-width=\"1.6\"",
            );
            let (a, b) = (
                coord! { x: at.x - 11.0, y: at.y + 6.0 },
                coord! { x: at.x + 11.0, y: at.y + 6.0 },
            );
            c.line(a, b, "stroke=\"#000\" stroke-width=\"3.6\"");
        },
        "unit, service side heavy",
    );
    add(
        placed,
        |c, at| {
            c.rect(
                &small(at, 11.0, 6.0),
                "fill=\"#fff\" stroke=\"#000\" stroke-width=\"0.6\" stroke-dasharray=\"2 2\"",
            )
        },
        "where a person stands",
    );
    add(
        unguarded && placed,
        |c, at| triangle(c, at, 6.0),
        "open hazard",
    );
    add(
        unguarded && placed,
        |c, at| {
            let below = coord! { x: at.x, y: at.y + 3.5 };
            c.text(below, "middle", 9.5, false, "8 ft");
        },
        "from work to open edge",
    );
    add(
        units
            .iter()
            .any(|u| u.at_ft.is_some() && u.outdoor_air_side.is_some()),
        |c, at| air_arrow(c, coord! { x: at.x + 4.0, y: at.y }, Side::West),
        "outdoor air intake",
    );
    add(
        openings().any(|o| o.guarded == Some(false)),
        |c, at| opening_mark(c, &small(at, 6.0, 6.0), OpeningKind::Skylight, Some(false)),
        "opening, not guarded",
    );
    add(
        openings().any(|o| o.guarded == Some(true)),
        |c, at| opening_mark(c, &small(at, 5.0, 5.0), OpeningKind::Skylight, Some(true)),
        "opening, guarded",
    );
    add(
        openings().any(|o| o.guarded.is_none()),
        |c, at| opening_mark(c, &small(at, 6.0, 6.0), OpeningKind::Skylight, None),
        "opening, not recorded",
    );
    add(
        openings().any(|o| o.kind == OpeningKind::Hatch),
        |c, at| opening_mark(c, &small(at, 6.0, 6.0), OpeningKind::Hatch, Some(true)),
        "roof hatch",
    );
    add(
        plan.roofs.iter().any(|r| !r.roof.obstacles.is_empty()),
        |c, at| swatch(c, at, "url(#solid)"),
        "obstacle",
    );
    add(
        plan.roofs
            .iter()
            .any(|r| r.roof.access.as_ref().is_some_and(|a| a.at_ft.is_some())),
        access_mark,
        "way up",
    );
    add(
        plan.roofs.iter().any(|r| !r.roof.water_sources.is_empty()),
        water_mark,
        "water",
    );
    add(
        plan.roofs.iter().any(|r| !r.roof.receptacles.is_empty()),
        receptacle_mark,
        "receptacle",
    );
    add(
        airs().next().is_some(),
        |c, at| air_mark(c, at, AirPointKind::Flue),
        "1-4 exhaust, V vent, F flue",
    );
    rows
}
