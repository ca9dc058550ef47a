//! Findings that need money of their own. Never part of the maintenance price.

use super::money::Cents;
use super::pictured::Pictured;
use super::price;
use super::ratebook::RateBook;
use super::types::{People, Repair, TaskLine};
use super::view::{View, tag_order};
use crate::survey::codes::{Certainty, Condition, Severity};
use crate::survey::{Finding, Survey};
use std::collections::BTreeSet;

/// Repairs, gravest first.
pub(crate) fn repairs(view: &View<'_>, book: &RateBook, tasks: &[TaskLine]) -> Vec<Repair> {
    let caring = &book.programme.covered;
    let done: BTreeSet<(&str, &str)> = tasks
        .iter()
        .filter(|line| caring.iter().any(|covered| covered.task == line.task))
        .map(|line| (line.tag.as_str(), line.task.as_str()))
        .collect();
    let mut found: Vec<&Finding> = view
        .all_findings()
        .filter(|finding| {
            finding.condition != Condition::Good && finding.severity != Severity::Note
        })
        .filter(|finding| !covered(finding, book, &done))
        .collect();
    found.sort_by_cached_key(|finding| {
        (
            finding.severity,
            tag_order(&finding.about),
            finding.component,
            finding.condition,
            finding.certainty,
            finding.id.clone(),
            finding.remark.clone(),
        )
    });
    let pictured = Pictured::of(view.survey);
    found
        .into_iter()
        .map(|finding| repair(view, book, finding, &pictured))
        .collect()
}

/// Whether a task in the price takes care of a finding.
fn covered(finding: &Finding, book: &RateBook, done: &BTreeSet<(&str, &str)>) -> bool {
    book.programme.covered.iter().any(|covered| {
        covered.component == finding.component
            && covered.conditions.contains(&finding.condition)
            && done.contains(&(finding.about.as_str(), covered.task.as_str()))
    })
}

fn repair(view: &View<'_>, book: &RateBook, finding: &Finding, pictured: &Pictured<'_>) -> Repair {
    let kind = view.kind(&finding.about);
    let entry = book.repairs.iter().find(|entry| {
        entry.component == finding.component
            && (entry.conditions.is_empty() || entry.conditions.contains(&finding.condition))
            && (entry.kinds.is_empty() || kind.is_some_and(|kind| entry.kinds.contains(&kind)))
    });
    let (price_cents, because) = match entry {
        Some(entry) => {
            let minutes = entry.minutes.mean();
            let people = People {
                technician: minutes,
                second_person: 0,
            };
            let labour = price::labour(book, people);
            let price = price::ladder(book, labour, entry.parts_cents, Cents::ZERO).price_cents;
            let doubt = match finding.certainty {
                Certainty::Suspected => "; suspected only, so have it looked at before it is done",
                _ => "",
            };
            (
                Some(price),
                format!(
                    "{minutes} minutes of one person and {} {} of parts, done during a visit{doubt}",
                    entry.parts_cents, book.currency
                ),
            )
        }
        None => (
            None,
            "not in the rate book; to be priced after a closer look".to_owned(),
        ),
    };
    Repair {
        about: finding.about.clone(),
        component: finding.component,
        condition: finding.condition,
        severity: finding.severity,
        certainty: finding.certainty,
        action: finding.action,
        seen: seen(view.survey, finding),
        photos: pictured
            .photos(finding)
            .iter()
            .map(|photo| photo.id.clone())
            .collect(),
        price_cents,
        because,
    }
}

/// What was seen, in the words it was told in, else as the codes say it.
pub fn seen(survey: &Survey, finding: &Finding) -> String {
    let origin = &finding.origin;
    let words = origin.evidence.and_then(|evidence| {
        let note = origin.note_id.as_ref()?;
        let note = survey
            .notes
            .iter()
            .find(|candidate| &candidate.id == note)?;
        let segment = note.segments.get(evidence.segment)?;
        segment.text.get(evidence.start..evidence.end)
    });
    match (words, &finding.remark) {
        (Some(words), _) => words.trim().to_owned(),
        (None, Some(remark)) => remark.clone(),
        (None, None) => format!(
            "{} {}",
            finding.component.words(),
            finding.condition.words()
        ),
    }
}
