//! The roof notebook: phone capture without an app, at `/walk/`.
//!
//! A page that a browser keeps and opens without signal. It takes down notes and photos, keeps
//! them on the phone, and hands them over later; it interprets nothing. Here are its files and
//! what the server does with what it sends ([`Batch`] in, [`Told`] out). The page itself is open
//! to anyone: it holds nothing until it is enrolled like any other device.

mod batch;
mod enter;
mod shell;
mod told;

pub(crate) use batch::Batch;
pub(crate) use told::Told;

use crate::error::AppError;
use crate::state::AppState;
use axum::Router;
use axum::extract::Path;
use axum::http::{HeaderName, HeaderValue, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use std::sync::LazyLock;

pub(crate) fn routes() -> Router<AppState> {
    Router::new()
        .route("/walk", get(|| async { Redirect::permanent(HOME) }))
        .route(HOME, get(|| async { file("") }))
        .route(
            "/walk/{file}",
            get(|Path(name): Path<String>| async move { file(&name) }),
        )
        // Where a camera ends up with an enrolment QR code. The code stands behind the `#`: it is
        // never sent, and a browser takes it along (RFC 9110 section 10.2.2).
        .route("/enrol", get(|| async { Redirect::to(HOME) }))
}

const HOME: &str = "/walk/";

/// The page's files, by name, with their media types.
const FILES: [(&str, &str, &[u8]); 17] = {
    const SCRIPT: &str = "text/javascript; charset=utf-8";
    [
        (
            "walk.css",
            "text/css; charset=utf-8",
            include_bytes!("assets/walk.css"),
        ),
        ("main.js", SCRIPT, include_bytes!("assets/main.js")),
        ("state.js", SCRIPT, include_bytes!("assets/state.js")),
        ("surveys.js", SCRIPT, include_bytes!("assets/surveys.js")),
        ("roof.js", SCRIPT, include_bytes!("assets/roof.js")),
        ("take.js", SCRIPT, include_bytes!("assets/take.js")),
        ("show.js", SCRIPT, include_bytes!("assets/show.js")),
        ("keep.js", SCRIPT, include_bytes!("assets/keep.js")),
        ("office.js", SCRIPT, include_bytes!("assets/office.js")),
        ("exchange.js", SCRIPT, include_bytes!("assets/exchange.js")),
        ("hear.js", SCRIPT, include_bytes!("assets/hear.js")),
        ("ids.js", SCRIPT, include_bytes!("assets/ids.js")),
        ("blake3.js", SCRIPT, include_bytes!("assets/blake3.js")),
        (
            "manifest.webmanifest",
            "application/manifest+json",
            include_bytes!("assets/manifest.webmanifest"),
        ),
        (
            "icon.svg",
            "image/svg+xml",
            include_bytes!("assets/icon.svg"),
        ),
        (
            "icon-192.png",
            "image/png",
            include_bytes!("assets/icon-192.png"),
        ),
        (
            "icon-512.png",
            "image/png",
            include_bytes!("assets/icon-512.png"),
        ),
    ]
};

/// The page, as HTML.
static SHELL: LazyLock<String> = LazyLock::new(|| shell::page().into_string());

/// The service worker, told what to keep, and under what name: another one whenever any file is.
static WORKER: LazyLock<String> = LazyLock::new(|| {
    let mut all = blake3::Hasher::new();
    all.update(SHELL.as_bytes());
    for (_, _, bytes) in FILES {
        all.update(bytes);
    }
    let names: Vec<&str> = FILES.iter().map(|(name, ..)| *name).collect();
    include_str!("assets/sw.js")
        .replace("@VERSION@", &all.finalize().to_hex()[..16])
        .replace("@FILES@", &names.join(" "))
});

/// A file of the page; the page itself has no name.
fn file(name: &str) -> Response {
    let (kind, body) = match name {
        "" => ("text/html; charset=utf-8", SHELL.as_bytes()),
        "sw.js" => ("text/javascript; charset=utf-8", WORKER.as_bytes()),
        _ => match FILES.iter().find(|(known, ..)| *known == name) {
            Some((_, kind, bytes)) => (*kind, *bytes),
            None => return AppError::NotFound("this file").into_response(),
        },
    };
    let headers = [
        (header::CONTENT_TYPE, kind),
        // The service worker keeps the page; nothing else should.
        (header::CACHE_CONTROL, "no-cache"),
        (
            header::CONTENT_SECURITY_POLICY,
            "default-src 'none'; img-src 'self' blob:; style-src 'self'; script-src 'self'; \
             connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'none'; \
             base-uri 'none'; frame-ancestors 'none'",
        ),
        (
            // The browser's recogniser listens, on this page only and once it was asked to.
            HeaderName::from_static("permissions-policy"),
            "camera=(), geolocation=(), microphone=(self)",
        ),
    ];
    let headers = headers.map(|(name, value)| (name, HeaderValue::from_static(value)));
    (headers, body).into_response()
}
