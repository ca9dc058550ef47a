//! How papers say things: places, numbers with units, sources, money.

use scupper_core::quote::Cents;
use scupper_core::survey::SITE;
use scupper_core::survey::codes::Certainty;
use scupper_core::trade::{Basis, Quantity, Requirement, Source, Verdict};

/// A tag, or what the whole site is called.
pub(super) fn place(about: &str) -> &str {
    if about == SITE { "Site" } else { about }
}

/// Words with a capital.
pub(super) fn sentence(words: &str) -> String {
    let mut chars = words.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// A count with its noun: `1 unit`, `3 units`.
pub(super) fn count(n: usize, one: &str) -> String {
    let s = if n == 1 { "" } else { "s" };
    format!("{n} {one}{s}")
}

/// Money as it is written on paper: `1,234.50 USD`.
pub(super) fn money(cents: Cents, currency: &str) -> String {
    format!("{cents} {currency}")
}

/// A number with its unit.
pub(super) fn quantity(quantity: &Quantity) -> String {
    format!("{} {}", quantity.value, quantity.unit)
}

/// What a standard asks.
pub(super) fn requirement(asked: &Requirement) -> String {
    let bounds = [
        ("at least", asked.at_least),
        ("at most", asked.at_most),
        ("more than", asked.more_than),
        ("less than", asked.less_than),
    ];
    let said = bounds
        .iter()
        .filter_map(|(words, bound)| bound.map(|bound| format!("{words} {bound} {}", asked.unit)));
    said.collect::<Vec<_>>().join(", ")
}

/// Where a requirement comes from, and how it is known when it was not read.
pub(super) fn source(source: &Source) -> String {
    let mut text = source.standard.clone();
    if !source.edition.is_empty() {
        text.push_str(&format!(" ({})", source.edition));
    }
    if !source.section.is_empty() {
        text.push_str(&format!(" {}", source.section));
    }
    match source.basis {
        Basis::Published => {}
        Basis::Memory => text.push_str(", from memory"),
        Basis::CommonPractice if text.contains("practice") => {}
        Basis::CommonPractice => text.push_str(", common practice"),
    }
    text
}

/// A verdict in a word.
pub(super) fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fail => "Not met",
        Verdict::Advise => "Have it looked at",
        Verdict::Unknown => "Could not be checked",
        Verdict::Pass => "Met, as recorded",
    }
}

/// How sure the speaker was, when it is not the plain case.
pub(super) fn certainty(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Observed => "",
        Certainty::Suspected => " (suspected)",
        Certainty::Absent => " (said not to be there)",
    }
}
