//! `GET /v1/photos/{hash}` and `/thumbnail`: whole or in ranges (RFC 9110 section 14).
//!
//! A photo's bytes come from outside. They are served under a type that a browser only ever
//! shows as a picture, or else as a download.

use super::auth::Reader;
use super::openapi::{NotRead, Raw};
use super::place::Place;
use crate::error::AppError;
use crate::state::AppState;
use axum::extract::{Request, State};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use std::path::PathBuf;
use tower::ServiceExt;
use tower_http::services::ServeFile;

#[utoipa::path(
    get,
    path = "/v1/photos/{hash}",
    params(
        ("hash" = String, Path, description = "BLAKE3 of the original in lower-case hex"),
        ("Range" = Option<String>, Header, description = "RFC 9110 section 14"),
    ),
    security(("device" = [])),
    responses(
        (status = 200, body = Raw, content_type = "image/*"),
        (status = 206, body = Raw, content_type = "image/*"),
        (status = 416),
        NotRead,
    )
)]
pub(crate) async fn original(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Place(hash): Place,
    request: Request,
) -> Result<Response, AppError> {
    let (path, kind) = state
        .blocking(move |office| office.photo(&caller, &hash))
        .await?;
    send(path, picture_type(&kind), request).await
}

#[utoipa::path(
    get,
    path = "/v1/photos/{hash}/thumbnail",
    params(
        ("hash" = String, Path, description = "BLAKE3 of the original in lower-case hex"),
        ("Range" = Option<String>, Header, description = "RFC 9110 section 14"),
    ),
    security(("device" = [])),
    responses(
        (status = 200, body = Raw, content_type = "image/jpeg"),
        (status = 206, body = Raw, content_type = "image/jpeg"),
        (status = 416),
        NotRead,
    )
)]
pub(crate) async fn thumbnail(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Place(hash): Place,
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

/// Whether a `Range` is one of bytes and well formed; any other is to be ignored (RFC 9110 14.2).
fn is_range(value: &HeaderValue) -> bool {
    let Some(ranges) = value.to_str().ok().and_then(|t| t.strip_prefix("bytes=")) else {
        return false;
    };
    let number = |text: &str| text.chars().all(|c| c.is_ascii_digit()) && text.len() < 19;
    ranges.split(',').all(|range| {
        let ends = range.trim().split_once('-');
        ends.is_some_and(|(from, to)| {
            number(from) && number(to) && !(from.is_empty() && to.is_empty())
        })
    })
}

async fn send(
    path: PathBuf,
    kind: Option<&'static str>,
    mut request: Request,
) -> Result<Response, AppError> {
    if request
        .headers()
        .get(header::RANGE)
        .is_some_and(|value| !is_range(value))
    {
        request.headers_mut().remove(header::RANGE);
    }
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
