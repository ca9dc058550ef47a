//! The devices' side of the server, all under `/v1`. Handlers only carry: what a message means
//! is decided in core, who may send it in `accounts`.

pub(crate) mod auth;
mod body;
mod enrol;
mod peer;

pub(crate) use peer::Peer;

use crate::state::AppState;
use axum::Router;
use axum::routing::{get, post};

pub(crate) fn routes() -> Router<AppState> {
    Router::new()
        .route("/healthz", get(|| async { "ok\n" }))
        .route("/v1/enrol", post(enrol::enrol))
        .route("/v1/token", post(enrol::rotate))
}
