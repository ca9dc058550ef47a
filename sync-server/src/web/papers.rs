//! `GET /surveys/{id}/papers/NAME`: the papers that leave the office, made when asked for.

use super::Failure;
use crate::accounts::{Caller, Rights};
use crate::api::auth::Reader;
use crate::desk::Desk;
use crate::error::AppError;
use crate::papers::{
    Enclosure, Pictures, Shelf, Who, assessment_html, assessment_pdf, hazards_json, letter_eml,
    order_csv, register_csv, register_xlsx, survey_geojson, worksheet_xlsx,
};
use crate::state::AppState;
use axum::extract::{Path, Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use scupper_core::store::Part;
use scupper_core::survey::Photo;
use serde::Deserialize;

/// A paper made of its own styles only, which may then be in it.
const PAPER_POLICY: &str = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; \
                            base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// The papers that a customer's link opens: one paper, to look at and to print.
const ASSESSMENT: &str = "assessment.html";
const PRINTED: &str = "assessment.pdf";
const LETTER: &str = "letter.eml";

const CSV: &str = "text/csv; charset=utf-8";
const SHEET: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// Addresses and titles of a survey's papers.
pub(super) fn offered(id: &str) -> Vec<(String, &'static str)> {
    let papers = [
        (ASSESSMENT, "Assessment"),
        (PRINTED, "Assessment (PDF)"),
        ("register.csv", "Register (CSV)"),
        ("register.xlsx", "Register (XLSX)"),
        ("survey.geojson", "Plan (GeoJSON)"),
        ("hazards.json", "Hazards (JSON)"),
        ("order.csv", "Material order (CSV)"),
        ("quote-worksheet.xlsx", "Quote worksheet (XLSX)"),
    ];
    let place = |name: &str| format!("/surveys/{id}/papers/{name}");
    papers
        .into_iter()
        .map(|(name, title)| (place(name), title))
        .collect()
}

/// Address of the assessment.
pub(super) fn assessment_at(id: &str) -> String {
    format!("/surveys/{id}/papers/{ASSESSMENT}")
}

pub(super) async fn show(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path((id, name)): Path<(String, String)>,
    Query(mail): Query<Mail>,
) -> Result<Response, Failure> {
    let (from, to) = (who(&mail.from, "from")?, who(&mail.to, "to")?);
    let _turn = state.turn().await?;
    let paper = state.blocking(move |office| {
        let readings = match name.as_str() {
            ASSESSMENT | PRINTED => office.customer_readings(&caller, &id)?,
            _ => office.readings(&caller, &id)?,
        };
        let on = readings.rates.book.paper;
        let (survey, assessment) = (&readings.survey, &readings.assessment);
        let (day, quote) = (survey.surveyed_on, readings.quote());
        if matches!(name.as_str(), PRINTED | LETTER) && !is_customer(&caller) {
            office.may_send(&caller, &id, &readings)?;
        }
        Ok(match name.as_str() {
            ASSESSMENT | PRINTED | LETTER => {
                let desk = office.desk_of(&caller)?;
                let pictures = Pictures::prepare(survey, &OnDesk(&desk), &|_| {});
                if name == ASSESSMENT {
                    let text = assessment_html(survey, assessment, Some(quote), &pictures, on);
                    ("text/html; charset=utf-8", text.into_bytes())
                } else {
                    let pdf = assessment_pdf(survey, assessment, Some(quote), &pictures, on);
                    let pdf = pdf.map_err(unmade)?;
                    if name == PRINTED {
                        return Ok(("application/pdf", pdf));
                    }
                    let from = from.ok_or_else(|| {
                        AppError::input("from", "is missing; give the address the letter is from")
                    })?;
                    let files = vec![
                        enclosure(PRINTED, "application/pdf", pdf),
                        enclosure("register.csv", CSV, register_csv(assessment).into_bytes()),
                    ];
                    let letter = letter_eml(survey, assessment, Some(quote), from, to, files);
                    ("message/rfc822", letter.map_err(unmade)?)
                }
            }
            "register.csv" => (CSV, register_csv(assessment).into()),
            "register.xlsx" => (SHEET, register_xlsx(assessment, day, on).map_err(unmade)?),
            "survey.geojson" => ("application/geo+json", survey_geojson(survey).into()),
            "order.csv" => (CSV, order_csv(quote).into()),
            "quote-worksheet.xlsx" => {
                let sheet = worksheet_xlsx(quote, &readings.rates.book, day, on);
                (SHEET, sheet.map_err(unmade)?)
            }
            "hazards.json" => ("application/json", hazards_json(assessment).into()),
            _ => return Err(AppError::NotFound("this paper")),
        })
    });
    let (kind, text): (&str, Vec<u8>) = paper.await?;
    let headers = [
        (header::CONTENT_TYPE, kind),
        (header::CONTENT_SECURITY_POLICY, PAPER_POLICY),
    ];
    Ok((headers, text).into_response())
}

/// Whom a letter is from and goes to.
#[derive(Debug, Default, Deserialize)]
pub(super) struct Mail {
    from: Option<String>,
    to: Option<String>,
}

fn who(address: &Option<String>, place: &str) -> Result<Option<Who>, AppError> {
    let address = address
        .as_deref()
        .map(str::trim)
        .filter(|text| !text.is_empty());
    let read = address.map(|text| {
        text.parse().map_err(|_| {
            AppError::input(place, "is not an e-mail address, such as ada@example.org")
        })
    });
    read.transpose()
}

fn enclosure(name: &str, media_type: &str, bytes: Vec<u8>) -> Enclosure {
    Enclosure {
        name: name.to_owned(),
        media_type: media_type.to_owned(),
        bytes,
    }
}

fn is_customer(caller: &Caller) -> bool {
    matches!(caller.rights, Rights::Customer { .. })
}

/// A paper that could not be made is our fault, not the caller's.
fn unmade(error: impl std::fmt::Display) -> AppError {
    AppError::internal("making a paper", error)
}

/// Photos of the desk: the thumbnail, whose 512 pixels are 300 to the inch where four stand side
/// by side; else the original.
struct OnDesk<'a>(&'a Desk);

impl Shelf for OnDesk<'_> {
    fn bytes(&self, photo: &Photo) -> Result<Vec<u8>, String> {
        for part in [Part::Thumbnail, Part::Original] {
            let path = self.0.storage().path(&photo.hash, part);
            if let Some(path) = path.map_err(|e| e.to_string())? {
                return std::fs::read(path).map_err(|error| error.to_string());
            }
        }
        Err("not uploaded yet".to_owned())
    }
}
