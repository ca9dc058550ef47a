//! What every place must do, tried on each.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use scupper_core::document::{Edit, Stamp, Table};
use scupper_core::store::{Limits, Store, UPLOAD_LIFE_S};
use serde_json::json;

const LIMITS: Limits = Limits {
    photo_bytes: 4_000,
    thumbnail_bytes: 500,
    all_photos_bytes: 6_000,
};

/// When uploads are begun, in Unix seconds.
const NOW: i64 = 1_776_000_000;

fn actor(n: u8) -> Actor {
    Actor::of_device("office-1", [n; 6])
}

fn add(held: &mut Held, id: &str) -> Change {
    let stamp = Stamp {
        author: "ana".to_owned(),
        device: "office-1".to_owned(),
        at: chrono::DateTime::default(),
        clock_offset_ms: None,
    };
    let edit = Edit::Add {
        table: Table::Equipment,
        id: id.to_owned(),
        entry: json!({"tag": id, "kind": "exhaust_fan"}),
    };
    held.doc.edit(&stamp, edit).unwrap().unwrap()
}

fn tags(held: &Held) -> Vec<String> {
    let survey = held.doc.survey();
    survey.equipment.into_iter().map(|unit| unit.tag).collect()
}

fn load(place: &dyn Storage, survey: &str) -> Held {
    place.load(survey, actor(9)).unwrap().unwrap()
}

fn hash(bytes: &[u8]) -> String {
    blake3::hash(bytes).to_hex().to_string()
}

fn head(survey: &str, original: &[u8]) -> UploadHead {
    UploadHead {
        hash: hash(original),
        part: Part::Original,
        survey: survey.to_owned(),
        media_type: "image/jpeg".to_owned(),
        length: original.len() as u64,
        content: hash(original),
    }
}

#[track_caller]
fn refused<T: std::fmt::Debug>(result: Result<T, AppError>, status: u16) -> AppError {
    match result {
        Ok(value) => panic!("accepted: {value:?}"),
        Err(error) => {
            assert_eq!(error.status().as_u16(), status, "{error}");
            error
        }
    }
}

/// Documents and facts.
fn documents(place: &dyn Storage) {
    assert_eq!(place.survey_ids().unwrap(), Vec::<String>::new());
    assert!(!place.has("s-1").unwrap());
    assert!(place.load("s-1", actor(1)).unwrap().is_none());
    let mut held = place.create("s-1", actor(1)).unwrap();
    place.create("s-0", actor(1)).unwrap();
    assert_eq!(place.survey_ids().unwrap(), ["s-0", "s-1"]);
    let change = add(&mut held, "EF-1");
    place.keep(&mut held, &[change]).unwrap();
    place.keep(&mut held, &[]).unwrap();
    assert_eq!(held.mark, place.mark("s-1").unwrap());
    assert_eq!(tags(&load(place, "s-1")), ["EF-1"]);
    // To begin what is there finds it.
    assert_eq!(tags(&place.create("s-1", actor(2)).unwrap()), ["EF-1"]);
    // So many changes that they are put together, and more after that.
    for n in 0..520 {
        let change = add(&mut held, &format!("EF-{}", n + 2));
        place.keep(&mut held, &[change]).unwrap();
        place.tidy(&mut held).unwrap();
    }
    let again = load(place, "s-1");
    assert_eq!(again.doc.heads(), held.doc.heads());
    assert_eq!(tags(&again).len(), 521);
    assert_eq!(again.problems, Vec::<String>::new());
    assert_eq!(again.mark, held.mark);
    assert_eq!(place.fact_or("key", b"one").unwrap(), b"one");
    assert_eq!(place.fact_or("key", b"two").unwrap(), b"one");
    assert_eq!(place.verify().unwrap(), vec![]);
}

