//! The router: every address the server answers, and the layers around all of them.
//!
//! `app(state)` opens no socket, so tests drive it with `oneshot`.

use crate::error::AppError;
use crate::state::AppState;
use crate::{api, metrics, walk, web};
use axum::Router;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, header};
use axum::middleware::{Next, from_fn, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use tower_http::trace::TraceLayer;

/// The whole office as one service.
pub fn app(state: AppState) -> Router {
    Router::new()
        .merge(api::routes())
        .merge(web::routes())
        .merge(walk::routes())
        .fallback(nowhere)
        .layer(from_fn_with_state(state.clone(), metrics::count))
        .layer(from_fn(same_site_only))
        .layer(from_fn(careful_headers))
        .layer(from_fn_with_state(state.clone(), stay_on_https))
        .layer(
            TraceLayer::new_for_http().make_span_with(|request: &Request| {
                // The path only by its route: sign-in and customer links carry secrets.
                let route = request.extensions().get::<axum::extract::MatchedPath>();
                let route = route.map_or("", axum::extract::MatchedPath::as_str);
                tracing::info_span!("request", method = %request.method(), route)
            }),
        )
        .with_state(state)
}

/// An address that is not there: told as a page to whoever reads pages.
async fn nowhere(headers: HeaderMap) -> Response {
    let error = AppError::NotFound("this address");
    let accepted = headers
        .get(header::ACCEPT)
        .and_then(|all| all.to_str().ok());
    match accepted.is_some_and(|all| all.contains("text/html")) {
        true => web::Failure::from(error).into_response(),
        false => error.into_response(),
    }
}

/// Tells the browser to run nothing that is not ours and to show us in nobody's frame.
async fn careful_headers(request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    let careful = [
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; img-src 'self' data:; style-src 'self'; script-src 'self'; \
             connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
        ),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("permissions-policy"),
            "camera=(), geolocation=(), microphone=()",
        ),
        (header::CACHE_CONTROL, "no-store"),
    ];
    for (name, value) in careful {
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(value));
        }
    }
    response
}

/// Tells the browser to come by HTTPS only, for a year, if that is how it comes.
async fn stay_on_https(State(state): State<AppState>, request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    if state.door.https {
        let year = HeaderValue::from_static("max-age=31536000");
        let headers = response.headers_mut();
        headers.insert(header::STRICT_TRANSPORT_SECURITY, year);
    }
    response
}

/// Refuses a form or script of another site, whatever cookies the browser added to it. A device
/// sends neither header and shows a token instead.
async fn same_site_only(request: Request, next: Next) -> Response {
    let safe = matches!(
        *request.method(),
        Method::GET | Method::HEAD | Method::OPTIONS
    );
    if !safe && from_elsewhere(&request) {
        return AppError::Forbidden("a page of another site may not post here".to_owned())
            .into_response();
    }
    next.run(request).await
}

fn from_elsewhere(request: &Request) -> bool {
    let text = |name: &HeaderName| request.headers().get(name).and_then(|v| v.to_str().ok());
    if let Some(site) = text(&HeaderName::from_static("sec-fetch-site")) {
        return !matches!(site, "same-origin" | "none");
    }
    match (text(&header::ORIGIN), text(&header::HOST)) {
        (None, _) => false,
        (Some(origin), Some(host)) => origin.split_once("://").map(|(_, at)| at) != Some(host),
        (Some(_), None) => true,
    }
}
