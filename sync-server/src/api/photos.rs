//! `GET /v1/photos/{hash}` and `/thumbnail`: whole or in ranges (RFC 9110 section 14).
//!
//! A photo's bytes come from outside. They are served under a type that a browser only ever
//! shows as a picture, or else as a download.

use super::auth::Reader;
use crate::error::AppError;
use crate::state::AppState;
use axum::extract::{Path, Request, State};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use std::path::PathBuf;
use tower::ServiceExt;
use tower_http::services::ServeFile;

pub(crate) async fn original(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path(hash): Path<String>,
    request: Request,
) -> Result<Response, AppError> {
    let (path, kind) = state
        .blocking(move |office| office.photo(&caller, &hash))
        .await?;
    send(path, picture_type(&kind), request).await
}

pub(crate) async fn thumbnail(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path(hash): Path<String>,
    request: Request,
) -> Result<Response, AppError> {
    let path = state
        .blocking(move |office| office.thumbnail(&caller, &hash))
        .await?;
    send(path, Some("image/jpeg"), request).await
}

/// The type to serve a picture under; none for what browsers do not show as one.
fn picture_type(claimed: &str) -> Option<&'static str> {
    [
        "image/jpeg",
        "image/png",
        "image/heic",
        "image/heif",
        "image/webp",
    ]
    .into_iter()
    .find(|known| *known == claimed)
}

async fn send(
    path: PathBuf,
    kind: Option<&'static str>,
    request: Request,
) -> Result<Response, AppError> {
    let served = ServeFile::new(path).oneshot(request).await;
    let mut response = served
        .map_err(|error| AppError::internal("reading a photo", error))?
        .map(axum::body::Body::new)
        .into_response();
    let headers = response.headers_mut();
    let shown = HeaderValue::from_static(kind.unwrap_or("application/octet-stream"));
    headers.insert(header::CONTENT_TYPE, shown);
    if kind.is_none() {
        headers.insert(
            header::CONTENT_DISPOSITION,
            HeaderValue::from_static("attachment"),
        );
    }
    // The address holds the hash of the bytes, so they never change; still only for this reader.
    let keep = HeaderValue::from_static("private, max-age=31536000, immutable");
    headers.insert(header::CACHE_CONTROL, keep);
    Ok(response)
}
