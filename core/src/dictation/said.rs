//! What short notes say, a line each: the slips of recognisers, and talk that must not count.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::{Lexicon, Transcript, interpret};
use crate::survey::spoken::Segment;

/// A note of segments parted by `|`, three seconds each; another guess of a segment stands behind `~`.
pub(super) fn note(said: &str) -> Transcript {
    let segments = said.split('|').zip(0..).map(|(text, n)| {
        let mut guesses = text.split('~').map(|guess| guess.trim().to_owned());
        Segment {
            start_ms: n * 3000,
            end_ms: n * 3000 + 2000,
            text: guesses.next().unwrap_or_default(),
            alternatives: guesses.collect(),
            ..Segment::default()
        }
    });
    Transcript {
        note_id: "n".into(),
        author: None,
        recorded_at: None,
        segments: segments.collect(),
    }
}

/// Values and findings of one note, each as a line.
fn said(text: &str) -> Vec<String> {
    let heard = interpret(&note(text), Lexicon::builtin());
    let facts = heard
        .facts
        .iter()
        .map(|f| format!("{} {} {}", f.about, f.field, f.value));
    let findings = heard.findings.iter().map(|f| {
        let part = f.component.code();
        format!("{} {part} {}", f.about, f.condition.code())
    });
    facts.chain(findings).collect()
}

fn check(cases: &[(&str, &[&str])]) {
    for (text, wanted) in cases {
        assert_eq!(said(text), *wanted, "{text}");
    }
}

#[test]
fn words_heard_as_others_are_made_out_by_their_place() {
    check(&[
        ("rtu two the belts or glazed", &["RTU-2 belt glazed"]),
        (
            "ef four the motor his not running",
            &["EF-4 motor not_running"],
        ),
        ("rtu two the curb is crack", &["RTU-2 curb cracked"]),
        (
            "rtu two the fan guard is rusted in the belt is worn",
            &["RTU-2 fan_guard rusted", "RTU-2 belt worn"],
        ),
        (
            "rtu six as a sixty amp disconnect",
            &["RTU-6 disconnect.rating_a 60.0"],
        ),
        (
            "condense in units one two and three the coils are dirty on all three",
            &[
                "CU-1 condenser_coil dirty",
                "CU-2 condenser_coil dirty",
                "CU-3 condenser_coil dirty",
            ],
        ),
        (
            "chiller too four sixty volt",
            &["CH-2 nameplate.voltage_v 460.0"],
        ),
        ("rtu one the hatch is shut", &[]),
    ]);
}

#[test]
fn numbers_run_together_are_parted_by_what_they_measure() {
    check(&[
        (
            "rtu one max fuse forty ten ton",
            &[
                "RTU-1 nameplate.mocp_a 40.0",
                "RTU-1 nameplate.capacity_tons 10.0",
            ],
        ),
        (
            "rtu one max breaker is thirty three ton",
            &[
                "RTU-1 nameplate.mocp_a 30.0",
                "RTU-1 nameplate.capacity_tons 3.0",
            ],
        ),
        (
            "RTU one, MCA fifteen. Not fifteen, fifty.",
            &["RTU-1 nameplate.mca_a 50.0"],
        ),
    ]);
}

#[test]
fn units_are_known_by_their_number_once_they_were_named() {
    check(&[
        (
            "Exhaust fans one, two and three. Three, the flashing is cracked. Two's curb is good.",
            &["EF-3 flashing cracked", "EF-2 curb good"],
        ),
        (
            "Exhaust fan three, the belt is worn. Fan four, the belt is split.",
            &["EF-3 belt worn", "EF-4 belt split"],
        ),
        (
            "package unit eight and package unit nine are ten ton",
            &[
                "RTU-8 nameplate.capacity_tons 10.0",
                "RTU-9 nameplate.capacity_tons 10.0",
            ],
        ),
    ]);
}

#[test]
fn what_was_and_what_is_elsewhere_makes_nothing() {
    check(&[
        ("Heat pump two. The drain was clogged, I blew it out.", &[]),
        (
            "Look at the roof across the alley. The membrane is torn. The ladder is broken.",
            &[],
        ),
        (
            "Look across the alley. The ladder is broken. Okay, ours. The parapet is cracked.",
            &["site parapet cracked"],
        ),
        ("The light on my hard hat is broken.", &[]),
        (
            "RTU one. The coil is dirty. I thought the fan guard was bent, never mind that.",
            &["RTU-1 condenser_coil dirty"],
        ),
        (
            "rtu one gas piping is rusted get it inspected the curb is loose",
            &["RTU-1 gas_piping rusted", "RTU-1 curb loose"],
        ),
    ]);
}
