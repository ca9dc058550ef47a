//! What the office reads of a survey, as JSON in the shapes of the contracts.

use super::auth::Reader;
use super::openapi::NotRead;
use super::place::Place;
use super::shapes::{AssessmentShape, HazardShape, QuoteShape, SurveyShape};
use crate::error::AppError;
use crate::readings::Readings;
use crate::state::AppState;
use axum::extract::State;
use axum::http::{HeaderName, header};
use serde::Serialize;
use std::sync::Arc;
use utoipa::ToSchema;

/// One survey in the list.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Entry {
    survey_id: String,
    name: String,
    #[schema(value_type = Option<String>, format = Date)]
    surveyed_on: Option<chrono::NaiveDate>,
    units: usize,
    hazards: usize,
    /// Absent when a clock was so far off that RFC 3339 has no year for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, format = DateTime)]
    changed_at: Option<chrono::DateTime<chrono::FixedOffset>>,
    heads: String,
}

/// `GET /v1/surveys`.
#[utoipa::path(
    get,
    path = "/v1/surveys",
    security(("device" = [])),
    responses((status = 200, body = Vec<Entry>), NotRead)
)]
pub(crate) async fn list(
    State(state): State<AppState>,
    Reader(caller): Reader,
) -> Result<axum::Json<Vec<Entry>>, AppError> {
    let entries = state.blocking(move |office| {
        let ids = office.survey_ids(&caller)?;
        ids.into_iter()
            .map(|survey_id| {
                let readings = office.readings(&caller, &survey_id)?;
                Ok(Entry {
                    name: readings.survey.site.name.clone(),
                    surveyed_on: crate::readings::day(&readings.survey),
                    units: readings.survey.equipment.len(),
                    hazards: readings.assessment.hazards.len(),
                    changed_at: readings.summary.changed_at.filter(writable),
                    heads: readings.heads.clone(),
                    survey_id,
                })
            })
            .collect::<Result<Vec<_>, AppError>>()
    });
    Ok(axum::Json(entries.await?))
}

fn writable(at: &chrono::DateTime<chrono::FixedOffset>) -> bool {
    use chrono::Datelike;
    (0..=9999).contains(&at.year())
}

type Json = ([(HeaderName, &'static str); 1], String);

async fn one<T: Serialize>(
    state: AppState,
    Reader(caller): Reader,
    survey: String,
    pick: fn(&Readings) -> &T,
) -> Result<Json, AppError> {
    let readings: Arc<Readings> = state
        .blocking(move |office| office.readings(&caller, &survey))
        .await?;
    let text = serde_json::to_string_pretty(pick(&readings))
        .map_err(|error| AppError::internal("making JSON", error))?;
    Ok(([(header::CONTENT_TYPE, "application/json")], text))
}

/// `GET /v1/surveys/{id}/survey`.
#[utoipa::path(
    get,
    path = "/v1/surveys/{id}/survey",
    params(("id" = String, Path, description = "the survey")),
    security(("device" = [])),
    responses((status = 200, body = SurveyShape), NotRead)
)]
pub(crate) async fn survey(
    State(state): State<AppState>,
    reader: Reader,
    Place(id): Place,
) -> Result<Json, AppError> {
    one(state, reader, id, |readings| &readings.survey).await
}

/// `GET /v1/surveys/{id}/assessment`.
#[utoipa::path(
    get,
    path = "/v1/surveys/{id}/assessment",
    params(("id" = String, Path, description = "the survey")),
    security(("device" = [])),
    responses((status = 200, body = AssessmentShape), NotRead)
)]
pub(crate) async fn assessment(
    State(state): State<AppState>,
    reader: Reader,
    Place(id): Place,
) -> Result<Json, AppError> {
    one(state, reader, id, |readings| &readings.assessment).await
}

/// `GET /v1/surveys/{id}/hazards`.
#[utoipa::path(
    get,
    path = "/v1/surveys/{id}/hazards",
    params(("id" = String, Path, description = "the survey")),
    security(("device" = [])),
    responses((status = 200, body = Vec<HazardShape>), NotRead)
)]
pub(crate) async fn hazards(
    State(state): State<AppState>,
    reader: Reader,
    Place(id): Place,
) -> Result<Json, AppError> {
    one(state, reader, id, |readings| &readings.assessment.hazards).await
}

/// `GET /v1/surveys/{id}/quote`.
#[utoipa::path(
    get,
    path = "/v1/surveys/{id}/quote",
    params(("id" = String, Path, description = "the survey")),
    security(("device" = [])),
    responses((status = 200, body = QuoteShape), NotRead)
)]
pub(crate) async fn quote(
    State(state): State<AppState>,
    reader: Reader,
    Place(id): Place,
) -> Result<Json, AppError> {
    one(state, reader, id, |readings| readings.quote()).await
}
