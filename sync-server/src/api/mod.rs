//! The devices' side of the server, all under `/v1`. Handlers only carry: what a message means
//! is decided in core, who may send it in `accounts`.

pub(crate) mod auth;
mod body;
mod enrol;
mod entries;
mod events;
mod exchange;
mod openapi;
mod peer;
mod photos;
mod place;
mod shapes;
mod surveys;
mod uploads;

pub(crate) use peer::Peer;

use crate::state::AppState;
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::routing::get;
use utoipa::OpenApi;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

pub(crate) fn routes() -> Router<AppState> {
    let described = OpenApiRouter::with_openapi(openapi::Description::openapi())
        .routes(routes!(health))
        .routes(routes!(enrol::enrol))
        .routes(routes!(enrol::rotate))
        .routes(routes!(surveys::list))
        .routes(routes!(surveys::survey))
        .routes(routes!(surveys::assessment))
        .routes(routes!(surveys::hazards))
        .routes(routes!(surveys::quote))
        .routes(routes!(events::listen))
        .routes(routes!(exchange::exchange))
        .routes(routes!(entries::enter))
        .routes(routes!(photos::original))
        .routes(routes!(photos::thumbnail))
        .routes(routes!(uploads::begin))
        .routes(routes!(uploads::append, uploads::stand, uploads::cancel));
    let (router, description) = described.split_for_parts();
    router
        .route(
            "/v1/openapi.json",
            get(move || async move { axum::Json(description) }),
        )
        // Bodies are read by our own hands, each with its own limit.
        .layer(DefaultBodyLimit::disable())
}

/// Whether the server answers at all.
#[utoipa::path(get, path = "/healthz", responses((status = 200, body = str)))]
async fn health() -> &'static str {
    "ok\n"
}
