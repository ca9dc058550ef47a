//! The whole way through as a process: two devices, one server, one office, over HTTP.

use crate::command::{answer, scupper};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

fn bakery() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/bakery")
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy(&path, &target);
        } else {
            fs::copy(&path, &target).unwrap();
        }
    }
}

/// Runs the demo on a scenario and returns what it printed.
fn demo(scenario: &Path, out: &Path) -> String {
    answer(&[
        "demo",
        "--fixtures",
        scenario.to_str().unwrap(),
        "--out",
        out.to_str().unwrap(),
    ])
}

fn read(out: &Path, name: &str) -> Value {
    serde_json::from_str(&fs::read_to_string(out.join(name)).unwrap()).unwrap()
}

fn line<'a>(printed: &'a str, label: &str) -> &'a str {
    printed
        .lines()
        .find(|l| l.starts_with(label))
        .unwrap_or_else(|| panic!("no {label}: {printed}"))
}

/// Verdict of one rule on one unit.
fn verdict(assessment: &Value, about: &str, rule: &str) -> String {
    let checks = assessment["checks"].as_array().unwrap();
    let found = checks
        .iter()
        .find(|c| c["ref"] == about && c["rule"] == rule);
    found.unwrap_or_else(|| panic!("no {rule} on {about}"))["verdict"]
        .as_str()
        .unwrap()
        .to_owned()
}

#[test]
fn the_whole_way_through() {
    let out = tempfile::tempdir().unwrap();
    let printed = demo(&bakery(), out.path());

    // Both ends hold the same document, and what two people said of one field is still two values.
    assert!(line(&printed, "Heads").contains(": level"), "{printed}");
    let two = line(&printed, "Two values");
    assert!(
        two.contains("RTU-3") && two.contains("60") && two.contains("30"),
        "{two}"
    );
    assert!(two.contains("tech-1") && two.contains("tech-2"), "{two}");
    assert!(line(&printed, "One unit?").contains("EF-3"), "{printed}");
    let shots = serde_json::from_str::<Vec<Value>>(
        &fs::read_to_string(bakery().join("photos.json")).unwrap(),
    )
    .unwrap()
    .len();
    assert!(
        line(&printed, "Photos").contains(&format!("{shots} of {shots}")),
        "{printed}"
    );
    assert!(printed.lines().count() <= 10, "{printed}");

    // 34.0 A of minimum circuit ampacity behind a 30 A switch: NFPA 70 (2023) 440.12.
    let assessment = read(out.path(), "assessment.json");
    assert_eq!(verdict(&assessment, "RTU-1", "disconnect-ampacity"), "fail");
    // Something stands under 6 ft from an edge nobody would stop at: 29 CFR 1910.28(b)(13)(i).
    let hazards = read(out.path(), "hazards.json");
    assert!(
        hazards
            .as_array()
            .unwrap()
            .iter()
            .any(|h| h["kind"] == "unprotected_edge" && h["zone"] == "under_6_ft"),
        "{hazards}"
    );
    for name in [
        "assessment.html",
        "quote.json",
        "survey.json",
        "register.csv",
    ] {
        assert!(
            fs::metadata(out.path().join(name)).unwrap().len() > 200,
            "{name} is empty"
        );
    }
    let html = fs::read_to_string(out.path().join("assessment.html")).unwrap();
    assert!(
        !html.contains("src=\"http"),
        "the assessment needs the network"
    );
}

#[test]
fn derived_files_are_the_same_twice() {
    let out = tempfile::tempdir().unwrap();
    demo(&bakery(), out.path());
    let survey = out.path().join("survey.json");
    let survey = survey.to_str().unwrap();
    for command in ["assess", "quote"] {
        let once = answer(&[command, survey, "--json"]);
        assert_eq!(once, answer(&[command, survey, "--json"]), "{command}");
        serde_json::from_str::<Value>(&once).unwrap();
    }
    // The file says all that the server knew: read again it gives the server's own verdicts.
    let again: Value = serde_json::from_str(&answer(&["assess", survey, "--json"])).unwrap();
    assert_eq!(
        again["checks"],
        read(out.path(), "assessment.json")["checks"]
    );
}

#[test]
fn other_lines_in_give_other_lines_out() {
    let (scenario, before, after) = (
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
        tempfile::tempdir().unwrap(),
    );
    copy(&bakery(), scenario.path());
    demo(scenario.path(), before.path());

    // Take away every photo but one, the edit that makes two values, and the first note.
    let photos = scenario.path().join("photos.json");
    let shots: Vec<Value> = serde_json::from_str(&fs::read_to_string(&photos).unwrap()).unwrap();
    fs::write(&photos, serde_json::to_string(&shots[..1]).unwrap()).unwrap();
    let edits = scenario.path().join("edits.json");
    let lines: Vec<Value> = serde_json::from_str(&fs::read_to_string(&edits).unwrap()).unwrap();
    let fewer: Vec<&Value> = lines
        .iter()
        .filter(|e| !(e["author"] == "tech-1" && e["field"] == "disconnect.rating_a"))
        .collect();
    assert_eq!(fewer.len() + 1, lines.len());
    fs::write(&edits, serde_json::to_string(&fewer).unwrap()).unwrap();
    let notes = scenario.path().join("notes");
    let mut files: Vec<PathBuf> = fs::read_dir(&notes)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    files.sort();
    fs::remove_file(&files[0]).unwrap();

    let printed = demo(scenario.path(), after.path());
    assert!(line(&printed, "Photos").contains("1 of 1"), "{printed}");
    assert!(!line(&printed, "Two values").contains("RTU-3"), "{printed}");
    for (field, fewer) in [("notes", 1), ("photos", shots.len() - 1)] {
        let count = |dir: &Path| read(dir, "survey.json")[field].as_array().unwrap().len();
        assert_eq!(count(before.path()), count(after.path()) + fewer, "{field}");
    }
    assert_ne!(
        read(before.path(), "assessment.json"),
        read(after.path(), "assessment.json")
    );
}

#[test]
fn a_scenario_that_cannot_be_read_is_named() {
    let scenario = tempfile::tempdir().unwrap();
    copy(&bakery(), scenario.path());
    fs::write(
        scenario.path().join("edits.json"),
        r#"[{"author":"tech-1","at":"soon"}]"#,
    )
    .unwrap();
    let out = tempfile::tempdir().unwrap();
    let output = scupper(&[
        "demo",
        "--fixtures",
        scenario.path().to_str().unwrap(),
        "--out",
        out.path().to_str().unwrap(),
    ]);
    assert_eq!(output.status.code(), Some(2));
    let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        complaint.contains("edits.json") && complaint.contains("[0].at"),
        "{complaint}"
    );
}
