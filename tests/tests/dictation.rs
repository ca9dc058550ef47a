//! Dictation keeps its figures: each may rise, and none may fall below the committed one.

use scupper_core::dictation::{Lexicon, interpret};
use scupper_core::survey::spoken::{Segment, Transcript};
use scupper_tests::dictation_score::{GROUPS, HELD_OUT, fixtures, load, score};
use std::collections::BTreeMap;

#[test]
fn no_figure_falls_below_the_committed_one() {
    let path = fixtures().join("thresholds.json");
    let text = std::fs::read_to_string(path).unwrap();
    let least: BTreeMap<String, BTreeMap<String, f64>> = serde_json::from_str(&text).unwrap();
    let mut fallen = Vec::new();
    for group in GROUPS.iter().chain(&HELD_OUT) {
        let score = score(&load(group).unwrap());
        let least = least
            .get(*group)
            .unwrap_or_else(|| panic!("{group} has no thresholds"));
        for (name, least) in least {
            let now = match name.as_str() {
                "words_per_false_finding" => score.words_per_false_finding(),
                name => score
                    .counts
                    .get(name)
                    .unwrap_or_else(|| panic!("{group} {name}"))
                    .f1(),
            };
            if now + 5e-4 < *least {
                fallen.push(format!("{group} {name}: {now:.3} is below {least:.3}"));
            }
        }
    }
    assert!(fallen.is_empty(), "{fallen:#?}");
}

#[test]
fn time_grows_with_the_text_and_no_faster() {
    let piece = "unit two belt is cracked and the screen is torn four sixty volt three phase ";
    let clock = |times: usize| {
        let segment = Segment {
            text: piece.repeat(times),
            ..Segment::default()
        };
        let transcript = Transcript {
            note_id: "n".into(),
            author: None,
            recorded_at: None,
            segments: vec![segment],
        };
        let from = std::time::Instant::now();
        interpret(&transcript, Lexicon::builtin());
        from.elapsed().as_secs_f64()
    };
    clock(50);
    let (small, large) = (clock(400).max(1e-3), clock(3200));
    // Eight times the text; a square would take sixty-four times as long.
    assert!(large < small * 32.0, "{small} s, then {large} s");
}
