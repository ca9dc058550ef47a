//! A day with two phones and an office, without a network: every byte goes through the messages.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::dictation::Event;
use crate::document::{Actor, Edit, Summary, Table};
use crate::exchange::{self, Hashes, Limits, Request, SealKey};
use crate::store::{Part, Store, StoreError, UploadHead};
use crate::survey::spoken::Segment;
use chrono::{DateTime, FixedOffset, TimeDelta};
use serde_json::json;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::sync::Arc;
use tempfile::TempDir;

/// A clock that is `skew` off and a stream of numbers that looks random.
struct Bench {
    now: DateTime<FixedOffset>,
    state: u64,
}

impl Bench {
    fn new(seed: u64, skew_s: i64) -> Self {
        let start = DateTime::parse_from_rfc3339("2026-04-14T08:00:00-05:00").unwrap();
        Self {
            now: start + TimeDelta::seconds(skew_s),
            state: seed,
        }
    }
}

impl Surroundings for Bench {
    fn now(&mut self) -> DateTime<FixedOffset> {
        self.now += TimeDelta::seconds(1);
        self.now
    }

    fn random(&mut self) -> [u8; 8] {
        self.state = self
            .state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.state ^ (self.state >> 29)).to_be_bytes()
    }
}

fn phone(dir: &Path, name: &str, seed: u64) -> Capture {
    let identity = Identity {
        device_id: format!("phone-{name}"),
        author: name.to_owned(),
    };
    Capture::open(dir, identity, Box::new(Bench::new(seed, 7_200))).unwrap()
}

/// The office's side, as the server does it.
struct Office {
    store: Store,
    key: SealKey,
}

impl Office {
    fn new(dir: &Path) -> Self {
        Self {
            store: Store::open(dir).unwrap(),
            key: SealKey::new([9; 32]),
        }
    }

    fn answer(&self, from: &Capture, request: &[u8]) -> Vec<u8> {
        let limits = Limits::default();
        let request = Request::decode(request, limits).unwrap();
        let actor = Actor::of_device("office", [0; 6]);
        let mut doc = durable::create(&self.store, &request.survey_id, actor).unwrap();
        let caller = exchange::Caller {
            device_id: &from.identity.device_id,
            author: Some(&from.identity.author),
            now_ms: 1_776_171_600_000,
        };
        let mut outcome = exchange::answer(&mut doc, &request, caller, &self.key, limits).unwrap();
        durable::keep(&self.store, &doc, &outcome.fresh).unwrap();
        let (originals, thumbnails) = self.store.wanting(&doc.photo_hashes()).unwrap();
        outcome.answer.want_originals = Hashes::of_hex(&originals);
        outcome.answer.want_thumbnails = Hashes::of_hex(&thumbnails);
        outcome.answer.encode().unwrap()
    }

    fn level(&self, phone: &mut Capture, survey: &str) -> usize {
        for round in 1..20 {
            let request = phone.prepare_exchange(survey).unwrap();
            let answer = self.answer(phone, &request);
            if !phone.accept_exchange(survey, &answer).unwrap().again {
                return round;
            }
        }
        panic!("never level");
    }

    fn receive_all(&self, phone: &mut Capture) -> Vec<Part> {
        let mut parts = Vec::new();
        while let Some(upload) = phone.next_upload().unwrap() {
            let header = |name: &str| {
                let found = upload.headers.iter().find(|h| h.name == name);
                found.unwrap().value.clone()
            };
            let state = self
                .store
                .begin_upload(
                    &UploadHead {
                        hash: header(PHOTO_HEADER),
                        part: Part::from_name(&header(PART_HEADER)).unwrap(),
                        survey: header(SURVEY_HEADER),
                        media_type: header("Content-Type"),
                        length: header("Upload-Length").parse().unwrap(),
                        content: header(CONTENT_HEADER),
                    },
                    0,
                )
                .unwrap();
            let bytes = fs::read(&upload.path).unwrap();
            let from = usize::try_from(state.offset).unwrap();
            let state = self
                .store
                .append_upload(&upload.hash, upload.part, state.offset, &bytes[from..])
                .unwrap();
            assert!(state.complete);
            phone
                .upload_result(&upload.hash, upload.part, true)
                .unwrap();
            parts.push(upload.part);
        }
        parts
    }
}

