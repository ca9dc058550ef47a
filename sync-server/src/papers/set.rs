//! The whole set of papers of one survey, one after another.

use super::letter::{Enclosure, Who, letter_eml};
use super::pictures::Pictures;
use super::{
    assessment_html, assessment_pdf, hazards_json, order_csv, register_csv, register_xlsx,
    survey_geojson, worksheet_xlsx,
};
use scupper_core::assess::Assessment;
use scupper_core::quote::{PaperSize, Quote, RateBook};
use scupper_core::survey::Survey;

/// What the papers are made from.
#[derive(Debug)]
pub struct Material<'a> {
    /// The survey.
    pub survey: &'a Survey,
    /// Its assessment.
    pub assessment: &'a Assessment,
    /// Its quote.
    pub quote: &'a Quote,
    /// The rate book of the quote.
    pub book: &'a RateBook,
    /// Its photos, fit for paper.
    pub pictures: &'a Pictures,
    /// What it is printed on.
    pub paper: PaperSize,
    /// Who sends the letter.
    pub from: Who,
    /// Whom it goes to, if known.
    pub to: Option<Who>,
}

/// Takes a paper by its name and bytes, or says why it cannot.
pub type Take<'a> = dyn FnMut(&str, &[u8]) -> Result<(), String> + 'a;

/// Makes every paper and hands each out with its name as soon as it is done; stops at the first
/// one that cannot be made or taken.
///
/// `quote-worksheet.xlsx` and `quote.json` show costs and stay in the office.
pub fn make_all(of: &Material<'_>, take: &mut Take<'_>) -> Result<(), String> {
    let Material {
        survey,
        assessment,
        quote,
        pictures,
        paper,
        ..
    } = of;
    let paper = *paper;
    let made_on = survey.surveyed_on;
    let failed =
        |what: &str, error: &dyn std::fmt::Display| format!("{what} cannot be made: {error}");
    let html = assessment_html(survey, assessment, Some(quote), pictures, paper);
    take("assessment.html", html.as_bytes())?;
    drop(html); // With many photos it is the largest thing here.
    let pdf = assessment_pdf(survey, assessment, Some(quote), pictures, paper)
        .map_err(|e| failed("assessment.pdf", &e))?;
    take("assessment.pdf", &pdf)?;
    let register = register_csv(assessment);
    take("register.csv", register.as_bytes())?;
    let sheet =
        register_xlsx(assessment, made_on, paper).map_err(|e| failed("register.xlsx", &e))?;
    take("register.xlsx", &sheet)?;
    take("hazards.json", hazards_json(assessment).as_bytes())?;
    take("survey.geojson", survey_geojson(survey).as_bytes())?;
    let json = serde_json::to_string_pretty(quote).map_err(|e| failed("quote.json", &e))?;
    take("quote.json", format!("{json}\n").as_bytes())?;
    take("order.csv", order_csv(quote).as_bytes())?;
    let sheet =
        worksheet_xlsx(quote, of.book, made_on, paper).map_err(|e| failed("worksheet", &e))?;
    take("quote-worksheet.xlsx", &sheet)?;
    let enclosures = vec![
        Enclosure {
            name: "assessment.pdf".to_owned(),
            media_type: "application/pdf".to_owned(),
            bytes: pdf,
        },
        Enclosure {
            name: "register.csv".to_owned(),
            media_type: "text/csv; charset=utf-8".to_owned(),
            bytes: register.into_bytes(),
        },
    ];
    let letter = letter_eml(
        survey,
        assessment,
        Some(quote),
        of.from.clone(),
        of.to.clone(),
        enclosures,
    )
    .map_err(|e| failed("letter.eml", &e))?;
    take("letter.eml", &letter)
}
