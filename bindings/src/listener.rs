//! What an app hears of without asking: what a note has to say, which survey changed, how far an
//! upload came, that a survey moved at the office.
//!
//! Listeners are called after the work is done and on disk, on the thread that made the call and
//! with nothing held, so they may call back. One that fails stops nothing.

use scupper_core::dictation::Event;
use scupper_core::store::Part;

/// A callback that failed. The call that it was told of stands.
#[derive(Debug, thiserror::Error, uniffi::Error)]
pub enum CallbackError {
    /// The callback failed.
    #[error("the callback failed: {reason}")]
    Failed {
        /// Why.
        reason: String,
    },
}

impl From<uniffi::UnexpectedUniFFICallbackError> for CallbackError {
    fn from(error: uniffi::UnexpectedUniFFICallbackError) -> Self {
        Self::Failed {
            reason: error.reason,
        }
    }
}

/// Hears what a hands-free note has to say.
#[uniffi::export(foreign)]
pub trait NoteListener: Send + Sync {
    /// Something new, in the order it came: a line to speak, a question, a draft to show.
    fn heard(&self, event: Event) -> Result<(), CallbackError>;
}

/// Hears that a survey is not what it was.
#[uniffi::export(foreign)]
pub trait ChangeListener: Send + Sync {
    /// A survey on this device changed, by an edit here or by what an exchange brought.
    fn changed(&self, survey_id: String) -> Result<(), CallbackError>;
}

/// Hears how far an upload came, how a survey moves at the office.
#[uniffi::export(foreign)]
pub trait UploadListener: Send + Sync {
    /// So many bytes of a photo's file are sent. Called every few kilobytes.
    fn sent(&self, hash: String, part: Part, bytes: u64, of: u64) -> Result<(), CallbackError>;
}

/// What moved at the office.
#[cfg(feature = "client")]
#[derive(Debug, Clone, Copy, PartialEq, Eq, uniffi::Enum)]
pub enum Moved {
    /// What was entered into the survey: an exchange brings it. What this device sent is told too.
    Survey,
    /// What the office does beside it: hazards read, rates, prices, links.
    Office,
}

#[cfg(feature = "client")]
impl Moved {
    /// None for an event that this library does not know.
    pub(crate) fn of(event: &str) -> Option<Self> {
        match event {
            "heads" => Some(Self::Survey),
            "office" => Some(Self::Office),
            _ => None,
        }
    }
}

/// Hears how a survey moves at the office, while `Office.watch` waits for it.
#[cfg(feature = "client")]
#[uniffi::export(foreign)]
pub trait OfficeListener: Send + Sync {
    /// It is not what was told last.
    fn moved(&self, survey_id: String, what: Moved) -> Result<(), CallbackError>;
}
