//! The fixtures are what their README says: readable by core, complete, and in step with each other.
//!
//! Only shapes and cross-references are checked here; what must come of them is checked where it is made.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use scupper_core::assess::{AssessOptions, assess};
use scupper_core::dictation::{Lexicon, interpret};
use scupper_core::photo::{Limits, intake};
use scupper_core::quote::RateBook;
use scupper_core::survey::read::{from_json, survey_from_json};
use scupper_core::survey::spoken::Transcript;
use scupper_core::survey::{SITE, Survey};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

fn bakery(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../fixtures/bakery")
        .join(name)
}

fn text(name: &str) -> String {
    std::fs::read_to_string(bakery(name)).expect(name)
}

fn rows(name: &str) -> Vec<Value> {
    from_json(&text(name)).expect(name)
}

fn notes() -> Vec<Transcript> {
    let mut files: Vec<_> = std::fs::read_dir(bakery("notes"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    let read = |path: &PathBuf| from_json(&std::fs::read_to_string(path).unwrap());
    files.iter().map(|path| read(path).unwrap()).collect()
}

fn plan() -> Survey {
    survey_from_json(&text("plan.json")).unwrap()
}

/// Tags that are on the plan or were added on the roof.
fn tags() -> BTreeSet<String> {
    let added = rows("edits.json");
    let added = added.iter().filter_map(|e| e["add"]["tag"].as_str());
    let planned = plan().equipment.into_iter().map(|unit| unit.tag);
    planned.chain(added.map(str::to_owned)).collect()
}

#[test]
fn the_plan_has_two_roofs_and_six_kinds_of_units() {
    let plan = plan();
    let site: Survey = survey_from_json(&text("site.json")).unwrap();
    assert_eq!(plan.survey_id, site.survey_id);
    assert_eq!(plan.site.roofs().count(), 2);
    let kinds: BTreeSet<_> = plan.equipment.iter().map(|unit| unit.kind).collect();
    assert!(kinds.len() >= 6, "{kinds:?}");
    assert!((11..=14).contains(&tags().len()), "{:?}", tags());
    for unit in &plan.equipment {
        assert!(
            unit.at_ft.is_some() && unit.size_ft.is_some(),
            "{}",
            unit.tag
        );
    }
}

#[test]
fn notes_are_numbered_and_spoken_by_known_people() {
    let people = rows("people.json");
    let notes = notes();
    assert!(notes.len() >= 12);
    for (i, note) in notes.iter().enumerate() {
        assert_eq!(note.note_id, format!("n-{:04}", i + 1));
        let known = |p: &Value| p["id"].as_str() == note.author.as_deref();
        assert!(people.iter().any(known), "{:?}", note.author);
        assert!(note.recorded_at.is_some());
        let ordered = note
            .segments
            .windows(2)
            .all(|w| w[0].end_ms <= w[1].start_ms);
        assert!(ordered, "{}", note.note_id);
    }
}

#[test]
fn the_answer_sheet_covers_every_note_and_names_known_units() {
    let sheet = rows("meant.json");
    let ids: Vec<_> = sheet.iter().filter_map(|m| m["note_id"].as_str()).collect();
    let notes = notes();
    assert_eq!(
        ids,
        notes.iter().map(|n| n.note_id.as_str()).collect::<Vec<_>>()
    );
    let tags = tags();
    for list in ["facts", "findings", "hazards", "follow_ups"] {
        for item in sheet.iter().flat_map(|m| m[list].as_array().unwrap()) {
            let about = item["ref"].as_str().unwrap_or(SITE);
            assert!(about == SITE || tags.contains(about), "{item}");
        }
    }
}

#[test]
fn one_field_is_edited_to_two_values_by_two_people() {
    let edits = rows("edits.json");
    let key = |e: &Value| format!("{} {}", e["ref"], e["field"]);
    let typed = edits.iter().filter(|e| e["field"].is_string());
    let clash = typed.clone().any(|a| {
        typed
            .clone()
            .any(|b| key(a) == key(b) && a["author"] != b["author"] && a["value"] != b["value"])
    });
    assert!(clash, "no field was edited by both");
    let times: Vec<_> = edits.iter().map(|e| e["at"].as_str().unwrap()).collect();
    assert!(times.is_sorted(), "{times:?}");
    let tags = tags();
    for about in typed.map(|e| e["ref"].as_str().unwrap()) {
        assert!(tags.contains(about), "{about}");
    }
}

#[test]
fn photos_are_jpeg_files_within_their_size_and_all_listed() {
    let listed = rows("photos.json");
    assert!(listed.len() >= 20);
    let mut names: Vec<_> = listed.iter().map(|p| p["file"].as_str().unwrap()).collect();
    names.sort_unstable();
    let dir = std::fs::read_dir(bakery("photos")).unwrap();
    let mut there: Vec<_> = dir
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    there.sort();
    assert_eq!(names, there);
    for name in names {
        let bytes = std::fs::read(bakery("photos").join(name)).unwrap();
        assert!(bytes.starts_with(&[0xff, 0xd8, 0xff]), "{name} is no JPEG");
        assert!(bytes.len() < 250_000, "{name} has {} bytes", bytes.len());
    }
}

#[test]
fn the_rate_book_reads_and_says_that_it_is_invented() {
    let book = RateBook::from_toml(&text("rates.toml")).unwrap();
    assert!(book.name.contains("invented"));
}

fn exemplar(name: &str) -> Value {
    let path = bakery("../exemplar").join(name);
    from_json(&std::fs::read_to_string(path).unwrap()).expect(name)
}

/// Equal, where 30 and 30.0 are one number.
fn same(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Number(a), Value::Number(b)) => a.as_f64() == b.as_f64(),
        (Value::Object(a), Value::Object(b)) => {
            let both = |(key, value): (&String, &Value)| b.get(key).is_some_and(|b| same(value, b));
            a.len() == b.len() && a.iter().all(both)
        }
        _ => a == b,
    }
}

