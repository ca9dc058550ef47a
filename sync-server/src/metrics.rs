//! Figures for whoever runs the server, as OpenMetrics text: requests by route and status, the
//! time they took. No name, tag or survey is in them. Served on an address of its own, so that
//! the office's address never shows them.

use crate::state::AppState;
use axum::Router;
use axum::extract::{MatchedPath, Request, State};
use axum::http::header;
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::{Mutex, PoisonError};
use std::time::Instant;

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Kind {
    method: String,
    route: String,
    status: u16,
}

#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    requests: u64,
    seconds: f64,
}

/// What was counted since the start.
#[derive(Debug, Default)]
pub(crate) struct Metrics(Mutex<BTreeMap<Kind, Tally>>);

impl Metrics {
    fn count(&self, kind: Kind, seconds: f64) {
        // Figures may be a little off after a thread died; they must not stop the office.
        let mut tallies = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let tally = tallies.entry(kind).or_default();
        tally.requests += 1;
        tally.seconds += seconds;
    }

    fn text(&self) -> String {
        let tallies = self
            .0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone();
        let mut out = String::new();
        let mut family = |name: &str, help: &str, value: &dyn Fn(&Tally) -> String| {
            let _ = writeln!(out, "# TYPE {name} counter\n# HELP {name} {help}");
            for (kind, tally) in &tallies {
                let _ = writeln!(
                    out,
                    "{name}_total{{method=\"{}\",route=\"{}\",status=\"{}\"}} {}",
                    kind.method,
                    kind.route,
                    kind.status,
                    value(tally)
                );
            }
        };
        family("scupper_requests", "Requests answered.", &|t| {
            t.requests.to_string()
        });
        family(
            "scupper_request_seconds",
            "Time until the answer began.",
            &|t| format!("{:.6}", t.seconds),
        );
        out.push_str("# EOF\n");
        out
    }
}

/// Counts every request that passes.
pub(crate) async fn count(
    State(state): State<AppState>,
    route: Option<MatchedPath>,
    request: Request,
    next: Next,
) -> Response {
    let started = Instant::now();
    // Only known routes and methods become labels, so that nobody can fill the memory with them.
    let method = match request.method().as_str() {
        known @ ("GET" | "HEAD" | "POST" | "PATCH" | "DELETE") => known.to_owned(),
        _ => "other".to_owned(),
    };
    let route = route.map_or_else(|| "none".to_owned(), |route| route.as_str().to_owned());
    let response = next.run(request).await;
    let kind = Kind {
        method,
        route,
        status: response.status().as_u16(),
    };
    state.metrics.count(kind, started.elapsed().as_secs_f64());
    response
}

/// The figures as a service of their own.
pub fn metrics_app(state: AppState) -> Router {
    let show = |State(state): State<AppState>| async move {
        let kind = "application/openmetrics-text; version=1.0.0; charset=utf-8";
        ([(header::CONTENT_TYPE, kind)], state.metrics.text()).into_response()
    };
    Router::new().route("/metrics", get(show)).with_state(state)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_text_is_open_metrics() {
        let metrics = Metrics::default();
        let kind = Kind {
            method: "GET".into(),
            route: "/healthz".into(),
            status: 200,
        };
        metrics.count(kind.clone(), 0.25);
        metrics.count(kind, 0.25);
        assert_eq!(
            metrics.text(),
            "# TYPE scupper_requests counter\n\
             # HELP scupper_requests Requests answered.\n\
             scupper_requests_total{method=\"GET\",route=\"/healthz\",status=\"200\"} 2\n\
             # TYPE scupper_request_seconds counter\n\
             # HELP scupper_request_seconds Time until the answer began.\n\
             scupper_request_seconds_total{method=\"GET\",route=\"/healthz\",status=\"200\"} 0.500000\n\
             # EOF\n"
        );
    }
}
