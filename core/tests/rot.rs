//! A store file that rots: whichever byte flips, the survey reads as before, or the damage is
//! named; never a panic, never something else read in silence.
//!
//! Some thousand places are tried; `SCUPPER_EVERY=1` tries every byte.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

mod kit;

use scupper_core::capture::durable;
use scupper_core::document::{Actor, Edit, Stamp, SurveyDoc, Table};
use scupper_core::store::{Part, PhotoMeta, Store, UploadHead};
use serde_json::json;
use std::fs;
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
    let (mut named, mut same) = (0, 0);
    for at in (0..whole.len()).step_by(every(whole.len() / 300)) {
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

fn every(default: usize) -> usize {
    kit::number("SCUPPER_EVERY").map_or(default, |every| every as usize)
}

#[test]
fn no_flipped_byte_of_a_photo_or_an_upload_under_way_counts_as_whole() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    let original: Vec<u8> = (0..4_000_u32).map(|n| (n * n % 251) as u8).collect();
    let thumbnail: Vec<u8> = (0..700_u32).map(|n| (n * 7 % 253) as u8).collect();
    let meta = PhotoMeta {
        hash: blake3::hash(&original).to_hex().to_string(),
        media_type: "image/jpeg".to_owned(),
        bytes: original.len() as u64,
    };
    let put = || {
        store
            .put_photo("s-1", &meta, &original, Some(&thumbnail))
            .unwrap()
    };
    put();
    assert_eq!(store.verify().unwrap(), vec![]);
    let mut named = 0;
    for (path, bytes) in [
        (
            store.file(&meta.hash, Part::Original).unwrap().unwrap(),
            &original,
        ),
        (
            store.file(&meta.hash, Part::Thumbnail).unwrap().unwrap(),
            &thumbnail,
        ),
    ] {
        for at in (0..bytes.len()).step_by(every(97)) {
            let mut rotten = bytes.clone();
            rotten[at] ^= 1 << (at % 8);
            fs::write(&path, &rotten).unwrap();
            let found = store.verify().unwrap();
            assert_eq!(found.len(), 1, "byte {at} of {}: {found:?}", path.display());
            assert!(found[0].what.contains(&meta.hash));
            let (originals, thumbnails) = store.wanting(std::slice::from_ref(&meta.hash)).unwrap();
            assert_eq!(
                originals.len() + thumbnails.len(),
                1,
                "byte {at}: not asked for again"
            );
            named += 1;
            put();
        }
    }
    // An upload half-way, whose file rots before the rest comes.
    let other: Vec<u8> = original.iter().rev().copied().collect();
    let hash = blake3::hash(&other).to_hex().to_string();
    let head = UploadHead {
        hash: hash.clone(),
        part: Part::Original,
        survey: "s-1".to_owned(),
        media_type: "image/jpeg".to_owned(),
        length: other.len() as u64,
        content: hash.clone(),
    };
    let half = other.len() / 2;
    let incoming = dir.path().join("incoming");
    let mut refused = 0;
    for at in (0..half).step_by(every(97)) {
        store.begin_upload(&head, 0).unwrap();
        store
            .append_upload(&hash, Part::Original, 0, &other[..half])
            .unwrap();
        let mut files = fs::read_dir(&incoming)
            .unwrap()
            .map(|entry| entry.unwrap().path());
        let file = files.next().unwrap();
        let mut rotten = fs::read(&file).unwrap();
        rotten[at] ^= 1 << (at % 8);
        fs::write(&file, &rotten).unwrap();
        let end = store.append_upload(&hash, Part::Original, half as u64, &other[half..]);
        assert!(end.is_err(), "byte {at} counted as whole");
        assert!(
            store
                .photo(&hash)
                .unwrap()
                .is_none_or(|row| !row.original_here)
        );
        refused += 1;
    }
    println!("{named} flips in photos named, {refused} in uploads refused, 0 silent");
}

#[test]
fn no_flip_in_the_log_of_a_process_that_died_is_read_in_silence() {
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
    let mut moments = vec![doc.survey()];
    for n in 0..8 {
        let edit = Edit::Add {
            table: Table::Equipment,
            id: format!("u{n}"),
            entry: json!({"tag": format!("EF-{n}"), "kind": "exhaust_fan"}),
        };
        let change = doc.edit(&stamp, edit).unwrap();
        durable::keep(&store, &doc, change.as_slice()).unwrap();
        moments.push(doc.survey());
    }
    // As a killed process leaves it: the log beside the file.
    let names = ["scupper.sqlite", "scupper.sqlite-wal"];
    let files = names.map(|name| fs::read(home.join(name)).unwrap());
    let log = &files[1];
    let notes: Vec<_> = fs::read_dir(home.join("acknowledged"))
        .unwrap()
        .map(|note| note.unwrap())
        .map(|note| (note.file_name(), fs::read(note.path()).unwrap()))
        .collect();
    let (mut last, mut earlier, mut named) = (0, 0, 0);
    for at in (0..log.len()).step_by(every(log.len() / 300)) {
        let rotten = dir.path().join("rotten");
        fs::create_dir(&rotten).unwrap();
        let mut flipped = log.clone();
        flipped[at] ^= 1 << (at % 8);
        fs::write(rotten.join(names[0]), &files[0]).unwrap();
        fs::write(rotten.join(names[1]), &flipped).unwrap();
        fs::create_dir(rotten.join("acknowledged")).unwrap();
        for (name, note) in &notes {
            fs::write(rotten.join("acknowledged").join(name), note).unwrap();
        }
        let opened = Store::open(&rotten).map_err(|error| error.to_string());
        let read = opened.and_then(|store| {
            let loaded = durable::load(&store, "s-1", actor(2)).map_err(|e| e.to_string())?;
            Ok(loaded.map(|loaded| (loaded.doc.survey(), loaded.problems)))
        });
        match read {
            Ok(Some((survey, problems))) if problems.is_empty() => {
                let moment = moments.iter().position(|moment| *moment == survey);
                match moment {
                    Some(moment) if moment + 1 == moments.len() => last += 1,
                    Some(_) => earlier += 1,
                    None => panic!("byte {at}: something that never was"),
                }
            }
            // The survey's very beginning was in the log.
            Ok(None) => earlier += 1,
            Ok(Some(_)) | Err(_) => named += 1,
        }
        fs::remove_dir_all(&rotten).unwrap();
    }
    println!(
        "log of {} bytes: {last} flips without effect, {named} named, {earlier} read in silence as \
         an earlier moment, 0 as something else",
        log.len()
    );
    assert_eq!(earlier, 0);
    assert!(last + named > 100);
}
