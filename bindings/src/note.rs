//! A note that is being spoken, hands-free: piece by piece, each kept as it comes.

use crate::device::Day;
use crate::error::ScupperError;
use scupper_core::survey::spoken::{Interpretation, Segment};
use std::sync::Arc;

/// A note that was begun. It outlives the app: `Device.open_notes` finds it again.
#[derive(uniffi::Object)]
pub struct Note {
    day: Arc<Day>,
    id: String,
    survey_id: String,
}

impl Note {
    pub(crate) fn new(day: Arc<Day>, id: String, survey_id: String) -> Self {
        Self { day, id, survey_id }
    }
}

#[uniffi::export]
impl Note {
    /// Identity of the note.
    pub fn id(&self) -> String {
        self.id.clone()
    }

    /// The survey it is about.
    pub fn survey_id(&self) -> String {
        self.survey_id.clone()
    }

    /// Takes in what was just heard, and returns what the note is understood to say so far.
    pub fn hear(&self, segment: Segment) -> Result<Interpretation, ScupperError> {
        self.day.with(|day| day.hear(&self.id, segment))
    }

    /// Ends the note and enters it into the survey.
    pub fn end(&self) -> Result<Interpretation, ScupperError> {
        self.day.with(|day| day.end_note(&self.id))
    }
}
