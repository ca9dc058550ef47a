//! One survey on the device: what a technician enters, what the phone warns of, the exchange.
//!
//! `about` is a unit's tag, `site`, or the id of an entry; `field` a path such as
//! `nameplate.mca_a`. Every call that returns has put what it was given on disk.

use crate::device::Day;
use crate::error::ScupperError;
use crate::note::Note;
use crate::{Count, FilePath, Json};
use scupper_core::assess::{AssessOptions, HazardEntry, Missing, RoofWarning, Whereabouts, assess};
use scupper_core::capture::{
    Capture, CaptureError, Exchanged, Listing, Page, PhotoAbout, read_picture,
};
use scupper_core::document::{Conflict, Edit, HistoryStep, SameUnitOffer, Table};
use scupper_core::survey::codes::EquipmentKind;
use scupper_core::survey::read::{from_json, survey_from_json};
use scupper_core::survey::spoken::{Interpretation, Segment, Transcript};
use serde_json::json;
use std::sync::Arc;

/// One survey, open on its device.
#[derive(uniffi::Object)]
pub struct Survey {
    day: Arc<Day>,
    id: String,
}

impl Survey {
    pub(crate) fn new(day: Arc<Day>, id: String) -> Self {
        Self { day, id }
    }

    fn with<T>(
        &self,
        work: impl FnOnce(&mut Capture, &str) -> Result<T, CaptureError>,
    ) -> Result<T, ScupperError> {
        self.day.with(|day| work(day, &self.id))
    }

    fn edit(&self, edit: Edit) -> Result<(), ScupperError> {
        self.with(|day, id| day.edit(id, edit))
    }
}

fn part<T>(all: Vec<T>, skip: usize, most: Option<usize>) -> Vec<T> {
    let most = most.unwrap_or(usize::MAX);
    all.into_iter().skip(skip).take(most).collect()
}

#[uniffi::export]
impl Survey {
    /// Identity of the survey, the same on every device.
    pub fn id(&self) -> String {
        self.id.clone()
    }

    /// Enters a note that was spoken just now and returns what it was understood to say.
    pub fn dictate(&self, segments: Vec<Segment>) -> Result<Interpretation, ScupperError> {
        self.with(|day, id| {
            let note = day.begin_note(id)?;
            for segment in segments {
                day.hear(&note, segment)?;
            }
            day.end_note(&note)
        })
    }

    /// Begins a note that is heard piece by piece.
    pub fn begin_note(&self) -> Result<Arc<Note>, ScupperError> {
        let id = self.with(Capture::begin_note)?;
        Ok(Arc::new(Note::new(
            Arc::clone(&self.day),
            id,
            self.id.clone(),
        )))
    }

    /// Enters a note that was written down earlier, as transcript JSON.
    pub fn dictate_transcript(&self, transcript: &str) -> Result<Interpretation, ScupperError> {
        let transcript = from_json::<Transcript>(transcript)?;
        self.with(|day, id| day.dictate(id, &transcript))
    }

    /// Enters a survey prepared beforehand, as survey JSON.
    pub fn enter_plan(&self, survey: &str) -> Result<(), ScupperError> {
        let plan = survey_from_json(survey)?;
        self.with(|day, id| day.import(id, &plan))
    }

    /// Adds a unit and returns its id.
    pub fn add_unit(&self, tag: &str, kind: EquipmentKind) -> Result<String, ScupperError> {
        let entry = json!({ "tag": tag, "kind": kind });
        self.with(|day, id| day.add(id, Table::Equipment, entry))
    }

    /// Gives a field a number.
    pub fn set_number(&self, about: &str, field: &str, value: f64) -> Result<(), ScupperError> {
        self.with(|day, id| day.set(id, about, field, json!(value)))
    }

    /// Gives a field a text.
    pub fn set_text(&self, about: &str, field: &str, value: &str) -> Result<(), ScupperError> {
        self.with(|day, id| day.set(id, about, field, json!(value)))
    }

    /// Gives a field yes or no.
    pub fn set_flag(&self, about: &str, field: &str, value: bool) -> Result<(), ScupperError> {
        self.with(|day, id| day.set(id, about, field, json!(value)))
    }

    /// Gives a field any value that the survey's JSON has there, such as a list of filters.
    pub fn set_json(&self, about: &str, field: &str, value: Json) -> Result<(), ScupperError> {
        self.with(|day, id| day.set(id, about, field, value))
    }

    /// Takes a field's value away.
    pub fn clear(&self, about: &str, field: &str) -> Result<(), ScupperError> {
        self.with(|day, id| day.set(id, about, field, Json::Null))
    }

    /// Stands behind a dictated entry, by its id.
    pub fn confirm(&self, entry: String) -> Result<(), ScupperError> {
        self.edit(Edit::Confirm { id: entry })
    }

    /// Takes an entry out of view. It stays in the survey and can be reinstated.
    pub fn withdraw(&self, about: String) -> Result<(), ScupperError> {
        self.edit(Edit::Withdraw { about })
    }

