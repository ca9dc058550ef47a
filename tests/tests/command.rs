//! The `scupper` command as a person at a terminal uses it: bad input above all.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Runs `scupper` with these words.
pub(crate) fn scupper(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_scupper-here"))
        .args(words)
        .output()
        .unwrap()
}

/// What it printed, after making sure that it went well.
pub(crate) fn answer(words: &[&str]) -> String {
    let output = scupper(words);
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert_eq!(
        output.status.code(),
        Some(0),
        "scupper {words:?}: {complaint}"
    );
    String::from_utf8(output.stdout).unwrap()
}

fn write(dir: &Path, name: &str, text: &str) -> PathBuf {
    let path = dir.join(name);
    std::fs::write(&path, text).unwrap();
    path
}

#[test]
fn bad_input_is_refused_with_its_place_and_exit_code_2() {
    let unit = |rest: &str| {
        format!(
            r#"{{"survey_id":"s","site":{{"name":"n"}},
                "equipment":[{{"tag":"RTU-1","kind":"packaged_rooftop_unit",{rest}}}]}}"#
        )
    };
    let cases = [
        ("assess", "{".to_owned(), "line 1"),
        (
            "assess",
            unit(r#""nameplate":{"mca_a":"much"}"#),
            "equipment[0].nameplate.mca_a",
        ),
        (
            "assess",
            unit(r#""nameplate":{"mca_a":-24}"#),
            "equipment[0].nameplate.mca_a",
        ),
        (
            "assess",
            unit(r#""disconnect":{"rating_a":NaN}"#),
            "equipment[0].disconnect.rating_a",
        ),
        (
            "assess",
            unit(r#""airflow_cfm":1e999"#),
            "equipment[0].airflow_cfm",
        ),
        (
            "assess",
            unit(r#""service_sides":["up"]"#),
            "equipment[0].service_sides[0]",
        ),
        (
            "assess",
            unit(r#""filters":[{"width_in":0,"height_in":0,"depth_in":2,"quantity":4}]"#),
            "equipment[0].filters[0]",
        ),
        (
            "assess",
            r#"{"survey_id":"s","equipment":[{"tag":"X-1","kind":"toaster"}]}"#.to_owned(),
            "equipment[0].kind",
        ),
        (
            "quote",
            unit(r#""belts":[{"designation":"A42","quantity":-1}]"#),
            "equipment[0].belts[0].quantity",
        ),
        (
            "interpret",
            r#"{"note_id":"n","segments":[{"text":7}]}"#.to_owned(),
            "segments[0].text",
        ),
        ("interpret", r#"{"segments":[]}"#.to_owned(), "note_id"),
    ];
    let dir = tempfile::tempdir().unwrap();
    for (command, text, place) in cases {
        let path = write(dir.path(), "input.json", &text);
        let output = scupper(&[command, path.to_str().unwrap()]);
        let complaint = String::from_utf8_lossy(&output.stderr);
        assert_eq!(
            output.status.code(),
            Some(2),
            "{command} {text}: {complaint}"
        );
        assert!(complaint.contains(place), "{command} {text}: {complaint}");
        assert!(
            output.stdout.is_empty(),
            "{command} {text} still printed something"
        );
    }
    let output = scupper(&["assess", "/nowhere/survey.json"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("/nowhere/survey.json"));
}

#[test]
fn a_bad_rate_book_is_refused_with_its_line() {
    let dir = tempfile::tempdir().unwrap();
    let survey = write(
        dir.path(),
        "survey.json",
        r#"{"survey_id":"s","site":{"name":"n"}}"#,
    );
    let rates = write(dir.path(), "rates.toml", "currency = \"USD\"\nlabour = [\n");
    let output = scupper(&[
        "quote",
        survey.to_str().unwrap(),
        "--ratebook",
        rates.to_str().unwrap(),
        "--json",
    ]);
    assert_eq!(output.status.code(), Some(2));
    let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        complaint.contains("rates.toml") && complaint.contains("line"),
        "{complaint}"
    );
}

#[test]
fn every_command_explains_itself() {
    for command in ["demo", "serve", "interpret", "assess", "quote"] {
        let help = answer(&[command, "--help"]);
        assert!(help.contains("Usage:"), "{command}: {help}");
    }
}

#[test]
fn unknown_is_not_a_pass() {
    let dir = tempfile::tempdir().unwrap();
    for kind in [
        "packaged_rooftop_unit",
        "condensing_unit",
        "exhaust_fan",
        "makeup_air_unit",
    ] {
        let text = format!(
            r#"{{"survey_id":"s","site":{{"name":"n"}},"equipment":[{{"tag":"X-1","kind":"{kind}"}}]}}"#
        );
        let path = write(dir.path(), "survey.json", &text);
        let text = answer(&["assess", path.to_str().unwrap(), "--json"]);
        let read: serde_json::Value = serde_json::from_str(&text).unwrap();
        let checks = read["checks"].as_array().unwrap();
        assert!(!checks.is_empty(), "{kind} has no checks");
        for check in checks {
            assert_ne!(check["verdict"], "pass", "{kind}: {check}");
        }
        assert!(
            !read["missing"].as_array().unwrap().is_empty(),
            "{kind}: nothing is missing"
        );
    }
}

#[test]
fn good_input_comes_back_in_the_contracts_shapes() {
    let dir = tempfile::tempdir().unwrap();
    let survey = write(
        dir.path(),
        "survey.json",
        r#"{"survey_id":"s","surveyed_on":"2026-04-14","site":{"name":"n"},"equipment":[
            {"tag":"RTU-2","kind":"packaged_rooftop_unit",
             "nameplate":{"mca_a":24,"mocp_a":30},"disconnect":{"rating_a":20}}]}"#,
    );
    let survey = survey.to_str().unwrap();
    let parsed =
        |words: &[&str]| -> serde_json::Value { serde_json::from_str(&answer(words)).unwrap() };
    let assessment = parsed(&["assess", survey, "--json"]);
    let checks = assessment["checks"].as_array().unwrap();
    let mut found = checks.iter();
    let found = found.find(|check| check["rule"] == "disconnect-ampacity");
    assert_eq!(found.unwrap()["verdict"], "fail", "20 A for an MCA of 24 A");
    let quote = parsed(&["quote", survey, "--json"]);
    assert!(quote["price_cents_per_year"]["likely"].is_number());
    let note = write(
        dir.path(),
        "note.json",
        r#"{"note_id":"n","segments":[{"start_ms":0,"end_ms":1,"text":"RTU 2, MCA 24."}]}"#,
    );
    let heard = parsed(&["interpret", note.to_str().unwrap()]);
    assert_eq!(heard["note_id"], "n");
    let text = answer(&["assess", survey]);
    assert!(text.starts_with("HAZARDS"), "hazards come first: {text}");
    assert!(text.contains("FAILED CHECKS"), "{text}");
}
