//! A note that is being spoken, hands-free: piece by piece, each kept as it comes.

use crate::device::Day;
use crate::error::ScupperError;
use crate::listener::NoteListener;
use scupper_core::survey::spoken::{Interpretation, Segment};
use std::sync::{Arc, Mutex, PoisonError};

/// A note that was begun. It outlives the app: the device lists notes that are still open.
#[derive(uniffi::Object)]
pub struct Note {
    day: Arc<Day>,
    id: String,
    survey_id: String,
    listener: Mutex<Option<Arc<dyn NoteListener>>>,
}

impl Note {
    pub(crate) fn new(day: Arc<Day>, id: String, survey_id: String) -> Self {
        Self {
            day,
            id,
            survey_id,
            listener: Mutex::new(None),
        }
    }

    fn listener(&self) -> std::sync::MutexGuard<'_, Option<Arc<dyn NoteListener>>> {
        self.listener.lock().unwrap_or_else(PoisonError::into_inner)
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

    /// Who hears what the note has to say: lines to speak back, questions, drafts. It takes the
    /// place of an earlier listener; none removes it.
    #[uniffi::method(default(listener = None))]
    pub fn listen(&self, listener: Option<Arc<dyn NoteListener>>) {
        *self.listener() = listener;
    }

    /// Takes in what was just heard, and returns what the note is understood to say so far. What
    /// is new of it goes to the listener before that.
    pub fn hear(&self, segment: Segment) -> Result<Interpretation, ScupperError> {
        let heard = self.day.with(|day| day.hear(&self.id, segment))?;
        let listener = self.listener().clone();
        if let Some(listener) = listener {
            for event in heard.events {
                let _ = listener.heard(event);
            }
        }
        Ok(heard.so_far)
    }

    /// Ends the note and enters it into the survey.
    pub fn end(&self) -> Result<Interpretation, ScupperError> {
        self.day.with(|day| day.end_note(&self.id))
    }
}
