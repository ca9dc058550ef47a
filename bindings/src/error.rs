//! What an app is told when a call did not do its work: one kind for each thing it can do.
//!
//! Messages may be shown to a person and sent to a log: they name places and numbers, but
//! nothing that was dictated, typed or photographed.

use scupper_core::capture::CaptureError;
use scupper_core::document::DocumentError;
use scupper_core::exchange::ExchangeError;
use scupper_core::store::StoreError;
use scupper_core::survey::InputError;

/// A call that did not do its work. What was acknowledged before it stands.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error, uniffi::Error)]
#[uniffi(flat_error)]
pub enum ScupperError {
    /// What was given makes no sense: show the message where it was entered.
    #[error("{message}")]
    BadInput {
        /// For a person.
        message: String,
    },
    /// The survey or note is not on this device: join the survey and exchange.
    #[error("{message}")]
    NotFound {
        /// For a person.
        message: String,
    },
    /// The photo was not taken in: take it again.
    #[error("{message}")]
    BadPhoto {
        /// For a person.
        message: String,
    },
    /// The store is closed, or another process holds it: close it there, then open it here.
    #[error("{message}")]
    NotOpen {
        /// For a person.
        message: String,
    },
    /// There is no room: ask for some to be freed, then repeat the call.
    #[error("{message}")]
    NoSpace {
        /// For a person.
        message: String,
    },
    /// The store or the server is of a newer kind: update the app.
    #[error("{message}")]
    UpdateNeeded {
        /// For a person.
        message: String,
    },
    /// Something kept is not what was written: exchange to fetch it again, or restore a backup.
    #[error("{message}")]
    Damaged {
        /// For a person.
        message: String,
    },
    /// It did not work this time: repeat the call, after an exchange from its first step.
    #[error("{message}")]
    TryAgain {
        /// For a person.
        message: String,
    },
}

impl From<CaptureError> for ScupperError {
    fn from(error: CaptureError) -> Self {
        let message = without_quotes(&error.to_string());
        match error {
            CaptureError::Document(error) => of_document(&error, message),
            CaptureError::Store(error) => of_store(&error, message),
            CaptureError::Exchange(error) => of_exchange(&error, message),
            CaptureError::Photo(_) | CaptureError::File { .. } => Self::BadPhoto { message },
            CaptureError::NoSuchSurvey { .. } | CaptureError::NoSuchNote { .. } => {
                Self::NotFound { message }
            }
        }
    }
}

impl From<InputError> for ScupperError {
    fn from(error: InputError) -> Self {
        Self::BadInput {
            message: without_quotes(&error.to_string()),
        }
    }
}

fn of_document(error: &DocumentError, message: String) -> ScupperError {
    match error {
        DocumentError::NoSuchEntry { .. }
        | DocumentError::BadValue { .. }
        | DocumentError::NotAllowed { .. } => ScupperError::BadInput { message },
        DocumentError::Unreadable { .. }
        | DocumentError::MissingChange { .. }
        | DocumentError::Forked { .. }
        | DocumentError::Internal { .. } => ScupperError::Damaged { message },
    }
}

fn of_store(error: &StoreError, message: String) -> ScupperError {
    match error {
        StoreError::Locked { .. } | StoreError::Key { .. } => ScupperError::NotOpen { message },
        StoreError::DiskFull { .. } | StoreError::Quota { .. } => ScupperError::NoSpace { message },
        StoreError::TooNew { .. } => ScupperError::UpdateNeeded { message },
        StoreError::Damaged { .. } => ScupperError::Damaged { message },
        StoreError::Refused { .. } => ScupperError::BadInput { message },
        StoreError::WrongOffset { .. } | StoreError::Io { .. } | StoreError::Database { .. } => {
            ScupperError::TryAgain { message }
        }
    }
}

fn of_exchange(error: &ExchangeError, message: String) -> ScupperError {
    match error {
        ExchangeError::Protocol { .. } => ScupperError::UpdateNeeded { message },
        ExchangeError::Document(error) => of_document(error, message),
        ExchangeError::OtherSurvey { .. } => ScupperError::BadInput { message },
        ExchangeError::Unreadable { .. }
        | ExchangeError::TooLarge { .. }
        | ExchangeError::Forged { .. } => ScupperError::TryAgain { message },
    }
}

/// A reader of JSON quotes what it found, with its own quotes escaped; that may be somebody's
/// words. What is quoted and never closed goes too.
fn without_quotes(message: &str) -> String {
    let mut kept = String::new();
    let mut chars = message.chars();
    while let Some(c) = chars.next() {
        if c != '"' {
            kept.push(c);
            continue;
        }
        kept.push_str("that text");
        while let Some(c) = chars.next() {
            match c {
                '"' => break,
                '\\' => drop(chars.next()),
                _ => {}
            }
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use scupper_core::survey::read::survey_from_json;

    #[test]
    fn nobodys_words_are_in_a_message() {
        let json = r#"{"site": {"name": "Shop", "roof": {"height_ft": "ask \"Ilse\" at home"}}}"#;
        let error: ScupperError = survey_from_json(json).unwrap_err().into();
        let message = error.to_string();
        assert!(message.starts_with("site.roof.height_ft: "), "{message}");
        assert!(message.contains("that text"), "{message}");
        assert!(
            !message.contains("Ilse") && !message.contains("home"),
            "{message}"
        );
    }

    #[test]
    fn text_between_quotes_goes_and_the_rest_stays() {
        for (message, kept) in [
            ("no quotes", "no quotes"),
            (
                "found \"a b\", not a number",
                "found that text, not a number",
            ),
            ("\"a\" and \"b\"", "that text and that text"),
            ("an open \"quote", "an open that text"),
            (r#"found "a \"b\" c \\", not"#, "found that text, not"),
        ] {
            assert_eq!(without_quotes(message), kept);
        }
    }
}
