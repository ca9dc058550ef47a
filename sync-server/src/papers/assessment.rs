//! The customer's assessment as one HTML file: nothing to fetch, made for printing.
//!
//! Black on white; colour never carries meaning alone. Hazards come first, then the plan on a
//! page of its own, findings with their photos, checks with both numbers and their source, the
//! register, what was not checked, and the proposed agreement if there is a quote.

use super::pictures::{Pictures, shown};
use super::size::css;
use super::words::money;
use super::{agreement, hazards, parts};
use crate::words::{count, place, sentence};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use scupper_core::assess::{Assessment, CAUTION};
use scupper_core::plan::{DrawOptions, draw};
use scupper_core::quote::{PaperSize, Pictured, Quote};
use scupper_core::survey::codes::{Certainty, Condition, Severity};
use scupper_core::survey::{Finding, Photo, Survey};
use scupper_core::trade::Verdict;
use std::collections::BTreeSet;

const STYLE: &str = include_str!("assessment.css");

/// What every part of the paper reads.
pub(super) struct Paper<'a> {
    pub(super) survey: &'a Survey,
    pub(super) assessment: &'a Assessment,
    pub(super) quote: Option<&'a Quote>,
    pub(super) pictures: &'a Pictures,
    pub(super) inline: Inline,
    pictured: Pictured<'a>,
}

/// How a photo stands in the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Inline {
    /// As its own bytes, so that the page is whole.
    Bytes,
    /// By its id, for whoever sets the page elsewhere.
    Named,
}

impl Paper<'_> {
    /// Findings that ask for something, or at least stand as a note; denied and good ones apart.
    pub(super) fn findings(&self) -> impl Iterator<Item = &Finding> {
        self.assessment.findings.iter().filter(|finding| {
            finding.origin.withdrawn_by.is_none()
                && finding.certainty != Certainty::Absent
                && finding.condition != Condition::Good
        })
    }

    /// Findings that say something is in order or is not there.
    pub(super) fn in_order(&self) -> impl Iterator<Item = &Finding> {
        self.assessment.findings.iter().filter(|finding| {
            finding.origin.withdrawn_by.is_none()
                && (finding.certainty == Certainty::Absent || finding.condition == Condition::Good)
        })
    }

    /// The photos that show a finding.
    pub(super) fn photos_of(&self, finding: &Finding) -> impl Iterator<Item = &Photo> {
        self.pictured.photos(finding).iter().copied()
    }

    /// Photos that no finding names.
    fn other_photos(&self) -> Vec<&Photo> {
        let named: BTreeSet<&str> = self
            .findings()
            .flat_map(|finding| self.photos_of(finding))
            .map(|photo| photo.id.as_str())
            .collect();
        shown(self.survey)
            .filter(|photo| !named.contains(photo.id.as_str()))
            .collect()
    }
}

/// The customer's assessment. A quote adds the proposed agreement; costs are never shown.
pub fn assessment_html(
    survey: &Survey,
    assessment: &Assessment,
    quote: Option<&Quote>,
    pictures: &Pictures,
    paper: PaperSize,
) -> String {
    page(survey, assessment, quote, pictures, (Inline::Bytes, paper))
}

/// The page of the assessment.
pub(super) fn page(
    survey: &Survey,
    assessment: &Assessment,
    quote: Option<&Quote>,
    pictures: &Pictures,
    (inline, size): (Inline, PaperSize),
) -> String {
    let paper = Paper {
        survey,
        assessment,
        quote,
        pictures,
        inline,
        pictured: Pictured::of(survey),
    };
    let name = &survey.site.name;
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Rooftop equipment assessment: " (name) }
                style { (PreEscaped(STYLE)) "@page { size: " (css(size)) " }" }
            }
            body {
                (head(&paper))
                (summary(&paper))
                (hazards::section(&paper))
                @if let Some(svg) = plan(&paper) {
                    section.plan {
                        h2 { "Roof plan" }
                        (PreEscaped(svg))
                    }
                }
                (parts::findings(&paper))
                (parts::checks(&paper))
                (parts::register(&paper))
                (parts::missing(&paper))
                (parts::not_checked(&paper))
                (parts::more_photos(&paper, paper.other_photos()))
                @if let Some(quote) = paper.quote { (agreement::section(&paper, quote)) }
            }
        }
    };
    page.into_string()
}