/// Photos and their uploads.
fn photos(place: &dyn Storage) {
    let original: Vec<u8> = (0..3_000_u32).map(|n| (n * n % 251) as u8).collect();
    let name = hash(&original);
    let names = [name.clone()];
    let wanted = || place.wanting(&names).unwrap();
    assert_eq!(wanted(), (names.to_vec(), names.to_vec()));
    let head = head("s-1", &original);
    let part = Part::Original;
    assert_eq!(place.upload_state(&name, part).unwrap(), None);
    refused(place.append_upload(&name, part, 0, &original), 422);
    for wrong in [
        UploadHead {
            hash: "../etc".to_owned(),
            ..head.clone()
        },
        UploadHead {
            length: 0,
            ..head.clone()
        },
        UploadHead {
            content: hash(b"x"),
            ..head.clone()
        },
        UploadHead {
            length: 4_001,
            ..head.clone()
        },
        UploadHead {
            part: Part::Thumbnail,
            ..head.clone()
        },
    ] {
        refused(place.begin_upload(&wrong, NOW), 422);
    }
    let begun = place.begin_upload(&head, NOW).unwrap();
    assert_eq!(
        (begun.offset, begun.length, begun.complete),
        (0, 3_000, false)
    );
    assert_eq!(place.upload_head(&name, part).unwrap(), Some(head.clone()));
    place
        .append_upload(&name, part, 0, &original[..1_000])
        .unwrap();
    for offset in [0, 999, 1_001] {
        let error = refused(place.append_upload(&name, part, offset, b"x"), 409);
        assert!(matches!(error, AppError::Conflict { headers, .. }
            if headers.contains(&("upload-offset", "1000".to_owned()))));
    }
    refused(place.append_upload(&name, part, 1_000, &[0; 2_001]), 422);
    // Begun again it goes on; given up it begins anew.
    assert_eq!(place.begin_upload(&head, NOW).unwrap().offset, 1_000);
    place.drop_upload(&name, part).unwrap();
    assert_eq!(place.begin_upload(&head, NOW).unwrap().offset, 0);
    // Bytes of another photo never count.
    let mut wrong = original.clone();
    wrong[7] ^= 1;
    refused(place.append_upload(&name, part, 0, &wrong), 422);
    assert_eq!(wanted().0, names);
    assert_eq!(place.path(&name, part).unwrap(), None);
    place.begin_upload(&head, NOW).unwrap();
    place
        .append_upload(&name, part, 0, &original[..2_999])
        .unwrap();
    let done = place
        .append_upload(&name, part, 2_999, &original[2_999..])
        .unwrap();
    assert!(done.complete && done.offset == 3_000);
    let stands = place.upload_state(&name, part).unwrap().unwrap();
    assert!(stands.complete && stands.offset == 3_000);
    assert_eq!(wanted(), (vec![], names.to_vec()));
    let path = place.path(&name, part).unwrap().unwrap();
    assert_eq!(std::fs::read(path).unwrap(), original);
    let row = place.photo(&name).unwrap().unwrap();
    assert!(row.original_here && row.meta.media_type == "image/jpeg" && row.meta.bytes == 3_000);
    // Another survey that shows it sends it no more, and is remembered.
    let other = UploadHead {
        survey: "s-2".to_owned(),
        ..head.clone()
    };
    assert!(place.begin_upload(&other, NOW).unwrap().complete);
    assert_eq!(place.surveys_of_photo(&name).unwrap(), ["s-1", "s-2"]);
    let small = UploadHead {
        part: Part::Thumbnail,
        length: 3,
        content: hash(b"abc"),
        ..head
    };
    place.begin_upload(&small, NOW).unwrap();
    place
        .append_upload(&name, Part::Thumbnail, 0, b"abc")
        .unwrap();
    assert_eq!(wanted(), (vec![], vec![]));
    let path = place.path(&name, Part::Thumbnail).unwrap().unwrap();
    assert_eq!(std::fs::read(path).unwrap(), b"abc");
    let much = vec![7; 3_500];
    refused(place.begin_upload(&self::head("s-1", &much), NOW), 507);
    // What is promised counts as what is here: 3,003 bytes are, of 6,000.
    let promised = self::head("s-1", &[8; 2_000]);
    place.begin_upload(&promised, NOW).unwrap();
    place.begin_upload(&promised, NOW).unwrap();
    let more = self::head("s-1", &[9; 998]);
    let error = refused(place.begin_upload(&more, NOW), 507);
    assert!(error.to_string().contains("5003 of 6000"), "{error}");
    // Until nobody goes on with it.
    place
        .append_upload(&promised.hash, part, 0, &[8; 10])
        .unwrap();
    let (then, gone) = (NOW + UPLOAD_LIFE_S, NOW + UPLOAD_LIFE_S + 1);
    refused(place.begin_upload(&more, then), 507);
    assert!(place.upload_state(&promised.hash, part).unwrap().is_some());
    place.begin_upload(&more, gone).unwrap();
    assert_eq!(place.upload_state(&promised.hash, part).unwrap(), None);
    place.drop_upload(&more.hash, part).unwrap();
    assert_eq!(place.begin_upload(&promised, gone).unwrap().offset, 0);
    assert_eq!(place.verify().unwrap(), vec![]);
}

