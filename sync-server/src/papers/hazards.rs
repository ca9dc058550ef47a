//! What could hurt the next person, as the customer's assessment tells it: each kind at each place
//! once, with the words that told of it, and the usual controls.

use super::assessment::Paper;
use super::words::source;
use crate::words::{place, sentence};
use maud::{Markup, html};
use scupper_core::assess::{HazardEntry, by_voltage, usual_control};
use scupper_core::survey::Survey;
use std::collections::{BTreeMap, BTreeSet};

/// Words shown to either side of those that told of something.
const AROUND: usize = 6;

pub(super) fn section(paper: &Paper<'_>) -> Markup {
    let hazards = &paper.assessment.hazards;
    html! {
        section {
            h2 { "What could hurt the next person" }
            @if hazards.is_empty() {
                p { "No hazard was reported or found on the plan. That does not say that the roof is safe." }
            } @else {
                table {
                    thead { tr {
                        th scope="col" { "Where" } th scope="col" { "Hazard" }
                        th scope="col" { "What was found" } th scope="col" { "Known from" }
                    } }
                    tbody { @for row in rows(paper.survey, hazards) { tr {
                        td { b { (row.about.map_or("Place not said", place)) } }
                        td { (sentence(&row.kind)) }
                        td { (row.because.join(" ")) }
                        td { (row.known_from.into_iter().collect::<Vec<_>>().join(", ")) }
                    } } }
                }
                h3 { "Usual controls" }
                (controls(hazards))
            }
        }
    }
}

/// One kind of hazard at one place, however often it was told.
struct HazardRow<'a> {
    about: Option<&'a str>,
    kind: String,
    because: Vec<String>,
    known_from: BTreeSet<&'static str>,
}

/// The hazards, in their order, those of one kind at one place together.
fn rows<'a>(survey: &Survey, hazards: &'a [HazardEntry]) -> Vec<HazardRow<'a>> {
    let mut rows: Vec<HazardRow<'_>> = Vec::new();
    for hazard in hazards {
        let (about, kind) = (hazard.about.as_deref(), hazard.kind.words());
        // A distance is told in the reason itself.
        let mut because = match (&hazard.zone, hazard.distance_ft) {
            (Some(zone), None) => format!("{} ({})", hazard.because, zone.replace('_', " ")),
            _ => hazard.because.clone(),
        };
        if let Some(words) = overheard(survey, hazard) {
            because.push_str(&format!(" \u{201c}{words}\u{201d}"));
        }
        // Nobody but the plan measures a distance; a person may have told of the same.
        let from = [
            hazard.reported.then_some("a person"),
            (!hazard.reported || hazard.distance_ft.is_some()).then_some("the plan"),
        ];
        let from = from.into_iter().flatten();
        match rows.iter_mut().find(|r| r.about == about && r.kind == kind) {
            Some(row) => {
                if !row.because.contains(&because) {
                    row.because.push(because);
                }
                row.known_from.extend(from);
            }
            None => rows.push(HazardRow {
                about,
                kind,
                because: vec![because],
                known_from: from.collect(),
            }),
        }
    }
    rows
}

/// The words that told of a hazard, with a few before and after.
fn overheard<'a>(survey: &'a Survey, hazard: &HazardEntry) -> Option<String> {
    let (id, evidence) = (hazard.note_id.as_ref()?, hazard.evidence.as_ref()?);
    let note = survey.notes.iter().find(|note| &note.id == id)?;
    let text = note.segments.get(evidence.segment)?.text.as_str();
    let (before, after) = (text.get(..evidence.start)?, text.get(evidence.end..)?);
    let spaces = |text: &'a str| text.char_indices().filter(|(_, c)| c.is_whitespace());
    let from = spaces(before).rev().nth(AROUND).map(|(at, _)| at);
    let to = spaces(after).nth(AROUND).map(|(at, _)| evidence.end + at);
    let words = text.get(from.unwrap_or(0)..to.unwrap_or(text.len()))?;
    let dots = |cut: bool| if cut { "\u{2026}" } else { "" };
    Some(format!(
        "{}{}{}",
        dots(from.is_some()),
        words.trim(),
        dots(to.is_some())
    ))
}

/// A usual control, said once.
#[derive(Default)]
struct Usual<'a> {
    kinds: BTreeSet<String>,
    sources: BTreeSet<String>,
    /// What it comes to at places, each once.
    here: Vec<&'a str>,
    /// What it comes to by voltage, with the voltages that it is the same for.
    boundaries: Vec<(&'a str, Vec<&'a str>)>,
}

impl<'a> Usual<'a> {
    fn come_to(&mut self, here: &'a str) {
        match by_voltage(here) {
            Some((volts, bounds)) => {
                let known = self.boundaries.iter_mut().find(|(same, _)| *same == bounds);
                match known {
                    Some((_, all)) if all.contains(&volts) => {}
                    Some((_, all)) => all.push(volts),
                    None => self.boundaries.push((bounds, vec![volts])),
                }
            }
            None if here.is_empty() || self.here.contains(&here) => {}
            None => self.here.push(here),
        }
    }

    fn boundaries(mut self) -> impl Iterator<Item = String> {
        let number = |volts: &&str| volts.parse().unwrap_or(f64::MAX);
        for (_, volts) in &mut self.boundaries {
            volts.sort_by(|a, b| number(a).total_cmp(&number(b)));
        }
        self.boundaries.into_iter().map(|(bounds, volts)| {
            let volts = listed(&volts);
            format!(" At {volts} V between phases: {bounds}")
        })
    }
}

/// `208, 240 and 460`.
fn listed(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Each usual control once, with the hazards it is for and what it comes to here.
fn controls(hazards: &[HazardEntry]) -> Markup {
    let mut said: BTreeMap<&str, Usual<'_>> = BTreeMap::new();
    for hazard in hazards {
        let usual = usual_control(hazard.kind);
        let (usual, here) = match hazard.control.strip_prefix(usual) {
            Some(here) => (usual, here.trim()),
            None => (hazard.control.as_str(), ""),
        };
        let entry = said.entry(usual).or_default();
        entry.kinds.insert(hazard.kind.words());
        entry.sources.insert(source(&hazard.source));
        entry.come_to(here);
    }
    let joined = |all: &BTreeSet<String>, by: &str| {
        let all: Vec<&str> = all.iter().map(String::as_str).collect();
        all.join(by)
    };
    html! {
        ul.tight.small { @for (control, usual) in said { li {
            b { (sentence(&joined(&usual.kinds, ", "))) } ": " (control)
            @for here in &usual.here { " " (here) }
            @let sources = joined(&usual.sources, "; ");
            @for bounds in usual.boundaries() { (bounds) }
            " " small { (sources) }
        } } }
    }
}
