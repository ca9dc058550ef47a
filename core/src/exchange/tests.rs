//! Tests of the exchange: the messages pinned, and what goes wrong between two replicas.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::message::{Blob, join};
use super::*;
use crate::document::{Actor, Change, Edit, Stamp, SurveyDoc};
use chrono::DateTime;
use serde_json::json;

const KEY: SealKey = SealKey::new([3; 32]);

struct Device {
    name: &'static str,
    doc: SurveyDoc,
    shared: Shared,
    limits: Limits,
}

fn stamp(name: &str, device: &str) -> Stamp {
    Stamp {
        author: name.to_owned(),
        device: device.to_owned(),
        at: DateTime::parse_from_rfc3339("2026-04-14T08:00:00-05:00").unwrap(),
        clock_offset_ms: None,
    }
}

impl Device {
    fn new(name: &'static str) -> Self {
        Self {
            name,
            doc: SurveyDoc::create("s-1", Actor::of_device(name, [0; 6])).unwrap(),
            shared: Shared::default(),
            limits: Limits::default(),
        }
    }

    fn set(&mut self, field: &str, value: serde_json::Value) -> Change {
        let edit = Edit::Set {
            about: "site".into(),
            field: field.into(),
            value,
        };
        self.doc
            .edit(&stamp(self.name, self.name), edit)
            .unwrap()
            .unwrap()
    }

    fn request(&self) -> Request {
        let request = prepare(&self.doc, &self.shared, 1_000, self.limits);
        Request::decode(&request.encode().unwrap(), self.limits).unwrap()
    }

    fn take(&mut self, answer: &Answer) -> Accepted {
        let answer = Answer::decode(&answer.encode().unwrap(), self.limits).unwrap();
        let accepted = accept(&mut self.doc, &self.shared, &answer, 3_000, self.limits).unwrap();
        self.shared = Shared::decode(&accepted.shared.encode().unwrap());
        accepted
    }

    /// Exchanges until level; returns how many rounds it took.
    fn level(&mut self, office: &mut SurveyDoc) -> usize {
        for round in 1..100 {
            let outcome = ask(office, &self.request(), self.name, self.limits).unwrap();
            if !self.take(&outcome.answer).again {
                assert!(self.doc.heads().iter().all(|head| office.has(head)));
                return round;
            }
        }
        panic!("never level");
    }
}

fn office() -> SurveyDoc {
    SurveyDoc::create("s-1", Actor::of_device("office", [0; 6])).unwrap()
}

fn ask(
    office: &mut SurveyDoc,
    request: &Request,
    device: &str,
    limits: Limits,
) -> Result<Outcome, ExchangeError> {
    let caller = Caller {
        device_id: device,
        author: Some(device),
        now_ms: 10_000,
    };
    answer(office, request, caller, &KEY, limits)
}

fn refused(office: &mut SurveyDoc, request: &Request, device: &str) -> ExchangeError {
    let before = office.heads();
    let error = ask(office, request, device, Limits::default()).unwrap_err();
    assert_eq!(office.heads(), before);
    error
}

