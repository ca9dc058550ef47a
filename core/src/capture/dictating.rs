//! Speaking into the survey, and being warned: notes, hazards, what is still missing.
//!
//! A note spoken hands-free is kept word by word as it comes, so that a battery that dies in the
//! middle of it costs nothing that was heard. Its conversation is a [`Session`], begun anew from
//! the kept words after a restart.

use super::day::Capture;
use super::error::CaptureError;
use crate::assess::{self, AssessOptions, HazardEntry, Missing, RoofWarning, Whereabouts};
use crate::dictation::{Event, Lexicon, Session, interpret_among};
use crate::document::Edit;
use crate::survey::Survey;
use crate::survey::read::from_json;
use crate::survey::spoken::{Fact, Interpretation, Mention, Segment, Transcript};

/// A note that is being spoken, or was when the device went down.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenNote {
    /// The survey.
    pub survey_id: String,
    /// What was heard so far.
    pub transcript: Transcript,
}

/// What the device has to say to what it heard.
#[derive(Debug, Clone, PartialEq)]
pub struct Heard {
    /// What is new, to be spoken and shown.
    pub events: Vec<Event>,
    /// What the note is understood to say so far.
    pub so_far: Interpretation,
}

/// A note in the making.
pub(super) struct Spoken {
    survey_id: String,
    session: Session<'static>,
    /// Values that the speaker said are right.
    right: Vec<Fact>,
}

impl Spoken {
    fn hear(&mut self, segment: Segment) -> Vec<Event> {
        let events = self.session.feed(segment);
        for event in &events {
            let Event::Confirmed { about, field } = event else {
                continue;
            };
            let facts = self.session.interpretation().facts.iter();
            let right = facts.filter(|fact| (&fact.about, &fact.field) == (about, field));
            self.right.extend(right.cloned());
        }
        events
    }
}

const OPEN: &str = "open-note/";

impl Capture {
    /// Enters a note: its words, and what they are understood to say. Returns the latter.
    pub fn dictate(
        &mut self,
        survey_id: &str,
        transcript: &Transcript,
    ) -> Result<Interpretation, CaptureError> {
        let heard = understand(self.reading(survey_id)?.as_ref(), transcript);
        self.change(survey_id, |doc, stamp, ids| {
            doc.add_interpretation(stamp, transcript, &heard, ids)
        })?;
        Ok(heard)
    }

    /// Begins a note and returns its id.
    pub fn begin_note(&mut self, survey_id: &str) -> Result<String, CaptureError> {
        self.doc(survey_id)?;
        let transcript = Transcript {
            note_id: self.fresh_id(),
            author: Some(self.identity.author.clone()),
            recorded_at: Some(self.now()),
            segments: Vec::new(),
        };
        self.keep_open(survey_id, &transcript)?;
        Ok(transcript.note_id)
    }

    /// Adds what was just heard to a note that was begun; kept when it returns. Returns what there
    /// is to say to it.
    pub fn hear(&mut self, note_id: &str, segment: Segment) -> Result<Heard, CaptureError> {
        // Taken out until it is kept: a note that is ahead of the disk is read from it anew.
        let mut spoken = self.spoken(note_id)?;
        let known = mentions(self.reading(&spoken.survey_id)?.as_ref());
        spoken.session.know(&known);
        let events = spoken.hear(segment);
        self.keep_open(&spoken.survey_id, spoken.session.transcript())?;
        let so_far = spoken.session.interpretation().clone();
        self.spoken.insert(note_id.to_owned(), spoken);
        Ok(Heard { events, so_far })
    }

    /// Ends a note and enters it into the survey. What its speaker said is right is confirmed.
    pub fn end_note(&mut self, note_id: &str) -> Result<Interpretation, CaptureError> {
        let spoken = self.spoken(note_id)?;
        let heard = self.dictate(&spoken.survey_id, spoken.session.transcript())?;
        self.confirm_spoken(note_id, &spoken)?;
        self.store.forget_fact(&format!("{OPEN}{note_id}"))?;
        Ok(heard)
    }

    /// Takes a note in the making out of memory, or reads it from the disk.
    fn spoken(&mut self, note_id: &str) -> Result<Spoken, CaptureError> {
        if let Some(spoken) = self.spoken.remove(note_id) {
            return Ok(spoken);
        }
        let OpenNote {
            survey_id,
            mut transcript,
        } = self.open_note(note_id)?;
        let segments = std::mem::take(&mut transcript.segments);
        let mut spoken = Spoken {
            session: Session::of(transcript, Lexicon::builtin()),
            right: Vec::new(),
            survey_id,
        };
        let known = mentions(self.reading(&spoken.survey_id)?.as_ref());
        spoken.session.know(&known);
        for segment in segments {
            spoken.hear(segment);
        }
        Ok(spoken)
    }

