//! The office page: what a reviewer sees and settles in a browser. Plain HTML, printable, and
//! readable without scripts.

mod checks;
mod decide;
mod evidence;
mod failure;
mod findings;
mod forms;
mod hazards;
mod layout;
mod list;
mod notes;
mod photos;
mod price;
mod register;
mod settle;
mod sign_in;
mod survey;

pub(crate) use failure::Failure;

use crate::state::AppState;
use axum::Router;
use axum::http::header;
use axum::response::IntoResponse;
use axum::routing::{get, post};

pub(crate) fn routes() -> Router<AppState> {
    Router::new()
        .route("/sign-in", get(sign_in::how))
        .route("/sign-in/{code}", get(sign_in::enter))
        .route("/sign-out", post(sign_in::leave))
        .route("/", get(list::show))
        .route("/surveys/{id}", get(survey::show))
        .route("/surveys/{id}/plan.svg", get(survey::plan))
        .route("/surveys/{id}/settle", post(decide::settle))
        .route("/assets/page.css", get(style))
        .route("/assets/page.js", get(script))
}

async fn style() -> impl IntoResponse {
    let headers = [
        (header::CONTENT_TYPE, "text/css; charset=utf-8"),
        (header::CACHE_CONTROL, "max-age=300"),
    ];
    (headers, include_str!("page.css"))
}

async fn script() -> impl IntoResponse {
    let headers = [
        (header::CONTENT_TYPE, "text/javascript; charset=utf-8"),
        (header::CACHE_CONTROL, "max-age=300"),
    ];
    (headers, include_str!("page.js"))
}
