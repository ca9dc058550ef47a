//! What could hurt someone: first on the page, complete, and impossible to overlook.

use super::sheet::Sheet;
use super::words;
use maud::{Markup, html};
use scupper_core::assess::HazardEntry;
use scupper_core::survey::SITE;

/// Up to so many places of one hazard are told in full; of more, each is named with its distance
/// and told in full at its unit.
const IN_FULL: usize = 12;

/// Hazards of one kind, zone and control are told once, with every place they are at.
struct Group<'a> {
    first: &'a HazardEntry,
    all: Vec<&'a HazardEntry>,
}

fn groups(hazards: &[HazardEntry]) -> Vec<Group<'_>> {
    let mut groups: Vec<Group<'_>> = Vec::new();
    for hazard in hazards {
        let alike = |group: &&mut Group<'_>| {
            let first = group.first;
            first.kind == hazard.kind
                && first.zone == hazard.zone
                && first.control == hazard.control
                && first.source == hazard.source
        };
        match groups.iter_mut().find(alike) {
            Some(group) => group.all.push(hazard),
            None => groups.push(Group {
                first: hazard,
                all: vec![hazard],
            }),
        }
    }
    groups
}

/// `under_6_ft` as words.
fn zone(code: &str) -> String {
    match code {
        "under_6_ft" => "less than 6 ft away".to_owned(),
        "6_to_15_ft" => "6 to 15 ft away".to_owned(),
        "over_15_ft" => "15 ft away or more".to_owned(),
        other => other.replace('_', " "),
    }
}

impl Sheet<'_> {
    /// The hazards. Shown on every page of a survey, and never cut short.
    pub(super) fn hazard_part(&self) -> Markup {
        let hazards = &self.view.assessment.hazards;
        html! {
            section.hazards id="hazards" data-part aria-labelledby="hazards-t" {
                div {
                    @if hazards.is_empty() {
                        h2 id="hazards-t" { "No hazard recorded" }
                        p { "Nobody reported one and the plan shows none. That does not make the \
                             roof safe: what was not measured and not said is not in here." }
                    } @else {
                        h2 id="hazards-t" { (words::count(hazards.len(), "hazard")) }
                        ol { @for group in groups(hazards) { (self.hazard_group(&group)) } }
                    }
                    p.standing { (self.caution()) }
                }
            }
        }
    }

    fn hazard_group(&self, group: &Group<'_>) -> Markup {
        let first = group.first;
        html! {
            li {
                p.what {
                    (words::sentence(&first.kind.words()))
                    @if let Some(code) = &first.zone { ", " (zone(code)) }
                }
                @if group.all.len() <= IN_FULL {
                    ul.places { @for hazard in &group.all { li { (self.hazard_place(hazard)) } } }
                } @else {
                    p { (group.all.len()) " places: "
                        @for (i, hazard) in group.all.iter().enumerate() {
                            @if i > 0 { ", " } (self.hazard_in_short(hazard))
                        } }
                }
                p { b { "Control: " } (first.control) }
                p.small.quiet { (words::source(&first.source)) }
            }
        }
    }

    fn hazard_in_short(&self, hazard: &HazardEntry) -> Markup {
        html! {
            (self.link(hazard.about.as_deref().unwrap_or(SITE)))
            @if let Some(distance) = hazard.distance_ft { " " (words::number(distance)) " ft" }
        }
    }

    fn hazard_place(&self, hazard: &HazardEntry) -> Markup {
        html! {
            b.at { (self.link(hazard.about.as_deref().unwrap_or(SITE))) } " "
            (hazard.because)
            @if hazard.evidence.is_some() {
                details { summary { "The words" }
                    (self.words(hazard.note_id.as_deref(), hazard.evidence.as_ref())) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    fn hazard(kind: &str, about: &str, zone: &str) -> HazardEntry {
        serde_json::from_value(json!({
            "kind": kind, "ref": about, "zone": zone, "because": format!("{about} is near"),
            "control": "Rail or tie-off", "caution": "", "reported": false,
            "source": {"standard": "29 CFR", "edition": "2016", "section": "1910.28(b)(13)",
                       "basis": "published"}
        }))
        .unwrap()
    }

    #[test]
    fn hazards_alike_are_told_once_and_no_place_is_lost() {
        let all = [
            hazard("unprotected_edge", "RTU-1", "under_6_ft"),
            hazard("unguarded_opening", "RTU-2", "under_6_ft"),
            hazard("unprotected_edge", "RTU-3", "under_6_ft"),
            hazard("unprotected_edge", "RTU-4", "6_to_15_ft"),
        ];
        let groups = groups(&all);
        let places: Vec<usize> = groups.iter().map(|g| g.all.len()).collect();
        assert_eq!(places, [2, 1, 1]);
    }
}
