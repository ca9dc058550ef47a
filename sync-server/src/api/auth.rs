//! Who is asking: a bearer token, a session cookie or a customer's link, made into a [`Caller`].
//!
//! [`Device`] takes tokens only, so that no cookie of a browser can post to the devices'
//! endpoints. [`Reader`] takes any of the three, for reading.

use crate::accounts::{Caller, Rights};
use crate::error::AppError;
use crate::state::AppState;
use axum::extract::FromRequestParts;
use axum::http::{HeaderMap, header, request::Parts};

/// Cookie that holds a reviewer's session.
pub(crate) const SESSION: &str = "scupper_session";
/// Cookie that holds a customer's link.
pub(crate) const LINK: &str = "scupper_link";

/// An enrolled device with a good token.
pub(crate) struct Device {
    pub(crate) caller: Caller,
    pub(crate) id: String,
}

/// Anyone who may read something.
pub(crate) struct Reader(pub(crate) Caller);

impl FromRequestParts<AppState> for Device {
    type Rejection = AppError;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, AppError> {
        let token = bearer(&parts.headers).ok_or(AppError::Unauthorized)?;
        let caller = device(state, token).await?;
        match &caller.rights {
            Rights::Device(id) => Ok(Self {
                id: id.clone(),
                caller,
            }),
            _ => Err(AppError::Unauthorized),
        }
    }
}

impl FromRequestParts<AppState> for Reader {
    type Rejection = AppError;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, AppError> {
        if let Some(token) = bearer(&parts.headers) {
            return Ok(Self(device(state, token).await?));
        }
        let (session, link) = (
            cookie(&parts.headers, SESSION),
            cookie(&parts.headers, LINK),
        );
        let caller = state
            .blocking(move |office| {
                let now = office.unix();
                if let Some(session) = session
                    && let Ok(caller) = office.accounts.session(now, &session)
                {
                    return Ok(caller);
                }
                let link = link.ok_or(AppError::Unauthorized)?;
                office
                    .accounts
                    .link(now, &link)
                    .map_err(|_| AppError::Unauthorized)
            })
            .await?;
        let who = match &caller.rights {
            Rights::Customer { survey } => format!("{}/link/{survey}", caller.contractor),
            _ => format!("{}/{}", caller.contractor, caller.name),
        };
        state.requests.take(&who, state.now().timestamp_millis())?;
        Ok(Self(caller))
    }
}

async fn device(state: &AppState, token: String) -> Result<Caller, AppError> {
    let caller = state
        .blocking(move |office| office.accounts.device(office.unix(), &token))
        .await?;
    if let Rights::Device(id) = &caller.rights {
        state.requests.take(id, state.now().timestamp_millis())?;
    }
    Ok(caller)
}

fn bearer(headers: &HeaderMap) -> Option<String> {
    let value = headers.get(header::AUTHORIZATION)?.to_str().ok()?;
    let (scheme, token) = value.split_once(' ')?;
    scheme
        .eq_ignore_ascii_case("bearer")
        .then(|| token.trim().to_owned())
}

/// The value of a cookie.
pub(crate) fn cookie(headers: &HeaderMap, name: &str) -> Option<String> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(key, _)| *key == name)
        .map(|(_, value)| value.to_owned())
}
