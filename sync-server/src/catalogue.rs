//! The list of surveys: what it shows of each is derived once from its document and kept beside
//! the accounts, with the words to find it by, until the document moves on.

use crate::accounts::Caller;
use crate::error::AppError;
use crate::page::{self, Session, SurveyView, Waits};
use crate::readings::{Readings, day};
use crate::sending;
use crate::state::Office;
use chrono::{DateTime, FixedOffset, NaiveDate};
use scupper_core::survey::SITE;
use scupper_core::trade::Verdict;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Raised when an entry is made in another way, so that those kept are made again.
const FORM: u32 = 1;
/// No survey's words are longer in the index.
const WORDS: usize = 400_000;

/// What the list shows of a survey.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct Entry {
    pub(crate) name: String,
    pub(crate) address: Option<String>,
    pub(crate) surveyed_on: Option<NaiveDate>,
    /// Ids of those who spoke, photographed or changed something last.
    pub(crate) authors: BTreeSet<String>,
    pub(crate) changed_at: Option<DateTime<FixedOffset>>,
    pub(crate) changed_by: Option<String>,
    pub(crate) units: usize,
    /// Checks that could be made, of all.
    pub(crate) checks: (usize, usize),
    /// What each hazard is known by.
    pub(crate) hazards: Vec<String>,
    pub(crate) waits: Waits,
    pub(crate) missing: usize,
    /// Photos here, of all.
    pub(crate) photos: (usize, usize),
}

/// A survey in the list, with the line that holds what was sought.
#[derive(Debug)]
pub(crate) struct Listed {
    pub(crate) id: String,
    pub(crate) entry: Entry,
    /// Hazards that nobody in the office has read.
    pub(crate) unread: usize,
    pub(crate) found: Option<String>,
}

impl Office {
    /// The surveys within the caller's reach that hold every word of a query, newest first.
    pub(crate) fn catalogue(&self, caller: &Caller, query: &str) -> Result<Vec<Listed>, AppError> {
        let desk = self.desk_of(caller)?;
        let mut kept = self.accounts.listed(caller.contractor)?;
        let mut all = Vec::new();
        for id in self.survey_ids(caller)? {
            let number = desk.storage().stands(&id)?;
            let stands = format!("{FORM}.{}.{number}", env!("CARGO_PKG_VERSION"));
            let entry = kept
                .remove(&id)
                .filter(|(at, _)| number >= 0 && *at == stands);
            let entry = entry.and_then(|(_, text)| serde_json::from_str::<Entry>(&text).ok());
            // Photos come in without a change of the document.
            let entry = match entry.filter(|entry| entry.photos.0 == entry.photos.1) {
                Some(entry) => entry,
                None => self.list_anew(caller, &id, &stands)?,
            };
            all.push((id, entry));
        }
        let sought: Vec<String> = query.split_whitespace().map(str::to_owned).collect();
        let found = match sought.is_empty() {
            true => None,
            false => Some(self.accounts.find(caller.contractor, &sought)?),
        };
        let mut rows = Vec::new();
        for (id, entry) in all {
            let words = found.as_ref().map(|found| found.get(&id));
            let line = match words {
                Some(None) => continue,
                Some(Some(body)) => line_with(body, &sought),
                None => None,
            };
            let seen = self.accounts.hazards_seen(caller.contractor, &id)?;
            rows.push(Listed {
                unread: entry
                    .hazards
                    .iter()
                    .filter(|h| !seen.contains_key(*h))
                    .count(),
                found: line,
                id,
                entry,
            });
        }
        Ok(rows)
    }

    fn list_anew(&self, caller: &Caller, id: &str, stands: &str) -> Result<Entry, AppError> {
        let readings = self.readings(caller, id)?;
        let here = self.arrived(caller, &readings.survey)?.here.len();
        let entry = entry(&readings, here);
        let text = serde_json::to_string(&entry)
            .map_err(|error| AppError::internal("listing a survey", error))?;
        let at = (caller.contractor, id);
        self.accounts
            .list(at, (stands, &text), &words(&readings, id))?;
        Ok(entry)
    }
}

