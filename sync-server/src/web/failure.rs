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
                "Sign in by your name and password or by a one-time link, in another tab if something \
                 you typed is still in this one. Whoever runs the server makes a link with: scupper \
                 admit reviewer NAME --data DIR"
            }
            AppError::NotFound("this link") => {
                "It was revoked, or its time is over; ask whoever sent it for a new one."
            }
            AppError::NotFound(_) => "Go back to the list of surveys and choose one there.",
            AppError::Forbidden(_) => "Go back, reload the page and try once more.",
            AppError::Conflict { .. } => "Go back to the survey; its first part is the hazards.",
            AppError::TooMany(_) => "Wait a little, then reload the page.",
            _ => "Go back and try again. Nothing was changed.",
        };
        let title = match &self.0 {
            AppError::Input(_) | AppError::Unusable(_) => "This could not be used",
            AppError::Unauthorized => "Please sign in",
            AppError::Forbidden(_) => "Not allowed",
            AppError::NotFound(_) => "Not here",
            AppError::Conflict { .. } => "Not yet",
            AppError::TooLarge { .. } => "Too large",
            AppError::TooMany(_) => "Too often",
            AppError::Full(_) => "No room left",
            AppError::Internal(_) => "This went wrong here",
        };
        let detail = match &self.0 {
            AppError::Unauthorized => {
                "Nobody is signed in here, or the session has ended".to_owned()
            }
            other => other.public_detail(),
        };
        let page = page::error(title, &detail, next);
        (status, page).into_response()
    }
}