    /// Brings a withdrawn entry back, by its id.
    pub fn reinstate(&self, entry: String) -> Result<(), ScupperError> {
        self.edit(Edit::Reinstate { about: entry })
    }

    /// Declares two units one and the same.
    pub fn join_units(&self, keep: String, other: String) -> Result<(), ScupperError> {
        self.edit(Edit::Join { keep, other })
    }

    /// Takes a joining back; `other` is the double's id.
    pub fn unjoin_unit(&self, other: String) -> Result<(), ScupperError> {
        self.edit(Edit::Unjoin { other })
    }

    /// Declares two units different, so that they are not offered as one again.
    pub fn keep_units_apart(&self, one: String, other: String) -> Result<(), ScupperError> {
        self.edit(Edit::KeepApart { one, other })
    }

    /// Takes in a photo from a file and returns the id of its entry. The file is copied and may
    /// be removed afterwards. Reads the whole picture, while other calls go on: not for the main
    /// thread.
    pub fn take_photo(&self, file: FilePath, about: PhotoAbout) -> Result<String, ScupperError> {
        let picture = read_picture(&file, &about)?;
        self.with(|day, id| day.keep_photo(id, picture, about))
    }

    /// What could hurt someone: at the unit with this tag, or anywhere on the roof. Most
    /// dangerous first: all, or at most so many after skipping some. An empty list does not mean
    /// that a place is safe.
    #[uniffi::method(default(at = None, skip = 0, most = None))]
    pub fn hazards(
        &self,
        at: Option<String>,
        skip: Count,
        most: Option<Count>,
    ) -> Result<Vec<HazardEntry>, ScupperError> {
        let found = self.with(|day, id| match at {
            Some(tag) => day.hazards_near(id, &tag),
            None => day.hazards_now(id),
        });
        Ok(part(found?, skip, most))
    }

    /// The bearer arrived at this unit or is about to work there: warnings to speak and show that
    /// they have not been given there yet. Ask again after every change. None is no all-clear.
    pub fn arrive_at_unit(&self, tag: &str) -> Result<Vec<RoofWarning>, ScupperError> {
        self.with(|day, id| day.arrive(id, Whereabouts::Unit(tag)))
    }

    /// The bearer is at this place on the plan, feet east and north; as with a unit.
    pub fn arrive_at_place(&self, x_ft: f64, y_ft: f64) -> Result<Vec<RoofWarning>, ScupperError> {
        self.with(|day, id| day.arrive(id, Whereabouts::Place([x_ft, y_ft].into())))
    }

    /// What to fetch before the roof is left, in the order of a lap: all, or at most so many after
    /// skipping some.
    #[uniffi::method(default(skip = 0, most = None))]
    pub fn missing(&self, skip: Count, most: Option<Count>) -> Result<Vec<Missing>, ScupperError> {
        Ok(part(self.with(Capture::missing)?, skip, most))
    }

    /// Entries of one kind, oldest first, each as the survey's JSON has it: all, or at most so
    /// many after an id.
    #[uniffi::method(default(after = None, most = None))]
    pub fn entries(
        &self,
        of: Listing,
        after: Option<String>,
        most: Option<Count>,
    ) -> Result<Vec<Json>, ScupperError> {
        let after = after.as_deref();
        self.with(|day, id| day.entries(id, of, Page { after, most }))
    }

    /// The survey as it stands, as survey JSON.
    pub fn read(&self) -> Result<Json, ScupperError> {
        self.with(|day, id| Ok(json!(day.survey(id)?)))
    }

    /// Everything that the office reads of the survey, as assessment JSON.
    pub fn assessment(&self) -> Result<Json, ScupperError> {
        self.with(|day, id| Ok(json!(assess(&day.survey(id)?, &AssessOptions::default()))))
    }

    /// Fields with more than one value, each with who said what; setting the field settles it.
    pub fn conflicts(&self) -> Result<Vec<Conflict>, ScupperError> {
        self.with(Capture::conflicts)
    }

    /// Units that look like one entered twice, and why; joining them or keeping them
    /// apart settles it.
    pub fn same_unit_offers(&self) -> Result<Vec<SameUnitOffer>, ScupperError> {
        self.with(Capture::same_unit_offers)
    }

    /// Every value that a field was given, by whom and when.
    pub fn history(&self, about: &str, field: &str) -> Result<Vec<HistoryStep>, ScupperError> {
        self.with(|day, id| day.history(id, about, field))
    }

    /// The bytes to post to the server's exchange of this survey. May be asked for at any time.
    pub fn prepare_exchange(&self) -> Result<Vec<u8>, ScupperError> {
        self.with(Capture::prepare_exchange)
    }

    /// Takes in what the server answered.
    pub fn accept_exchange(&self, answer: Vec<u8>) -> Result<Exchanged, ScupperError> {
        self.with(|day, id| day.accept_exchange(id, &answer))
    }
}