    fn confirm_spoken(&mut self, note_id: &str, spoken: &Spoken) -> Result<(), CaptureError> {
        let me = self.identity.author.clone();
        let survey = self.reading(&spoken.survey_id)?;
        let waiting = survey.drafts.iter().filter(|draft| {
            draft.origin.note_id.as_deref() == Some(note_id)
                && !draft.origin.confirmed_by.contains(&me)
                && spoken.right.iter().any(|fact| {
                    (&fact.about, &fact.field, &fact.value)
                        == (&draft.about, &draft.field, &draft.value)
                })
        });
        let waiting: Vec<String> = waiting.map(|draft| draft.id.clone()).collect();
        for id in waiting {
            self.edit(&spoken.survey_id, Edit::Confirm { id })?;
        }
        Ok(())
    }

    /// Notes that were begun and not ended, oldest first.
    pub fn open_notes(&self) -> Result<Vec<OpenNote>, CaptureError> {
        let names = self.store.fact_names(OPEN)?;
        let ids = names.iter().filter_map(|name| name.strip_prefix(OPEN));
        ids.map(|id| self.open_note(id)).collect()
    }

    fn open_note(&self, note_id: &str) -> Result<OpenNote, CaptureError> {
        let kept = self.store.fact(&format!("{OPEN}{note_id}"))?;
        let read = |bytes: Vec<u8>| {
            let text = String::from_utf8(bytes).ok()?;
            from_json::<(String, Transcript)>(&text).ok()
        };
        match kept.and_then(read) {
            Some((survey_id, transcript)) => Ok(OpenNote {
                survey_id,
                transcript,
            }),
            None => Err(CaptureError::NoSuchNote {
                note_id: note_id.to_owned(),
            }),
        }
    }

    fn keep_open(&self, survey_id: &str, transcript: &Transcript) -> Result<(), CaptureError> {
        let kept = serde_json::to_vec(&(survey_id, transcript)).unwrap_or_default();
        let name = format!("{OPEN}{}", transcript.note_id);
        Ok(self.store.set_fact(&name, &kept)?)
    }

    /// Everything on the survey that can hurt someone, gravest first.
    pub fn hazards_now(&mut self, survey_id: &str) -> Result<Vec<HazardEntry>, CaptureError> {
        let survey = self.reading(survey_id)?;
        Ok(assess::assess(&survey, &AssessOptions::default()).hazards)
    }

    /// What can hurt someone at one unit.
    pub fn hazards_near(
        &mut self,
        survey_id: &str,
        tag: &str,
    ) -> Result<Vec<HazardEntry>, CaptureError> {
        Ok(assess::hazards_near(self.reading(survey_id)?.as_ref(), tag))
    }

    /// The bearer arrived at a unit or a place, or something changed where they are: what they have
    /// not been warned of there yet.
    pub fn arrive(
        &mut self,
        survey_id: &str,
        at: Whereabouts<'_>,
    ) -> Result<Vec<RoofWarning>, CaptureError> {
        let survey = self.reading(survey_id)?;
        let watch = self.watches.entry(survey_id.to_owned()).or_default();
        Ok(watch.arrive(&survey, at))
    }

    /// What the rules still need to be told before the technician comes down.
    pub fn missing(&mut self, survey_id: &str) -> Result<Vec<Missing>, CaptureError> {
        let survey = self.reading(survey_id)?;
        Ok(assess::assess(&survey, &AssessOptions::default()).missing)
    }
}

/// What a note says, given the units that the survey knows.
pub fn understand(survey: &Survey, transcript: &Transcript) -> Interpretation {
    interpret_among(transcript, Lexicon::builtin(), &mentions(survey))
}

/// The units that the survey knows, as dictation speaks of them.
fn mentions(survey: &Survey) -> Vec<Mention> {
    let units = survey.equipment.iter().map(|unit| Mention {
        tag: unit.tag.clone(),
        kind: unit.kind,
        number: number(&unit.tag),
    });
    units.collect()
}

/// The number at the end of a tag.
fn number(tag: &str) -> Option<u32> {
    let digits = tag.rsplit(|c: char| !c.is_ascii_digit()).next()?;
    digits.parse().ok()
}
