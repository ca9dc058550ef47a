//! Findings, gravest first, each with the words and photos it rests on.

use super::settle::Heard;
use super::sheet::{Sheet, stands, unsettled};
use super::view::Part;
use super::words;
use maud::{Markup, html};
use scupper_core::survey::codes::{Certainty, Condition, Severity};
use scupper_core::survey::{Finding, Photo};

/// How many findings the page shows before the others wait behind a link.
const SHOWN: usize = 40;

/// Whether a finding asks for something.
fn work(finding: &Finding) -> bool {
    finding.condition != Condition::Good && finding.certainty != Certainty::Absent
}

impl<'a> Sheet<'a> {
    pub(super) fn finding_part(&self) -> Markup {
        let Some(room) = self.room(Part::Findings, SHOWN) else {
            return html! {};
        };
        let standing = self.view.assessment.findings.iter();
        let (open, good): (Vec<&Finding>, Vec<&Finding>) = standing
            .filter(|f| stands(&f.origin))
            .partition(|f| work(f));
        let shown: Vec<&Finding> = open.iter().copied().take(room).collect();
        html! {
            section id="findings" data-part aria-labelledby="findings-t" {
                h2 id="findings-t" { "Findings" }
                @if open.is_empty() { p { "Nothing that asks for work was reported." } }
                @for severity in Severity::ALL {
                    @let here: Vec<&Finding> =
                        shown.iter().copied().filter(|f| f.severity == *severity).collect();
                    @if !here.is_empty() {
                        h3 { (words::severity(*severity)) " " (here.len()) }
                        ul.cards { @for finding in here { (self.finding_card(finding, true)) } }
                    }
                }
                (self.rest(Part::Findings, room, open.len()))
                @if !good.is_empty() {
                    details id="good" {
                        summary { (good.len()) " looked at and good, or said not to be there" }
                        ul.cards { @for finding in good.iter().take(room) {
                            (self.finding_card(finding, true))
                        } }
                    }
                }
            }
        }
    }

    /// One finding. Its unit is told unless it is clear from around it.
    pub(super) fn finding_card(&self, finding: &'a Finding, tell_unit: bool) -> Markup {
        let origin = &finding.origin;
        let said = format!(
            "{} {}",
            finding.component.words(),
            finding.condition.words()
        );
        html! {
            li.card {
                p {
                    @if tell_unit { b { (self.link(&finding.about)) } " " }
                    @else { (words::severity(finding.severity)) " " }
                    (words::sentence(&said)) (words::certainty(finding.certainty))
                    @if let Some(action) = finding.action { ". To do: " b { (action.words()) } }
                }
                @if let Some(remark) = &finding.remark { p { (remark) } }
                (self.words_of(origin))
                p.small.quiet {
                    @if origin.evidence.is_none() { (self.by(origin)) " " }
                    @if unsettled(origin) { span.sign.draft { "heard, not confirmed" } }
                    @if !origin.confirmed_by.is_empty() {
                        "Confirmed by " (self.names(&origin.confirmed_by))
                    }
                }
                (self.strip(&self.photos_of(finding)))
                @if !tell_unit { (self.decide(Heard::Finding(finding))) }
            }
        }
    }

    fn photos_of(&self, finding: &Finding) -> Vec<&Photo> {
        let photos = self.view.survey.photos.iter();
        if finding.origin.photos.is_empty() {
            return Vec::new();
        }
        photos
            .filter(|p| p.withdrawn_by.is_none() && finding.origin.photos.contains(&p.id))
            .collect()
    }
}
