//! The roof plan as one SVG, for page, paper and phone alike.
//!
//! Black on white first: zones are told by hatching, hazards by a filled triangle, guards by the
//! weight of a line; colour only repeats what shape already says. Text is a fixed size on the
//! sheet, so a narrow sheet gets a smaller plan, not smaller words. Draws what is recorded and
//! says what is not; gives no verdict of its own.

mod canvas;
mod labels;
mod legend;
mod marks;
mod roof;
#[cfg(test)]
mod tests;
mod unit;

use super::site::SitePlan;
use crate::survey::Survey;
use canvas::Canvas;
use labels::Labels;

/// How a plan is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawOptions {
    /// Width of the sheet in pixels of 1/96 in: 720 fills A4 between its margins, 390 a phone.
    pub width_px: f64,
    /// Tallest that the plan itself may be; a long building is drawn smaller.
    pub most_height_px: f64,
    /// Whether colour repeats what shape says.
    pub colour: bool,
    /// Start of the address that each unit links to, such as `#unit-`; none for paper.
    pub link: Option<String>,
    /// Unit to draw heavier, by tag.
    pub highlight: Option<String>,
    /// Whether the legend is drawn below.
    pub legend: bool,
}

impl Default for DrawOptions {
    fn default() -> Self {
        Self {
            width_px: 720.0,
            most_height_px: 760.0,
            colour: true,
            link: None,
            highlight: None,
            legend: true,
        }
    }
}

impl DrawOptions {
    /// A plan as wide as a phone held upright.
    pub fn phone() -> Self {
        Self {
            width_px: 390.0,
            most_height_px: 560.0,
            ..Self::default()
        }
    }
}

/// Draws a survey's roofs. The answer is one `<svg>` element without an XML declaration, so that
/// it can stand in HTML as it is.
pub fn draw(survey: &Survey, options: &DrawOptions) -> String {
    let plan = SitePlan::new(survey);
    let mut canvas = Canvas::new(&plan, options);
    let mut labels = Labels::new(canvas.bounds());
    if canvas.empty() {
        canvas.nothing();
    } else {
        roof::surfaces(&plan, &mut canvas);
        unit::areas(&plan, &mut canvas);
        roof::fixtures(&plan, &mut canvas, &mut labels);
        unit::units(&plan, options, &mut canvas, &mut labels);
        roof::outlets(&plan, &mut canvas);
        roof::names(&plan, &canvas, &mut labels);
        labels.write(&mut canvas);
        legend::frame(&plan, &mut canvas);
    }
    if let Some(words) = unit::absent(&plan, &canvas) {
        legend::below(&words, &mut canvas);
    }
    if options.legend {
        legend::legend(&plan, &mut canvas);
    }
    canvas.finish(&title(survey))
}

fn title(survey: &Survey) -> String {
    match survey.site.name.trim() {
        "" => "Roof plan".to_owned(),
        name => format!("Roof plan, {name}"),
    }
}
