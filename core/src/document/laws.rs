//! The laws of merging, on random edits: whatever the order, grouping or repetition in which
//! changes arrive, the same survey is read, byte for byte.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::survey::Survey;
use chrono::{DateTime, TimeDelta};
use proptest::prelude::*;
use serde_json::{Value, json};

/// What one of a few people does next; numbers pick among what there is.
#[derive(Debug, Clone)]
enum Step {
    AddUnit(u8),
    Set(u8, u8, u16),
    AddHazard(u8),
    Withdraw(u8),
    Reinstate(u8),
    Join(u8, u8),
    Unjoin(u8),
    Stand(u8, bool),
    Reopen(u8, u16),
    Pull(u8),
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        2 => any::<u8>().prop_map(Step::AddUnit),
        6 => any::<(u8, u8, u16)>().prop_map(|(a, b, c)| Step::Set(a, b, c)),
        1 => any::<u8>().prop_map(Step::AddHazard),
        1 => any::<u8>().prop_map(Step::Withdraw),
        1 => any::<u8>().prop_map(Step::Reinstate),
        1 => any::<(u8, u8)>().prop_map(|(a, b)| Step::Join(a, b)),
        1 => any::<u8>().prop_map(Step::Unjoin),
        1 => any::<(u8, bool)>().prop_map(|(a, holds)| Step::Stand(a, holds)),
        1 => any::<(u8, u16)>().prop_map(|(a, b)| Step::Reopen(a, b)),
        2 => any::<u8>().prop_map(Step::Pull),
    ]
}

const PEOPLE: [&str; 3] = ["ana", "ben", "cy"];

fn fresh(name: &str, run: u8) -> SurveyDoc {
    SurveyDoc::create("s-1", Actor::of_device(name, [run; 6])).unwrap()
}

fn pick<T>(all: &[T], n: u8) -> Option<&T> {
    all.get(usize::from(n) % all.len().max(1))
}

fn act(docs: &mut [SurveyDoc], who: usize, step: &Step, minute: i64) {
    let start = DateTime::parse_from_rfc3339("2026-04-14T08:00:00-05:00").unwrap();
    let stamp = Stamp {
        author: PEOPLE[who].to_owned(),
        device: PEOPLE[who].to_owned(),
        at: start + TimeDelta::minutes(minute),
        clock_offset_ms: None,
    };
    let survey = docs[who].survey();
    let id = format!("{minute:04}-{who}");
    let units: Vec<String> = survey
        .equipment
        .iter()
        .map(|unit| unit.id.clone())
        .collect();
    let unit = |n: u8| pick(&units, n).cloned();
    let set = |about: String, field: &str, value: Value| Edit::Set {
        about,
        field: field.to_owned(),
        value,
    };
    let edit = match step {
        Step::AddUnit(n) => Some(Edit::Add {
            table: Table::Equipment,
            id,
            entry: json!({"tag": format!("RTU-{}", n % 4), "kind": "packaged_rooftop_unit"}),
        }),
        Step::AddHazard(n) => Some(Edit::Add {
            table: Table::Hazards,
            id,
            entry: json!({"kind": "trip", "ref": unit(*n)}),
        }),
        Step::Set(n, field, value) => unit(*n).map(|unit| match field % 5 {
            0 => set(unit, "nameplate.mca_a", json!(1 + value % 8)),
            1 => set(unit, "nameplate.mca_a", Value::Null),
            2 => set(unit, "at_ft", json!([value % 50, 3])),
            3 => set(unit, "tag", json!(format!("RTU-{}", value % 4))),
            _ => set(
                "site".to_owned(),
                "roof.edges.0.parapet_in",
                json!(value % 3),
            ),
        }),
        Step::Withdraw(n) => pick(&survey.hazards, *n)
            .map(|hazard| hazard.id.clone())
            .or_else(|| unit(*n))
            .map(|about| Edit::Withdraw { about }),
        Step::Reinstate(n) => pick(&survey.hazards, *n).map(|hazard| Edit::Reinstate {
            about: hazard.id.clone(),
        }),
        Step::Join(a, b) => unit(*a)
            .zip(unit(*b))
            .map(|(keep, other)| Edit::Join { keep, other }),
        Step::Unjoin(n) => unit(*n).map(|other| Edit::Unjoin { other }),
        Step::Stand(n, holds) => unit(*n).map(|about| Edit::Stand {
            about,
            field: "nameplate.mca_a".to_owned(),
            holds: *holds,
        }),
        Step::Reopen(n, value) => unit(*n).map(|about| Edit::Reopen {
            about,
            field: "nameplate.mca_a".to_owned(),
            values: vec![json!(1 + value % 8), json!(1 + value % 3)],
        }),
        Step::Pull(n) => {
            let theirs = docs[usize::from(*n) % PEOPLE.len()]
                .changes_since(&[])
                .unwrap();
            docs[who].apply_changes(&theirs).unwrap();
            None
        }
    };
    if let Some(edit) = edit {
        // A refused edit is an answer too; it must change nothing.
        let before = docs[who].heads();
        if docs[who].edit(&stamp, edit).is_err() {
            assert_eq!(docs[who].heads(), before);
        }
    }
}

