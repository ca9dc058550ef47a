//! How papers say what page and command line do not: money, verdicts, sources with their basis.

use scupper_core::quote::Cents;
use scupper_core::trade::{Basis, Source, Verdict};

/// Money as it is written on paper: `1,234.50 USD`.
pub(super) fn money(cents: Cents, currency: &str) -> String {
    format!("{cents} {currency}")
}

/// Where a requirement comes from, and how it is known when it was not read.
pub(super) fn source(source: &Source) -> String {
    let text = crate::words::source(source);
    match source.basis {
        Basis::Published => text,
        Basis::Memory => format!("{text}, from memory"),
        Basis::CommonPractice if text.to_lowercase().contains("practice") => text,
        Basis::CommonPractice => format!("{text}, common practice"),
    }
}

/// A verdict in a few words.
pub(super) fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Fail => "Not met",
        Verdict::Advise => "Have it looked at",
        Verdict::Unknown => "Could not be checked",
        Verdict::Pass => "Met, as recorded",
    }
}