fn picture(shade: u8) -> Vec<u8> {
    let mut bytes = Vec::new();
    let image = image::RgbImage::from_pixel(900, 600, image::Rgb([shade, 90, 40]));
    let encoder = image::codecs::jpeg::JpegEncoder::new(&mut bytes);
    image.write_with_encoder(encoder).unwrap();
    bytes
}

#[test]
fn two_phones_and_an_office_end_level() {
    let dir = TempDir::new().unwrap();
    let office = Office::new(&dir.path().join("office"));
    let mut ana = phone(&dir.path().join("ana"), "ana", 1);
    let mut ben = phone(&dir.path().join("ben"), "ben", 2);
    let survey = ana.create_survey("Ovens and Ice").unwrap();
    ana.add(
        &survey,
        Table::Equipment,
        json!({"tag": "CU-3", "kind": "condensing_unit"}),
    )
    .unwrap();
    assert_eq!(office.level(&mut ana, &survey), 1);
    ben.join_survey(&survey).unwrap();
    assert_eq!(office.level(&mut ben, &survey), 1);

    ana.set(&survey, "CU-3", "nameplate.mca_a", json!(18))
        .unwrap();
    ben.set(&survey, "CU-3", "nameplate.mca_a", json!(16))
        .unwrap();
    let note = ana.begin_note(&survey).unwrap();
    let said = |text: &str| Segment {
        text: text.to_owned(),
        ..Segment::default()
    };
    ana.hear(&note, said("condensing unit three")).unwrap();
    ana.hear(&note, said("the disconnect is thirty amps"))
        .unwrap();
    assert!(!ana.end_note(&note).unwrap().facts.is_empty());
    let shot = picture(200);
    let about = PhotoAbout {
        about: Some("CU-3".into()),
        ..PhotoAbout::default()
    };
    ben.take_photo(&survey, &shot, about.clone()).unwrap();
    ana.take_photo(&survey, &shot, about).unwrap();
    assert_eq!(office.level(&mut ana, &survey), 1);
    assert_eq!(office.level(&mut ben, &survey), 1);
    assert_eq!(office.level(&mut ana, &survey), 1);
    assert_eq!(ana.survey(&survey).unwrap(), ben.survey(&survey).unwrap());
    assert_eq!(ana.conflicts(&survey).unwrap().len(), 1);
    let unit = ben.survey(&survey).unwrap().unit("CU-3").unwrap().clone();
    assert_eq!(unit.disconnect.rating_a.unwrap().get(), 30.0);
    assert!(!ben.missing(&survey).unwrap().is_empty());

    // The photo both took goes once, thumbnail first.
    assert_eq!(
        office.receive_all(&mut ben),
        [Part::Thumbnail, Part::Original]
    );
    office.level(&mut ana, &survey);
    assert_eq!(office.receive_all(&mut ana), []);
    let hash = blake3::hash(&shot).to_hex().to_string();
    let kept = fs::read(office.store.file(&hash, Part::Original).unwrap().unwrap()).unwrap();
    assert_eq!(kept, shot);

    // The office finds the original damaged: whoever has it is asked again.
    fs::write(
        office.store.file(&hash, Part::Original).unwrap().unwrap(),
        b"rust",
    )
    .unwrap();
    assert_eq!(office.store.verify().unwrap().len(), 1);
    office.level(&mut ana, &survey);
    assert_eq!(office.receive_all(&mut ana), [Part::Original]);
    assert_eq!(office.store.verify().unwrap(), []);
}

