//! Two prices side by side: what they come to, and what they rest on that is not the same.

use super::forms::every;
use super::view::Session;
use super::{layout, quote as figures, words};
use maud::{Markup, html};
use scupper_core::quote::{Quote, RateBook};
use std::collections::{BTreeMap, BTreeSet};

/// One of the two.
#[derive(Debug, Clone, Copy)]
pub struct Side<'a> {
    /// What it is called.
    pub title: &'a str,
    /// Its rates.
    pub book: &'a RateBook,
    /// What they come to.
    pub quote: &'a Quote,
    /// Tags of its units.
    pub units: &'a [&'a str],
    /// Whether a locked version still comes to what it came to.
    pub holds: bool,
}

/// The page of two prices.
pub fn compare(session: Session<'_>, survey: &str, one: &Side<'_>, other: &Side<'_>) -> Markup {
    let base = format!("/surveys/{}", words::query(survey));
    let body = html! {
        p { a href={ (base) "/price" } { "Back to the price" } }
        h1 { "Two prices" }
        @for side in [one, other] { @if !side.holds {
            p.wrong { "\u{201c}" (side.title) "\u{201d} does not come to what it came to when it was \
                       locked: this program reckons otherwise." }
        } }
        (table("What they come to", one, other, &come_to(one, other)))
        @if one.book.programme != other.book.programme {
            p { "They go by different maintenance programmes: the office's own changed between them." }
        }
        @let rates = rates(one, other);
        @if rates.is_empty() {
            h2 { "Rates" }
            p { @if one.book == other.book { "The same rate book." }
                @else { "The main rates are the same; the rate books differ in what the form does not \
                         show." } }
        } @else { (table("Rates that differ", one, other, &rates)) }
        (units(one, other))
        @let tasks = counted(one, other, tasks);
        @if !tasks.is_empty() { (table("Tasks that differ, times a year", one, other, &tasks)) }
        @let materials = counted(one, other, materials);
        @if !materials.is_empty() { (table("Materials that differ, a year", one, other, &materials)) }
        @let repairs = counted(one, other, repairs);
        @if !repairs.is_empty() { (table("Repairs that differ", one, other, &repairs)) }
    };
    layout::frame("Two prices", Some(session), body)
}

type Row = (String, String, String);

fn table(title: &str, one: &Side<'_>, other: &Side<'_>, rows: &[Row]) -> Markup {
    html! {
        h2 { (title) }
        div.wide tabindex="0" role="region" aria-label=(title) { table {
            thead { tr {
                td {}
                th.n scope="col" { (one.title) }
                th.n scope="col" { (other.title) }
            } }
            tbody { @for (name, left, right) in rows { tr {
                th scope="row" { (name) }
                td.n { (left) }
                td.n { @if left == right { (right) } @else { b { (right) } } }
            } } }
        } }
    }
}

fn come_to(one: &Side<'_>, other: &Side<'_>) -> Vec<Row> {
    let money = |quote: &Quote, pick: fn(&Quote) -> i64| words::money(pick(quote), &quote.currency);
    let both = |name: &str, told: &dyn Fn(&Quote) -> String| {
        (name.to_owned(), told(one.quote), told(other.quote))
    };
    vec![
        both("A year, low", &|q| {
            money(q, |q| q.price_cents_per_year.low.get())
        }),
        both("A year, likely", &|q| {
            money(q, |q| q.price_cents_per_year.likely.get())
        }),
        both("A year, high", &|q| {
            money(q, |q| q.price_cents_per_year.high.get())
        }),
        both("Hours a year, likely", &|q| {
            words::number(q.labour_hours_per_year.likely.get())
        }),
        both("Visits a year", &|q| q.visits_per_year.to_string()),
        both("Crew", &|q| q.crew.size.to_string()),
        both("Repairs, priced apart", &|q| {
            let all = q.repairs.iter().filter_map(|repair| repair.price_cents);
            figures::money(q, all.sum())
        }),
    ]
}

fn rates(one: &Side<'_>, other: &Side<'_>) -> Vec<Row> {
    let row = |rate: &'static super::forms::Rate| {
        let (left, right) = (rate.of(one.book), rate.of(other.book));
        (left != right).then(|| (rate.label.to_owned(), left.text(), right.text()))
    };
    every().filter_map(row).collect()
}

fn units(one: &Side<'_>, other: &Side<'_>) -> Markup {
    let (left, right): (BTreeSet<_>, BTreeSet<_>) =
        (one.units.iter().collect(), other.units.iter().collect());
    let only = |these: &BTreeSet<&&str>, those: &BTreeSet<&&str>| -> Vec<String> {
        these
            .difference(those)
            .map(|tag| (**tag).to_owned())
            .collect()
    };
    let (gone, come) = (only(&left, &right), only(&right, &left));
    html! {
        h2 { "Units" }
        @if gone.is_empty() && come.is_empty() {
            p { "The same " (words::count(one.units.len(), "unit")) "." }
        }
        @if !gone.is_empty() { p { "Only in \u{201c}" (one.title) "\u{201d}: " (gone.join(", ")) "." } }
        @if !come.is_empty() { p { "Only in \u{201c}" (other.title) "\u{201d}: " (come.join(", ")) "." } }
    }
}

fn tasks(quote: &Quote) -> Vec<(String, u64)> {
    let line = |line: &scupper_core::quote::TaskLine| {
        (words::sentence(&line.words), u64::from(line.per_year))
    };
    quote.tasks.iter().map(line).collect()
}

fn materials(quote: &Quote) -> Vec<(String, u64)> {
    let line = |line: &scupper_core::quote::MaterialLine| (line.item.clone(), line.per_year);
    quote.materials.iter().map(line).collect()
}

fn repairs(quote: &Quote) -> Vec<(String, u64)> {
    let line = |repair: &scupper_core::quote::Repair| {
        let part = repair.component.words();
        (
            format!("{} {part} {}", repair.about, repair.condition.words()),
            1,
        )
    };
    quote.repairs.iter().map(line).collect()
}

/// Lines whose sums differ.
fn counted(one: &Side<'_>, other: &Side<'_>, lines: fn(&Quote) -> Vec<(String, u64)>) -> Vec<Row> {
    let mut sums: BTreeMap<String, (u64, u64)> = BTreeMap::new();
    for (name, n) in lines(one.quote) {
        sums.entry(name).or_default().0 += n;
    }
    for (name, n) in lines(other.quote) {
        sums.entry(name).or_default().1 += n;
    }
    let told = |n: u64| {
        if n == 0 {
            "none".to_owned()
        } else {
            n.to_string()
        }
    };
    sums.into_iter()
        .filter(|(_, (left, right))| left != right)
        .map(|(name, (left, right))| (name, told(left), told(right)))
        .collect()
}
