//! The device's store: its surveys, and which file to send next.

use crate::clock::{Clock, Here};
use crate::error::ScupperError;
use crate::listener::ChangeListener;
use crate::note::Note;
use crate::survey::Survey;
use crate::{Count, FilePath};
use scupper_core::capture::{Capture, CaptureError, Identity, Page, SurveyEntry, Upload, Waiting};
use scupper_core::store::{Part, StoreKey};
use std::sync::{Arc, Mutex, PoisonError};

/// The day's capture, or none once the store was closed. Shared by the device and its surveys.
pub(crate) struct Day {
    capture: Mutex<Option<Capture>>,
    listener: Mutex<Option<Arc<dyn ChangeListener>>>,
}

impl Day {
    fn new(capture: Capture) -> Self {
        Self {
            capture: Mutex::new(Some(capture)),
            listener: Mutex::new(None),
        }
    }

    /// Does a piece of work with the store, one at a time, then tells who listens what changed.
    pub(crate) fn with<T>(
        &self,
        work: impl FnOnce(&mut Capture) -> Result<T, CaptureError>,
    ) -> Result<T, ScupperError> {
        let (done, changed) = {
            let mut day = self.capture.lock().map_err(|_| ScupperError::NotOpen {
                message: "an earlier call broke off; start the app again".to_owned(),
            })?;
            let capture = day.as_mut().ok_or_else(|| ScupperError::NotOpen {
                message: "the store is closed; open it again".to_owned(),
            })?;
            (work(capture), capture.take_changed())
        };
        if !changed.is_empty() {
            let listener = self.listener().clone();
            if let Some(listener) = listener {
                for survey_id in changed {
                    let _ = listener.changed(survey_id);
                }
            }
        }
        Ok(done?)
    }

    fn listener(&self) -> std::sync::MutexGuard<'_, Option<Arc<dyn ChangeListener>>> {
        self.listener.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn shut(&self) {
        let day = self.capture.lock();
        *day.unwrap_or_else(PoisonError::into_inner) = None;
        *self.listener() = None;
    }
}

/// A store on this device, open for one person. Only one process at a time can open it.
///
/// Keep it for as long as its surveys are used: when it is closed or gone, they are closed too.
#[derive(uniffi::Object)]
pub struct Device {
    day: Arc<Day>,
}

impl Device {
    fn of(capture: Capture) -> Arc<Self> {
        Arc::new(Self {
            day: Arc::new(Day::new(capture)),
        })
    }

    fn survey_of(&self, id: String) -> Arc<Survey> {
        Arc::new(Survey::new(Arc::clone(&self.day), id))
    }
}

impl Drop for Device {
    fn drop(&mut self) {
        self.day.shut();
    }
}

#[uniffi::export]
impl Device {
    /// Opens the store in a folder, which is made if it is not there. `identity` is what the
    /// server gave when the device was enrolled. Without a clock, times are in UTC.
    #[uniffi::constructor(default(clock = None))]
    pub fn open(
        folder: FilePath,
        identity: Identity,
        clock: Option<Arc<dyn Clock>>,
    ) -> Result<Arc<Self>, ScupperError> {
        let capture = Capture::open(&folder, identity, Box::new(Here(clock)))?;
        Ok(Self::of(capture))
    }

    /// Opens a store whose database is encrypted under a key of 32 random bytes, or makes one.
    /// Keep the key in the phone's safe place for secrets: without it nobody can read the store.
    /// Photos are plain files beside the database. `NotOpen` when the key does not go with the
    /// store, or this library was built without encryption; nothing was changed then.
    #[uniffi::constructor(default(clock = None))]
    pub fn open_keyed(
        folder: FilePath,
        key: Vec<u8>,
        identity: Identity,
        clock: Option<Arc<dyn Clock>>,
    ) -> Result<Arc<Self>, ScupperError> {
        let key = StoreKey::new(key.try_into().map_err(|_| ScupperError::BadInput {
            message: "a key has 32 bytes".to_owned(),
        })?);
        let capture = Capture::open_keyed(&folder, &key, identity, Box::new(Here(clock)))?;
        Ok(Self::of(capture))
    }

    /// The surveys on this device, oldest first: all, or at most so many after an id.
    #[uniffi::method(default(after = None, most = None))]
    pub fn surveys(
        &self,
        after: Option<String>,
        most: Option<Count>,
    ) -> Result<Vec<SurveyEntry>, ScupperError> {
        let after = after.as_deref();
        self.day.with(|day| day.surveys(Page { after, most }))
    }

    /// Who hears that a survey changed. It takes the place of an earlier listener; none removes it.
    #[uniffi::method(default(listener = None))]
    pub fn listen(&self, listener: Option<Arc<dyn ChangeListener>>) {
        *self.day.listener() = listener;
    }

    /// Begins a new survey.
    pub fn create_survey(&self, site_name: &str) -> Result<Arc<Survey>, ScupperError> {
        let id = self.day.with(|day| day.create_survey(site_name))?;
        Ok(self.survey_of(id))
    }

    /// Takes part in a survey by its id, as the office or a colleague gave it. What others
    /// entered comes with the next exchange.
    pub fn join_survey(&self, id: String) -> Result<Arc<Survey>, ScupperError> {
        self.day.with(|day| day.join_survey(&id))?;
        Ok(self.survey_of(id))
    }

    /// Begins the next visit to a survey's site, from its register, as a new survey that names it
    /// as its parent. What was found and photographed stays with the visit it belongs to.
    pub fn next_visit(&self, survey_id: &str) -> Result<Arc<Survey>, ScupperError> {
        let id = self.day.with(|day| day.next_visit(survey_id))?;
        Ok(self.survey_of(id))
    }

    /// A survey that is on this device.
    pub fn survey(&self, id: String) -> Result<Arc<Survey>, ScupperError> {
        self.day.with(|day| day.survey(&id))?;
        Ok(self.survey_of(id))
    }

    /// Notes that were begun and not ended, since the app or the battery died; oldest first.
    pub fn open_notes(&self) -> Result<Vec<Arc<Note>>, ScupperError> {
        let open = self.day.with(|day| day.open_notes())?;
        let notes = open.into_iter().map(|note| {
            Note::new(
                Arc::clone(&self.day),
                note.transcript.note_id,
                note.survey_id,
            )
        });
        Ok(notes.map(Arc::new).collect())
    }

    /// The photo file to send next, or none. Send it with the phone's own uploader, then tell
    /// how it went.
    pub fn next_upload(&self) -> Result<Option<Upload>, ScupperError> {
        self.day.with(|day| day.next_upload())
    }

    /// How much waits to be sent, for a line on the screen.
    pub fn uploads_waiting(&self) -> Result<Waiting, ScupperError> {
        self.day.with(|day| day.uploads_waiting())
    }

    /// How an upload went: whole at the server, or to be tried again later.
    pub fn upload_result(&self, hash: &str, part: Part, whole: bool) -> Result<(), ScupperError> {
        self.day.with(|day| day.upload_result(hash, part, whole))
    }

    /// Closes the store, so that it can be opened again. Waits for calls that are under way;
    /// those after it answer with `NotOpen`.
    pub fn shut(&self) {
        self.day.shut();
    }
}
