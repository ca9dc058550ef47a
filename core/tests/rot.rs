//! A store file that rots: whichever byte flips, the survey reads as before, or the damage is
//! named; never a panic, never something else read in silence.
//!
//! Some thousand places are tried; `SCUPPER_EVERY=1` tries every byte.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use scupper_core::capture::durable;
use scupper_core::document::{Actor, Edit, Stamp, SurveyDoc, Table};
use scupper_core::store::Store;
use serde_json::json;
use std::{env, fs};
use tempfile::TempDir;

fn actor(n: u8) -> Actor {
    Actor::of_device("ana", [n; 6])
}

#[test]
fn no_flipped_byte_is_read_in_silence() {
    let dir = TempDir::new().unwrap();
    let home = dir.path().join("home");
    let store = Store::open(&home).unwrap();
    let mut doc: SurveyDoc = durable::create(&store, "s-1", actor(1)).unwrap();
    let stamp = Stamp {
        author: "ana".to_owned(),
        device: "ana".to_owned(),
        at: "2026-04-14T08:00:00-05:00".parse().unwrap(),
        clock_offset_ms: None,
    };
    for n in 0..12 {
        let edit = Edit::Add {
            table: Table::Equipment,
            id: format!("u{n}"),
            entry: json!({"tag": format!("EF-{n}"), "kind": "exhaust_fan", "airflow_cfm": 100 + n}),
        };
        let change = doc.edit(&stamp, edit).unwrap();
        durable::keep(&store, &doc, change.as_slice()).unwrap();
    }
    let survey = doc.survey();
    drop(store);
    let name = "scupper.sqlite";
    let whole = fs::read(home.join(name)).unwrap();
    assert!(!home.join("scupper.sqlite-wal").exists());
    let every = env::var("SCUPPER_EVERY").ok().and_then(|n| n.parse().ok());
    let (mut named, mut same) = (0, 0);
    for at in (0..whole.len()).step_by(every.unwrap_or(whole.len() / 300)) {
        let rotten = dir.path().join("rotten");
        fs::create_dir(&rotten).unwrap();
        let mut bytes = whole.clone();
        bytes[at] ^= 1 << (at % 8);
        fs::write(rotten.join(name), &bytes).unwrap();
        let read = Store::open(&rotten)
            .map_err(|error| error.to_string())
            .and_then(|store| {
                let loaded = durable::load(&store, "s-1", actor(2)).map_err(|e| e.to_string())?;
                let listed = store.surveys().map_err(|e| e.to_string())?;
                let loaded = loaded.ok_or(format!("not found among {listed:?}"))?;
                match loaded.problems.is_empty() {
                    true => Ok(loaded.doc.survey()),
                    false => Err(loaded.problems.join("; ")),
                }
            });
        match read {
            Ok(read) => {
                assert_eq!(read, survey, "byte {at}");
                same += 1;
            }
            Err(problem) => {
                assert!(!problem.is_empty(), "byte {at}");
                named += 1;
            }
        }
        fs::remove_dir_all(&rotten).unwrap();
    }
    println!(
        "{} bytes: {named} flips named, {same} without effect, 0 silent",
        whole.len()
    );
    assert!(named > 0);
}
