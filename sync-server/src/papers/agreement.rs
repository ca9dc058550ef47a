//! The proposed maintenance agreement as the customer reads it: what is done, how often, for
//! how much, what else could be had, and what is not in it. No cost, rate or mark-up.

use super::assessment::Paper;
use super::words::money;
use crate::words::{certainty, count, place, sentence};
use maud::{Markup, html};
use scupper_core::quote::{Cents, Quote, TaskLine};
use std::collections::BTreeMap;

pub(super) fn section(paper: &Paper<'_>, quote: &Quote) -> Markup {
    let paid = |cents| money(cents, &quote.currency);
    html! {
        section.agreement {
            h2 { "Proposed maintenance agreement" }
            @if let Some(why) = &quote.empty { p { (why) } } @else {
                dl.facts {
                    div { dt { "A year" } dd { b { (paid(quote.price_cents_per_year.likely)) } } }
                    div { dt { "Visits a year" } dd { (quote.visits_per_year) } }
                    div { dt { "People on each visit" } dd { (quote.crew.size) } }
                }
                @if let Some(note) = &quote.rate_book_note { p.small { (note) } }
                p { "Before any work, each visit needs: " (begins(quote)) ". Why, and why so many people come, "
                    "is told under “What could hurt the next person”." }
                h3 { "What is done" }
                (work(quote))
                (options(quote))
            }
            (repairs(quote))
            @if !quote.exclusions.is_empty() {
                h3 { "Not in the price" }
                ul { @for line in &quote.exclusions { li { (line) } } }
            }
            @if paper.assessment.register.is_empty() { p { "No equipment was recorded." } }
        }
    }
}

/// What each visit begins with, for whoever does not read rate books.
fn begins(quote: &Quote) -> String {
    let said = quote
        .access
        .lines
        .iter()
        .map(|line| match line.item.as_str() {
            "access unknown" => "a way up, which nobody recorded".to_owned(),
            "fall protection" => "fall protection set up".to_owned(),
            "open holes" => "open holes made safe to work near".to_owned(),
            "lift" => "a lift".to_owned(),
            item => format!(
                "the way up by {}",
                item.trim_start_matches("access ").replace('_', " ")
            ),
        });
    said.collect::<Vec<_>>().join(", ")
}

/// Tasks gathered over units: each once, with the units and how often.
fn work(quote: &Quote) -> Markup {
    let mut order: Vec<(&str, u32)> = Vec::new();
    let mut gathered: BTreeMap<(&str, u32), Vec<&TaskLine>> = BTreeMap::new();
    for line in &quote.tasks {
        let key = (line.words.as_str(), line.per_year);
        if !gathered.contains_key(&key) {
            order.push(key);
        }
        gathered.entry(key).or_default().push(line);
    }
    order.sort_by_key(|(_, per_year)| std::cmp::Reverse(*per_year));
    html! {
        table {
            thead { tr { th scope="col" { "Work" } th.n scope="col" { "Times a year" } th scope="col" { "At" } } }
            tbody { @for key in order { @if let Some(lines) = gathered.get(&key) { tr {
                td { (key.0) } td.n { (key.1) }
                td { (at(lines)) }
            } } } }
        }
    }
}

/// The tags, each once; a tag that several units have says of how many.
fn at(lines: &[&TaskLine]) -> String {
    let same = lines.chunk_by(|one, next| one.tag == next.tag);
    let named = same.filter_map(|units| {
        let tag = &units.first()?.tag;
        Some(match units.len() {
            1 => tag.clone(),
            several => format!("{tag} ({})", count(several, "unit")),
        })
    });
    named.collect::<Vec<_>>().join(", ")
}

fn options(quote: &Quote) -> Markup {
    html! {
        @if !quote.options.is_empty() {
            h3 { "Instead, or besides" }
            table {
                thead { tr { th scope="col" { "Choice" } th.n scope="col" { "A year" } th.n scope="col" { "Difference" } } }
                tbody { @for option in &quote.options { tr {
                    td { (sentence(&option.words)) }
                    td.n { (money(option.price_cents_per_year.likely, &quote.currency)) }
                    td.n { @if option.adds_cents_per_year > Cents::ZERO { "+" }
                        (money(option.adds_cents_per_year, &quote.currency)) }
                } } }
            }
        }
    }
}

fn repairs(quote: &Quote) -> Markup {
    html! {
        @if !quote.repairs.is_empty() {
            h3 { "Repairs, each for its own price: " (count(quote.repairs.len(), "finding")) }
            table {
                thead { tr { th scope="col" { "How grave" } th scope="col" { "Where" } th scope="col" { "What" }
                    th scope="col" { "Seen" } th.n scope="col" { "Price" } } }
                tbody { @for repair in &quote.repairs { tr {
                    td { (sentence(&repair.severity.words())) }
                    td { b { (place(&repair.about)) } }
                    td { (repair.component.words()) " " (repair.condition.words()) (certainty(repair.certainty))
                        @if let Some(action) = repair.action { "; " (action.words()) } }
                    td { (repair.seen) @if !repair.photos.is_empty() { " " small { "(photo above)" } } }
                    td.n { @match repair.price_cents {
                        Some(cents) => (money(cents, &quote.currency)),
                        None => "after a closer look",
                    } }
                } } }
            }
        }
    }
}
