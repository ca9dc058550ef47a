//! What a quote says in sentences: what it takes for granted and what it leaves out.

use super::ratebook::RateBook;
use super::types::TaskLine;
use super::view::{Nearness, View};
use super::work::{Terms, UNLISTED};
use std::collections::{BTreeMap, BTreeSet};

/// Why there is nothing to price, when there is not.
pub(crate) fn empty(view: &View<'_>) -> Option<String> {
    view.units.is_empty().then(|| {
        "The survey records no equipment, so there is nothing to price. Record at least one unit."
            .to_owned()
    })
}

pub(crate) fn assumptions(
    view: &View<'_>,
    book: &RateBook,
    terms: Terms,
    tasks: &[TaskLine],
) -> Vec<String> {
    if view.units.is_empty() {
        return Vec::new();
    }
    let mut list = vec![
        format!(
            "Prices and times are those of the rate book \"{}\".",
            book.name
        ),
        format!(
            "The low and high ends lie {} standard deviations from the expected hours, with a \
             correlation of {} % between rate-book entries; materials and hire are taken as certain.",
            book.range.sigmas, book.range.correlation_percent
        ),
        format!(
            "How often each task is done follows {} ({}), from memory where so marked, and the \
             condition that was found.",
            book.programme.standard, book.programme.edition
        ),
        "A crew of two shares the work; a unit where the second person must stand by is paid for both."
            .to_owned(),
    ];
    match terms.visits {
        Some(visits) => list.push(format!(
            "{visits} visits a year were agreed; a task due more often is done on every visit only."
        )),
        None => {
            list.push("There are as many visits as the most frequent task asks for.".to_owned())
        }
    }
    let unknown: Vec<&str> = view
        .units
        .iter()
        .filter(|unit| view.nearness(unit) == Nearness::Unknown)
        .map(|unit| unit.tag.as_str())
        .collect();
    if !unknown.is_empty() {
        list.push(format!(
            "Nobody could tell how far {} stand{} from an unprotected edge, so fall protection and \
             a second person are in the price.",
            unknown.join(", "),
            if unknown.len() == 1 { "s" } else { "" }
        ));
    }
    list.extend(unlisted(tasks));
    list
}

/// Tasks whose time the rate book does not list.
fn unlisted(tasks: &[TaskLine]) -> Vec<String> {
    let mut by_task: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for line in tasks {
        if line.entry == UNLISTED {
            by_task.entry(&line.task).or_default().insert(&line.tag);
        }
    }
    by_task
        .into_iter()
        .map(|(task, tags)| {
            let tags: Vec<&str> = tags.into_iter().collect();
            format!(
                "The rate book lists no time for {} at {}; its time for unlisted tasks was used.",
                task.replace('_', " "),
                tags.join(", ")
            )
        })
        .collect()
}

pub(crate) fn exclusions(view: &View<'_>, terms: Terms) -> Vec<String> {
    if view.units.is_empty() {
        return Vec::new();
    }
    let mut list = vec![
        "No panel was opened for this survey; what lies behind panels was not seen and is not priced."
            .to_owned(),
        "Repairs are listed and priced apart and are in no price here.".to_owned(),
        "Refrigerant, leak search and anything that a permit or an inspector asks for.".to_owned(),
    ];
    if !terms.scope.coil_cleaning {
        list.push("Washing of condenser coils; see the options.".to_owned());
    }
    if !terms.scope.belts {
        list.push("New belts and fitting them; see the options.".to_owned());
    }
    if !terms.scope.filters {
        list.push("New filters; changing them is in.".to_owned());
    }
    list
}
