//! Links for customers: `POST /surveys/{id}/links` makes one, `GET /shared/{secret}` opens the
//! assessment.

use super::survey::Wanted;
use super::{Failure, Signed, session};
use crate::api::Peer;
use crate::api::auth::LINK;
use crate::error::AppError;
use crate::page;
use crate::state::AppState;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::{IntoResponse, Redirect, Response};
use std::time::Duration;

const DAY: Duration = Duration::from_secs(24 * 3600);

/// `POST /surveys/{id}/links`: answers with the link, this once.
pub(super) async fn make(
    State(state): State<AppState>,
    Path(id): Path<String>,
    headers: HeaderMap,
    Signed(caller, form): Signed,
) -> Result<Response, Failure> {
    let host = headers
        .get(header::HOST)
        .and_then(|host| host.to_str().ok());
    let base = match (host, state.door.https) {
        (Some(host), true) => format!("https://{host}"),
        (Some(host), false) => format!("http://{host}"),
        (None, _) => String::new(),
    };
    // Unless it is revoked before, a link works for one of the times that the form offers.
    let days = form.iter().find(|(key, _)| key == "days");
    let days: u32 = days.map_or(Ok(page::LINK_DAYS[0]), |(_, text)| {
        let offered = text
            .parse()
            .ok()
            .filter(|days| page::LINK_DAYS.contains(days));
        offered.ok_or_else(|| AppError::input("days", "choose one of the times that are offered"))
    })?;
    let page = state.blocking(move |office| {
        office.writable(&caller, &id)?;
        let readings = office.readings(&caller, &id)?;
        office.may_send(&caller, &id, &readings)?;
        let secret = office
            .accounts
            .make_link(office.unix(), DAY * days, &caller, &id)?;
        office.live.call(caller.contractor, &id);
        let link = format!("{base}/shared/{secret}");
        Ok(page::link_made(session(&caller), &id, &link, days))
    });
    Ok(page.await?.into_response())
}

/// `POST /surveys/{id}/links/{link}/revoke`.
pub(super) async fn revoke(
    State(state): State<AppState>,
    Path((id, link)): Path<(String, String)>,
    Query(wanted): Query<Wanted>,
    Signed(caller, _): Signed,
) -> Result<Response, Failure> {
    let to = format!("/surveys/{id}#links");
    let answer = state.blocking(move |office| {
        office.writable(&caller, &id)?;
        office
            .accounts
            .revoke_link(office.unix(), &caller, &id, &link)?;
        office.live.call(caller.contractor, &id);
        wanted.after(office, &caller, &id, &to)
    });
    Ok(answer.await?)
}

/// `GET /shared/{secret}`: remembers the link in a cookie and opens the assessment.
pub(super) async fn open(
    State(state): State<AppState>,
    peer: Peer,
    Path(secret): Path<String>,
) -> Result<Response, Failure> {
    state.tries.take(&peer.0, state.now().timestamp_millis())?;
    let shown = secret.clone();
    let caller = state
        .blocking(move |office| office.accounts.link(office.unix(), &shown))
        .await?;
    let crate::accounts::Rights::Customer { survey } = caller.rights else {
        return Err(AppError::NotFound("this link").into());
    };
    let secure = if state.door.https { "; Secure" } else { "" };
    // Not strict: the link is opened from a mail, and the page it leads to needs the cookie.
    let cookie = format!("{LINK}={secret}; Path=/; HttpOnly; SameSite=Lax{secure}");
    let cookie = HeaderValue::from_str(&cookie).map_err(|_| AppError::NotFound("this link"))?;
    let to = Redirect::to(&super::papers::assessment_at(&survey));
    Ok(([(header::SET_COOKIE, cookie)], to).into_response())
}
