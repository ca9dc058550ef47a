//! Stores of every released schema open, keep what they hold and can be written to.
//!
//! `fixtures/store/schema-N` is a store as schema N wrote it, never changed once released.
//! `SCUPPER_FREEZE=1` writes the one of this program's schema, if it is not there yet.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use scupper_core::capture::durable;
use scupper_core::document::{Actor, Edit, Stamp};
use scupper_core::store::{Part, PhotoMeta, Store, UploadHead};
use serde_json::json;
use std::path::{Path, PathBuf};
use std::{env, fs};
use tempfile::TempDir;

const PHOTO: &[u8] = b"stands in for a photo";

fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/store")
}

fn hash(bytes: &[u8]) -> String {
    blake3::hash(bytes).to_hex().to_string()
}

fn edit(value: &str) -> (Stamp, Edit) {
    let stamp = Stamp {
        author: "ana".to_owned(),
        device: "phone-ana".to_owned(),
        at: "2026-04-14T08:00:00-05:00".parse().unwrap(),
        clock_offset_ms: Some(250),
    };
    let edit = Edit::Set {
        about: "site".to_owned(),
        field: "name".to_owned(),
        value: json!(value),
    };
    (stamp, edit)
}

fn freeze(dir: &Path) {
    let store = Store::open(dir).unwrap();
    let actor = Actor::of_device("phone-ana", [1; 6]);
    let mut doc = durable::create(&store, "s-1", actor).unwrap();
    let (stamp, edit) = edit("Invented Bakery");
    let change = doc.edit(&stamp, edit).unwrap();
    durable::keep(&store, &doc, change.as_slice()).unwrap();
    store
        .set_summary("s-1", "{\"site\":\"Invented Bakery\"}")
        .unwrap();
    store
        .set_fact("clock-offset-ms", &250_i64.to_le_bytes())
        .unwrap();
    let meta = PhotoMeta {
        hash: hash(PHOTO),
        media_type: "image/jpeg".to_owned(),
        bytes: PHOTO.len() as u64,
    };
    store
        .put_photo("s-1", &meta, PHOTO, Some(b"small"))
        .unwrap();
    let coming = b"an upload of which half is here";
    let head = UploadHead {
        hash: hash(coming),
        part: Part::Original,
        survey: "s-1".to_owned(),
        media_type: "image/png".to_owned(),
        length: coming.len() as u64,
        content: hash(coming),
    };
    store.begin_upload(&head, 0).unwrap();
    store
        .append_upload(&head.hash, Part::Original, 0, &coming[..15])
        .unwrap();
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

#[test]
fn stores_of_every_released_schema_open_whole() {
    let frozen = fixtures().join("schema-2");
    if env::var("SCUPPER_FREEZE").is_ok() && !frozen.exists() {
        freeze(&frozen);
        fs::remove_file(frozen.join("scupper.lock")).unwrap();
    }
    let dir = TempDir::new().unwrap();
    let mut opened = 0;
    for entry in fs::read_dir(fixtures()).unwrap() {
        let old = entry.unwrap().path();
        let home = dir.path().join(old.file_name().unwrap());
        copy(&old, &home);
        let store = Store::open(&home).unwrap();
        assert_eq!(store.verify().unwrap(), []);
        assert_eq!(
            store.surveys().unwrap()[0].summary,
            "{\"site\":\"Invented Bakery\"}"
        );
        assert_eq!(
            store.fact("clock-offset-ms").unwrap().unwrap(),
            250_i64.to_le_bytes()
        );
        let path = store.file(&hash(PHOTO), Part::Original).unwrap().unwrap();
        assert_eq!(fs::read(path).unwrap(), PHOTO);
        let coming = hash(b"an upload of which half is here");
        assert_eq!(
            store
                .upload_state(&coming, Part::Original)
                .unwrap()
                .unwrap()
                .offset,
            15
        );
        let actor = Actor::of_device("phone-ana", [2; 6]);
        let loaded = durable::load(&store, "s-1", actor).unwrap().unwrap();
        assert_eq!(loaded.problems, Vec::<String>::new());
        let mut doc = loaded.doc;
        assert_eq!(doc.survey().site.name, "Invented Bakery");
        let (stamp, edit) = edit("Renamed");
        let change = doc.edit(&stamp, edit).unwrap();
        durable::keep(&store, &doc, change.as_slice()).unwrap();
        opened += 1;
    }
    assert!(opened > 0, "no frozen store");
}
