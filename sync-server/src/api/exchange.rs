//! `POST /v1/surveys/{id}/exchange`: one round trip that brings a device and the office level.

use super::auth::Device;
use super::body::whole;
use crate::error::AppError;
use crate::state::AppState;
use axum::extract::{Path, Request, State};
use axum::http::header;
use axum::response::IntoResponse;

/// The message is core's: CBOR behind zstd, see `docs/protocol.md`.
pub(crate) async fn exchange(
    State(state): State<AppState>,
    device: Device,
    Path(survey): Path<String>,
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
