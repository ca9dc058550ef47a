//! Coming in by a one-time link, and leaving.

use super::Failure;
use crate::api::Peer;
use crate::api::auth::{SESSION, cookie};
use crate::error::AppError;
use crate::page;
use crate::state::AppState;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Redirect, Response};
use maud::Markup;
use serde::Deserialize;

/// How to get a link.
pub(super) async fn how() -> Markup {
    page::sign_in()
}

#[derive(Debug, Deserialize)]
pub(super) struct Next {
    next: Option<String>,
}

/// Spends a link. Opening a spent one again in the same browser goes on while the session lasts.
pub(super) async fn enter(
    State(state): State<AppState>,
    peer: Peer,
    Path(code): Path<String>,
    Query(next): Query<Next>,
    headers: HeaderMap,
) -> Result<Response, Failure> {
    state.tries.take(&peer.0, state.now().timestamp_millis())?;
    let held = cookie(&headers, SESSION);
    let session = state
        .blocking(move |office| {
            let now = office.unix();
            match (
                office
                    .accounts
                    .sign_in(now, office.limits.session_life, &code),
                held,
            ) {
                (Err(AppError::Unauthorized), Some(held)) => {
                    office.accounts.session(now, &held).map(|_| None)
                }
                (result, _) => result.map(Some),
            }
        })
        .await?;
    let next = next
        .next
        .as_deref()
        .filter(|next| is_local(next))
        .unwrap_or("/");
    let mut response = Redirect::to(next).into_response();
    if let Some(session) = session {
        let life = state.limits.session_life.as_secs();
        let secure = if state.door.https { "; Secure" } else { "" };
        let cookie = format!(
            "{SESSION}={session}; Path=/; Max-Age={life}; HttpOnly; SameSite=Strict{secure}"
        );
        let cookie =
            HeaderValue::from_str(&cookie).map_err(|e| AppError::internal("session cookie", e))?;
        response.headers_mut().insert(header::SET_COOKIE, cookie);
    }
    Ok(response)
}

/// Ends the session.
pub(super) async fn leave(
    State(state): State<AppState>,
    headers: HeaderMap,
) -> Result<Response, Failure> {
    if let Some(session) = cookie(&headers, SESSION) {
        state
            .blocking(move |office| office.accounts.sign_out(&session))
            .await?;
    }
    let mut response = Redirect::to("/sign-in").into_response();
    let gone = format!("{SESSION}=; Path=/; Max-Age=0; HttpOnly; SameSite=Strict");
    if let Ok(gone) = HeaderValue::from_str(&gone) {
        response.headers_mut().insert(header::SET_COOKIE, gone);
    }
    Ok(response)
}

/// Whether an address stays on this server: a path, and nothing that browsers read as a host.
fn is_local(next: &str) -> bool {
    next.starts_with('/')
        && !next.starts_with("//")
        && !next.contains('\\')
        && !next.chars().any(char::is_control)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_never_leads_to_another_site() {
        for (next, local) in [
            ("/surveys/a", true),
            ("/", true),
            ("//evil.example", false),
            ("/\\evil.example", false),
            ("https://evil.example", false),
            ("/\r\nx", false),
        ] {
            assert_eq!(is_local(next), local, "{next}");
        }
    }
}
