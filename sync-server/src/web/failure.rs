//! An error as a page that says what to do next.

use crate::error::AppError;
use crate::page;
use axum::response::{IntoResponse, Response};

/// What a page handler answers when it cannot show its page.
pub(crate) struct Failure(AppError);

impl<E: Into<AppError>> From<E> for Failure {
    fn from(error: E) -> Self {
        Self(error.into())
    }
}

impl IntoResponse for Failure {
    fn into_response(self) -> Response {
        let status = self.0.status();
        if let AppError::Internal(text) = &self.0 {
            tracing::error!(error = %text, "page failed");
        }
        let next = match &self.0 {
            AppError::Unauthorized => {
                "Open the sign-in link that the server printed when it started, or have one made \
                 with: scupper admit reviewer NAME --data DIR"
            }
            AppError::NotFound(_) => "Go back to the list of surveys and choose one there.",
            AppError::Forbidden(_) => "Go back, reload the page and try once more.",
            AppError::Conflict { .. } => "Go back to the survey; its first part is the hazards.",
            AppError::TooMany(_) => "Wait a little, then reload the page.",
            _ => "Go back and try again. Nothing was changed.",
        };
        let title = status.canonical_reason().unwrap_or("Error");
        let page = page::error(title, &self.0.public_detail(), next);
        (status, page).into_response()
    }
}
