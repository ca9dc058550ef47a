//! Verdicts with both numbers and their source. What could not be checked stands beside what
//! failed; what passed is folded away, not left out.

use crate::words;
use maud::{Markup, html};
use scupper_core::assess::{Assessment, Check, Missing};
use scupper_core::trade::Verdict;

pub(super) fn section(assessment: &Assessment) -> Markup {
    let of = |verdict: Verdict| {
        assessment
            .checks
            .iter()
            .filter(move |check| check.verdict == verdict)
            .collect::<Vec<_>>()
    };
    let (unknown, passed) = (of(Verdict::Unknown), of(Verdict::Pass));
    let open: Vec<&Check> = of(Verdict::Fail)
        .into_iter()
        .chain(of(Verdict::Advise))
        .collect();
    html! {
        section id="checks" {
            h2 { "Checks" }
            @if open.is_empty() {
                p { "No check failed. See below for those that could not be made." }
            } @else {
                (table("Not met, or worth a qualified person's look", &open))
            }
            details {
                summary {
                    (words::count(unknown.len(), "check")) " could not be made: an input is missing"
                }
                (table("Unknown is not a pass", &unknown))
            }
            details {
                summary { (words::count(passed.len(), "check")) " met by what was recorded" }
                (table("As recorded; no panel was opened", &passed))
            }
        }
    }
}

fn table(caption: &str, checks: &[&Check]) -> Markup {
    html! {
        div.wide {
            table {
                caption { (caption) }
                thead { tr {
                    th scope="col" { "Verdict" } th scope="col" { "Unit" } th scope="col" { "Rule" }
                    th.n scope="col" { "Found" } th scope="col" { "Asked" }
                    th scope="col" { "Because" } th scope="col" { "Source" }
                } }
                tbody { @for check in checks { tr {
                    td { (words::verdict(check.verdict)) }
                    td { (words::place_link(&check.about)) }
                    td { (check.rule) }
                    td.n { @if let Some(found) = &check.measured { (words::quantity(found)) } }
                    td { @if let Some(asked) = &check.required { (words::requirement(asked)) } }
                    td { (check.because) }
                    td.small { (words::source(&check.source)) }
                } } }
            }
        }
    }
}

/// What to fetch before the roof is left, or on the next visit.
pub(super) fn missing(missing: &[Missing]) -> Markup {
    html! {
        section id="missing" {
            h2 { "Missing" }
            @if missing.is_empty() {
                p { "Nothing that a check or the price asks for is missing." }
            } @else {
                div.wide { table {
                    thead { tr {
                        th scope="col" { "Unit" } th scope="col" { "What" }
                        th scope="col" { "Why" } th scope="col" { "How to get it" }
                    } }
                    tbody { @for gap in missing { tr {
                        td { (words::place_link(&gap.about)) }
                        td { (words::field(&gap.field)) }
                        td { (gap.why) }
                        td { (gap.how.as_deref().unwrap_or("")) }
                    } } }
                } }
            }
        }
    }
}