/// Whether some row has every field that `wanted` names, its remark on the hand working apart.
fn holds(rows: &Value, wanted: &Value) -> bool {
    let fields = wanted.as_object().unwrap().iter();
    let fields: Vec<_> = fields.filter(|(name, _)| *name != "by_hand").collect();
    let fits = |row: &Value| {
        fields
            .iter()
            .all(|(name, value)| same(&row[name.as_str()], value))
    };
    rows.as_array().unwrap().iter().any(fits)
}

#[test]
fn the_exemplar_is_assessed_as_worked_out_by_hand() {
    let survey = survey_from_json(&exemplar("survey.json").to_string()).unwrap();
    let assessment = assess(&survey, &AssessOptions::default());
    let got = serde_json::to_value(assessment).unwrap();
    let expected = &exemplar("expected.json")["assessment"];
    for list in ["checks", "hazards", "missing", "findings"] {
        for wanted in expected[list].as_array().unwrap() {
            assert!(holds(&got[list], wanted), "{list} lacks {wanted}");
        }
    }
    for unwanted in expected["no_hazards"].as_array().unwrap() {
        assert!(!holds(&got["hazards"], unwanted), "{unwanted}");
    }
}

#[test]
fn the_exemplar_transcripts_are_read_as_worked_out_by_hand() {
    let expected = exemplar("expected.json");
    for (file, wanted) in expected["interpretations"].as_object().unwrap() {
        let transcript: Transcript = from_json(&exemplar(file).to_string()).unwrap();
        let got = interpret(&transcript, Lexicon::builtin());
        let got = serde_json::to_value(got).unwrap();
        for (list, rows) in wanted.as_object().unwrap() {
            for row in rows.as_array().unwrap() {
                assert!(holds(&got[list], row), "{file}: {list} lacks {row}");
            }
        }
    }
}

#[test]
fn photos_tell_when_and_where_they_were_taken_and_stand_upright() {
    let mut portraits = 0;
    for shot in rows("photos.json") {
        let name = shot["file"].as_str().unwrap();
        let bytes = std::fs::read(bakery("photos").join(name)).unwrap();
        let taken = intake(&bytes, None, Limits::default()).expect(name).photo;
        let at = taken.taken_at.expect(name);
        assert_eq!(at.offset().local_minus_utc(), -8 * 3600, "{name}");
        let latitude = taken.latitude_deg.expect(name);
        assert!((latitude - 51.4).abs() < 0.001, "{name}: {latitude}");
        let size = (taken.width_px, taken.height_px);
        portraits += usize::from(size == (960, 1280));
        assert!(
            size == (960, 1280) || size == (1280, 960),
            "{name}: {size:?}"
        );
    }
    assert_eq!(portraits, 3, "those stored lying on their side");
}
