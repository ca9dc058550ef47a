//! Everything the office reads of a survey, worked out from one state of its document.
//!
//! Derived, never stored; kept in memory while the document stands still. The price, the plan and
//! the words left over wait until a page shows them: an answer in the queue needs none of them.

use chrono::NaiveDate;
use scupper_core::assess::{AssessOptions, Assessment, OddValue, assess, odd_values};
use scupper_core::dictation::{Lexicon, interpret};
use scupper_core::document::{Conflict, SameUnitOffer, Summary, SurveyDoc};
use scupper_core::plan::draw;
use scupper_core::quote::{Programme, Quote, RateBook, quote};
use scupper_core::survey::spoken::{Evidence, Transcript};
use scupper_core::survey::{InputError, Note, Survey};
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

/// A rate book, and the text it was read from where a survey has one of its own.
#[derive(Debug, Clone)]
pub(crate) struct Rates {
    text: Option<String>,
    /// The book.
    pub(crate) book: Arc<RateBook>,
}

impl PartialEq for Rates {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

impl Rates {
    /// Those of the office.
    pub(crate) fn of_office(book: Arc<RateBook>) -> Self {
        Self { text: None, book }
    }

    /// Those of one survey, as TOML, with the maintenance programme they go by.
    pub(crate) fn of_text(text: String, programme: Programme) -> Result<Self, InputError> {
        let book = Arc::new(RateBook::kept(&text, programme)?);
        Ok(Self {
            text: Some(text),
            book,
        })
    }

    /// Whether a survey has rates of its own.
    pub(crate) fn is_own(&self) -> bool {
        self.text.is_some()
    }
}

/// A survey and all that follows from it.
#[derive(Debug)]
pub(crate) struct Readings {
    /// State of the document this was worked out from.
    pub(crate) heads: String,
    /// The merged survey.
    pub(crate) survey: Survey,
    /// What a list shows of it.
    pub(crate) summary: Summary,
    /// Entries that could not be read and are not in the survey.
    pub(crate) problems: Vec<String>,
    unparsed: OnceLock<BTreeMap<String, Vec<Evidence>>>,
    /// Fields with more than one value.
    pub(crate) conflicts: Vec<Conflict>,
    /// Units that may be one.
    pub(crate) offers: Vec<SameUnitOffer>,
    /// Values that are hard to believe and that nobody stands behind yet.
    pub(crate) odd: Vec<OddValue>,
    /// The day that it was worked out for.
    pub(crate) as_of: NaiveDate,
    /// Register, checks, hazards, gaps, findings.
    pub(crate) assessment: Assessment,
    /// What the price goes by.
    pub(crate) rates: Rates,
    quote: OnceLock<Quote>,
    plan: OnceLock<String>,
}

impl Readings {
    /// Works everything out; `today` counts only for a survey that has no day of its own.
    pub(crate) fn of(doc: &SurveyDoc, rates: &Rates, today: NaiveDate) -> Self {
        let reading = doc.read();
        let survey = reading.survey;
        let as_of = day(&survey).unwrap_or(today);
        let options = AssessOptions {
            as_of: Some(as_of),
            profile: None,
        };
        let assessment = assess(&survey, &options);
        let stood = doc.stood();
        let mut odd = odd_values(&survey, &assessment.checks, Some(as_of));
        odd.retain(|odd| {
            let word = |field: &String| stood.contains(&(odd.id.clone(), field.clone()));
            !odd.fields.iter().all(word)
        });
        Self {
            heads: heads_text(doc),
            summary: doc.summary(),
            quote: OnceLock::new(),
            rates: rates.clone(),
            plan: OnceLock::new(),
            unparsed: OnceLock::new(),
            conflicts: doc.conflicts(),
            offers: doc.same_unit_offers(),
            problems: reading.problems,
            odd,
            as_of,
            survey,
            assessment,
        }
    }

    /// Whether it comes to the same on this day.
    pub(crate) fn holds_on(&self, today: NaiveDate) -> bool {
        self.as_of == day(&self.survey).unwrap_or(today)
    }

    /// What an agreement would cost.
    pub(crate) fn quote(&self) -> &Quote {
        let made = || quote(&self.survey, &self.assessment, &self.rates.book);
        self.quote.get_or_init(made)
    }

    /// The roof plan as SVG.
    pub(crate) fn plan(&self) -> &str {
        let options = || crate::page::plan_options(&self.survey.survey_id);
        self.plan.get_or_init(|| draw(&self.survey, &options()))
    }

    /// Words of each note, by note id, that nothing was made of.
    pub(crate) fn unparsed(&self) -> &BTreeMap<String, Vec<Evidence>> {
        self.unparsed.get_or_init(|| unparsed(&self.survey))
    }
}

/// Interprets a note once more, for the words that nothing was made of.
pub(crate) fn unparsed_of(note: &Note) -> Vec<Evidence> {
    let transcript = Transcript {
        note_id: note.id.clone(),
        author: note.author.clone(),
        recorded_at: note.recorded_at,
        segments: note.segments.clone(),
    };
    interpret(&transcript, Lexicon::builtin()).unparsed
}

fn unparsed(survey: &Survey) -> BTreeMap<String, Vec<Evidence>> {
    let read = |note: &Note| (note.id.clone(), unparsed_of(note));
    survey
        .notes
        .iter()
        .map(read)
        .filter(|(_, words)| !words.is_empty())
        .collect()
}

/// The heads of a document as one word.
pub(crate) fn heads_text(doc: &SurveyDoc) -> String {
    let heads: Vec<String> = doc.heads().iter().map(ToString::to_string).collect();
    heads.join(".")
}

/// The day a survey was made: as it says, or else when its first note was spoken.
pub(crate) fn day(survey: &Survey) -> Option<NaiveDate> {
    let spoken = survey
        .notes
        .iter()
        .filter_map(|note| note.recorded_at)
        .min();
    survey
        .surveyed_on
        .or_else(|| spoken.map(|at| at.date_naive()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use scupper_core::document::{Actor, Edit, Stamp};
    use serde_json::json;

    #[test]
    fn a_survey_without_a_day_is_worked_out_anew_on_another() {
        let mut doc = SurveyDoc::create("s", Actor::of_device("office", [0; 6])).unwrap();
        let rates = Rates::of_office(Arc::new(RateBook::builtin_example()));
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        let read = Readings::of(&doc, &rates, day("2026-04-14"));
        assert!(read.holds_on(day("2026-04-14")) && !read.holds_on(day("2026-04-15")));
        let stamp = Stamp {
            author: "ana".to_owned(),
            device: "office".to_owned(),
            at: chrono::DateTime::parse_from_rfc3339("2026-04-14T08:00:00-08:00").unwrap(),
            clock_offset_ms: None,
        };
        let visited = Edit::Set {
            about: "site".to_owned(),
            field: "surveyed_on".to_owned(),
            value: json!("2026-04-13"),
        };
        doc.edit(&stamp, visited).unwrap();
        let read = Readings::of(&doc, &rates, day("2026-04-14"));
        assert!(read.holds_on(day("2026-04-15")));
    }
}