/// Diagnostic notation of a message's CBOR (RFC 8949 section 8), long byte strings as lengths.
fn shape(packed: &[u8]) -> String {
    let plain = zstd::bulk::decompress(packed, 1 << 20).unwrap();
    fn write(value: &ciborium::Value) -> String {
        match value {
            ciborium::Value::Bytes(bytes) => format!("h'{} bytes'", bytes.len()),
            ciborium::Value::Map(entries) => {
                let entry = |(k, v): &(ciborium::Value, ciborium::Value)| {
                    format!("{}: {}", write(k), write(v))
                };
                format!(
                    "{{{}}}",
                    entries.iter().map(entry).collect::<Vec<_>>().join(", ")
                )
            }
            ciborium::Value::Text(text) => format!("{text:?}"),
            ciborium::Value::Integer(n) => i128::from(*n).to_string(),
            other => format!("{other:?}"),
        }
    }
    write(&ciborium::from_reader(plain.as_slice()).unwrap())
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

#[test]
fn both_messages_are_pinned() {
    let mut ana = Device::new("ana");
    ana.set("name", json!("Ovens"));
    let request = ana.request();
    insta::assert_snapshot!(shape(&request.encode().unwrap()), @r#"{"protocol": 1, "survey_id": "s-1", "shared": h'0 bytes', "changes": h'426 bytes', "sent_at_ms": 1000}"#);
    let outcome = ask(&mut office(), &request, "ana", Limits::default()).unwrap();
    insta::assert_snapshot!(shape(&outcome.answer.encode().unwrap()), @r#"{"protocol": 1, "survey_id": "s-1", "status": "level", "heads": h'32 bytes', "shared": h'32 bytes', "changes": h'0 bytes', "more": Bool(false), "seal": {"heads": h'32 bytes', "mark": h'32 bytes'}, "sent_at_ms": 1000, "answered_at_ms": 10000, "want_originals": h'0 bytes', "want_thumbnails": h'0 bytes'}"#);
    // Byte for byte, so that a released device can read what a later server writes.
    let mut plain = Vec::new();
    ciborium::into_writer(&request, &mut plain).unwrap();
    insta::assert_snapshot!(hex(&plain), @"a56870726f746f636f6c01697375727665795f696463732d316673686172656440676368616e6765735901aaec000000856f4a83a8b9d4b601e101001000000000000000000000000000000000010100000008010a020a1594013401420556055703700200017f0000027f00000c00017f0100027f04000c6f06737572766579097375727665795f6964047369746505726f6f6673046d61696e086f70656e696e6773096f62737461636c65730d77617465725f736f75726365730b72656365707461636c65730a6169725f706f696e74730965717569706d656e740866696e64696e67730768617a617264730a666f6c6c6f775f75707306647261667473056e6f7465730670686f746f73117e00010f007e00360f00732d311100b6000000856f4a8349180af901ab0101a8b9d4b6e51dc43dbee70d486b4853098911c91429c0b3833cd6814e9da308ad1003c8268dca5d4f2ec1160000000000000112d0f4f8ce06387b226279223a22616e61222c226f6e223a22616e61222c226174223a22323032362d30342d31345430383a30303a30302d30353a3030227d01100000000000000000000000000000000008010202021506340142025602570570027f017f037f046e616d65017f017f564f76656e737f006a73656e745f61745f6d731903e8");
    let seal = outcome.answer.seal.unwrap();
    insta::assert_snapshot!(hex(&seal.mark.0[0]), @"c2f403213f970b7445a94b1bd4f0fd970deece7266f7d67407b284eeded5ac6b");
}

#[test]
fn the_messages_of_a_restored_server_and_of_wanted_photos_are_pinned() {
    let mut ana = Device::new("ana");
    ana.set("name", json!("Ovens"));
    ana.level(&mut office());
    // A server that lost the survey, and what the device posts to it then.
    let mut restored = office();
    let outcome = ask(&mut restored, &ana.request(), "ana", Limits::default()).unwrap();
    insta::assert_snapshot!(shape(&outcome.answer.encode().unwrap()), @r#"{"protocol": 1, "survey_id": "s-1", "status": "unknown_heads", "heads": h'32 bytes', "shared": h'0 bytes', "changes": h'0 bytes', "more": Bool(false), "sent_at_ms": 1000, "answered_at_ms": 10000, "want_originals": h'0 bytes', "want_thumbnails": h'0 bytes'}"#);
    assert!(ana.take(&outcome.answer).again);
    let request = ana.request();
    insta::assert_snapshot!(shape(&request.encode().unwrap()), @r#"{"protocol": 1, "survey_id": "s-1", "shared": h'32 bytes', "changes": h'186 bytes', "sent_at_ms": 1000, "seal": {"heads": h'32 bytes', "mark": h'32 bytes'}}"#);
    let mut outcome = ask(&mut restored, &request, "ana", Limits::default()).unwrap();
    let hash = |digit: &str| digit.repeat(64);
    outcome.answer.want_originals = Hashes::of_hex(&[hash("a")]);
    outcome.answer.want_thumbnails = Hashes::of_hex(&[hash("b"), hash("c")]);
    insta::assert_snapshot!(shape(&outcome.answer.encode().unwrap()), @r#"{"protocol": 1, "survey_id": "s-1", "status": "level", "heads": h'32 bytes', "shared": h'32 bytes', "changes": h'0 bytes', "more": Bool(false), "seal": {"heads": h'32 bytes', "mark": h'32 bytes'}, "sent_at_ms": 1000, "answered_at_ms": 10000, "want_originals": h'32 bytes', "want_thumbnails": h'64 bytes'}"#);
    let accepted = ana.take(&outcome.answer);
    assert_eq!(accepted.want_originals, [hash("a")]);
    assert_eq!(accepted.want_thumbnails, [hash("b"), hash("c")]);
    let mut plain = Vec::new();
    ciborium::into_writer(&outcome.answer, &mut plain).unwrap();
    // An answer byte for byte, but for its hashes, which other tests pin.
    insta::assert_snapshot!(hex(&plain), @"ac6870726f746f636f6c01697375727665795f696463732d3166737461747573656c6576656c656865616473582049180af956023933b06129709b79b6817dc9dbdb68d58adc3e7f003739d094ec66736861726564582049180af956023933b06129709b79b6817dc9dbdb68d58adc3e7f003739d094ec676368616e67657340646d6f7265f4647365616ca2656865616473582049180af956023933b06129709b79b6817dc9dbdb68d58adc3e7f003739d094ec646d61726b5820c2f403213f970b7445a94b1bd4f0fd970deece7266f7d67407b284eeded5ac6b6a73656e745f61745f6d731903e86e616e7377657265645f61745f6d731927106e77616e745f6f726967696e616c735820aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa6f77616e745f7468756d626e61696c735840bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbcccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccc");
}

#[test]
fn one_round_brings_both_sides_level_and_a_second_sends_nothing() {
    let (mut office, mut ana, mut ben) = (office(), Device::new("ana"), Device::new("ben"));
    ana.set("name", json!("Ovens"));
    assert_eq!(ana.level(&mut office), 1);
    ben.set("address", json!("1 Quay"));
    assert_eq!(ben.level(&mut office), 1);
    assert_eq!(ben.doc.survey().site.name, "Ovens");
    assert_eq!(ana.level(&mut office), 1);
    assert_eq!(ana.doc.heads(), office.heads());
    assert_eq!(ana.request().changes, Blob::default());
    let outcome = ask(&mut office, &ana.request(), "ana", Limits::default()).unwrap();
    assert_eq!(
        (outcome.fresh.len(), outcome.answer.changes),
        (0, Blob::default())
    );
    // A week later only what is new travels, however large the survey.
    for n in 0..300 {
        ben.set("roof.height_ft", json!(n));
    }
    ben.level(&mut office);
    ana.level(&mut office);
    let one = ana.set("roof.height_ft", json!(4));
    assert_eq!(ana.request().changes, join(&[one]));
}

#[test]
fn the_same_post_twice_changes_nothing_and_answers_the_same() {
    let (mut office, mut ana) = (office(), Device::new("ana"));
    ana.set("name", json!("Ovens"));
    let request = ana.request();
    let first = ask(&mut office, &request, "ana", Limits::default()).unwrap();
    let again = ask(&mut office, &request, "ana", Limits::default()).unwrap();
    assert_eq!((first.fresh.len(), again.fresh.len()), (1, 0));
    assert_eq!(first.answer, again.answer);
    ana.take(&first.answer);
    assert_eq!(ana.take(&again.answer).fresh.len(), 0);
}

#[test]
fn a_large_survey_goes_in_pieces_both_ways() {
    let small = Limits {
        chunk_bytes: 2_000,
        ..Limits::default()
    };
    let (mut office, mut ana, mut ben) = (office(), Device::new("ana"), Device::new("ben"));
    (ana.limits, ben.limits) = (small, small);
    for n in 0..100 {
        ana.set("roof.height_ft", json!(n));
        ben.set("roof.slope_rise_in_12", json!(n));
    }
    let rounds = ana.level(&mut office);
    assert!((8..20).contains(&rounds), "{rounds}");
    // Cut off half-way, the rest is a matter of going on.
    let outcome = ask(&mut office, &ben.request(), "ben", small).unwrap();
    assert!(outcome.answer.more);
    assert!(ben.take(&outcome.answer).again);
    ben.level(&mut office);
    ana.level(&mut office);
    assert_eq!(ana.doc.heads(), ben.doc.heads());
    assert_eq!(office.change_count(), 201);
}

#[test]
fn a_forged_actor_is_refused() {
    let (mut office, mut ana) = (office(), Device::new("ana"));
    ana.set("name", json!("Ovens"));
    let error = refused(&mut office, &ana.request(), "mallory");
    assert!(matches!(&error, ExchangeError::Forged { signer, .. } if signer.starts_with("actor ")));
    // The right device under another person's name, or another device's name.
    for (author, device) in [("ben", "ana"), ("ana", "ben")] {
        let mut liar = Device::new("ana");
        let edit = Edit::Set {
            about: "site".into(),
            field: "name".into(),
            value: json!("x"),
        };
        liar.doc.edit(&stamp(author, device), edit).unwrap();
        let error = refused(&mut office, &liar.request(), "ana");
        assert!(error.to_string().contains("ben"), "{error}");
    }
    // One forged change among honest ones refuses them all.
    ana.set("address", json!("1 Quay"));
    let mut mallory = Device::new("mallory");
    let theirs = mallory.set("name", json!("Mine"));
    ana.doc.apply_changes(&[theirs]).unwrap();
    assert!(matches!(
        refused(&mut office, &ana.request(), "ana"),
        ExchangeError::Forged { .. }
    ));
    // What the server knows already may be posted by anyone.
    mallory.level(&mut office);
    ana.level(&mut office);
}

#[test]
fn a_server_restored_from_a_backup_is_given_back_what_it_lost() {
    let (mut office, mut ana, mut ben) = (office(), Device::new("ana"), Device::new("ben"));
    ana.set("name", json!("Ovens"));
    ana.level(&mut office);
    let backup = office.save();
    for n in 0..50 {
        ben.set("roof.height_ft", json!(n));
    }
    ben.level(&mut office);
    ana.level(&mut office);
    let lost = office.heads();
    // The office burns; ben never comes back. Ana edits on, then meets the restored server.
    ana.set("address", json!("1 Quay"));
    let restore = || {
        SurveyDoc::load(
            "s-1",
            std::slice::from_ref(&backup),
            Actor::of_device("office", [9; 6]),
        )
    };
    let mut office = restore().unwrap();
    assert_eq!(ana.level(&mut office), 2);
    assert!(lost.iter().all(|head| office.has(head)));
    assert_eq!(office.survey(), ana.doc.survey());

    // The same without the server's word for it, or with one made up: refused.
    let mut office = restore().unwrap();
    let mut carol = Device::new("carol");
    carol
        .doc
        .apply_changes(&ana.doc.changes_since(&[]).unwrap())
        .unwrap();
    assert!(matches!(
        refused(&mut office, &carol.request(), "carol"),
        ExchangeError::Forged { .. }
    ));
    carol.shared.giving_back = true;
    carol.shared.seal = Some(SealKey::new([4; 32]).seal("s-1", &carol.doc.heads()));
    assert!(matches!(
        refused(&mut office, &carol.request(), "carol"),
        ExchangeError::Forged { .. }
    ));
    // A true seal for other heads does not cover these changes.
    carol.shared.seal = Some(KEY.seal("s-1", &office.heads()));
    assert!(matches!(
        refused(&mut office, &carol.request(), "carol"),
        ExchangeError::Forged { .. }
    ));
    // Nor does a true seal of another survey.
    carol.shared.seal = Some(KEY.seal("s-2", &carol.doc.heads()));
    assert!(matches!(
        refused(&mut office, &carol.request(), "carol"),
        ExchangeError::Forged { .. }
    ));
}

#[test]
fn more_than_a_message_holds_is_given_back_in_parts() {
    let small = Limits {
        chunk_bytes: 2_000,
        message_bytes: 16_000,
    };
    let (mut office, mut ana, mut ben) = (office(), Device::new("ana"), Device::new("ben"));
    (ana.limits, ben.limits) = (small, small);
    for n in 0..400 {
        let device = if n % 3 == 0 { &mut ana } else { &mut ben };
        device.set("roof.height_ft", json!(n));
        if n % 10 == 0 {
            ana.level(&mut office);
            ben.level(&mut office);
        }
    }
    ben.level(&mut office);
    ana.level(&mut office);
    let all: usize = office
        .changes_since(&[])
        .unwrap()
        .iter()
        .map(|change| change.bytes().len())
        .sum();
    assert!(all > 4 * small.message_bytes, "{all}");
    let lost = office.heads();
    // Nothing of it was in the backup; ben never comes back.
    ana.set("address", json!("1 Quay"));
    let mut office = self::office();
    let rounds = ana.level(&mut office);
    assert!((5..12).contains(&rounds), "{rounds}");
    assert!(lost.iter().all(|head| office.has(head)));
    assert_eq!(office.survey(), ana.doc.survey());
    assert!(!ana.shared.giving_back);
    assert!(
        ana.shared.earlier.len() < 50,
        "{}",
        ana.shared.earlier.len()
    );
    // And so it does for a device that came later and only ever received.
    let mut cy = Device::new("cy");
    cy.limits = small;
    cy.level(&mut office);
    let mut office = self::office();
    cy.level(&mut office);
    assert_eq!(office.survey(), ana.doc.survey());
}

#[test]
fn a_device_that_lost_part_of_its_document_gets_it_back() {
    let (mut office, mut ana) = (office(), Device::new("ana"));
    ana.set("name", json!("Ovens"));
    let held = ana.set("address", json!("1 Quay"));
    ana.set("roof.height_ft", json!(20));
    ana.level(&mut office);
    // Its snapshot is gone; one change survives and waits for what it builds on.
    let rest = held.bytes().to_vec();
    ana.doc = SurveyDoc::load("s-1", &[rest], Actor::of_device("ana", [7; 6])).unwrap();
    assert!(ana.doc.waiting());
    assert_eq!(ana.doc.survey().site.address, None);
    ana.level(&mut office);
    assert!(!ana.doc.waiting());
    assert_eq!(ana.doc.survey(), office.survey());
    ana.set("name", json!("Ice"));
    ana.level(&mut office);
    assert_eq!(office.survey().site.name, "Ice");
}

#[test]
fn messages_that_are_none_are_told_apart() {
    let limits = Limits::default();
    let unreadable = |bytes: &[u8]| {
        let error = Request::decode(bytes, limits).unwrap_err();
        assert!(matches!(error, ExchangeError::Unreadable { .. }), "{error}");
    };
    unreadable(b"");
    unreadable(b"not zstd");
    unreadable(&zstd::bulk::compress(b"not cbor", 1).unwrap());
    let good = Device::new("ana").request().encode().unwrap();
    for cut in 0..good.len() {
        unreadable(&good[..cut]);
    }
    // 64 MiB of nothing in a few kilobytes.
    let bomb = zstd::bulk::compress(&vec![0; 64 << 20], 19).unwrap();
    assert!(bomb.len() < 10_000);
    let error = Request::decode(&bomb, limits).unwrap_err();
    assert_eq!(error, ExchangeError::TooLarge { most: 16 << 20 });
    // A byte string that claims to be 2^60 long.
    let mut plain = Vec::new();
    ciborium::into_writer(&json!({"survey_id": "s", "shared": ""}), &mut plain).unwrap();
    plain.pop();
    plain.extend([0x5b, 0x10, 0, 0, 0, 0, 0, 0, 0]);
    unreadable(&zstd::bulk::compress(&plain, 1).unwrap());
}

#[test]
fn other_surveys_and_protocols_are_named() {
    let mut office = office();
    let ana = Device::new("ana");
    let old = Request {
        protocol: 0,
        ..ana.request()
    };
    let error = refused(&mut office, &old, "ana");
    assert_eq!(
        error,
        ExchangeError::Protocol {
            theirs: 0,
            ours: PROTOCOL
        }
    );
    // A newer device is answered in the server's version, which is for it to accept or not.
    let newer = Request {
        protocol: PROTOCOL + 1,
        ..ana.request()
    };
    let outcome = ask(&mut office, &newer, "ana", Limits::default()).unwrap();
    assert_eq!(outcome.answer.protocol, PROTOCOL);
    let other = Request {
        survey_id: "s-2".into(),
        ..ana.request()
    };
    let error = refused(&mut office, &other, "ana");
    assert!(matches!(error, ExchangeError::OtherSurvey { .. }));
    let mut torn = ana.request();
    torn.changes = Blob(vec![9, 0, 0, 0, 1]);
    assert!(matches!(
        refused(&mut office, &torn, "ana"),
        ExchangeError::Unreadable { .. }
    ));
    torn.changes = Blob(vec![1, 0, 0, 0, 1]);
    assert!(matches!(
        refused(&mut office, &torn, "ana"),
        ExchangeError::Document(_)
    ));
}

#[test]
fn the_clock_offset_is_measured_at_the_middle_of_the_round() {
    let (mut office, mut ana) = (office(), Device::new("ana"));
    let outcome = ask(&mut office, &ana.request(), "ana", Limits::default()).unwrap();
    // Sent at 1,000, back at 3,000, answered at 10,000.
    assert_eq!(ana.take(&outcome.answer).clock_offset_ms, 8_000);
}
