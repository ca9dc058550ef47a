//! `POST /v1/surveys/{id}/exchange`: one round trip that brings a device and the office level.

use super::auth::Device;
use super::body::whole;
use super::openapi::{NotRead, NotTaken, Raw};
use super::place::Place;
use crate::error::AppError;
use crate::state::AppState;
use axum::extract::{Request, State};
use axum::http::header;
use axum::response::IntoResponse;

/// The message is core's: CBOR behind zstd, see `docs/protocol.md`.
#[utoipa::path(
    post,
    path = "/v1/surveys/{id}/exchange",
    params(("id" = String, Path, description = "the survey")),
    request_body(content = Raw, content_type = "application/octet-stream"),
    security(("device" = [])),
    responses(
        (status = 200, body = Raw, content_type = "application/octet-stream"),
        NotRead,
        NotTaken,
    )
)]
pub(crate) async fn exchange(
    State(state): State<AppState>,
    device: Device,
    Place(survey): Place,
    request: Request,
) -> Result<impl IntoResponse, AppError> {
    let message = whole(request, "the message", state.limits.exchange_body).await?;
    // Unfolded messages and documents are large: only so many at a time are held in memory.
    let _turn = state.turn().await?;
    let answer = state
        .blocking(move |office| office.exchange(&device.caller, &device.id, &survey, &message))
        .await?;
    Ok(([(header::CONTENT_TYPE, "application/octet-stream")], answer))
}