/// The roof plan as SVG, when there is a roof or a unit to draw.
fn plan(paper: &Paper<'_>) -> Option<String> {
    let survey = paper.survey;
    let drawn = survey.site.roofs().any(|roof| !roof.outline_ft.is_empty())
        || survey.equipment.iter().any(|unit| unit.at_ft.is_some());
    drawn.then(|| draw(survey, &DrawOptions::default()))
}

fn head(paper: &Paper<'_>) -> Markup {
    let survey = paper.survey;
    let mut people: Vec<&str> = authors(survey).collect();
    people.sort_unstable();
    people.dedup();
    html! {
        header {
            p.kind { "Rooftop equipment assessment" }
            h1 { (survey.site.name) }
            @if let Some(address) = &survey.site.address { p { (address) } }
            dl.facts {
                @if let Some(day) = survey.surveyed_on {
                    div { dt { "Surveyed" } dd { (day.format("%-d %B %Y")) } }
                }
                @if !people.is_empty() { div { dt { "By" } dd { (people.join(", ")) } } }
                @if !survey.survey_id.is_empty() {
                    div { dt { "Survey" } dd { (survey.survey_id) } }
                }
                @if !paper.assessment.profile.is_empty() {
                    div { dt { "Code editions" } dd { (paper.assessment.profile) } }
                }
            }
        }
        aside.caution { h2 { "Before you rely on this" } (caution(paper)) }
    }
}

fn authors(survey: &Survey) -> impl Iterator<Item = &str> {
    let notes = survey
        .notes
        .iter()
        .filter_map(|note| note.author.as_deref());
    let photos = survey
        .photos
        .iter()
        .filter_map(|photo| photo.author.as_deref());
    let findings = survey
        .findings
        .iter()
        .filter_map(|f| f.origin.author.as_deref());
    notes.chain(photos).chain(findings)
}

fn caution(paper: &Paper<'_>) -> Markup {
    let told = &paper.assessment.caution;
    html! { p { @if told.is_empty() { (CAUTION) } @else { (told) } } }
}

fn summary(paper: &Paper<'_>) -> Markup {
    let assessment = paper.assessment;
    let of = |severity| paper.findings().filter(|f| f.severity == severity).count();
    let verdicts = |verdict| {
        assessment
            .checks
            .iter()
            .filter(|c| c.verdict == verdict)
            .count()
    };
    let grave = [
        Severity::Danger,
        Severity::Urgent,
        Severity::Repair,
        Severity::Minor,
    ];
    html! {
        section {
            h2 { "In short" }
            dl.facts {
                div { dt { "Equipment" } dd { (count(assessment.register.len(), "unit")) } }
                div { dt { "Hazards" } dd { (assessment.hazards.len()) } }
                @for severity in grave {
                    div { dt { (sentence(&severity.words())) }
                        dd { (count(of(severity), "finding")) } }
                }
                div { dt { "Checks not met" } dd { (verdicts(Verdict::Fail)) } }
                div { dt { "Could not be checked" } dd { (verdicts(Verdict::Unknown)) } }
                div { dt { "Photos" } dd { (shown(paper.survey).count()) } }
                @if let Some(quote) = paper.quote.filter(|quote| quote.empty.is_none()) {
                    div { dt { "Maintenance, proposed" }
                        dd { (money(quote.price_cents_per_year.likely, &quote.currency)) " a year" } }
                }
            }
            @let worst: Vec<&Finding> = paper.findings().filter(|f| f.severity <= Severity::Urgent).collect();
            @if !worst.is_empty() {
                p { b { "See to first:" } }
                ul { @for finding in worst { li {
                    b { (place(&finding.about)) } ": " (parts::what(finding))
                } } }
            }
        }
    }
}
