//! Coming in by a one-time link or a password, setting one, and leaving.

use super::{Failure, Posted, Signed, session};
use crate::api::Peer;
use crate::api::auth::{Reader, SESSION, cookie};
use crate::error::AppError;
use crate::page;
use crate::state::{AppState, Office};
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use maud::Markup;
use serde::Deserialize;

/// The form, and how to get a link.
pub(super) async fn how() -> Markup {
    page::sign_in(None)
}

/// `POST /sign-in`: by name and password.
pub(super) async fn by_password(
    State(state): State<AppState>,
    peer: Peer,
    Posted(form): Posted,
) -> Result<Response, Failure> {
    let field = |name: &str| {
        let found = form.iter().find(|(key, _)| key == name);
        found.map_or(String::new(), |(_, text)| text.clone())
    };
    let (firm, name, password) = (field("firm"), field("name"), field("password"));
    let now_ms = state.now().timestamp_millis();
    state.tries.take(&peer.0, now_ms)?;
    let account = format!("account {}/{}", firm.trim(), name.trim());
    state.tries.take(&account, now_ms)?;
    // Each hash takes memory: only so many at a time.
    let _turn = state.turn().await?;
    let signed_in = state
        .blocking(move |office| {
            let life = office.limits.session_life;
            let who = (firm.as_str(), name.as_str());
            office
                .accounts
                .sign_in_by_password(office.unix(), life, who, &password)
        })
        .await;
    match signed_in {
        Ok(session) => {
            let mut response = Redirect::to("/").into_response();
            response
                .headers_mut()
                .insert(header::SET_COOKIE, session_cookie(&state, &session)?);
            Ok(response)
        }
        Err(AppError::Unauthorized) => {
            let again = "No reviewer of this firm has this name and password.";
            Ok((StatusCode::UNAUTHORIZED, page::sign_in(Some(again))).into_response())
        }
        Err(other) => Err(other.into()),
    }
}

/// `GET /account`: the reviewer's own password.
pub(super) async fn account(Reader(caller): Reader) -> Result<Markup, Failure> {
    Ok(page::account(session(&caller), None))
}

/// `POST /account`: sets it, and ends the reviewer's other sessions.
pub(super) async fn set_password(
    State(state): State<AppState>,
    headers: HeaderMap,
    Signed(caller, form): Signed,
) -> Result<Response, Failure> {
    let mut given = form.iter().filter(|(key, _)| key.starts_with("password"));
    let (Some((_, password)), Some((_, again))) = (given.next(), given.next()) else {
        return Err(AppError::input("password", "is to be typed twice").into());
    };
    if password != again {
        return Err(AppError::input("password", "the two differ; type them again").into());
    }
    let (password, held) = (password.clone(), cookie(&headers, SESSION));
    let _turn = state.turn().await?;
    let page = state.blocking(move |office| {
        let now = office.unix();
        office
            .accounts
            .set_own_password(now, &caller, &password, held.as_deref())?;
        Ok(page::account(
            session(&caller),
            Some("The new password holds. Other sessions have ended."),
        ))
    });
    Ok(page.await?.into_response())
}

fn session_cookie(state: &Office, session: &str) -> Result<HeaderValue, AppError> {
    let life = state.limits.session_life.as_secs();
    let secure = if state.door.https { "; Secure" } else { "" };
    let cookie =
        format!("{SESSION}={session}; Path=/; Max-Age={life}; HttpOnly; SameSite=Strict{secure}");
    HeaderValue::from_str(&cookie).map_err(|e| AppError::internal("session cookie", e))
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
        let cookie = session_cookie(&state, &session)?;
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
