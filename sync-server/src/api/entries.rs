//! `POST /v1/surveys/{id}/entries`: raw notes, photos and new units of a phone without the app.

use super::auth::Device;
use super::body::Json;
use super::openapi::{NotRead, NotTaken};
use super::place::Place;
use crate::error::AppError;
use crate::state::AppState;
use crate::walk::{Batch, Told};
use axum::extract::State;

/// Nothing in it is a way to ask how the roof stands.
#[utoipa::path(
    post,
    path = "/v1/surveys/{id}/entries",
    params(("id" = String, Path, description = "the survey")),
    request_body = Batch,
    security(("device" = [])),
    responses((status = 200, body = Told), NotRead, NotTaken)
)]
pub(crate) async fn enter(
    State(state): State<AppState>,
    device: Device,
    Place(survey): Place,
    Json(batch): Json<Batch>,
) -> Result<axum::Json<Told>, AppError> {
    // Photos are looked at and documents opened: only so many at a time are held in memory.
    let _turn = state.turn().await?;
    let told = state
        .blocking(move |office| office.take_batch(&device.caller, &device.id, &survey, &batch))
        .await?;
    Ok(axum::Json(told))
}