#[test]
fn nothing_is_sent_or_asked_twice() {
    let dir = TempDir::new().unwrap();
    let office = Office::new(&dir.path().join("office"));
    let mut ana = phone(&dir.path().join("ana"), "ana", 1);
    let survey = ana.create_survey("Ovens").unwrap();
    let request = ana.prepare_exchange(&survey).unwrap();
    let answer = office.answer(&ana, &request);
    // The answer is lost on the way and the post is repeated: the same answer.
    assert_eq!(office.answer(&ana, &request), answer);
    ana.accept_exchange(&survey, &answer).unwrap();
    ana.accept_exchange(&survey, &answer).unwrap();
    let quiet = ana.prepare_exchange(&survey).unwrap();
    let quiet = Request::decode(&quiet, Limits::default()).unwrap();
    assert_eq!(quiet.changes.0.len(), 0);
    assert!(ana.survey(&survey).unwrap().site.name == "Ovens");
}

#[test]
fn everything_acknowledged_is_there_after_a_restart() {
    let dir = TempDir::new().unwrap();
    let home = dir.path().join("ana");
    let mut ana = phone(&home, "ana", 1);
    let survey = ana.create_survey("Ovens").unwrap();
    for n in 0..30 {
        ana.set(&survey, "site", "roof.height_ft", json!(n))
            .unwrap();
    }
    let note = ana.begin_note(&survey).unwrap();
    let heard = Segment {
        text: "roof is wet".to_owned(),
        ..Segment::default()
    };
    ana.hear(&note, heard).unwrap();
    let before = ana.survey(&survey).unwrap();
    let second = Capture::open(&home, ana.identity.clone(), Box::new(Bench::new(5, 0)));
    assert!(matches!(
        second.err(),
        Some(CaptureError::Store(StoreError::Locked { .. }))
    ));
    drop(ana);
    let mut ana = phone(&home, "ana", 5);
    assert_eq!(ana.survey(&survey).unwrap(), before);
    // The note that was being spoken goes on.
    let open = ana.open_notes().unwrap();
    assert_eq!(open[0].transcript.segments[0].text, "roof is wet");
    ana.end_note(&note).unwrap();
    assert_eq!(ana.open_notes().unwrap(), []);
    assert_eq!(ana.survey(&survey).unwrap().notes.len(), 1);
    assert!(matches!(
        ana.end_note(&note),
        Err(CaptureError::NoSuchNote { .. })
    ));
    ana.set(&survey, "site", "name", json!("Ovens again"))
        .unwrap();
    let error = ana.set("s-none", "site", "name", json!("x")).unwrap_err();
    assert!(matches!(error, CaptureError::NoSuchSurvey { .. }));
    let error = ana
        .edit(&survey, Edit::Confirm { id: "x".into() })
        .unwrap_err();
    assert!(error.to_string().contains("no such entry"));
}

#[test]
fn the_clock_of_the_server_is_measured_and_both_are_kept() {
    let dir = TempDir::new().unwrap();
    let office = Office::new(&dir.path().join("office"));
    let mut ana = phone(&dir.path().join("ana"), "ana", 1);
    let survey = ana.create_survey("Ovens").unwrap();
    office.level(&mut ana, &survey);
    ana.set(&survey, "site", "name", json!("Ice")).unwrap();
    let history = ana.history(&survey, "site", "name").unwrap();
    assert_eq!(history[0].stamp.as_ref().unwrap().clock_offset_ms, None);
    let stamp = history[1].stamp.as_ref().unwrap();
    // The phone runs two hours ahead of the office.
    let minutes = stamp.clock_offset_ms.unwrap() / 60_000;
    assert!((-120..=-119).contains(&minutes), "{minutes}");
    assert!(stamp.at_server() < stamp.at);
}

