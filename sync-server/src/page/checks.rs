//! Verdicts with both numbers and their source. What could not be checked stands beside what
//! failed; what passed is folded away, not left out.

use super::sheet::Sheet;
use super::view::Part;
use super::words;
use maud::{Markup, html};
use scupper_core::assess::{Check, Missing};
use scupper_core::survey::FollowUp;
use scupper_core::trade::Verdict;

/// How many checks of one verdict the page shows before the others wait behind a link.
const SHOWN: usize = 40;

impl Sheet<'_> {
    pub(super) fn check_part(&self) -> Markup {
        let Some(room) = self.room(Part::Checks, SHOWN) else {
            return html! {};
        };
        let all = &self.view.assessment.checks;
        let of = |verdict: Verdict| all.iter().filter(move |check| check.verdict == verdict);
        let open: Vec<&Check> = of(Verdict::Fail).chain(of(Verdict::Advise)).collect();
        let (unknown, passed) = (of(Verdict::Unknown).count(), of(Verdict::Pass).count());
        let whole = self.view.asked.all == Some(Part::Checks);
        html! {
            section id="checks" data-part aria-labelledby="checks-t" {
                h2 id="checks-t" { "Checks" }
                @if open.is_empty() { p { "No check came out as not met." } }
                (self.verdicts(open.iter().copied().take(room)))
                p { (words::count(unknown, "check")) " could not be made because an input is missing; "
                    "that is not a pass. " (words::count(passed, "check")) " met by what was recorded. "
                    @if !whole {
                        a href={ "?all=checks#checks" } { "Show all " (all.len()) }
                    } }
                @if whole {
                    h3 { "Could not be made" }
                    (self.verdicts(of(Verdict::Unknown)))
                    h3 { "Met by what was recorded" }
                    (self.verdicts(of(Verdict::Pass)))
                }
                @if !self.view.assessment.profile.is_empty() {
                    p.small.quiet { "Editions as in the profile " (self.view.assessment.profile) "." }
                }
            }
        }
    }

    fn verdicts<'c>(&self, checks: impl Iterator<Item = &'c Check>) -> Markup {
        html! { ul.verdicts { @for check in checks { (self.check_line(check, true)) } } }
    }

    /// One verdict: sign, both numbers, why, and where it is written.
    pub(super) fn check_line(&self, check: &Check, tell_unit: bool) -> Markup {
        html! {
            li {
                p {
                    (words::verdict(check.verdict)) " "
                    @if tell_unit { b { (self.link(&check.about)) } " " }
                    (words::rule(&check.rule))
                }
                p.numbers {
                    @if let Some(found) = &check.measured { "found " b { (words::quantity(found)) } }
                    @if let Some(asked) = &check.required {
                        @if check.measured.is_some() { ", " }
                        "asked " b { (words::requirement(asked)) }
                    }
                }
                p { (check.because) }
                p.small.quiet { (words::source(&check.source)) }
            }
        }
    }

    /// What to fetch before the roof is left, or on the next visit.
    pub(super) fn missing_part(&self) -> Markup {
        let Some(room) = self.room(Part::Missing, SHOWN) else {
            return html! {};
        };
        let all = &self.view.assessment.missing;
        let later = &self.view.survey.follow_ups;
        html! {
            section id="missing" data-part aria-labelledby="missing-t" {
                h2 id="missing-t" { "To fetch" }
                @if all.is_empty() {
                    p { "Nothing that a check or the price asks for is missing." }
                } @else {
                    div.wide tabindex="0" role="region" aria-labelledby="missing-t" { table {
                        thead { tr {
                            th scope="col" { "Unit" }
                            th scope="col" { "What" }
                            th scope="col" { "Why" }
                            th scope="col" { "How" }
                        } }
                        tbody { @for gap in all.iter().take(room) { (self.gap_row(gap)) } }
                    } }
                    (self.rest(Part::Missing, room, all.len()))
                }
                @if !later.is_empty() {
                    h3 { "To come back for" }
                    ul.cards { @for follow_up in later.iter().take(room) {
                        (self.follow_up(follow_up))
                    } }
                }
            }
        }
    }

    fn gap_row(&self, gap: &Missing) -> Markup {
        html! {
            tr {
                th scope="row" { (self.link(&gap.about)) }
                td { (words::sentence(&words::field(&gap.field))) }
                td { (words::sentence(&words::rules_in(&gap.why))) }
                td { (words::sentence(gap.how.as_deref().unwrap_or(""))) }
            }
        }
    }

    fn follow_up(&self, follow_up: &FollowUp) -> Markup {
        html! {
            @if follow_up.origin.withdrawn_by.is_none() {
                li.card {
                    p { b { (self.link(&follow_up.about)) } " "
                        (words::sentence(&words::field(&follow_up.what))) }
                    (self.words_of(&follow_up.origin))
                }
            }
        }
    }
}