fn entry(readings: &Readings, here: usize) -> Entry {
    let survey = &readings.survey;
    let spoken = survey.notes.iter().filter_map(|note| note.author.clone());
    let seen = survey
        .photos
        .iter()
        .filter_map(|photo| photo.author.clone());
    let checks = &readings.assessment.checks;
    let made = checks.iter().filter(|c| c.verdict != Verdict::Unknown);
    let nobody = Session {
        name: "",
        csrf: Some(""),
    };
    Entry {
        name: survey.site.name.clone(),
        address: survey.site.address.clone(),
        surveyed_on: day(survey),
        authors: spoken.chain(seen).collect(),
        changed_at: readings.summary.changed_at,
        changed_by: readings.summary.changed_by.clone(),
        units: survey.equipment.len(),
        checks: (made.count(), checks.len()),
        hazards: readings
            .assessment
            .hazards
            .iter()
            .map(sending::known_by)
            .collect(),
        waits: page::waits(&SurveyView {
            contested: &readings.conflicts,
            offers: &readings.offers,
            odd: &readings.odd,
            ..SurveyView::new(survey, &readings.assessment, nobody)
        }),
        missing: readings.assessment.missing.len(),
        photos: (here, survey.photos.len()),
    }
}

/// Everything that a survey is found by, a line each, beginning with where it stands.
fn words(readings: &Readings, id: &str) -> String {
    let survey = &readings.survey;
    let mut lines = vec![format!("Survey {id}"), survey.site.name.clone()];
    lines.extend(survey.site.address.clone());
    for unit in &survey.equipment {
        let plate = &unit.nameplate;
        let named = [
            ("make", &plate.make),
            ("model", &plate.model),
            ("serial", &plate.serial),
        ];
        let named = named.into_iter().filter_map(|(what, text)| {
            let text = text.as_deref()?;
            Some(format!("{} {what} {text}", unit.tag))
        });
        lines.push(format!("{} {}", unit.tag, unit.kind.words()));
        lines.extend(named);
    }
    for note in &survey.notes {
        let by = note.author.as_deref().unwrap_or("someone");
        lines.extend(
            note.segments
                .iter()
                .map(|s| format!("{by} said: {}", s.text)),
        );
    }
    for photo in &survey.photos {
        let about = crate::words::place(photo.about.as_deref().unwrap_or(SITE));
        lines.extend(photo.caption.iter().map(|c| format!("{about} photo: {c}")));
    }
    let mut text = lines.join("\n");
    let end = text
        .char_indices()
        .map(|(at, _)| at)
        .take_while(|at| *at <= WORDS)
        .last();
    text.truncate(end.filter(|_| text.len() > WORDS).unwrap_or(text.len()));
    text
}

/// The line that holds most of the words, the first of them in its middle.
fn line_with(body: &str, sought: &[String]) -> Option<String> {
    let sought: Vec<String> = sought.iter().map(|word| word.to_lowercase()).collect();
    let held = |line: &&str| {
        let line = line.to_lowercase();
        sought
            .iter()
            .filter(|word| line.contains(word.as_str()))
            .count()
    };
    // Of several, the first.
    let line = body
        .lines()
        .rev()
        .max_by_key(held)
        .filter(|line| held(line) > 0)?;
    let at = |word: &String| line.to_lowercase().find(word.as_str());
    let at = sought.iter().find_map(at).unwrap_or(0);
    let before = line.get(..at).map_or(0, |text| text.chars().count());
    let skip = before.saturating_sub(60);
    let mut cut: String = line.chars().skip(skip).take(160).collect();
    if skip > 0 {
        cut.insert(0, '\u{2026}');
    }
    if line.chars().count() > skip + 160 {
        cut.push('\u{2026}');
    }
    Some(cut)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_that_holds_most_is_shown_around_the_first_word() {
        let sought =
            |words: &str| -> Vec<String> { words.split_whitespace().map(str::to_owned).collect() };
        let body = format!(
            "RTU-1 serial QX-77\n{} belt is cracked on the left\nEF-2 fan",
            "so ".repeat(60)
        );
        assert_eq!(
            line_with(&body, &sought("qx-7")).as_deref(),
            Some("RTU-1 serial QX-77")
        );
        let cut = line_with(&body, &sought("belt cracked")).unwrap_or_default();
        assert!(
            cut.starts_with('\u{2026}') && cut.ends_with("on the left"),
            "{cut}"
        );
        assert_eq!(line_with(&body, &sought("chiller")), None);
    }
}
