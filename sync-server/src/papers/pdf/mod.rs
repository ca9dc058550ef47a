//! The customer's assessment as PDF: the words of the HTML, set on letter or A4 paper.
//!
//! The HTML is read back (`read`), broken into lines (`lines`, by the widths that `face` knows),
//! laid out in strips (`flow`, `table`, `strip`), and drawn with its structure tagged (`ink`,
//! `tree`). The plan stays a drawing whose words can be searched. Same input, same bytes.

mod face;
mod flow;
mod ink;
mod lines;
mod read;
mod strip;
mod table;
#[cfg(test)]
mod tests;
mod tree;

use super::assessment::{Inline, page};
use super::pictures::Pictures;
use flow::Flow;
use scupper_core::assess::Assessment;
use scupper_core::quote::{PaperSize, Quote};
use scupper_core::survey::Survey;
use strip::Area;

/// The customer's assessment as a tagged PDF/UA-1 file; or why it cannot be made.
///
/// Content that PDF/UA-1 does not allow, such as a drawing whose letters cannot be told, makes
/// the file one without that claim, never none.
pub fn assessment_pdf(
    survey: &Survey,
    assessment: &Assessment,
    quote: Option<&Quote>,
    pictures: &Pictures,
    paper: PaperSize,
) -> Result<Vec<u8>, String> {
    let html = page(survey, assessment, quote, pictures, (Inline::Named, paper));
    let mut flow = Flow::new(Area::of(paper));
    flow.within(&read::body(&html), 0);
    let name = survey.site.name.trim();
    let title = format!("Rooftop equipment assessment: {name}");
    let foot = format!("{name}  ·  a survey, not a code inspection");
    let title = ink::Title {
        title: &title,
        day: survey.surveyed_on,
        foot: &foot,
        paper,
    };
    let Flow { tree, strips, .. } = flow;
    ink::write(&strips, tree.clone(), &title, pictures, true)
        .or_else(|_| ink::write(&strips, tree, &title, pictures, false))
}
