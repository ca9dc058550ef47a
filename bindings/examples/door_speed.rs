//! What the door's calls cost in Rust, for the same calls through JNA to be held beside.
//!
//! `bindings/bench` runs both and prints the table of `docs/bindings.md`. The survey is the invented
//! bakery's, as one device holds it at the end of the walk. Prints `name microseconds`, medians.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use scupper::{Device, Survey};
use scupper_core::capture::{Identity, Listing};
use scupper_core::survey::spoken::Segment;
use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

fn identity() -> Identity {
    Identity {
        device_id: "phone-1".to_owned(),
        author: "ana".to_owned(),
    }
}

/// Median microseconds of a call.
fn time<T>(name: &str, times: usize, mut call: impl FnMut() -> T) {
    let mut took: Vec<f64> = (0..times)
        .map(|_| {
            let began = Instant::now();
            black_box(call());
            began.elapsed().as_secs_f64() * 1e6
        })
        .collect();
    took.sort_by(f64::total_cmp);
    println!("{name} {:.1}", took[times / 2]);
}

fn prepared(store: &Path, fixtures: &Path) -> (Arc<Device>, Arc<Survey>) {
    let device = Device::open(store.to_owned(), identity(), None).unwrap();
    let survey = device.join_survey("bakery".to_owned()).unwrap();
    survey
        .enter_plan(&fs::read_to_string(fixtures.join("plan.json")).unwrap())
        .unwrap();
    let mut notes: Vec<PathBuf> = fs::read_dir(fixtures.join("notes"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    notes.sort();
    for note in notes {
        let transcript = fs::read_to_string(note).unwrap();
        survey.dictate_transcript(&transcript).unwrap();
    }
    (device, survey)
}

fn main() {
    let store = tempfile::TempDir::new().unwrap();
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/bakery");
    drop(prepared(store.path(), &fixtures));

    let mut device = None;
    time("first_list", 1, || {
        let opened = Device::open(store.path().to_owned(), identity(), None).unwrap();
        let listed = opened.surveys(None, None).unwrap();
        device = Some(opened);
        listed
    });
    let device = device.unwrap();
    let mut survey = None;
    time("survey", 1, || {
        survey = Some(device.survey("bakery".to_owned()).unwrap());
    });
    let survey = survey.unwrap();
    time("id", 2000, || survey.id());
    time("surveys", 200, || device.surveys(None, None).unwrap());
    time("missing", 100, || survey.missing(0, None).unwrap());
    time("hazards", 100, || survey.hazards(None, 0, None).unwrap());
    let at = Some("RTU-1".to_owned());
    time("hazards_at", 100, || {
        survey.hazards(at.clone(), 0, None).unwrap()
    });
    time("arrive", 100, || survey.arrive_at_unit("RTU-1").unwrap());
    time("entries", 100, || {
        survey.entries(Listing::Equipment, None, Some(20)).unwrap()
    });
    time("read", 50, || survey.read().unwrap());
    time("assessment", 50, || survey.assessment().unwrap());
    time("conflicts", 50, || survey.conflicts().unwrap());
    time("next_upload", 100, || device.next_upload().unwrap());
    time("uploads_waiting", 100, || device.uploads_waiting().unwrap());
    let mut number = 0.0;
    time("set_number", 100, || {
        number += 1.0;
        survey.set_number("RTU-1", "airflow_cfm", number).unwrap();
    });
    let note = survey.begin_note().unwrap();
    let mut word = 0;
    time("hear", 100, || {
        word += 1;
        let text = format!("filter is a twenty by twenty five by {}", word % 4 + 1);
        note.hear(Segment {
            text,
            ..Segment::default()
        })
        .unwrap()
    });
    time("end", 1, || note.end().unwrap());
}
