//! `POST /v1/enrol`: a one-time code becomes a device's token. `POST /v1/token`: a fresh one.

use super::auth::Device;
use super::body::Json;
use super::openapi::{NotRead, NotTaken};
use super::peer::Peer;
use crate::error::AppError;
use crate::state::AppState;
use axum::extract::State;
use axum::http::{HeaderName, StatusCode, header};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What a device sends to be enrolled.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Enrol {
    /// The one-time code, as typed.
    #[schema(max_length = 200)]
    code: String,
    /// Whatever the device calls itself, for good.
    #[schema(pattern = "^[A-Za-z0-9_-]{1,64}$")]
    device_id: String,
    /// What its owner calls it.
    #[schema(pattern = "^[A-Za-z0-9][A-Za-z0-9 ]{0,78}$")]
    device_name: String,
}

/// What it gets: the token, shown this once.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Enrolled {
    token: String,
    author: String,
}

type Secret<T> = (StatusCode, [(HeaderName, &'static str); 1], axum::Json<T>);

fn secret<T>(status: StatusCode, body: T) -> Secret<T> {
    (
        status,
        [(header::CACHE_CONTROL, "no-store")],
        axum::Json(body),
    )
}

#[utoipa::path(
    post,
    path = "/v1/enrol",
    request_body = Enrol,
    responses((status = 201, body = Enrolled), NotRead, NotTaken)
)]
pub(crate) async fn enrol(
    State(state): State<AppState>,
    peer: Peer,
    Json(ask): Json<Enrol>,
) -> Result<Secret<Enrolled>, AppError> {
    state.tries.take(&peer.0, state.now().timestamp_millis())?;
    let (token, author) = state
        .blocking(move |office| {
            office
                .accounts
                .enrol(office.unix(), &ask.code, &ask.device_id, &ask.device_name)
        })
        .await?;
    Ok(secret(StatusCode::CREATED, Enrolled { token, author }))
}

/// A fresh token.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Fresh {
    token: String,
}

#[utoipa::path(
    post,
    path = "/v1/token",
    security(("device" = [])),
    responses((status = 200, body = Fresh), NotRead)
)]
pub(crate) async fn rotate(
    State(state): State<AppState>,
    device: Device,
) -> Result<Secret<Fresh>, AppError> {
    let token = state
        .blocking(move |office| office.accounts.rotate(office.unix(), &device.caller))
        .await?;
    Ok(secret(StatusCode::OK, Fresh { token }))
}
