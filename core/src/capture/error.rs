//! What can go wrong in a day's capture, one kind for each thing a person can do about it.

use crate::document::DocumentError;
use crate::exchange::ExchangeError;
use crate::photo::PhotoError;
use crate::store::StoreError;

/// A call that did not do its work. What was acknowledged before stands.
#[derive(Debug, thiserror::Error)]
pub enum CaptureError {
    /// The edit or entry makes no sense: change it.
    #[error(transparent)]
    Document(#[from] DocumentError),
    /// The disk or the store says no: free space, restart, restore.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The photo is not taken in: take it again.
    #[error(transparent)]
    Photo(#[from] PhotoError),
    /// The exchange failed: try again, or update the program.
    #[error(transparent)]
    Exchange(#[from] ExchangeError),
    /// There is no such survey on this device.
    #[error("{survey_id}: no such survey on this device; create or exchange it first")]
    NoSuchSurvey {
        /// The survey.
        survey_id: String,
    },
    /// There is no such note under way.
    #[error("{note_id}: no such note is being spoken; begin one")]
    NoSuchNote {
        /// The note.
        note_id: String,
    },
    /// A file given by path cannot be read.
    #[error("cannot read {path}: {problem}")]
    File {
        /// The file.
        path: String,
        /// What the system said.
        problem: String,
    },
}
