//! Throws spoilt files at the survey reader: it reads or refuses them by name, and never panics.
//!
//! Seeded, so a failure repeats. `SCUPPER_FUZZ_SECONDS=600 cargo test -p scupper-core --release
//! --test rough_input -- --nocapture` keeps on for that long and says how far it came.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod kit;

use kit::{Dice, number};
use scupper_core::assess::{AssessOptions, assess};
use scupper_core::plan::{DrawOptions, draw};
use scupper_core::quote::{RateBook, quote};
use scupper_core::survey::read::survey_from_json;
use serde_json::{Value, json};
use std::time::{Duration, Instant};

/// Surveys to spoil: small ones that between them hold every part of the shape.
fn seeds() -> Vec<Value> {
    let read = |name: &str| -> Value {
        let path = format!("{}/../fixtures/{name}", env!("CARGO_MANIFEST_DIR"));
        serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
    };
    let mut seeds = vec![read("exemplar/survey.json"), read("bakery/plan.json")];
    for case in read("trade/odd.json").as_array().unwrap() {
        seeds.push(case["survey"].clone());
    }
    let notes = json!({"notes": [{"note_id": "n", "author": "t", "recorded_at": "2026-04-14T08:00:00-05:00",
        "segments": [{"start_ms": 0, "end_ms": 9, "text": "unit two, belt frayed"}]}],
        "findings": [{"ref": "RTU-2", "component": "belt", "condition": "frayed", "certainty": "observed",
            "severity": "repair", "action": "replace", "evidence": {"segment": 0, "start": 9, "end": 20}}],
        "hazards": [{"kind": "trip", "ref": null}], "follow_ups": [{"ref": "RTU-2", "about": "nameplate"}],
        "photos": [{"id": "p", "hash": "00", "media_type": "image/jpeg", "bytes": 3}],
        "site": {"name": "n"}, "equipment": [{"tag": "RTU-2", "kind": "packaged_rooftop_unit",
            "filters": [{"width_in": 20, "height_in": 25, "depth_in": 2, "quantity": 4}],
            "belts": [{"designation": "A42", "quantity": 1}]}]});
    seeds.push(notes);
    seeds
}

const ODD: &[&str] = &[
    "null",
    "true",
    "0",
    "-0.0",
    "-1",
    "1e308",
    "-1e308",
    "1e-308",
    "1e400",
    "999999.9999999",
    "1000000",
    "0.30000000000000004",
    "4294967296",
    "18446744073709551615",
    "\"\"",
    "\"\\u0000\"",
    "\"NaN\"",
    "\"2026-02-30\"",
    "\"-42.5 V\"",
    "\"\u{202e}\u{1f525}e\u{301}\"",
    "[]",
    "{}",
    "[[]]",
    "[0]",
    "[0,0,0]",
    "[1e6,-1e6]",
    "[null,null]",
    "[[0,0],[0,0],[0,0]]",
    "[[0,0],[1,0],[2,0]]",
    "[[0,0],[9,9],[9,0],[0,9]]",
    "[[0,0],[1e-9,0],[0,1e-9]]",
    "[[0,0],[1e6,0],[1e6,1e6],[0,1e6]]",
    "[[0,0],[50,0],[50,50],[0,50],[0,0]]",
];

/// Changes one place of a value: replaces, removes, repeats or swaps.
fn spoil(value: &mut Value, draw: &mut Dice, donor: &Value) {
    match value {
        Value::Object(map) if !map.is_empty() && draw.below(4) != 0 => {
            let key = map.keys().nth(draw.below(map.len())).unwrap().clone();
            match draw.below(12) {
                0 => drop(map.remove(&key)),
                1 => drop(map.insert(format!("{key}_"), donor.clone())),
                _ => spoil(map.get_mut(&key).unwrap(), draw, donor),
            }
        }
        Value::Array(list) if !list.is_empty() && draw.below(4) != 0 => {
            let (at, other) = (draw.below(list.len()), draw.below(list.len()));
            match draw.below(12) {
                0 => drop(list.remove(at)),
                1 => list.push(list[at].clone()),
                2 => list.swap(at, other),
                3 => list.insert(at, donor.clone()),
                _ => spoil(&mut list[at], draw, donor),
            }
        }
        Value::Number(number) if draw.below(3) == 0 => {
            let x = number.as_f64().unwrap_or(0.0);
            *value = json!(match draw.below(5) {
                0 => -x,
                1 => x * 1e5,
                2 => x / 1e5,
                3 => x + 1e-7,
                _ => (x + draw.below(40) as f64) - 20.0,
            });
        }
        other => *other = donor.clone(),
    }
}

