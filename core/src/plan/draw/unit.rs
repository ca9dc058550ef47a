//! Units: footprint, service sides, the areas a person stands in, outdoor air, tag and distance.

use super::DrawOptions;
use super::canvas::{Canvas, escape};
use super::labels::{Label, Labels};
use super::marks::air_arrow;
use crate::plan::geometry::side_line;
use crate::plan::site::{Place, SitePlan};
use crate::survey::Equipment;
use crate::survey::shape::coord_of;
use crate::trade::falls::{FAR, Zone, nearest_unguarded};
use crate::trade::num;
use geo::{Rect, coord};

/// Where people stand, drawn below everything that has words.
pub(super) fn areas(plan: &SitePlan<'_>, canvas: &mut Canvas) {
    for i in 0..plan.survey.equipment.len() {
        for area in plan.standing_areas(i) {
            let area = canvas.boxed(&area);
            canvas.rect(
                &area,
                "fill=\"#fff\" fill-opacity=\"0.7\" stroke=\"#000\" stroke-width=\"0.6\" stroke-dasharray=\"2 2\"",
            );
        }
    }
}

/// Every unit that has a place.
pub(super) fn units(
    plan: &SitePlan<'_>,
    options: &DrawOptions,
    canvas: &mut Canvas,
    labels: &mut Labels,
) {
    let mut words = Vec::new();
    // On a small sheet full of units the zones tell the distance, and a line saves room.
    let crowded = plan.survey.equipment.len() as f64 > canvas.width() / 30.0;
    for (i, unit) in plan.survey.equipment.iter().enumerate() {
        let Some(at) = unit.at_ft.and_then(coord_of).filter(|at| canvas.shows(*at)) else {
            continue;
        };
        let place = plan.place(i);
        let area = match place {
            Place::On {
                footprint: Some(rect),
                ..
            } => at_least(canvas.boxed(&rect), 5.0),
            _ => {
                let at = canvas.at(at);
                Rect::new((at.x - 4.0, at.y - 4.0), (at.x + 4.0, at.y + 4.0))
            }
        };
        let near = near_edge(plan, i);
        let link = wrap(options, unit, near);
        canvas.raw(&link.0);
        let heavy = options.highlight.as_ref() == Some(&unit.tag);
        let weight = if heavy { 3.0 } else { 1.6 };
        let dashed = if matches!(
            place,
            Place::On {
                footprint: Some(_),
                ..
            }
        ) {
            ""
        } else {
            " stroke-dasharray=\"2 2\""
        };
        canvas.rect(
            &area,
            &format!("fill=\"#e4e4e4\" stroke=\"#000\" stroke-width=\"{weight}\"{dashed}"),
        );
        if let Place::On {
            footprint: Some(rect),
            ..
        } = place
        {
            for side in &unit.service_sides {
                let line = side_line(&rect, *side);
                canvas.line(
                    canvas.at(line.start),
                    canvas.at(line.end),
                    "stroke=\"#000\" stroke-width=\"3.6\"",
                );
            }
            if let Some(side) = unit.outdoor_air_side {
                let line = side_line(&rect, side);
                let middle = (canvas.at(line.start) + canvas.at(line.end)) / 2.0;
                air_arrow(canvas, middle, side);
                let reach = coord! { x: 8.0, y: 8.0 };
                labels.keep_clear(&Rect::new(middle - reach, middle + reach));
            }
        }
        canvas.raw(&link.1);
        labels.keep_clear(&area);
        let mut lines = vec![unit.tag.clone()];
        let told = |d: &f64| !crowded || Zone::of(*d) == Zone::Under6;
        if let Some(distance) = near.filter(told) {
            lines.push(format!("{} ft", num((distance * 10.0).floor() / 10.0)));
        }
        words.push(Label {
            of: area,
            lines,
            size: canvas.words(),
            bold: true,
            warns: near.is_some_and(|d| Zone::of(d) == Zone::Under6),
            // The words lead where the shape does; one of the two is enough for the tab key.
            wrap: Some((
                link.0
                    .replacen("<a ", "<a tabindex=\"-1\" aria-hidden=\"true\" ", 1),
                link.1,
            )),
        });
    }
    // What matters most is placed first, while there is room beside it.
    words.sort_by_key(|label| !label.warns);
    for label in words {
        labels.place(label);
    }
}

/// Distance of the work at a unit from the nearest unguarded edge, if it is less than 15 ft.
fn near_edge(plan: &SitePlan<'_>, unit: usize) -> Option<f64> {
    let Place::On { roof, accuracy, .. } = plan.place(unit) else {
        return None;
    };
    let edges = plan.edges_seen(roof, &plan.standing_areas(unit), accuracy);
    let low = nearest_unguarded(&edges)?.distance.low;
    (low < FAR.get()).then_some(low)
}

fn at_least(area: Rect, side: f64) -> Rect {
    let half = coord! { x: area.width().max(side) / 2.0, y: area.height().max(side) / 2.0 };
    Rect::new(area.center() - half, area.center() + half)
}

/// Link and title round a unit's shapes.
fn wrap(options: &DrawOptions, unit: &Equipment, near: Option<f64>) -> (String, String) {
    let mut title = format!("{}, {}", unit.tag, unit.kind.words());
    if let Some(distance) = near {
        title.push_str(&format!(
            "; work {} ft from an unguarded edge",
            num(distance)
        ));
    }
    let title = escape(&title);
    match &options.link {
        Some(start) => {
            let href: String = unit
                .tag
                .chars()
                .filter(|c| c.is_ascii_alphanumeric() || "-_.".contains(*c))
                .collect();
            (
                format!(
                    "<a href=\"{}{href}\" data-unit=\"{}\"><title>{title}</title>",
                    escape(start),
                    escape(&unit.tag)
                ),
                "</a>".to_owned(),
            )
        }
        None => (format!("<g><title>{title}</title>"), "</g>".to_owned()),
    }
}

/// Tags of the units that are not drawn, with the reason.
pub(super) fn absent(plan: &SitePlan<'_>, canvas: &Canvas) -> Option<String> {
    let mut off = Vec::new();
    let mut unknown = Vec::new();
    for unit in &plan.survey.equipment {
        match unit.at_ft.and_then(coord_of) {
            Some(at) if canvas.shows(at) => {}
            Some(_) => off.push(unit.tag.as_str()),
            None => unknown.push(unit.tag.as_str()),
        }
    }
    let said = [
        ("Place not recorded: ", unknown),
        ("Recorded far from every roof: ", off),
    ];
    let lines: Vec<String> = said
        .into_iter()
        .filter(|(_, tags)| !tags.is_empty())
        .map(|(words, tags)| format!("{words}{}.", tags.join(", ")))
        .collect();
    (!lines.is_empty()).then(|| lines.join(" "))
}