fn play(steps: &[(u8, Step)]) -> Vec<SurveyDoc> {
    let mut docs: Vec<SurveyDoc> = PEOPLE.iter().map(|name| fresh(name, 1)).collect();
    for (minute, (who, step)) in (0..).zip(steps) {
        act(&mut docs, usize::from(*who) % PEOPLE.len(), step, minute);
    }
    docs
}

/// All that anyone reads of a document.
fn seen(doc: &SurveyDoc) -> (String, Vec<Conflict>, Vec<SameUnitOffer>) {
    let survey: Survey = doc.survey();
    (
        serde_json::to_string(&survey).unwrap(),
        doc.conflicts(),
        doc.same_unit_offers(),
    )
}

fn merged(docs: &[&SurveyDoc]) -> SurveyDoc {
    let mut all = fresh("reader", 9);
    for doc in docs {
        all.apply_changes(&doc.changes_since(&[]).unwrap()).unwrap();
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn merging_is_commutative_associative_and_idempotent(
        steps in prop::collection::vec((any::<u8>(), step()), 1..40),
    ) {
        let docs = play(&steps);
        let [a, b, c] = docs.as_slice() else { panic!("three people") };
        let expected = seen(&merged(&[a, b, c]));
        prop_assert_eq!(&seen(&merged(&[c, b, a])), &expected);
        prop_assert_eq!(&seen(&merged(&[b, a, b, c, c, a])), &expected);
        let (ab, bc) = (merged(&[a, b]), merged(&[b, c]));
        prop_assert_eq!(&seen(&merged(&[&ab, c])), &expected);
        prop_assert_eq!(&seen(&merged(&[a, &bc])), &expected);
        let saved = merged(&[a, b, c]).save();
        let again = SurveyDoc::load("s-1", &[saved], Actor::of_device("x", [0; 6])).unwrap();
        prop_assert_eq!(&seen(&again), &expected);
    }

    #[test]
    fn what_is_kept_between_edits_is_what_a_fresh_reading_says(
        steps in prop::collection::vec((any::<u8>(), step()), 1..40),
    ) {
        let mut docs: Vec<SurveyDoc> = PEOPLE.iter().map(|name| fresh(name, 1)).collect();
        let all = |doc: &SurveyDoc| (seen(doc), doc.read().problems, doc.stood(), doc.withdrawn_but_edited(), doc.photo_hashes(), doc.summary());
        for (minute, (who, step)) in (0..).zip(&steps) {
            let who = usize::from(*who) % PEOPLE.len();
            act(&mut docs, who, step, minute);
            let again = SurveyDoc::load("s-1", &[docs[who].save()], Actor::of_device("x", [0; 6])).unwrap();
            prop_assert_eq!(all(&docs[who]), all(&again), "after {:?}", step);
        }
    }

    #[test]
    fn any_delivery_order_gives_one_survey(
        steps in prop::collection::vec((any::<u8>(), step()), 1..40),
        order in prop::collection::vec(any::<u16>(), 300),
    ) {
        let docs = play(&steps);
        let all = merged(&docs.iter().collect::<Vec<_>>());
        let changes = all.changes_since(&[]).unwrap();
        // Changes come in any order that keeps parents first, some of them twice.
        let mut doc = fresh("reader", 8);
        let mut left: Vec<&Change> = changes.iter().collect();
        for n in order.iter().cycle() {
            let ready: Vec<usize> = (0..left.len())
                .filter(|&i| left[i].deps().all(|dep| doc.has(&dep)))
                .collect();
            let Some(&next) = ready.get(usize::from(*n) % ready.len().max(1)) else { break };
            let change = match n % 5 {
                0 => left[next].clone(),
                _ => left.remove(next).clone(),
            };
            doc.apply_changes(&[change]).unwrap();
        }
        prop_assert_eq!(doc.heads(), all.heads());
        prop_assert_eq!(seen(&doc), seen(&all));
    }

    #[test]
    fn nobodys_value_of_a_field_is_lost(
        values in prop::collection::vec(0..50_u16, 3),
    ) {
        let mut docs: Vec<SurveyDoc> = PEOPLE.iter().map(|name| fresh(name, 1)).collect();
        act(&mut docs, 0, &Step::AddUnit(1), 0);
        for who in 1..3 {
            act(&mut docs, who, &Step::Pull(0), 1);
        }
        for (who, value) in values.iter().enumerate() {
            act(&mut docs, who, &Step::Set(0, 0, *value), 2);
        }
        let all = merged(&docs.iter().collect::<Vec<_>>());
        let mut said: Vec<f64> = values.iter().map(|v| f64::from(1 + v % 8)).collect();
        said.sort_by(f64::total_cmp);
        said.dedup();
        let mut kept: Vec<f64> = match all.conflicts().as_slice() {
            [] => all.survey().equipment.iter().filter_map(|u| u.nameplate.mca_a).map(|a| a.get()).collect(),
            [conflict] => conflict.candidates.iter().filter_map(|c| c.value.as_f64()).collect(),
            more => panic!("{more:?}"),
        };
        kept.sort_by(f64::total_cmp);
        kept.dedup();
        prop_assert_eq!(kept, said);
    }
}