#[test]
fn a_list_names_its_surveys_and_tells_when_they_last_changed() {
    let dir = TempDir::new().unwrap();
    let office = Office::new(&dir.path().join("office"));
    let home = dir.path().join("ana");
    let mut ana = phone(&home, "ana", 1);
    let mut ben = phone(&dir.path().join("ben"), "ben", 2);
    let survey = ana.create_survey("Ovens").unwrap();
    let listed = |phone: &Capture| phone.surveys(Page::default()).unwrap()[0].summary.clone();
    assert_eq!(listed(&ana).name, "Ovens");
    office.level(&mut ana, &survey);
    ben.join_survey(&survey).unwrap();
    assert_eq!(listed(&ben), Summary::default());
    office.level(&mut ben, &survey);
    assert_eq!(listed(&ben), listed(&ana));
    ben.set(&survey, "site", "name", json!("Ovens and Ice"))
        .unwrap();
    ben.set(&survey, "site", "address", json!("9 Kiln Street"))
        .unwrap();
    office.level(&mut ben, &survey);
    office.level(&mut ana, &survey);
    let there = listed(&ana);
    assert_eq!(there.name, "Ovens and Ice");
    assert_eq!(there.address.as_deref(), Some("9 Kiln Street"));
    assert_eq!(there.changed_by.as_deref(), Some("ben"));
    let history = ana.history(&survey, "site", "address").unwrap();
    let stamp = history.last().unwrap().stamp.clone().unwrap();
    assert_eq!(there.changed_at, Some(stamp.at_server()));
    // A list that was lost or is wrong is made anew from the document.
    for wrong in ["", "{\"name\":\"Rust\"}"] {
        ana.store().set_summary(&survey, wrong).unwrap();
        drop(ana);
        ana = phone(&home, "ana", 5);
        ana.survey(&survey).unwrap();
        assert_eq!(listed(&ana), there);
    }
}

#[test]
fn a_photo_that_finds_no_room_is_refused_and_leaves_nothing() {
    let dir = TempDir::new().unwrap();
    let home = dir.path().join("ana");
    let mut ana = phone(&home, "ana", 1);
    let survey = ana.create_survey("Ovens").unwrap();
    let shot = picture(7);
    // The kernel's own full device stands in for the file that is written first.
    let hash = blake3::hash(&shot).to_hex();
    let beside = home.join("incoming").join(format!("new-{hash}"));
    std::os::unix::fs::symlink("/dev/full", &beside).unwrap();
    let error = ana.take_photo(&survey, &shot, PhotoAbout::default());
    let error = error.unwrap_err();
    assert!(
        matches!(error, CaptureError::Store(StoreError::DiskFull { .. })),
        "{error}"
    );
    assert_eq!(ana.survey(&survey).unwrap().photos, []);
    assert!(ana.next_upload().unwrap().is_none());
    fs::remove_file(&beside).ok();
    ana.take_photo(&survey, &shot, PhotoAbout::default())
        .unwrap();
    assert_eq!(ana.survey(&survey).unwrap().photos.len(), 1);
}

/// What the session says, and what of it was confirmed, is the same after the phone went down.
#[test]
fn a_value_said_to_be_right_is_confirmed_even_over_a_restart() {
    let dir = TempDir::new().unwrap();
    let home = dir.path().join("ana");
    let mut ana = phone(&home, "ana", 1);
    let survey = ana.create_survey("Ovens").unwrap();
    let said = |text: &str| Segment {
        text: text.to_owned(),
        ..Segment::default()
    };
    ana.take_changed();
    let note = ana.begin_note(&survey).unwrap();
    let heard = ana.hear(&note, said("unit two MCA 24 MOCP 30")).unwrap();
    let asked = heard.events.iter().find_map(|event| match event {
        Event::Question { field, .. } => Some(field.clone()),
        _ => None,
    });
    assert_eq!(asked.as_deref(), Some("nameplate.mca_a"));
    assert!(ana.take_changed().is_empty(), "a note under way is no edit");
    drop(ana);
    let mut ana = phone(&home, "ana", 2);
    let heard = ana.hear(&note, said("notebook right")).unwrap();
    assert!(heard.events.contains(&Event::Confirmed {
        about: "RTU-2".to_owned(),
        field: "nameplate.mca_a".to_owned(),
    }));
    drop(ana);
    let mut ana = phone(&home, "ana", 3);
    ana.end_note(&note).unwrap();
    assert_eq!(ana.take_changed(), BTreeSet::from([survey.clone()]));
    let read = ana.survey(&survey).unwrap();
    let confirmed: Vec<(&str, usize)> = read
        .drafts
        .iter()
        .map(|draft| (draft.field.as_str(), draft.origin.confirmed_by.len()))
        .collect();
    assert_eq!(confirmed, [("nameplate.mca_a", 1), ("nameplate.mocp_a", 0)]);
}

