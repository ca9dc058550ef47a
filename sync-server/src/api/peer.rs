//! The address a request came from, as a key for counting tries.

use crate::state::AppState;
use axum::extract::{ConnectInfo, FromRequestParts};
use axum::http::request::Parts;
use std::convert::Infallible;
use std::net::SocketAddr;

/// The peer's address. Behind a proxy all peers look alike and share one count, which errs on
/// the strict side; a forwarded-for header is not believed, since anyone can send one.
pub(crate) struct Peer(pub(crate) String);

impl FromRequestParts<AppState> for Peer {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &AppState) -> Result<Self, Infallible> {
        let info = parts.extensions.get::<ConnectInfo<SocketAddr>>();
        Ok(Self(info.map_or_else(
            || "local".to_owned(),
            |info| info.0.ip().to_string(),
        )))
    }
}
