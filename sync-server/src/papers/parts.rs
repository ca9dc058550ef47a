//! The parts of the customer's assessment, each a section of its own.

use super::assessment::{Inline, Paper};
use super::pictures::Picture;
use super::register::{belt, filter};
use super::words::{quantity, rule, source, verdict, wanted};
use crate::words::{certainty, count, place, requirement, sentence};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, html};
use scupper_core::assess::Check;
use scupper_core::quote::seen;
use scupper_core::survey::codes::Severity;
use scupper_core::survey::{Finding, Photo};
use scupper_core::trade::Verdict;
use std::collections::BTreeMap;

/// A finding in a few words.
pub(super) fn what(finding: &Finding) -> String {
    let action = finding.action.map(|action| format!("; {}", action.words()));
    format!(
        "{} {}{}{}",
        finding.component.words(),
        finding.condition.words(),
        certainty(finding.certainty),
        action.unwrap_or_default()
    )
}

pub(super) fn findings(paper: &Paper<'_>) -> Markup {
    let in_order: Vec<&Finding> = paper.in_order().collect();
    html! {
        section {
            h2 { "What was found" }
            @if paper.findings().next().is_none() { p { "No finding was recorded." } }
            @if paper.findings().any(heard_only) {
                p.small { "* taken from speech, not confirmed by a person yet." }
            }
            @for severity in Severity::ALL {
                @let list: Vec<&Finding> = paper.findings().filter(|f| f.severity == *severity).collect();
                @if !list.is_empty() {
                    h3 { (sentence(&severity.words())) ": " (list.len()) }
                    table.found {
                        thead { tr {
                            th scope="col" { "Where" } th scope="col" { "What" }
                            th scope="col" { "In whose words" }
                        } }
                        tbody { @for finding in list { (one(paper, finding)) } }
                    }
                }
            }
            @if !in_order.is_empty() {
                h3 { "Looked at and found in order, or not there" }
                @let said: Vec<String> = in_order.iter()
                    .map(|f| format!("{} {}", place(&f.about), what(f))).collect();
                p { (said.join("; ")) "." }
            }
        }
    }
}

/// Whether nobody stands behind it but a recogniser.
fn heard_only(finding: &Finding) -> bool {
    finding.origin.evidence.is_some() && finding.origin.confirmed_by.is_empty()
}

fn one(paper: &Paper<'_>, finding: &Finding) -> Markup {
    let words = seen(paper.survey, finding);
    let told = [
        finding.origin.author.clone(),
        finding.origin.at.map(|at| at.format("%H:%M").to_string()),
    ];
    let told: Vec<String> = told.into_iter().flatten().collect();
    let shots: Vec<&Photo> = paper.photos_of(finding).collect();
    html! {
        tr {
            td { b { (place(&finding.about)) } }
            td { (what(finding)) @if heard_only(finding) { "\u{a0}*" } }
            td { "“" (words) "”" @if !told.is_empty() { " " small { (told.join(", ")) } } }
        }
        @if !shots.is_empty() { tr { td colspan="3" { (photos(paper, shots.into_iter())) } } }
    }
}

