//! One survey as a page: what could hurt someone first, then what waits for a person, then the
//! roof and everything known of it.

use super::sheet::Sheet;
use super::view::{Part, SurveyView};
use super::{layout, words};
use maud::{Markup, html};
use scupper_core::trade::Verdict;
use std::collections::BTreeSet;

/// The page of one survey.
pub fn survey(view: &SurveyView<'_>) -> Markup {
    let sheet = Sheet::new(view);
    let items = sheet.to_settle();
    let name = site_name(view);
    let whole = view.asked.all.is_none();
    if view.asked.only.is_some() {
        let asked = |part: &str| view.asked.wants(part);
        return html! {
            @if asked("title") { (head(&sheet, name, items.len())) }
            @if asked("hazards") { (sheet.hazard_part()) }
            @if asked("settle") { (sheet.settle_part(&items)) }
            @if asked("unit") && whole { (sheet.unit_part(&items)) }
            @if asked("papers") { (sheet.send_part(items.len())) }
        };
    }
    let body = html! {
        (head(&sheet, name, items.len()))
        (sheet.hazard_part())
        @if whole { (sheet.work_part(&items)) } @else { (sheet.settle_part(&items)) }
        (sheet.register_part())
        (sheet.finding_part())
        (sheet.check_part())
        (sheet.missing_part())
        (sheet.quote_part())
        (sheet.photo_part())
        (sheet.note_part())
        (sheet.send_part(items.len()))
        (sheet.next_visit_part())
        (sheet.limits_part())
    };
    layout::frame(name, Some(view.session), body)
}

fn site_name<'a>(view: &SurveyView<'a>) -> &'a str {
    let name = view.survey.site.name.trim();
    if name.is_empty() {
        "Site without a name"
    } else {
        name
    }
}

fn head(sheet: &Sheet<'_>, name: &str, waiting: usize) -> Markup {
    let view = sheet.view;
    let found = view.assessment;
    let failed = count_of(sheet, Verdict::Fail);
    let counts = [
        ("hazards", found.hazards.len(), "hazards"),
        ("settle", waiting, "to settle"),
        ("register", found.register.len(), "units"),
        ("checks", failed, "checks not met"),
        ("missing", found.missing.len(), "missing"),
        ("photos", view.survey.photos.len(), "photos"),
        ("notes", view.survey.notes.len(), "notes"),
    ];
    html! {
        div.title id="title" data-part data-live=[view.live.map(|live| live.href)]
            data-heads=[view.live.map(|live| live.heads)]
            data-office=[view.live.map(|live| live.office)] {
            h1 { (name) }
            p {
                @if let Some(address) = &view.survey.site.address { (address) ". " }
                @if let Some(day) = view.survey.surveyed_on { "Visited " (day.format("%-d %B %Y")) ". " }
                @let authors = authors(sheet);
                @if !authors.is_empty() { "By " (authors.into_iter().collect::<Vec<_>>().join(", ")) "." }
            }
            @if view.asked.all.is_some() {
                p { a href=(sheet.base) { "Back to the whole survey" } }
            } @else {
                nav aria-label="Parts of this survey" { ul.counts {
                    @for (part, n, words) in counts {
                        @if part != "settle" || sheet.may_settle() {
                            li { a href={ "#" (part) @if matches!(part, "settle" | "hazards") { "-t" } } { b { (n) } " " (words) } }
                        }
                    }
                    li { a href="#roof" { b { "Roof plan" } } }
                    @if sheet.has_quote() { li { a href="#quote" { b { "Price" } } } }
                    @if !view.papers.is_empty() { li { a href="#papers" { b { "Papers" } } } }
                } }
            }
        }
    }
}

fn count_of(sheet: &Sheet<'_>, verdict: Verdict) -> usize {
    let checks = &sheet.view.assessment.checks;
    checks.iter().filter(|c| c.verdict == verdict).count()
}

fn authors<'s>(sheet: &'s Sheet<'_>) -> BTreeSet<&'s str> {
    let survey = sheet.view.survey;
    let notes = survey.notes.iter().filter_map(|n| n.author.as_deref());
    let photos = survey.photos.iter().filter_map(|p| p.author.as_deref());
    notes.chain(photos).map(|id| sheet.name(id)).collect()
}

impl Sheet<'_> {
    /// What nobody could look at, what could not be read, and the caution once more.
    fn limits_part(&self) -> Markup {
        let Some(room) = self.room(Part::Limits, 20) else {
            return html! {};
        };
        let found = self.view.assessment;
        html! {
            section id="limits" data-part aria-labelledby="limits-t" {
                h2 id="limits-t" { "Not checked" }
                @if found.not_checked.is_empty() {
                    p { "No panel was opened. What is not listed above was not looked at." }
                } @else {
                    ul { @for line in found.not_checked.iter().take(room) { li { (words::rules_in(line)) } } }
                    (self.rest(Part::Limits, room, found.not_checked.len()))
                }
                @if !self.view.problems.is_empty() {
                    h3 { "Left out because it could not be read" }
                    ul { @for line in self.view.problems { li { (line) } } }
                }
                p.caution { (self.caution()) }
            }
        }
    }

    /// The caution that goes with every copy.
    pub(super) fn caution(&self) -> &str {
        let given = self.view.assessment.caution.trim();
        if given.is_empty() {
            "Local codes and qualified, licensed people decide. This page tells which checks \
             passed, failed or could not be made from what was recorded; it never says that \
             something is safe."
        } else {
            given
        }
    }
}
