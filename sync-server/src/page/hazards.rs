//! What could hurt someone: first on the page, and impossible to overlook.

use super::evidence::Witness;
use crate::words;
use maud::{Markup, html};
use scupper_core::assess::HazardEntry;

pub(super) fn section(hazards: &[HazardEntry], witness: Witness<'_>) -> Markup {
    html! {
        section.hazards id="hazards" aria-labelledby="hazards-title" {
            div {
                @if hazards.is_empty() {
                    h2 id="hazards-title" { "No hazard recorded" }
                    p { "Nobody reported one and the plan shows none. That is not a statement that \
                         the roof is safe: what was not measured or not said is not in here." }
                } @else {
                    h2 id="hazards-title" { (words::count(hazards.len(), "hazard")) }
                    ol { @for hazard in hazards { (entry(hazard, witness)) } }
                }
            }
        }
    }
}

fn entry(hazard: &HazardEntry, witness: Witness<'_>) -> Markup {
    html! {
        li {
            div {
                p.what {
                    @if let Some(about) = &hazard.about { span.at { (words::place(about)) } " " }
                    (words::sentence(&hazard.kind.words()))
                    @if let Some(zone) = &hazard.zone { " · " (zone.replace('_', " ")) }
                }
                p { (hazard.because) }
                p { b { "Control: " } (hazard.control) }
                (witness.words(hazard.note_id.as_deref(), hazard.evidence.as_ref()))
                p.small.quiet {
                    @if hazard.reported { "Reported by a person" } @else { "Worked out from the plan" }
                    " · " (words::source(&hazard.source))
                }
            }
        }
    }
}