/// Checks of one rule and source together, in the order in which rules first come.
fn by_rule<'a>(checks: &[&'a Check]) -> Vec<((&'a str, String), Vec<&'a Check>)> {
    let mut rules: Vec<((&str, String), Vec<&Check>)> = Vec::new();
    for check in checks {
        let key = (check.rule.as_str(), source(&check.source));
        match rules.iter_mut().find(|(known, _)| *known == key) {
            Some((_, list)) => list.push(check),
            None => rules.push((key, vec![check])),
        }
    }
    rules
}

pub(super) fn checks(paper: &Paper<'_>) -> Markup {
    let of = |wanted: Verdict| -> Vec<&Check> {
        let checks = paper.assessment.checks.iter();
        checks.filter(|check| check.verdict == wanted).collect()
    };
    let (unknown, passed) = (of(Verdict::Unknown), of(Verdict::Pass));
    html! {
        section {
            h2 { "Checks" }
            @for wanted in [Verdict::Fail, Verdict::Advise] {
                @let list = of(wanted);
                @if !list.is_empty() {
                    h3 { (verdict(wanted)) ": " (list.len()) }
                    table {
                        thead { tr {
                            th scope="col" { "Where" } th scope="col" { "Found" }
                            th scope="col" { "Asked" } th scope="col" { "Why" }
                        } }
                        @for ((id, source), list) in by_rule(&list) { tbody {
                            tr { th.rule colspan="4" scope="rowgroup" {
                                (rule(id)) " " small { (source) } } }
                            @for check in list { tr {
                                td { b { (place(&check.about)) } }
                                td { (check.measured.as_ref().map(quantity).unwrap_or_default()) }
                                td { (check.required.as_ref().map(requirement).unwrap_or_default()) }
                                td { (check.because) }
                            } }
                        } }
                    }
                }
            }
            @if !unknown.is_empty() {
                p { (count(unknown.len(), "check")) " could not be made, which is no pass: see “What was not checked”." }
            }
            @if !passed.is_empty() {
                h3 { (verdict(Verdict::Pass)) ": " (passed.len()) }
                ul.tight { @for ((id, source), list) in by_rule(&passed) { li {
                    b { (rule(id)) } ": "
                    @for (i, check) in list.iter().enumerate() {
                        @if i > 0 { ", " }
                        (place(&check.about))
                        @if let Some(found) = &check.measured { " (" (quantity(found)) ")" }
                    }
                    ". " small { (source) }
                } } }
            }
        }
    }
}

pub(super) fn register(paper: &Paper<'_>) -> Markup {
    html! {
        section {
            h2 { "Equipment" }
            table {
                thead { tr {
                    th scope="col" { "Tag" } th scope="col" { "Kind" } th scope="col" { "Make, model" }
                    th scope="col" { "Serial, year" } th scope="col" { "Electrical" }
                    th scope="col" { "Filters, belts" }
                } }
                tbody { @for row in &paper.assessment.register { tr {
                    td { b { (row.tag) } }
                    td { (row.kind.words())
                        @if let Some(tons) = row.capacity_tons { br; (tons) " tons" }
                        @if let Some(refrigerant) = &row.refrigerant { br; (refrigerant) } }
                    td { @match (&row.make, &row.model) {
                        (None, None) => "not recorded",
                        (Some(one), None) | (None, Some(one)) => (one),
                        (Some(make), Some(model)) => { (make) br; (model) }
                    } }
                    td { (row.serial.as_deref().unwrap_or("not recorded"))
                        @if let Some(year) = row.manufactured_year { br; (year) } }
                    td { (row.supply.as_deref().unwrap_or("supply not recorded"))
                        @if let Some(mca) = row.mca_a { ", MCA " (mca) " A" }
                        @if let Some(mocp) = row.mocp_a { ", MOCP " (mocp) " A" }
                        @if let Some(rating) = row.disconnect_a { ", disconnect " (rating) " A" } }
                    td { @for (i, set) in row.filters.iter().map(filter).chain(row.belts.iter().map(belt)).enumerate() {
                        @if i > 0 { br; }
                        // A size is never broken over two lines.
                        (set.replace(' ', "\u{a0}"))
                    } }
                } } }
            }
        }
    }
}

/// What a next visit should bring, field by field.
pub(super) fn missing(paper: &Paper<'_>) -> Markup {
    let mut fields: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for gap in &paper.assessment.missing {
        let units = fields.entry(wanted(&gap.field)).or_default();
        if !units.contains(&gap.about.as_str()) {
            units.push(&gap.about);
        }
    }
    let named = |mut units: Vec<&str>| {
        units.sort_by_cached_key(|about| scupper_core::quote::tag_order(about));
        let names: Vec<String> = units
            .into_iter()
            .map(|about| place(about).to_string())
            .collect();
        names.join(", ")
    };
    html! {
        @if !fields.is_empty() {
            section {
                h2 { "Still to be recorded" }
                ul.tight.small { @for (name, units) in fields { li {
                    b { (sentence(&name)) } ": " (named(units))
                } } }
            }
        }
    }
}

pub(super) fn not_checked(paper: &Paper<'_>) -> Markup {
    // The assessment names the rule by its id; here it is named by what it looks at.
    let lines = paper.assessment.not_checked.iter();
    let said = lines.map(|line| match line.split_once(" could not be checked on: ") {
        Some((id, units)) => html! { b { (rule(id)) } " could not be checked: " (units) },
        None => html! { (line) },
    });
    html! {
        section {
            h2 { "What was not checked" }
            ul.tight.small {
                @for line in said { li { (line) } }
                @if paper.assessment.not_checked.is_empty() { li { "No panel was opened." } }
                @for (photo, why) in paper.pictures.gaps(paper.survey) {
                    li { "The photo " (name(photo)) " is not shown: " (why) "." }
                }
            }
        }
    }
}

/// Photos that no finding names, unit by unit.
pub(super) fn more_photos(paper: &Paper<'_>, mut rest: Vec<&Photo>) -> Markup {
    rest.sort_by_cached_key(|photo| photo.about.as_deref().map(scupper_core::quote::tag_order));
    html! {
        @if !rest.is_empty() {
            section {
                h2 { "Further photos" }
                (photos(paper, rest.into_iter()))
            }
        }
    }
}

/// Photos side by side with their captions.
fn photos<'a>(paper: &Paper<'_>, photos: impl Iterator<Item = &'a Photo>) -> Markup {
    let list: Vec<&Photo> = photos.collect();
    html! {
        @if !list.is_empty() {
            div.photos { @for photo in list { (figure(paper, photo)) } }
        }
    }
}

fn figure(paper: &Paper<'_>, photo: &Photo) -> Markup {
    let caption = name(photo);
    let about = photo.about.as_deref().map_or("place not said", place);
    let taken = [
        photo.author.clone(),
        photo
            .taken_at
            .map(|at| at.format("%-d %B %Y, %H:%M").to_string()),
    ];
    let taken: Vec<String> = taken.into_iter().flatten().collect();
    html! {
        figure {
            @match paper.pictures.get(photo) {
                Ok(picture) => img src=(source_of(paper, photo, picture)) width=(picture.width) height=(picture.height)
                    alt={ "Photo, " (about) ": " (caption) };,
                Err(why) => div.gap { "Photo not shown: " (why) },
            }
            figcaption { b { (sentence(about)) } ": " (caption)
                @if !taken.is_empty() { br; small { (taken.join(", ")) } } }
        }
    }
}

/// What a photo is called: its caption, or else its hash in short.
fn name(photo: &Photo) -> String {
    match &photo.caption {
        Some(caption) if !caption.trim().is_empty() => caption.clone(),
        _ => {
            let short: String = photo.hash.chars().take(8).collect();
            let fallback = if short.is_empty() { &photo.id } else { &short };
            format!("without a caption, {fallback}")
        }
    }
}

fn source_of(paper: &Paper<'_>, photo: &Photo, picture: &Picture) -> String {
    match paper.inline {
        Inline::Bytes => format!(
            "data:image/jpeg;base64,{}",
            STANDARD.encode(picture.jpeg.as_slice())
        ),
        Inline::Named => format!("photo:{}", photo.id),
    }
}
