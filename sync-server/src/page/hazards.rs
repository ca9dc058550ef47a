//! What could hurt someone: first on the page, complete, and impossible to overlook. What nobody
//! in the office has read stands open; what someone answers for by name is folded, never left
//! out, and opens again when it changes.

use super::sheet::Sheet;
use super::words;
use crate::accounts::Seen;
use crate::sending::known_by;
use chrono::DateTime;
use maud::{Markup, html};
use scupper_core::assess::HazardEntry;
use scupper_core::survey::SITE;
use std::collections::BTreeSet;

/// Up to so many places of one hazard are told in full; of more, each is named with its distance
/// and told in full at its unit.
const IN_FULL: usize = 12;

/// Hazards of one kind, zone and control are told once, with every place they are at.
struct Group<'a> {
    first: &'a HazardEntry,
    all: Vec<&'a HazardEntry>,
}

fn groups<'a>(hazards: &[&'a HazardEntry]) -> Vec<Group<'a>> {
    let mut groups: Vec<Group<'_>> = Vec::new();
    for &hazard in hazards {
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

/// Who read hazards, and on what day the last of them was read.
fn readers(seen: &[&Seen], name: impl Fn(&str) -> String) -> String {
    let names: BTreeSet<String> = seen.iter().map(|seen| name(&seen.who)).collect();
    let last = seen.iter().map(|seen| seen.at).max();
    let last = last.and_then(|at| DateTime::from_timestamp(at, 0));
    let names: Vec<String> = names.into_iter().collect();
    let day = last.map(|at| at.format(", %-d %b %Y").to_string());
    format!("{}{}", names.join(" and "), day.unwrap_or_default())
}

impl Sheet<'_> {
    /// How many hazards nobody in the office has read.
    pub(super) fn unread(&self) -> usize {
        let all = self.view.assessment.hazards.iter();
        all.filter(|hazard| !self.view.seen.contains_key(&known_by(hazard)))
            .count()
    }

    /// The hazards. Shown on every page of a survey, and never cut short.
    pub(super) fn hazard_part(&self) -> Markup {
        let hazards = &self.view.assessment.hazards;
        let seen = |hazard: &HazardEntry| self.view.seen.get(&known_by(hazard));
        let (read, unread): (Vec<_>, Vec<_>) = hazards.iter().partition(|h| seen(h).is_some());
        let by: Vec<&Seen> = read.iter().filter_map(|hazard| seen(hazard)).collect();
        html! {
            section.hazards id="hazards" data-part aria-labelledby="hazards-t" {
                div {
                    @if hazards.is_empty() {
                        h2 id="hazards-t" tabindex="-1" { "No hazard recorded" }
                        p { "Nobody reported one and the plan shows none. That does not make the \
                             roof safe: what was not measured and not said is not in here." }
                    } @else {
                        h2 id="hazards-t" tabindex="-1" {
                            (words::count(hazards.len(), "hazard"))
                            @if !unread.is_empty() && !read.is_empty() {
                                ", " (unread.len()) " not read yet" }
                        }
                        @if !unread.is_empty() {
                            ol { @for group in groups(&unread) { (self.hazard_group(&group)) } }
                            (self.read_form(&unread))
                        }
                        @if !read.is_empty() {
                            details id="read-hazards" {
                                summary { (read.len()) @if unread.is_empty() { ", all" }
                                    " read by " (readers(&by, |who| self.name(who).to_owned())) ": "
                                    (kinds(&read)) }
                                ol { @for group in groups(&read) { (self.hazard_group(&group)) } }
                            }
                        }
                    }
                    p.standing { (self.caution()) }
                }
            }
        }
    }

    /// Says by name that these were read.
    fn read_form(&self, unread: &[&HazardEntry]) -> Markup {
        let Some(csrf) = self.view.session.csrf else {
            return html! {};
        };
        let shown: BTreeSet<String> = unread.iter().map(|hazard| known_by(hazard)).collect();
        html! {
            form.read method="post" action={ (self.base) "/hazards" } {
                input type="hidden" name="csrf" value=(csrf);
                input type="hidden" name="shown"
                    value=(shown.into_iter().collect::<Vec<_>>().join(" "));
                button { "I, " (self.view.session.name) ", have read "
                    @if unread.len() == 1 { "this hazard" }
                    @else { "these " (unread.len()) " hazards" } }
                span { "Papers are sent only after that. Your name stays with it." }
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

/// The kinds of hazards in a few words, each once with its number.
fn kinds(hazards: &[&HazardEntry]) -> String {
    let mut told: Vec<(String, usize)> = Vec::new();
    for hazard in hazards {
        let words = hazard.kind.words();
        match told.iter_mut().find(|(kind, _)| *kind == words) {
            Some((_, n)) => *n += 1,
            None => told.push((words, 1)),
        }
    }
    let told: Vec<String> = told
        .into_iter()
        .map(|(kind, n)| match n {
            1 => kind,
            n => format!("{kind} ({n})"),
        })
        .collect();
    told.join(", ")
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
        let all: Vec<&HazardEntry> = all.iter().collect();
        let groups = groups(&all);
        let places: Vec<usize> = groups.iter().map(|g| g.all.len()).collect();
        assert_eq!(places, [2, 1, 1]);
        assert_eq!(kinds(&all), "unprotected edge (3), unguarded opening");
    }
}
