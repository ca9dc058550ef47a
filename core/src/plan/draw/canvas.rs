//! The sheet: feet to pixels, and the few SVG elements a plan needs.

use super::DrawOptions;
use crate::plan::site::{Place, SitePlan};
use crate::survey::shape::coord_of;
use crate::survey::units::PointFt;
use geo::{BoundingRect, Coord, Intersects, Rect, coord};
use std::fmt::Write;

/// Room round the plan for what is written along the edges.
const MARGIN: f64 = 36.0;
/// Size of small words.
pub(super) const SMALL: f64 = 8.5;

/// A box on the sheet, in pixels from its top left.
pub(super) type Box2 = Rect;

/// The sheet being drawn.
pub(super) struct Canvas {
    width: f64,
    height: f64,
    scale: f64,
    /// Feet at the left edge and at the top edge of the plan.
    origin: Coord,
    offset: Coord,
    plan_height: f64,
    empty: bool,
    colour: bool,
    body: String,
}

impl Canvas {
    pub(super) fn new(plan: &SitePlan<'_>, options: &DrawOptions) -> Self {
        let width = if options.width_px.is_finite() {
            options.width_px.clamp(200.0, 4000.0)
        } else {
            720.0
        };
        let tallest = if options.most_height_px.is_finite() {
            options.most_height_px.clamp(120.0, 4000.0)
        } else {
            760.0
        };
        let extent = extent(plan);
        let feet = extent.unwrap_or(Rect::new((0.0, 0.0), (1.0, 1.0)));
        let inner = width - 2.0 * MARGIN;
        let scale = (inner / feet.width().max(1.0))
            .min(tallest / feet.height().max(1.0))
            .min(24.0);
        let plan_height = if extent.is_some() {
            feet.height() * scale
        } else {
            60.0
        };
        let offset =
            coord! { x: MARGIN + (inner - feet.width() * scale) / 2.0, y: 50.0 + MARGIN / 2.0 };
        Self {
            width,
            height: offset.y + plan_height + MARGIN,
            scale,
            origin: coord! { x: feet.min().x, y: feet.max().y },
            offset,
            plan_height,
            empty: extent.is_none(),
            colour: options.colour,
            body: String::new(),
        }
    }

    pub(super) fn empty(&self) -> bool {
        self.empty
    }

    pub(super) fn nothing(&mut self) {
        let middle = coord! { x: self.width / 2.0, y: 90.0 };
        self.text(
            middle,
            "middle",
            10.0,
            false,
            "No roof outline and no unit's place was recorded.",
        );
    }

    pub(super) fn width(&self) -> f64 {
        self.width
    }

    /// Size of a unit's tag: smaller on a narrow sheet, where the plan is too.
    pub(super) fn words(&self) -> f64 {
        if self.width < 500.0 { 8.5 } else { 10.5 }
    }

    pub(super) fn scale(&self) -> f64 {
        self.scale
    }

    /// Where labels may go.
    pub(super) fn bounds(&self) -> Box2 {
        Rect::new(
            (2.0, 48.0),
            (
                self.width - 2.0,
                self.offset.y + self.plan_height + MARGIN / 2.0,
            ),
        )
    }

    /// Lower end of all that is drawn so far.
    pub(super) fn bottom(&self) -> f64 {
        self.height
    }

    pub(super) fn extend(&mut self, to: f64) {
        self.height = self.height.max(to);
    }

