//! What a phone is told after its entries are on disk: what was made of them, and what to beware
//! of on this roof, to be kept for when there is no signal.

use crate::readings::unparsed_of;
use crate::words::{certainty, field, place, source, value};
use chrono::{DateTime, FixedOffset};
use scupper_core::assess::{AssessOptions, HazardEntry, assess, warning_line};
use scupper_core::survey::spoken::{Evidence, Segment};
use scupper_core::survey::{Origin, SITE, Survey};
use serde::Serialize;
use utoipa::ToSchema;

/// The answer to a batch.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Told {
    /// Whose entries they became.
    pub(super) author: String,
    /// The server's clock.
    #[schema(value_type = String, format = DateTime)]
    pub(super) answered_at: DateTime<FixedOffset>,
    /// Server clock minus phone clock, in milliseconds.
    pub(super) clock_offset_ms: i64,
    /// Entries that are on disk: the phone may let go of them.
    pub(super) kept: Vec<Kept>,
    /// Entries that are not: the phone keeps them.
    pub(super) refused: Vec<Refused>,
    /// What to keep for when there is no signal.
    pub(super) roof: RoofCard,
}

/// An entry that is on disk.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Kept {
    id: String,
    /// What the note was understood to say, a line each.
    understood: Vec<String>,
    /// What of it a person must confirm, and why.
    to_confirm: Vec<String>,
    /// Words that nothing was made of.
    not_understood: Vec<String>,
}

/// An entry that was not taken.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Refused {
    pub(super) id: String,
    /// Why, and what to do.
    pub(super) why: String,
    /// What the phone itself can do.
    pub(super) then: Then,
}

/// What a phone does about a refusal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Then {
    /// Give the entry a fresh id and send it again.
    FreshId,
    /// Upload the photo's original, then send this again.
    SendPhoto,
    /// Show it to its person.
    Ask,
}

/// What a phone keeps of a roof.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct RoofCard {
    survey_id: String,
    name: String,
    units: Vec<UnitCard>,
    /// Known hazards, what can kill first coming first.
    hazards: Vec<HazardCard>,
    /// The standing caution.
    caution: String,
}

/// A unit on the list.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct UnitCard {
    tag: String,
    /// What it is, in words.
    what: String,
}

/// One hazard.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HazardCard {
    /// The unit it is at, or `site`.
    #[serde(rename = "ref")]
    about: String,
    /// One short line.
    line: String,
    because: String,
    control: String,
    caution: String,
    source: String,
}

impl RoofCard {
    pub(super) fn of(survey: &Survey) -> Self {
        // Hazards ask for no day, and a phone for no price: less than what the office's page reads.
        let assessment = assess(survey, &AssessOptions::default());
        let units = survey.equipment.iter().map(|unit| UnitCard {
            tag: unit.tag.clone(),
            what: unit.kind.words(),
        });
        Self {
            survey_id: survey.survey_id.clone(),
            name: survey.site.name.clone(),
            units: units.collect(),
            hazards: assessment.hazards.iter().map(hazard).collect(),
            caution: assessment.caution,
        }
    }
}

fn hazard(entry: &HazardEntry) -> HazardCard {
    HazardCard {
        about: entry.about.clone().unwrap_or_else(|| SITE.to_owned()),
        line: warning_line(entry),
        because: entry.because.clone(),
        control: entry.control.clone(),
        caution: entry.caution.clone(),
        source: source(&entry.source),
    }
}

impl Kept {
    /// What became of an entry, as the survey now says: the same whenever it is asked.
    pub(super) fn of(survey: &Survey, id: String) -> Self {
        let mut kept = Self {
            understood: Vec::new(),
            to_confirm: Vec::new(),
            not_understood: Vec::new(),
            id,
        };
        for draft in &survey.drafts {
            let line = format!("{} {}", field(&draft.field), value(&draft.value));
            kept.add(&draft.origin, &draft.about, &line);
        }
        for finding in &survey.findings {
            let line = format!(
                "{} {}{}",
                finding.component.words(),
                finding.condition.words(),
                certainty(finding.certainty)
            );
            kept.add(&finding.origin, &finding.about, &line);
        }
        for hazard in &survey.hazards {
            let line = format!("hazard, {}", hazard.kind.words());
            kept.add(
                &hazard.origin,
                hazard.about.as_deref().unwrap_or(SITE),
                &line,
            );
        }
        for later in &survey.follow_ups {
            let line = format!("come back for {}", field(&later.what));
            kept.add(&later.origin, &later.about, &line);
        }
        if let Some(note) = survey.notes.iter().find(|note| note.id == kept.id) {
            let left = unparsed_of(note);
            let words = left.iter().filter_map(|at| words(&note.segments, at));
            kept.not_understood = words.collect();
        }
        kept
    }

    fn add(&mut self, origin: &Origin, about: &str, line: &str) {
        if origin.note_id.as_deref() != Some(&self.id) || origin.withdrawn_by.is_some() {
            return;
        }
        let line = format!("{}: {line}", place(about));
        match &origin.needs_confirmation {
            Some(why) => self.to_confirm.push(format!("{line} ({why})")),
            None => self.understood.push(line),
        }
    }
}

fn words(segments: &[Segment], at: &Evidence) -> Option<String> {
    let text = segments.get(at.segment)?.text.get(at.start..at.end)?.trim();
    (!text.is_empty()).then(|| text.to_owned())
}

impl Refused {
    /// A refusal that a person must see to.
    pub(super) fn ask(id: &str, why: impl Into<String>) -> Self {
        Self {
            id: id.to_owned(),
            why: why.into(),
            then: Then::Ask,
        }
    }
}
