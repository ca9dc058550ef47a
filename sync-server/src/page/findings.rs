//! Findings, gravest first, each with the words and photos it rests on.

use super::evidence::Witness;
use crate::words;
use maud::{Markup, html};
use scupper_core::survey::Finding;
use scupper_core::survey::codes::{Certainty, Condition, Severity};

pub(super) fn section(findings: &[Finding], witness: Witness<'_>) -> Markup {
    let standing = |f: &&Finding| f.origin.withdrawn_by.is_none();
    let work = |f: &&Finding| f.condition != Condition::Good && f.certainty != Certainty::Absent;
    let looked_at: Vec<&Finding> = findings
        .iter()
        .filter(standing)
        .filter(|f| !work(f))
        .collect();
    html! {
        section id="findings" {
            h2 { "Findings" }
            @if findings.is_empty() { p { "Nothing was reported yet." } }
            @for severity in Severity::ALL {
                @let here: Vec<&Finding> = findings.iter().filter(standing).filter(work)
                    .filter(|f| f.severity == *severity).collect();
                @if !here.is_empty() {
                    h3 { (words::severity(*severity)) " " (here.len()) }
                    ul.cards { @for finding in here { (card(finding, witness)) } }
                }
            }
            @if !looked_at.is_empty() {
                details {
                    summary { (looked_at.len()) " looked at and good, or said not to be there" }
                    ul.cards { @for finding in looked_at { (card(finding, witness)) } }
                }
            }
        }
    }
}

fn card(finding: &Finding, witness: Witness<'_>) -> Markup {
    let origin = &finding.origin;
    html! {
        li.card {
            p {
                b { (words::place_link(&finding.about)) } " · "
                (words::sentence(&finding.component.words())) " " (finding.condition.words())
                (words::certainty(finding.certainty))
                @if let Some(action) = finding.action { " → " b { (action.words()) } }
            }
            @if let Some(remark) = &finding.remark { p { (remark) } }
            (witness.words(origin.note_id.as_deref(), origin.evidence.as_ref()))
            p.small.quiet {
                (origin.author.as_deref().unwrap_or("author not recorded"))
                @if let Some(at) = &origin.at { ", " (words::moment(at)) }
                @if origin.confirmed_by.is_empty() {
                    @if origin.evidence.is_some() { " " span.sign.draft { "heard, not confirmed" } }
                } @else { " · confirmed by " (origin.confirmed_by.join(", ")) }
            }
            @if let Some(why) = &origin.needs_confirmation { p { b { "Look again: " } (why) } }
            @if !origin.photos.is_empty() { (witness.photos(&origin.photos, &finding.about)) }
        }
    }
}
