//! The web side for people: addresses that a browser opens, sessions, and what a form brings about.
//!
//! How a page looks is [`crate::page`]'s business; here is only who may see it and what it is
//! made from.

mod failure;
mod sign_in;

pub(crate) use failure::Failure;

use crate::error::AppError;
use crate::page;
use crate::state::AppState;
use axum::Router;
use axum::extract::Path;
use axum::http::header;
use axum::response::IntoResponse;
use axum::routing::{get, post};

pub(crate) fn routes() -> Router<AppState> {
    Router::new()
        .route("/sign-in", get(sign_in::how))
        .route("/sign-in/{code}", get(sign_in::enter))
        .route("/sign-out", post(sign_in::leave))
        .route("/assets/{file}", get(asset))
}

/// The stylesheet and the script, as `page` keeps them.
async fn asset(Path(file): Path<String>) -> Result<impl IntoResponse, Failure> {
    let asset = page::asset(&file).ok_or(AppError::NotFound("this file"))?;
    let headers = [
        (header::CONTENT_TYPE, asset.media_type),
        (header::CACHE_CONTROL, "max-age=300"),
    ];
    Ok((headers, asset.text))
}
