//! Dictation keeps its figures: each may rise, and none may fall below the committed one.

use scupper_core::survey::codes::{Action, Certainty, Component, Condition, HazardKind, Severity};
use scupper_tests::dictation_score::{GROUPS, HELD_OUT, fixtures, load, score};
use serde_json::json;
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
fn gold_speaks_the_codes_of_the_contract() {
    for group in GROUPS.iter().chain(&HELD_OUT) {
        for dictation in load(group).unwrap() {
            for row in dictation.gold.findings_rows() {
                let code = |at: usize| row[at].as_str().unwrap_or_default().to_owned();
                let place = format!("{group} {}: {row}", dictation.id);
                assert!(Component::from_code(&code(1)).is_some(), "{place}");
                assert!(Condition::from_code(&code(2)).is_some(), "{place}");
                let rest: Result<(Certainty, Severity, Option<Action>), _> =
                    serde_json::from_value(json!([row[3], row[4], row[5]]));
                assert!(rest.is_ok(), "{place}");
            }
            for row in dictation.gold.hazards_rows() {
                let kind: Result<HazardKind, _> = serde_json::from_value(row[0].clone());
                assert!(kind.is_ok(), "{group} {}: {row}", dictation.id);
            }
        }
    }
}
