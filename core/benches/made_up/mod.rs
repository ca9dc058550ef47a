//! The survey that the benches of a device's day are made with: 200 units, 3,000 findings and 2,000
//! photos in 12,000 changes by three people, with real times in every change. All made up.

use chrono::{DateTime, TimeDelta};
use scupper_core::document::{Actor, Change, Edit, Stamp, SurveyDoc, Table};
use serde_json::{Value, json};

pub(crate) const PEOPLE: [&str; 3] = ["ana", "ben", "cy"];

pub(crate) fn stamp(who: usize, second: i64) -> Stamp {
    let start = DateTime::parse_from_rfc3339("2026-04-14T08:00:00-05:00").unwrap();
    Stamp {
        author: PEOPLE[who].to_owned(),
        device: format!("phone-{}", PEOPLE[who]),
        at: start + TimeDelta::seconds(second * 7),
        clock_offset_ms: Some(-1234),
    }
}

pub(crate) fn device(who: usize) -> SurveyDoc {
    let actor = Actor::of_device(&format!("phone-{}", PEOPLE[who]), [1; 6]);
    SurveyDoc::create("s-1", actor).unwrap()
}

pub(crate) fn set(about: String, field: &str, value: Value) -> Edit {
    Edit::Set {
        about,
        field: field.to_owned(),
        value,
    }
}

pub(crate) fn photo_hash(n: usize) -> String {
    blake3::hash(&n.to_le_bytes()).to_hex().to_string()
}

/// The `n`th edit of the survey.
pub(crate) fn edit(n: usize) -> Edit {
    let id = |kind: &str, n: usize| format!("0196{n:08x}-7000-8000-{kind}");
    match n {
        0..200 => Edit::Add {
            table: Table::Equipment,
            id: id("unit", n),
            entry: json!({
                "tag": format!("RTU-{n}"), "kind": "packaged_rooftop_unit",
                "at_ft": [n % 20 * 12, n / 20 * 12], "size_ft": [8, 5], "airflow_cfm": 2000 + n,
                "outdoor_air_side": "W", "service_sides": ["N", "E"],
                "nameplate": {"make": "Invented", "model": format!("M{n}"), "serial": format!("S{n:06}"),
                    "manufactured_year": 2009, "voltage_v": 208, "phase": 3, "hertz": 60, "mca_a": 24.5,
                    "mocp_a": 40, "refrigerant": "R-410A", "charge_lb": 9.5, "capacity_tons": 7.5},
                "disconnect": {"rating_a": 60, "voltage_v": 240, "fuse_a": 40, "distance_ft": 3, "in_sight": true},
                "filters": [{"width_in": 20, "height_in": 25, "depth_in": 2, "quantity": 4}],
            }),
        },
        200..3200 => Edit::Add {
            table: Table::Findings,
            id: id("find", n),
            entry: json!({
                "ref": format!("RTU-{}", n % 200), "component": "condenser_coil", "condition": "dirty",
                "certainty": "observed", "severity": "minor", "action": "clean", "author": "ana",
                "remark": format!("finding number {n}, sixty characters or so of remark in words"),
                "at": "2026-04-14T08:02:11-05:00", "confidence": 0.5,
            }),
        },
        3200..5200 => Edit::Add {
            table: Table::Photos,
            id: id("phot", n),
            entry: json!({
                "hash": photo_hash(n), "media_type": "image/jpeg", "bytes": 3_000_000 + n,
                "width_px": 4032, "height_px": 3024, "author": "ben",
                "taken_at": "2026-04-14T08:02:11-05:00", "ref": format!("RTU-{}", n % 200),
            }),
        },
        _ => {
            let fields = [
                "nameplate.mca_a",
                "disconnect.rating_a",
                "airflow_cfm",
                "condensate.trap_depth_in",
            ];
            set(id("unit", n % 200), fields[n / 200 % 4], json!(n + 100))
        }
    }
}

/// Three people's 12,000 changes, merged every 300.
pub(crate) fn build(changes: usize) -> SurveyDoc {
    let mut docs: Vec<SurveyDoc> = (0..3).map(device).collect();
    let mut level = docs[0].heads();
    for block in 0..changes.div_ceil(300) {
        for n in block * 300..(block * 300 + 300).min(changes) {
            let who = if n < 200 { 0 } else { n % 3 };
            docs[who].edit(&stamp(who, n as i64), edit(n)).unwrap();
        }
        let all: Vec<Vec<Change>> = docs
            .iter()
            .map(|doc| doc.changes_since(&level).unwrap())
            .collect();
        for doc in &mut docs {
            for theirs in &all {
                doc.apply_changes(theirs).unwrap();
            }
        }
        level = docs[0].heads();
    }
    docs.swap_remove(0)
}

/// One line of the table.
pub(crate) fn row(
    goal: &str,
    value: f64,
    anchor: f64,
    unit: &str,
    anchor_name: &str,
    target: &str,
) {
    println!(
        "| {goal} | {value:.1} {unit} | {anchor:.1} {unit} ({anchor_name}) | {:.2} | {target} |",
        value / anchor
    );
}
