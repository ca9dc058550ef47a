//! Lists for a screen, a page at a time: surveys on the device, entries of a survey.
//!
//! A page begins after an id, so that entries which others add meanwhile move nothing.

use super::day::Capture;
use super::durable;
use super::error::CaptureError;
use crate::document::{Actor, Summary};
use serde_json::{Value, json};

/// A survey as a list shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct SurveyEntry {
    /// Identity of the survey.
    pub id: String,
    /// What a list shows of it.
    pub summary: Summary,
}

/// What a survey lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
pub enum Listing {
    /// Units.
    Equipment,
    /// What is worn, broken or wrong.
    Findings,
    /// Dangers that someone reported.
    Hazards,
    /// Things to come back for.
    FollowUps,
    /// Dictated values and the words they came from.
    Drafts,
    /// Voice notes.
    Notes,
    /// Photos.
    Photos,
}

/// Part of a list: what comes after an id, and at most so many.
#[derive(Debug, Clone, Copy, Default)]
pub struct Page<'a> {
    /// The last id of the page before; none for the first page.
    pub after: Option<&'a str>,
    /// The most to return; none for all that is left.
    pub most: Option<usize>,
}

impl Page<'_> {
    fn of<T>(&self, mut all: Vec<T>, id: impl Fn(&T) -> &str) -> Vec<T> {
        all.sort_by(|one, other| id(one).cmp(id(other)));
        let begins = self
            .after
            .map_or(0, |after| all.partition_point(|item| id(item) <= after));
        let most = self.most.unwrap_or(usize::MAX);
        all.into_iter().skip(begins).take(most).collect()
    }
}

impl Capture {
    /// The surveys on this device, by id and so by age.
    pub fn surveys(&self, page: Page<'_>) -> Result<Vec<SurveyEntry>, CaptureError> {
        let kept = page.of(self.store.surveys()?, |entry| &entry.id);
        let read = kept.into_iter().map(|entry| SurveyEntry {
            summary: serde_json::from_str(&entry.summary)
                .unwrap_or_else(|_| self.summary_from_document(&entry.id)),
            id: entry.id,
        });
        Ok(read.collect())
    }

    /// Of a survey that an earlier version kept or that only just began.
    fn summary_from_document(&self, survey_id: &str) -> Summary {
        let actor = Actor::of_device(&self.identity.device_id, Default::default());
        match durable::load(&self.store, survey_id, actor) {
            Ok(Some(loaded)) => loaded.doc.summary(),
            _ => Summary::default(),
        }
    }

    /// Entries of a survey by id and so by age, each as the survey's JSON has it.
    pub fn entries(
        &mut self,
        survey_id: &str,
        of: Listing,
        page: Page<'_>,
    ) -> Result<Vec<Value>, CaptureError> {
        let survey = self.reading(survey_id)?;
        let as_json = |found: Vec<Value>| page.of(found, id_of);
        Ok(match of {
            Listing::Equipment => as_json(values(&survey.equipment)),
            Listing::Findings => as_json(values(&survey.findings)),
            Listing::Hazards => as_json(values(&survey.hazards)),
            Listing::FollowUps => as_json(values(&survey.follow_ups)),
            Listing::Drafts => as_json(values(&survey.drafts)),
            Listing::Notes => as_json(values(&survey.notes)),
            Listing::Photos => as_json(values(&survey.photos)),
        })
    }
}

fn values<T: serde::Serialize>(entries: &[T]) -> Vec<Value> {
    entries.iter().map(|entry| json!(entry)).collect()
}

fn id_of(entry: &Value) -> &str {
    entry.get("id").and_then(Value::as_str).unwrap_or_default()
}
