//! Speaking into the survey, and being warned: notes, hazards, what is still missing.
//!
//! A note spoken hands-free is kept word by word as it comes, so that a battery that dies in the
//! middle of it costs nothing that was heard.

use super::day::Capture;
use super::error::CaptureError;
use crate::assess::{self, AssessOptions, HazardEntry, Missing, RoofWarning, Whereabouts};
use crate::dictation::{Lexicon, interpret_among};
use crate::survey::Survey;
use crate::survey::spoken::{Interpretation, Mention, Segment, Transcript};

/// A note that is being spoken, or was when the device went down.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenNote {
    /// The survey.
    pub survey_id: String,
    /// What was heard so far.
    pub transcript: Transcript,
}

const OPEN: &str = "open-note/";

impl Capture {
    /// Enters a note: its words, and what they are understood to say. Returns the latter.
    pub fn dictate(
        &mut self,
        survey_id: &str,
        transcript: &Transcript,
    ) -> Result<Interpretation, CaptureError> {
        let heard = understand(&self.survey(survey_id)?, transcript);
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

    /// Adds what was just heard to a note that was begun. Kept when it returns what the note is
    /// understood to say so far.
    pub fn hear(
        &mut self,
        note_id: &str,
        segment: Segment,
    ) -> Result<Interpretation, CaptureError> {
        let mut open = self.open_note(note_id)?;
        open.transcript.segments.push(segment);
        self.keep_open(&open.survey_id, &open.transcript)?;
        Ok(understand(&self.survey(&open.survey_id)?, &open.transcript))
    }

    /// Ends a note and enters it into the survey.
    pub fn end_note(&mut self, note_id: &str) -> Result<Interpretation, CaptureError> {
        let open = self.open_note(note_id)?;
        let heard = self.dictate(&open.survey_id, &open.transcript)?;
        self.store.forget_fact(&format!("{OPEN}{note_id}"))?;
        Ok(heard)
    }

    /// Notes that were begun and not ended, oldest first.
    pub fn open_notes(&self) -> Result<Vec<OpenNote>, CaptureError> {
        let names = self.store.fact_names(OPEN)?;
        let ids = names.iter().filter_map(|name| name.strip_prefix(OPEN));
        ids.map(|id| self.open_note(id)).collect()
    }

    fn open_note(&self, note_id: &str) -> Result<OpenNote, CaptureError> {
        let kept = self.store.fact(&format!("{OPEN}{note_id}"))?;
        let read = |bytes: Vec<u8>| serde_json::from_slice::<(String, Transcript)>(&bytes).ok();
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
        let survey = self.survey(survey_id)?;
        Ok(assess::assess(&survey, &AssessOptions::default()).hazards)
    }

    /// What can hurt someone at one unit.
    pub fn hazards_near(
        &mut self,
        survey_id: &str,
        tag: &str,
    ) -> Result<Vec<HazardEntry>, CaptureError> {
        Ok(assess::hazards_near(&self.survey(survey_id)?, tag))
    }

    /// The bearer arrived at a unit or a place, or something changed where they are: what they have
    /// not been warned of there yet.
    pub fn arrive(
        &mut self,
        survey_id: &str,
        at: Whereabouts<'_>,
    ) -> Result<Vec<RoofWarning>, CaptureError> {
        let survey = self.survey(survey_id)?;
        let watch = self.watches.entry(survey_id.to_owned()).or_default();
        Ok(watch.arrive(&survey, at))
    }

    /// What the rules still need to be told before the technician comes down.
    pub fn missing(&mut self, survey_id: &str) -> Result<Vec<Missing>, CaptureError> {
        let survey = self.survey(survey_id)?;
        Ok(assess::assess(&survey, &AssessOptions::default()).missing)
    }
}

/// What a note says, given the units that the survey knows.
pub fn understand(survey: &Survey, transcript: &Transcript) -> Interpretation {
    let known = survey.equipment.iter().map(|unit| Mention {
        tag: unit.tag.clone(),
        kind: unit.kind,
        number: number(&unit.tag),
    });
    let known: Vec<Mention> = known.collect();
    interpret_among(transcript, Lexicon::builtin(), &known)
}

/// The number at the end of a tag.
fn number(tag: &str) -> Option<u32> {
    let digits = tag.rsplit(|c: char| !c.is_ascii_digit()).next()?;
    digits.parse().ok()
}
