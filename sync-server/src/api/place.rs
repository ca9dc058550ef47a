//! What stands in a path. One that is no text is "bad input", in the same shape as every refusal.

use crate::error::AppError;
use crate::state::AppState;
use axum::extract::{FromRequestParts, Path};
use axum::http::request::Parts;

/// The one variable part of a path.
pub(crate) struct Place(pub(crate) String);

impl FromRequestParts<AppState> for Place {
    type Rejection = AppError;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, AppError> {
        let place = Path::<String>::from_request_parts(parts, state).await;
        let Path(place) = place.map_err(|error| AppError::input("path", error.body_text()))?;
        Ok(Self(place))
    }
}
