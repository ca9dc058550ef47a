//! What the device makes of a note at once, and what it warns of while its owner is on the roof.

use super::day::Capture;
use super::error::CaptureError;
use crate::assess::{AssessOptions, Assessment, HazardEntry, Missing, assess, hazards_near};
use crate::dictation::{Lexicon, interpret_among};
use crate::survey::Equipment;
use crate::survey::spoken::{Interpretation, Mention, Segment, Transcript};

impl Capture {
    /// Enters a note spoken just now and returns what it was understood to say.
    pub fn dictate(
        &mut self,
        survey_id: &str,
        segments: Vec<Segment>,
    ) -> Result<Interpretation, CaptureError> {
        let transcript = Transcript {
            note_id: self.fresh_id(),
            author: None,
            recorded_at: Some(self.now()),
            segments,
        };
        self.dictate_transcript(survey_id, transcript)
    }

    /// Enters a note that a recogniser wrote down earlier. Without an author it is the device's
    /// person who spoke.
    pub fn dictate_transcript(
        &mut self,
        survey_id: &str,
        mut transcript: Transcript,
    ) -> Result<Interpretation, CaptureError> {
        let author = &self.identity.author;
        transcript.author.get_or_insert_with(|| author.clone());
        let known = self.known(survey_id)?;
        let heard = interpret_among(&transcript, Lexicon::builtin(), &known);
        self.enter(survey_id, &transcript, &heard)?;
        Ok(heard)
    }

    /// Everything that the office reads of the survey, as it stands.
    pub fn assessment(&mut self, survey_id: &str) -> Result<Assessment, CaptureError> {
        Ok(assess(&self.survey(survey_id)?, &AssessOptions::default()))
    }

    /// What could hurt someone: at the unit with this tag, or anywhere on the roof. Most
    /// dangerous first.
    pub fn hazards_now(
        &mut self,
        survey_id: &str,
        at: Option<&str>,
    ) -> Result<Vec<HazardEntry>, CaptureError> {
        match at {
            Some(tag) => Ok(hazards_near(&self.survey(survey_id)?, tag)),
            None => Ok(self.assessment(survey_id)?.hazards),
        }
    }

    /// What to fetch before the roof is left.
    pub fn missing(&mut self, survey_id: &str) -> Result<Vec<Missing>, CaptureError> {
        Ok(self.assessment(survey_id)?.missing)
    }

    /// The survey's units, so that "unit two" is the one that is there already.
    fn known(&mut self, survey_id: &str) -> Result<Vec<Mention>, CaptureError> {
        let mention = |unit: Equipment| Mention {
            number: unit.tag.rsplit('-').next().and_then(|n| n.parse().ok()),
            kind: unit.kind,
            tag: unit.tag,
        };
        let units = self.survey(survey_id)?.equipment;
        Ok(units.into_iter().map(mention).collect())
    }
}