/// What was read is used again until the next change, and never after it.
#[test]
fn a_survey_is_read_once_between_two_changes() {
    let dir = TempDir::new().unwrap();
    let office = Office::new(&dir.path().join("office"));
    let mut ana = phone(&dir.path().join("ana"), "ana", 1);
    let mut ben = phone(&dir.path().join("ben"), "ben", 2);
    let survey = ana.create_survey("Ovens").unwrap();
    let first = ana.reading(&survey).unwrap();
    assert!(Arc::ptr_eq(&first, &ana.reading(&survey).unwrap()));
    ana.set(&survey, "site", "address", json!("12 Kiln Lane"))
        .unwrap();
    let address = ana.survey(&survey).unwrap().site.address.clone();
    assert_eq!(address.as_deref(), Some("12 Kiln Lane"));
    assert_eq!(first.site.address, None, "whoever holds it keeps it");

    office.level(&mut ana, &survey);
    ben.join_survey(&survey).unwrap();
    assert_eq!(ben.survey(&survey).unwrap().site.name, "");
    office.level(&mut ben, &survey);
    assert_eq!(ben.survey(&survey).unwrap(), ana.survey(&survey).unwrap());
    let unit = json!({"tag": "EF-1", "kind": "exhaust_fan"});
    ben.add(&survey, Table::Equipment, unit).unwrap();
    office.level(&mut ben, &survey);
    assert!(ana.survey(&survey).unwrap().unit("EF-1").is_none());
    office.level(&mut ana, &survey);
    assert!(ana.survey(&survey).unwrap().unit("EF-1").is_some());
}

#[test]
fn lists_come_in_pages_that_others_entries_do_not_move() {
    let dir = TempDir::new().unwrap();
    let mut ana = phone(&dir.path().join("ana"), "ana", 1);
    let survey = ana.create_survey("Ovens").unwrap();
    for number in 1..=5 {
        let unit = json!({"tag": format!("EF-{number}"), "kind": "exhaust_fan"});
        ana.add(&survey, Table::Equipment, unit).unwrap();
    }
    let mut tags = Vec::new();
    let mut after = None;
    loop {
        let page = Page {
            after: after.as_deref(),
            most: Some(2),
        };
        let entries = ana.entries(&survey, Listing::Equipment, page).unwrap();
        let Some(last) = entries.last() else { break };
        after = last["id"].as_str().map(str::to_owned);
        tags.extend(
            entries
                .iter()
                .map(|e| e["tag"].as_str().unwrap().to_owned()),
        );
    }
    assert_eq!(tags, ["EF-1", "EF-2", "EF-3", "EF-4", "EF-5"]);
    ana.create_survey("Mill").unwrap();
    let first = ana
        .surveys(Page {
            after: None,
            most: Some(1),
        })
        .unwrap();
    let rest = Page {
        after: Some(&first[0].id),
        most: None,
    };
    assert_eq!(ana.surveys(rest).unwrap()[0].summary.name, "Mill");
}