    /// A colour, or black where colour is off.
    pub(super) fn ink(&self, colour: &'static str) -> &'static str {
        if self.colour { colour } else { "#000" }
    }

    /// A place on the plan as a place on the sheet.
    pub(super) fn at(&self, feet: Coord) -> Coord {
        coord! {
            x: self.offset.x + (feet.x - self.origin.x) * self.scale,
            y: self.offset.y + (self.origin.y - feet.y) * self.scale,
        }
    }

    pub(super) fn point(&self, at: PointFt) -> Option<Coord> {
        coord_of(at).map(|c| self.at(c))
    }

    /// Whether a place is on the sheet; what lies far from every roof is left off it.
    pub(super) fn shows(&self, feet: Coord) -> bool {
        let at = self.at(feet);
        let (left, right) = (self.offset.x - 4.0, self.width - self.offset.x + 4.0);
        let (top, low) = (self.offset.y - 4.0, self.offset.y + self.plan_height + 4.0);
        (left..=right).contains(&at.x) && (top..=low).contains(&at.y)
    }

    pub(super) fn boxed(&self, feet: &Rect) -> Box2 {
        Rect::new(self.at(feet.min()), self.at(feet.max()))
    }

    pub(super) fn raw(&mut self, svg: &str) {
        self.body.push_str(svg);
        self.body.push('\n');
    }

    pub(super) fn path(&mut self, d: &str, attributes: &str) {
        let _ = writeln!(self.body, "<path d=\"{d}\" {attributes}/>");
    }

    pub(super) fn line(&mut self, a: Coord, b: Coord, attributes: &str) {
        let _ = writeln!(
            self.body,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" {attributes}/>",
            px(a.x),
            px(a.y),
            px(b.x),
            px(b.y)
        );
    }

    pub(super) fn rect(&mut self, area: &Box2, attributes: &str) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" {attributes}/>",
            px(area.min().x),
            px(area.min().y),
            px(area.width()),
            px(area.height())
        );
    }

    pub(super) fn circle(&mut self, at: Coord, radius: f64, attributes: &str) {
        let _ = writeln!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" {attributes}/>",
            px(at.x),
            px(at.y),
            px(radius)
        );
    }

    /// Words on a white halo, so that they read on hatching.
    pub(super) fn text(&mut self, at: Coord, anchor: &str, size: f64, bold: bool, words: &str) {
        let weight = if bold { " font-weight=\"bold\"" } else { "" };
        let _ = writeln!(
            self.body,
            "<text x=\"{}\" y=\"{}\" text-anchor=\"{anchor}\" font-size=\"{size}\"{weight} stroke=\"#fff\" stroke-width=\"3\" stroke-linejoin=\"round\" paint-order=\"stroke\">{}</text>",
            px(at.x),
            px(at.y),
            escape(words)
        );
    }

    /// The title in one line, or in two where the sheet is narrow; cut rather than run off it.
    fn heading(&self, title: &str) -> String {
        let room = self.width - MARGIN - 60.0;
        let fits = |words: &str, size: f64| words_width(words, size, true) <= room;
        let (first, second) = match title.split_once(", ") {
            Some((first, second)) if !fits(title, 13.0) => (first, Some(second)),
            _ => (title, None),
        };
        let line = |words: &str, y: f64, size: f64| {
            let most = (room / (size * 0.7)).floor().max(1.0) as usize;
            let cut: String = if words.chars().count() > most {
                words
                    .chars()
                    .take(most.saturating_sub(1))
                    .chain(['…'])
                    .collect()
            } else {
                words.to_owned()
            };
            format!(
                "<text x=\"24\" y=\"{y}\" font-size=\"{size}\" font-weight=\"bold\">{}</text>",
                escape(&cut)
            )
        };
        match second {
            Some(second) => line(first, 20.0, 12.0) + &line(second, 36.0, 11.0),
            None => line(first, 24.0, 13.0),
        }
    }

    /// The whole drawing.
    pub(super) fn finish(self, title: &str) -> String {
        let (width, height) = (px(self.width), px(self.height));
        let hatch = self.ink("#8a1020");
        let heading = self.heading(title);
        let title = escape(title);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
             role=\"img\" aria-label=\"{title}\" font-family=\"DejaVu Sans, sans-serif\" fill=\"#000\">\n\
             <title>{title}</title>\n\
             <defs>\n\
             <pattern id=\"near\" width=\"5\" height=\"5\" patternUnits=\"userSpaceOnUse\"><path d=\"M-1,1 L1,-1 M0,5 L5,0 M4,6 L6,4\" stroke=\"{hatch}\" stroke-width=\"0.9\"/></pattern>\n\
             <pattern id=\"mid\" width=\"7\" height=\"7\" patternUnits=\"userSpaceOnUse\"><circle cx=\"1.75\" cy=\"1.75\" r=\"0.7\" fill=\"{hatch}\"/><circle cx=\"5.25\" cy=\"5.25\" r=\"0.7\" fill=\"{hatch}\"/></pattern>\n\
             <pattern id=\"solid\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\"><path d=\"M0,0 L4,4 M0,4 L4,0\" stroke=\"#666\" stroke-width=\"0.6\"/></pattern>\n\
             </defs>\n\
             <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n\
             {heading}
\
             {}</svg>\n",
            self.body
        )
    }
}

/// All that has a place, in feet. A unit far from every roof, whose place is surely wrong, would
/// shrink everything else and is left out.
fn extent(plan: &SitePlan<'_>) -> Option<Rect> {
    let mut rects: Vec<Rect> = Vec::new();
    let mut spot = |at: PointFt| rects.extend(coord_of(at).map(|c| Rect::new(c, c)));
    for roof in &plan.roofs {
        let roof = roof.roof;
        roof.outline_ft.iter().for_each(|p| spot(*p));
        roof.obstacles
            .iter()
            .flat_map(|o| &o.outline_ft)
            .for_each(|p| spot(*p));
        roof.openings.iter().for_each(|o| spot(o.at_ft));
        roof.water_sources.iter().for_each(|w| spot(w.at_ft));
        roof.receptacles.iter().for_each(|r| spot(r.at_ft));
        roof.air_points.iter().for_each(|a| spot(a.at_ft));
        roof.access
            .iter()
            .filter_map(|a| a.at_ft)
            .for_each(&mut spot);
    }
    let around = bounds(&rects).map(|b| {
        let more = coord! { x: 0.2 * b.width(), y: 0.2 * b.height() };
        Rect::new(b.min() - more, b.max() + more)
    });
    let units = plan
        .survey
        .equipment
        .iter()
        .filter_map(|u| coord_of(u.at_ft?));
    rects.extend(
        units
            .filter(|at| around.is_none_or(|a| a.intersects(at)))
            .map(|at| Rect::new(at, at)),
    );
    for i in 0..plan.survey.equipment.len() {
        if let Place::On {
            footprint: Some(rect),
            ..
        } = plan.place(i)
        {
            rects.push(rect);
        }
    }
    bounds(&rects)
}

fn bounds(rects: &[Rect]) -> Option<Rect> {
    let corners: geo::MultiPoint = rects
        .iter()
        .flat_map(|r| [geo::Point(r.min()), geo::Point(r.max())])
        .collect();
    corners.bounding_rect()
}

/// A pixel measure with at most one decimal, which keeps files small and alike everywhere.
pub(super) fn px(value: f64) -> f64 {
    let rounded = (value * 10.0).round() / 10.0;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// Width of some words, as wide as the widest usual sans-serif makes them.
pub(super) fn words_width(words: &str, size: f64, bold: bool) -> f64 {
    let each = if bold { 0.70 } else { 0.61 };
    words.chars().count() as f64 * size * each
}

pub(super) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // Control characters have no place in XML.
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
