//! One technician's device in the demo: core's capture over a store of its own, and the client.

use super::office::{DemoOffice, StoryClock};
use super::scenario::{Entry, Person, Scenario};
use crate::cli::Failure;
use crate::client::Client;
use crate::random;
use chrono::{DateTime, Duration, FixedOffset};
use scupper_core::capture::{Capture, Identity, PhotoAbout, Surroundings, durable};
use scupper_core::document::{Actor, Table};
use scupper_core::survey::spoken::Transcript;
use serde_json::Value;
use std::path::Path;

/// What the device knows of time: the story's, plus how far its clock is ahead.
struct DeviceClock {
    story: StoryClock,
    ahead: Duration,
}

impl Surroundings for DeviceClock {
    fn now(&mut self) -> DateTime<FixedOffset> {
        self.story.now() + self.ahead
    }

    fn random(&mut self) -> [u8; 8] {
        // The system's randomness fails only before a machine is fully up; the demo then ends.
        random::bytes().unwrap_or_default()
    }
}

/// A technician with a device.
pub(super) struct DemoDevice {
    pub(super) capture: Capture,
    pub(super) client: Client,
    pub(super) rounds: usize,
    person: Person,
    id: String,
    survey: String,
    story: StoryClock,
}

/// Something that happens on the roof.
enum Deed<'a> {
    Says(&'a Transcript),
    Types(&'a Entry),
}

impl DemoDevice {
    pub(super) fn enrol(
        office: &DemoOffice,
        person: &Person,
        id: &str,
        code: &str,
        dir: &Path,
    ) -> Result<Self, Failure> {
        let (client, author) = Client::enrol(&office.base(), code, id, &person.name)
            .map_err(|error| Failure::other("enrolling", error))?;
        let identity = Identity {
            device_id: id.to_owned(),
            author,
        };
        let clock = DeviceClock {
            story: office.clock.clone(),
            ahead: Duration::seconds(person.device_clock_ahead_s),
        };
        let capture = Capture::open(dir, identity, Box::new(clock))
            .map_err(|error| Failure::other("opening the device's store", error))?;
        Ok(Self {
            capture,
            client,
            rounds: 0,
            person: person.clone(),
            id: id.to_owned(),
            survey: String::new(),
            story: office.clock.clone(),
        })
    }

    pub(super) fn author(&self) -> &str {
        &self.person.id
    }

    pub(super) fn id(&self) -> &str {
        &self.id
    }

    pub(super) fn join(&mut self, survey: &str) -> Result<(), Failure> {
        self.survey = survey.to_owned();
        self.capture
            .join_survey(survey)
            .map_err(|error| self.failed("joining", error))
    }

    pub(super) fn enter_plan(&mut self, scenario: &Scenario) -> Result<(), Failure> {
        let survey = self.survey.clone();
        let entered = self.capture.import(&survey, &scenario.plan);
        entered.map_err(|error| self.failed("entering plan.json", error))
    }

    /// Exchanges until both sides are level.
    pub(super) fn exchange(&mut self) -> Result<(), Failure> {
        let survey = self.survey.clone();
        loop {
            let message = self
                .capture
                .prepare_exchange(&survey)
                .map_err(|error| self.failed("preparing an exchange", error))?;
            let answer = self
                .client
                .exchange(&survey, &message)
                .map_err(|error| self.failed("exchanging", error))?;
            let exchanged = self
                .capture
                .accept_exchange(&survey, &answer)
                .map_err(|error| self.failed("taking in an answer", error))?;
            self.rounds += 1;
            if !exchanged.again {
                return Ok(());
            }
        }
    }

    /// The day on the roof: what this person says and types, in the order of their clock, then
    /// their photos.
    pub(super) fn work(&mut self, scenario: &Scenario) -> Result<(), Failure> {
        let mine = |author: &str| author == self.person.id;
        let mut deeds: Vec<(Option<DateTime<FixedOffset>>, Deed<'_>)> = Vec::new();
        for note in scenario
            .notes
            .iter()
            .filter(|n| n.author.as_deref().is_some_and(mine))
        {
            deeds.push((note.recorded_at, Deed::Says(note)));
        }
        for entry in scenario.edits.iter().filter(|entry| mine(&entry.author)) {
            deeds.push((Some(entry.at), Deed::Types(entry)));
        }
        deeds.sort_by_key(|(at, _)| *at);
        for (at, deed) in deeds {
            if let Some(at) = at {
                self.story
                    .reach(at - Duration::seconds(self.person.device_clock_ahead_s));
            }
            match deed {
                Deed::Says(note) => self.say(note)?,
                Deed::Types(entry) => self.type_in(entry)?,
            }
        }
        for shot in scenario
            .photos
            .iter()
            .filter(|shot| shot.author == self.person.id)
        {
            let file = scenario.dir.join("photos").join(&shot.file);
            let about = PhotoAbout {
                about: shot.about.clone(),
                caption: shot.caption.clone(),
                preview: None,
            };
            let survey = self.survey.clone();
            let taken = self.capture.take_photo_file(&survey, &file, about);
            taken.map_err(|error| Failure::Input(format!("{}: {error}", file.display())))?;
        }
        Ok(())
    }

    fn say(&mut self, note: &Transcript) -> Result<(), Failure> {
        let survey = self.survey.clone();
        let entered = self.capture.dictate(&survey, note).map(|_| ());
        entered.map_err(|error| self.failed(&format!("entering {}", note.note_id), error))
    }

    fn type_in(&mut self, entry: &Entry) -> Result<(), Failure> {
        let survey = self.survey.clone();
        let done = match &entry.add {
            Some(unit) => self
                .capture
                .add(&survey, Table::Equipment, Value::Object(unit.clone()))
                .map(|_| ()),
            None => self
                .capture
                .set(&survey, &entry.about, &entry.field, entry.value.clone()),
        };
        let what = format!("edits.json, entry at {}", entry.at.to_rfc3339());
        done.map_err(|error| Failure::Input(format!("{what}: {error}")))
    }

    /// Sends every photo that waits, thumbnails first; tells how many files went.
    pub(super) fn upload(&mut self, mut sent: impl FnMut(usize)) -> Result<usize, Failure> {
        let mut files = 0;
        loop {
            let next = self.capture.next_upload();
            let Some(upload) = next.map_err(|error| self.failed("choosing a photo", error))? else {
                return Ok(files);
            };
            let mut file = std::fs::File::open(&upload.path)
                .map_err(|error| Failure::other("opening a photo", error))?;
            let done = self
                .client
                .upload(&upload.create_path, &upload.headers, &mut file)
                .map_err(|error| self.failed("uploading", error))?;
            if !done.complete {
                return Err(self.failed("uploading", "the server did not take the whole photo"));
            }
            let noted = self.capture.upload_result(&upload.hash, upload.part, true);
            noted.map_err(|error| self.failed("noting an upload", error))?;
            files += 1;
            sent(files);
        }
    }

    /// The heads of the device's replica, read anew from its disk.
    pub(super) fn heads(&self) -> Result<String, Failure> {
        let actor = Actor::of_device(&self.id, [0; 6]);
        let loaded = durable::load(self.capture.store(), &self.survey, actor)
            .map_err(|error| self.failed("reading the device's store", error))?;
        loaded
            .map(|loaded| crate::readings::heads_text(&loaded.doc))
            .ok_or_else(|| self.failed("reading the device's store", "the survey is not there"))
    }

    fn failed(&self, doing: &str, error: impl std::fmt::Display) -> Failure {
        Failure::other(&format!("{} ({}): {doing}", self.id, self.person.id), error)
    }
}