/// A part of some seed, to be put where it does not belong.
fn part(seed: &Value, draw: &mut Dice) -> Value {
    let mut here = seed;
    for _ in 0..draw.below(6) {
        here = match here {
            Value::Object(map) if !map.is_empty() => {
                map.values().nth(draw.below(map.len())).unwrap()
            }
            Value::Array(list) if !list.is_empty() => &list[draw.below(list.len())],
            leaf => leaf,
        };
    }
    here.clone()
}

fn spoil_bytes(text: &str, draw: &mut Dice) -> String {
    let mut bytes = text.as_bytes().to_vec();
    for _ in 0..=draw.below(4) {
        if bytes.is_empty() {
            break;
        }
        let at = draw.below(bytes.len());
        match draw.below(6) {
            0 => drop(bytes.remove(at)),
            1 => bytes[at] ^= 1 << draw.below(8),
            2 => bytes.insert(at, b"{}[],:\"0-e.\\"[draw.below(12)]),
            3 => bytes.truncate(at.max(1)),
            4 => {
                let end = (at + draw.below(40)).min(bytes.len());
                let piece = bytes[at..end].to_vec();
                bytes.splice(at..at, piece);
            }
            _ => bytes[at] = draw.roll() as u8,
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// What came of a spoilt file: read and taken through everything, or refused with a place.
fn try_out(text: &str, book: &RateBook) -> bool {
    match survey_from_json(text) {
        Ok(survey) => {
            let assessment = assess(&survey, &AssessOptions::default());
            let answer = quote(&survey, &assessment, book);
            let price = &answer.price_cents_per_year;
            assert!(price.low <= price.likely && price.likely <= price.high);
            assert!(draw(&survey, &DrawOptions::phone()).ends_with("</svg>\n"));
            let again = serde_json::to_string(&survey).unwrap();
            assert_eq!(survey_from_json(&again).unwrap(), survey);
            true
        }
        Err(error) => {
            assert!(!error.place.is_empty() && !error.problem.is_empty());
            false
        }
    }
}

#[test]
fn spoilt_surveys_are_read_or_refused() {
    let seeds = seeds();
    let book = RateBook::builtin_example();
    let long = number("SCUPPER_FUZZ_SECONDS").map(Duration::from_secs);
    let begun = Instant::now();
    let (mut tried, mut read) = (0_u64, 0_u64);
    while tried < 800 || long.is_some_and(|long| begun.elapsed() < long) {
        let mut draw = Dice(tried);
        let seed = &seeds[draw.below(seeds.len())];
        let mut value = seed.clone();
        for _ in 0..=draw.below(2) {
            let other = draw.below(seeds.len());
            let donor = match draw.below(4) {
                0 => part(&seeds[other], &mut draw),
                _ => match serde_json::from_str(ODD[draw.below(ODD.len())]) {
                    Ok(odd) => odd,
                    Err(_) => Value::Null,
                },
            };
            spoil(&mut value, &mut draw, &donor);
        }
        let mut text = value.to_string();
        if draw.below(4) == 0 {
            text = spoil_bytes(&text, &mut draw);
        }
        let done = std::panic::catch_unwind(|| try_out(&text, &book));
        read += u64::from(done.unwrap_or_else(|_| panic!("draw {tried} of: {text}")));
        tried += 1;
    }
    println!("{tried} tried, {read} read, {} refused", tried - read);
    assert!(read > tried / 10 && read < tried, "{read} of {tried} read");
}
