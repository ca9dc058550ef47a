//! Reading a JSON body: a wrong shape is a 400 that names the place, as on the command line.

use crate::error::AppError;
use crate::state::AppState;
use axum::body::Bytes;
use axum::extract::{FromRequest, Request};
use scupper_core::survey::read::from_json;
use serde::de::DeserializeOwned;

/// A body of one JSON value.
pub(crate) struct Json<T>(pub(crate) T);

impl<T: DeserializeOwned> FromRequest<AppState> for Json<T> {
    type Rejection = AppError;

    async fn from_request(request: Request, state: &AppState) -> Result<Self, AppError> {
        let bytes = whole(request, "the request", state.limits.small_body).await?;
        let text = std::str::from_utf8(&bytes)
            .map_err(|_| AppError::input("body", "is not UTF-8 text; send JSON"))?;
        Ok(Self(from_json(text)?))
    }
}

/// The whole body, if it is within a limit.
pub(crate) async fn whole(
    request: Request,
    what: &'static str,
    limit: usize,
) -> Result<Bytes, AppError> {
    let too_large = AppError::TooLarge {
        what,
        limit: limit as u64,
    };
    axum::body::to_bytes(request.into_body(), limit)
        .await
        .map_err(|error| {
            use std::error::Error;
            let limited = error
                .source()
                .is_some_and(|inner| inner.to_string().contains("length limit exceeded"));
            if limited {
                too_large
            } else {
                AppError::input(
                    "body",
                    "the connection ended before the body did; send it again",
                )
            }
        })
}
