//! The devices' side of the server, all under `/v1`. Handlers only carry: what a message means
//! is decided in core, who may send it in `accounts`.

pub(crate) mod auth;
mod body;
mod enrol;
mod events;
mod exchange;
mod peer;
mod photos;
mod surveys;
mod uploads;

pub(crate) use peer::Peer;

use crate::state::AppState;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::routing::{get, patch, post};

pub(crate) fn routes() -> Router<AppState> {
    Router::new()
        .route("/healthz", get(|| async { "ok\n" }))
        .route("/v1/enrol", post(enrol::enrol))
        .route("/v1/token", post(enrol::rotate))
        .route("/v1/surveys", get(surveys::list))
        .route("/v1/surveys/{id}/survey", get(surveys::survey))
        .route("/v1/surveys/{id}/assessment", get(surveys::assessment))
        .route("/v1/surveys/{id}/hazards", get(surveys::hazards))
        .route("/v1/surveys/{id}/quote", get(surveys::quote))
        .route("/v1/surveys/{id}/events", get(events::listen))
        .route("/v1/surveys/{id}/exchange", post(exchange::exchange))
        .route("/v1/photos/{hash}", get(photos::original))
        .route("/v1/photos/{hash}/thumbnail", get(photos::thumbnail))
        .route("/v1/uploads", post(uploads::begin))
        .route(
            "/v1/uploads/{id}",
            patch(uploads::append)
                .head(uploads::stand)
                .delete(uploads::cancel),
        )
        // Bodies are read by our own hands, each with its own limit.
        .layer(DefaultBodyLimit::disable())
}