#[test]
fn the_embedded_place_does_what_every_place_must() {
    let dir = tempfile::tempdir().unwrap();
    let open =
        |name: &str| Embedded::over(Store::open_with(&dir.path().join(name), LIMITS).unwrap());
    documents(&open("documents"));
    photos(&open("photos"));
    // It is all still there for the next process.
    assert_eq!(
        load(&open("documents"), "s-1").doc.survey().equipment.len(),
        521
    );
}

#[cfg(feature = "postgres")]
mod shared_places {
    use super::*;
    use crate::sql::Postgres;
    use crate::storage::{Objects, SharedPlace};

    /// A database of one's own on the server that `SCUPPER_TEST_POSTGRES` names, and objects in
    /// the bucket that `SCUPPER_TEST_OBJECTS` names.
    fn given() -> Option<(Postgres, Objects)> {
        let (url, objects) = match (
            std::env::var("SCUPPER_TEST_POSTGRES"),
            std::env::var("SCUPPER_TEST_OBJECTS"),
        ) {
            (Ok(url), Ok(objects)) => (url, objects),
            _ => {
                println!("NOT RUN: SCUPPER_TEST_POSTGRES and SCUPPER_TEST_OBJECTS are not set");
                return None;
            }
        };
        let db = SharedPlace::connect(&url).unwrap();
        Some((db, Objects::open(&objects).unwrap()))
    }

    #[test]
    fn the_shared_place_does_what_every_place_must() {
        let Some((db, objects)) = given() else {
            return;
        };
        let cache = tempfile::tempdir().unwrap();
        let contractor = |n: i64| {
            // Contractors that no earlier run of this test had.
            let now = chrono::Utc::now().timestamp_micros();
            SharedPlace::new(
                db.clone(),
                objects.clone(),
                now * 10 + n,
                LIMITS,
                cache.path(),
            )
        };
        documents(&contractor(1));
        photos(&contractor(2));
        // Contractors do not see one another.
        assert_eq!(contractor(3).survey_ids().unwrap(), Vec::<String>::new());
    }

    #[test]
    fn two_processes_on_one_place_lose_nothing_of_each_other() {
        let Some((db, objects)) = given() else {
            return;
        };
        let now = chrono::Utc::now().timestamp_micros() * 10;
        let caches = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
        let [one, two] = [0, 1]
            .map(|n| SharedPlace::new(db.clone(), objects.clone(), now, LIMITS, caches[n].path()));
        let mut ours = one.create("s-1", actor(1)).unwrap();
        let mut theirs = two.create("s-1", actor(2)).unwrap();
        // Both write without having read the other's.
        let change = add(&mut ours, "EF-1");
        one.keep(&mut ours, &[change]).unwrap();
        let change = add(&mut theirs, "EF-2");
        two.keep(&mut theirs, &[change]).unwrap();
        assert_ne!(
            theirs.mark,
            two.mark("s-1").unwrap(),
            "a write in between went unnoticed"
        );
        let mut both = tags(&load(&one, "s-1"));
        both.sort();
        assert_eq!(both, ["EF-1", "EF-2"]);
        // Nobody compacts away what they have not read.
        for n in 0..600 {
            let change = add(&mut theirs, &format!("EF-{}", n + 3));
            two.keep(&mut theirs, &[change]).unwrap();
            two.tidy(&mut theirs).unwrap();
        }
        assert_eq!(tags(&load(&one, "s-1")).len(), 602);
    }
}
