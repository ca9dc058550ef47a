//! The one error of the HTTP side, and how it looks to a caller.
//!
//! An answer is `application/problem+json` (RFC 9457) with `title`, `status`, `detail` and, for
//! bad input, `place`. What went wrong inside the server is logged, never sent: an outsider
//! learns no path, no SQL and no token from it.

use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use scupper_core::capture::CaptureError;
use scupper_core::document::DocumentError;
use scupper_core::exchange::ExchangeError;
use scupper_core::store::StoreError;
use scupper_core::survey::InputError;
use serde::Serialize;
use utoipa::ToSchema;

/// Why a request was not carried out. One variant for each thing a caller can do about it.
#[derive(Debug, thiserror::Error)]
pub enum AppError {
    /// The request cannot be read: 400, with the place.
    #[error("{0}")]
    Input(InputError),
    /// No valid token or session: 401.
    #[error("sign in or send a valid device token")]
    Unauthorized,
    /// Known caller, but not allowed: 403.
    #[error("{0}")]
    Forbidden(String),
    /// Not there, or not for this caller to know of: 404.
    #[error("{0} was not found")]
    NotFound(&'static str),
    /// The state is not what the caller believed: 409, with headers that tell the true state.
    #[error("{detail}")]
    Conflict {
        /// What differs and what to do.
        detail: String,
        /// Headers such as `Upload-Offset`.
        headers: Vec<(&'static str, String)>,
    },
    /// More bytes than allowed: 413.
    #[error("{what} is larger than the limit of {limit} bytes")]
    TooLarge {
        /// What was too large.
        what: &'static str,
        /// The limit.
        limit: u64,
    },
    /// Readable, but cannot be used: 422.
    #[error("{0}")]
    Unusable(String),
    /// Too many requests: 429, with the seconds to wait.
    #[error("too many requests; wait {0} s and try again")]
    TooMany(u64),
    /// The disk or the quota is full: 507.
    #[error("{0}")]
    Full(String),
    /// Ours to mend: 500. The text goes to the log only.
    #[error("internal: {0}")]
    Internal(String),
}

impl AppError {
    /// Bad input at a place.
    pub fn input(place: &str, problem: impl Into<String>) -> Self {
        Self::Input(InputError::at(place, problem))
    }

    /// A fault of the server's own; `doing` says what it was about.
    pub fn internal(doing: &str, error: impl std::fmt::Display) -> Self {
        Self::Internal(format!("{doing}: {error}"))
    }

    /// The HTTP status of the answer.
    pub fn status(&self) -> StatusCode {
        match self {
            Self::Input(_) => StatusCode::BAD_REQUEST,
            Self::Unauthorized => StatusCode::UNAUTHORIZED,
            Self::Forbidden(_) => StatusCode::FORBIDDEN,
            Self::NotFound(_) => StatusCode::NOT_FOUND,
            Self::Conflict { .. } => StatusCode::CONFLICT,
            Self::TooLarge { .. } => StatusCode::PAYLOAD_TOO_LARGE,
            Self::Unusable(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::TooMany(_) => StatusCode::TOO_MANY_REQUESTS,
            Self::Full(_) => StatusCode::INSUFFICIENT_STORAGE,
            Self::Internal(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    /// What the caller may read.
    pub fn public_detail(&self) -> String {
        match self {
            Self::Internal(_) => {
                "the server could not finish this; nothing was changed by it, try again".to_owned()
            }
            other => other.to_string(),
        }
    }
}

/// What the caller is sent (RFC 9457).
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Problem<'a> {
    /// The status in words.
    title: &'a str,
    /// The status.
    status: u16,
    /// What is wrong and what to do.
    detail: String,
    /// Where in the input.
    #[serde(skip_serializing_if = "Option::is_none")]
    place: Option<&'a str>,
}

impl From<InputError> for AppError {
    fn from(error: InputError) -> Self {
        Self::Input(error)
    }
}

impl From<rusqlite::Error> for AppError {
    fn from(error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            Some(rusqlite::ErrorCode::DiskFull) => {
                Self::Full("the server's disk is full; free space on it, then try again".to_owned())
            }
            _ => Self::internal("office database", error),
        }
    }
}

impl From<std::io::Error> for AppError {
    fn from(error: std::io::Error) -> Self {
        match error.kind() {
            std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => {
                Self::Full("the server's disk is full; free space on it, then try again".to_owned())
            }
            _ => Self::internal("files", error),
        }
    }
}

impl From<StoreError> for AppError {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::DiskFull { .. } => Self::Full(
                "the server's disk is full; nothing before this is lost, try again later"
                    .to_owned(),
            ),
            StoreError::Quota { .. } => Self::Full(error.to_string()),
            StoreError::Refused { what, problem } => Self::Unusable(format!("{what}: {problem}")),
            StoreError::WrongOffset { expected, .. } => Self::Conflict {
                detail: error.to_string(),
                headers: vec![
                    ("upload-offset", expected.to_string()),
                    ("upload-complete", "?0".to_owned()),
                ],
            },
            StoreError::Locked { .. } | StoreError::Key { .. } => Self::Unusable(error.to_string()),
            _ => Self::internal("store", error),
        }
    }
}

impl From<DocumentError> for AppError {
    fn from(error: DocumentError) -> Self {
        match error {
            DocumentError::BadValue { place, problem } => Self::input(&place, problem),
            DocumentError::Internal { .. } => Self::internal("document", error),
            _ => Self::Unusable(error.to_string()),
        }
    }
}

impl From<ExchangeError> for AppError {
    fn from(error: ExchangeError) -> Self {
        match error {
            ExchangeError::Unreadable { problem } => Self::input("message", problem),
            ExchangeError::TooLarge { most } => Self::TooLarge {
                what: "the unfolded message",
                limit: most as u64,
            },
            ExchangeError::Forged { .. } => Self::Forbidden(error.to_string()),
            ExchangeError::Document(error) => error.into(),
            _ => Self::Unusable(error.to_string()),
        }
    }
}

impl From<CaptureError> for AppError {
    fn from(error: CaptureError) -> Self {
        match error {
            CaptureError::Document(error) => error.into(),
            CaptureError::Store(error) => error.into(),
            CaptureError::Exchange(error) => error.into(),
            _ => Self::Unusable(error.to_string()),
        }
    }
}

impl From<tokio::task::JoinError> for AppError {
    fn from(error: tokio::task::JoinError) -> Self {
        Self::internal("worker", error)
    }
}

impl IntoResponse for AppError {
    fn into_response(self) -> Response {
        let status = self.status();
        if let Self::Internal(text) = &self {
            tracing::error!(error = %text, "request failed");
        }
        let problem = Problem {
            title: status.canonical_reason().unwrap_or("error"),
            status: status.as_u16(),
            detail: self.public_detail(),
            place: match &self {
                Self::Input(error) => Some(&error.place),
                _ => None,
            },
        };
        let body = serde_json::to_string(&problem).unwrap_or_default();
        let mut response = (status, body).into_response();
        let headers = response.headers_mut();
        headers.insert(
            header::CONTENT_TYPE,
            HeaderValue::from_static("application/problem+json"),
        );
        match self {
            Self::Unauthorized => {
                let scheme = HeaderValue::from_static("Bearer");
                headers.insert(header::WWW_AUTHENTICATE, scheme);
            }
            Self::TooMany(seconds) => {
                headers.insert(header::RETRY_AFTER, HeaderValue::from(seconds));
            }
            Self::Conflict { headers: truth, .. } => {
                for (name, value) in truth {
                    if let Ok(value) = HeaderValue::from_str(&value) {
                        headers.insert(HeaderName::from_static(name), value);
                    }
                }
            }
            _ => {}
        }
        response
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn faults_inside_stay_inside() {
        let error = AppError::internal("office database", "/srv/secret/office.sqlite: token=abc");
        assert_eq!(error.status(), 500);
        assert!(!error.public_detail().contains("secret"));
    }

    #[test]
    fn a_conflict_tells_the_true_state() {
        let error = AppError::Conflict {
            detail: "offset differs".to_owned(),
            headers: vec![("upload-offset", "17".to_owned())],
        };
        let response = error.into_response();
        assert_eq!(response.status(), 409);
        assert_eq!(response.headers().get("upload-offset").unwrap(), "17");
    }
}
