//! Tests of the store: durability, damage, limits, full disks, uploads, backups.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::files::Files;
use super::schema::DATABASE;
use super::*;
use rusqlite::Connection;
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use tempfile::TempDir;

fn hash(bytes: &[u8]) -> String {
    blake3::hash(bytes).to_hex().to_string()
}

fn meta(bytes: &[u8]) -> PhotoMeta {
    PhotoMeta {
        hash: hash(bytes),
        media_type: "image/jpeg".into(),
        bytes: bytes.len() as u64,
    }
}

fn raw(dir: &Path) -> Connection {
    Connection::open(dir.join(DATABASE)).unwrap()
}

fn chunks(store: &Store) -> Vec<Vec<u8>> {
    store.parts("s").unwrap().unwrap().chunks
}

#[test]
fn what_was_appended_is_there_in_order_after_a_restart() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    assert_eq!(store.parts("s").unwrap(), None);
    store.append("s", b"one").unwrap();
    store.append("s", b"two").unwrap();
    store.append("t", b"other").unwrap();
    store.set_summary("s", "{}").unwrap();
    store.set_fact("name", b"value").unwrap();
    drop(store);
    let store = Store::open(dir.path()).unwrap();
    assert_eq!(chunks(&store), [b"one", b"two"]);
    let ids: Vec<String> = store.surveys().unwrap().into_iter().map(|s| s.id).collect();
    assert_eq!(ids, ["s", "t"]);
    assert_eq!(store.fact("name").unwrap().unwrap(), b"value");
    assert_eq!(store.fact_names("na").unwrap(), ["name"]);
    store.forget_fact("name").unwrap();
    assert_eq!(store.fact("name").unwrap(), None);
    assert_eq!(store.verify().unwrap(), []);
}

#[test]
fn compaction_keeps_the_snapshot_before_until_the_next() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    store.compact("s", b"snapshot-1").unwrap();
    store.append("s", b"a").unwrap();
    store.compact("s", b"snapshot-2").unwrap();
    store.append("s", b"b").unwrap();
    assert_eq!(chunks(&store), [&b"snapshot-2"[..], b"b"]);
    // The newest snapshot rots: the one before and all since are used.
    let rot = "UPDATE chunks SET bytes = x'00' WHERE kind = 0 AND number = 3";
    raw(dir.path()).execute(rot, []).unwrap();
    let parts = store.parts("s").unwrap().unwrap();
    assert_eq!(parts.chunks, [&b"snapshot-1"[..], b"a", b"b"]);
    assert_eq!(parts.problems.len(), 1);
    assert!(parts.problems[0].contains("chunk 3 of s is in quarantine"));
    // It stays in quarantine for a person to look at, and is not complained about again.
    let kept: i64 = raw(dir.path())
        .query_row("SELECT count(*) FROM quarantine", [], |row| row.get(0))
        .unwrap();
    assert_eq!(kept, 1);
    assert_eq!(
        store.parts("s").unwrap().unwrap().problems,
        Vec::<String>::new()
    );
    store.compact("s", b"snapshot-3").unwrap();
    store.compact("s", b"snapshot-4").unwrap();
    assert_eq!(chunks(&store), [b"snapshot-4"]);
    let held: i64 = raw(dir.path())
        .query_row("SELECT count(*) FROM chunks", [], |row| row.get(0))
        .unwrap();
    assert_eq!(held, 2);
}

#[test]
fn a_damaged_chunk_is_named_and_the_rest_opens() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    for bytes in [b"one", b"two", b"six"] {
        store.append("s", bytes).unwrap();
    }
    store.append("t", b"fine").unwrap();
    raw(dir.path())
        .execute("UPDATE chunks SET bytes = x'ff' WHERE number = 2", [])
        .unwrap();
    let parts = store.parts("s").unwrap().unwrap();
    assert_eq!(parts.chunks, [b"one", b"six"]);
    assert_eq!(parts.problems.len(), 1);
    assert_eq!(
        store.parts("t").unwrap().unwrap().problems,
        Vec::<String>::new()
    );
    raw(dir.path())
        .execute("DELETE FROM chunks WHERE survey = 's' AND number = 3", [])
        .unwrap();
    let parts = store.parts("s").unwrap().unwrap();
    let expected = ["chunk 2 of s is in quarantine", "chunk 3 of s is not there"];
    assert_eq!(parts.problems, expected);
    raw(dir.path())
        .execute("UPDATE surveys SET last = 1 WHERE id = 's'", [])
        .unwrap();
    let parts = store.parts("s").unwrap().unwrap();
    assert!(
        parts.problems.iter().any(|p| p.contains("in the list")),
        "{:?}",
        parts.problems
    );
    store.append("s", b"on").unwrap();
    assert_eq!(chunks(&store).last().unwrap(), b"on");
}

#[test]
fn a_second_opening_and_a_newer_file_are_refused_clearly() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    store.append("s", b"one").unwrap();
    let error = Store::open(dir.path()).unwrap_err();
    assert!(matches!(error, StoreError::Locked { .. }), "{error}");
    drop(store);
    raw(dir.path())
        .pragma_update(None, "user_version", 999)
        .unwrap();
    let store = Store::open(dir.path()).unwrap();
    assert_eq!(chunks(&store), [b"one"]);
    let error = store.append("s", b"two").unwrap_err();
    assert!(
        matches!(error, StoreError::TooNew { found: 999, .. }),
        "{error}"
    );
    let error = store.put_photo("s", &meta(b"x"), b"x", None).unwrap_err();
    assert!(matches!(error, StoreError::TooNew { .. }), "{error}");
}

/// A child process has its parent's lock from its start until it runs its own program.
#[test]
fn a_store_that_is_let_go_in_a_moment_is_waited_for() {
    let home = TempDir::new().unwrap();
    let first = Store::open(home.path()).unwrap();
    let child = fs::File::open(home.path().join("scupper.lock")).unwrap();
    drop(first);
    child.lock().unwrap();
    let ends = std::thread::spawn(move || {
        std::thread::sleep(std::time::Duration::from_millis(30));
        drop(child);
    });
    Store::open(home.path()).unwrap();
    ends.join().unwrap();
}

#[test]
fn a_full_database_loses_nothing_acknowledged() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    store.append("s", b"first").unwrap();
    // SQLite itself then says that the disk is full.
    store
        .db()
        .unwrap()
        .pragma_update(None, "max_page_count", 40)
        .unwrap();
    let mut kept = 1;
    let error = loop {
        match store.append("s", &[7; 3000]) {
            Ok(()) => kept += 1,
            Err(error) => break error,
        }
    };
    assert!(matches!(error, StoreError::DiskFull { .. }), "{error}");
    assert!(error.to_string().contains("nothing before this is lost"));
    assert!(kept > 3);
    assert_eq!(chunks(&store).len(), kept);
    store
        .db()
        .unwrap()
        .pragma_update(None, "max_page_count", 4000)
        .unwrap();
    store.append("s", &[8; 3000]).unwrap();
    drop(store);
    let store = Store::open(dir.path()).unwrap();
    assert_eq!(chunks(&store).len(), kept + 1);
}

#[test]
fn a_full_disk_takes_no_half_photo() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    let files = Files::new(dir.path());
    let (one, two) = (vec![1; 9000], vec![2; 9000]);
    store.put_photo("s", &meta(&one), &one, None).unwrap();
    // The kernel's own full device stands in for the file that is written first.
    let beside = files.incoming("new", &hash(&two)).unwrap();
    symlink("/dev/full", &beside).unwrap();
    let error = store.put_photo("s", &meta(&two), &two, None).unwrap_err();
    assert!(matches!(error, StoreError::DiskFull { .. }), "{error}");
    assert_eq!(store.photo(&hash(&two)).unwrap(), None);
    assert_eq!(store.file(&hash(&two), Part::Original).unwrap(), None);
    assert_eq!(store.verify().unwrap(), []);
    // With room again it goes through.
    store.put_photo("s", &meta(&two), &two, None).unwrap();
    assert_eq!(
        fs::read(store.file(&hash(&two), Part::Original).unwrap().unwrap()).unwrap(),
        two
    );
}

/// When uploads of these tests are begun, in Unix seconds.
const NOW: i64 = 1_776_000_000;

fn head(bytes: &[u8]) -> UploadHead {
    UploadHead {
        hash: hash(bytes),
        part: Part::Original,
        survey: "s".into(),
        media_type: "image/jpeg".into(),
        length: bytes.len() as u64,
        content: hash(bytes),
    }
}

#[test]
fn an_upload_goes_on_at_any_byte_and_counts_once_it_is_whole() {
    let dir = TempDir::new().unwrap();
    let photo: Vec<u8> = (0..=255).cycle().take(1000).collect();
    let name = hash(&photo);
    let mut store = Store::open(dir.path()).unwrap();
    assert_eq!(store.begin_upload(&head(&photo), NOW).unwrap().offset, 0);
    let mut at = 0;
    for piece in [1, 7, 400, 1, 590, 1] {
        let state = store.append_upload(&name, Part::Original, at, &photo[at as usize..][..piece]);
        at += piece as u64;
        assert_eq!(state.unwrap().offset, at);
        assert_eq!(
            store.file(&name, Part::Original).unwrap().is_some(),
            at == 1000
        );
        // Killed and started again between any two pieces.
        drop(store);
        store = Store::open(dir.path()).unwrap();
        assert_eq!(store.begin_upload(&head(&photo), NOW).unwrap().offset, at);
    }
    assert!(store.begin_upload(&head(&photo), NOW).unwrap().complete);
    assert_eq!(
        fs::read(store.file(&name, Part::Original).unwrap().unwrap()).unwrap(),
        photo
    );
    // Whoever did not hear the last answer may ask again.
    let stands = store.upload_state(&name, Part::Original).unwrap().unwrap();
    assert!(stands.complete && stands.offset == 1000);
    let never = hash(b"never sent");
    assert_eq!(store.upload_state(&never, Part::Original).unwrap(), None);
    assert_eq!(store.photos_of("s").unwrap().len(), 1);
}

#[test]
fn an_upload_that_is_not_what_it_says_never_counts() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    let (photo, other) = (vec![1; 100], vec![2; 100]);
    let name = hash(&photo);
    store.begin_upload(&head(&photo), NOW).unwrap();
    let error = store
        .append_upload(&name, Part::Original, 5, b"x")
        .unwrap_err();
    assert!(matches!(
        error,
        StoreError::WrongOffset {
            expected: 0,
            given: 5
        }
    ));
    let error = store
        .append_upload(&name, Part::Original, 0, &[1; 101])
        .unwrap_err();
    assert!(
        error
            .to_string()
            .contains("more bytes than the 100 promised"),
        "{error}"
    );
    let error = store
        .append_upload(&name, Part::Original, 0, &other)
        .unwrap_err();
    assert!(error.to_string().contains("does not hash"), "{error}");
    assert_eq!(store.photo(&name).unwrap(), None);
    let error = store
        .append_upload(&name, Part::Original, 0, &photo)
        .unwrap_err();
    assert!(error.to_string().contains("was not begun"), "{error}");
    let good = head(&photo);
    for (bad, text) in [
        (
            UploadHead {
                hash: "../../etc/passwd".into(),
                ..good.clone()
            },
            "64 small hex digits",
        ),
        (
            UploadHead {
                content: hash(&other),
                ..good.clone()
            },
            "must hash to the photo's name",
        ),
        (
            UploadHead {
                length: 0,
                ..good.clone()
            },
            "no bytes",
        ),
        (
            UploadHead {
                length: u64::MAX,
                ..good.clone()
            },
            "at most",
        ),
        (
            UploadHead {
                part: Part::Thumbnail,
                length: 2 << 20,
                ..good
            },
            "at most 1048576",
        ),
    ] {
        let error = store.begin_upload(&bad, NOW).unwrap_err();
        assert!(error.to_string().contains(text), "{error}");
    }
    assert!(store.file("../x", Part::Original).is_err());
}

#[test]
fn a_disk_that_fills_during_an_upload_takes_back_only_the_last_piece() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    let photo = vec![5; 100];
    let name = hash(&photo);
    store.begin_upload(&head(&photo), NOW).unwrap();
    let path = Files::new(dir.path()).incoming("original", &name).unwrap();
    symlink("/dev/full", &path).unwrap();
    let error = store
        .append_upload(&name, Part::Original, 0, &photo)
        .unwrap_err();
    assert!(matches!(error, StoreError::DiskFull { .. }), "{error}");
    fs::remove_file(&path).unwrap();
    let state = store
        .append_upload(&name, Part::Original, 0, &photo)
        .unwrap();
    assert!(state.complete);
}

/// A store that takes 150 bytes of photos.
fn narrow(dir: &TempDir) -> Store {
    let limits = Limits {
        photo_bytes: 100,
        thumbnail_bytes: 10,
        all_photos_bytes: 150,
    };
    Store::open_with(dir.path(), limits).unwrap()
}

#[test]
fn quotas_are_kept() {
    let dir = TempDir::new().unwrap();
    let store = narrow(&dir);
    let put = |bytes: &[u8], thumb: Option<&[u8]>| store.put_photo("s", &meta(bytes), bytes, thumb);
    assert!(
        put(&[1; 101], None)
            .unwrap_err()
            .to_string()
            .contains("at most 100")
    );
    assert!(
        put(&[1; 90], Some(&[0; 11]))
            .unwrap_err()
            .to_string()
            .contains("at most 10")
    );
    put(&[1; 90], Some(&[0; 9])).unwrap();
    assert!(
        put(&[2; 90], None)
            .unwrap_err()
            .to_string()
            .contains("quota")
    );
    assert!(
        store
            .begin_upload(&head(&[3; 90]), NOW)
            .unwrap_err()
            .to_string()
            .contains("quota")
    );
    let wrong = PhotoMeta {
        hash: hash(b"x"),
        ..meta(b"y")
    };
    let error = store.put_photo("s", &wrong, b"y", None).unwrap_err();
    assert!(error.to_string().contains("not of this hash"));
}

#[test]
fn uploads_under_way_and_thumbnails_count_against_the_quota() {
    let dir = TempDir::new().unwrap();
    let store = narrow(&dir);
    let begin = |bytes: &[u8]| store.begin_upload(&head(bytes), NOW);
    begin(&[1; 60]).unwrap();
    begin(&[2; 60]).unwrap();
    // Begun again it counts once.
    begin(&[2; 60]).unwrap();
    let error = begin(&[3; 60]).unwrap_err();
    assert!(error.to_string().contains("120 of 150 bytes"), "{error}");
    let error = store.put_photo("s", &meta(&[3; 60]), &[3; 60], None);
    assert!(error.unwrap_err().to_string().contains("120 of 150"));
    store.put_thumbnail("s", &hash(&[1; 60]), &[9; 10]).unwrap();
    let error = begin(&[4; 21]).unwrap_err();
    assert!(error.to_string().contains("130 of 150 bytes"), "{error}");
    begin(&[4; 20]).unwrap();
}

#[test]
fn an_upload_that_nobody_goes_on_with_is_forgotten_and_makes_room() {
    let dir = TempDir::new().unwrap();
    let limits = Limits {
        all_photos_bytes: 150,
        ..Limits::default()
    };
    let store = Store::open_with(dir.path(), limits).unwrap();
    let (left, kept) = ([1; 70], [2; 70]);
    for bytes in [&left, &kept] {
        store.begin_upload(&head(bytes), NOW).unwrap();
        let hash = hash(bytes);
        store
            .append_upload(&hash, Part::Original, 0, &bytes[..30])
            .unwrap();
    }
    let files = || fs::read_dir(dir.path().join("incoming")).unwrap().count();
    let week = UPLOAD_LIFE_S;
    assert_eq!(
        store.begin_upload(&head(&kept), NOW + week).unwrap().offset,
        30
    );
    assert_eq!(files(), 2);
    let other = head(&[3; 70]);
    store.begin_upload(&other, NOW + week).unwrap_err();
    store.begin_upload(&other, NOW + week + 1).unwrap();
    assert_eq!(files(), 1);
    let state = |bytes: &[u8]| store.upload_state(&hash(bytes), Part::Original).unwrap();
    assert_eq!(state(&left), None);
    assert_eq!(state(&kept).unwrap().offset, 30);
}

#[test]
fn a_damaged_original_is_found_set_aside_and_wanted_again() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    let (one, two) = (vec![1; 500], vec![2; 500]);
    for bytes in [&one, &two] {
        store
            .put_photo("s", &meta(bytes), bytes, Some(b"small"))
            .unwrap();
    }
    let names = [hash(&one), hash(&two)];
    assert_eq!(store.wanting(&names).unwrap(), (vec![], vec![]));
    let path = store.file(&names[0], Part::Original).unwrap().unwrap();
    let mut bytes = fs::read(&path).unwrap();
    bytes[250] ^= 1;
    fs::write(&path, &bytes).unwrap();
    fs::write(
        store.file(&names[1], Part::Thumbnail).unwrap().unwrap(),
        b"smell",
    )
    .unwrap();
    let found: Vec<String> = store
        .verify()
        .unwrap()
        .into_iter()
        .map(|d| d.what)
        .collect();
    assert_eq!(found.len(), 2);
    assert!(found.contains(&format!("photo {}", names[0])));
    assert!(found.contains(&format!("thumbnail of {}", names[1])));
    assert_eq!(
        store.wanting(&names).unwrap(),
        (vec![names[0].clone()], vec![names[1].clone()])
    );
    assert_eq!(store.verify().unwrap(), []);
    store.put_photo("s", &meta(&one), &one, None).unwrap();
    assert_eq!(store.wanting(&names).unwrap().0, Vec::<String>::new());
    // A row that is not what was written is as good as none: the photo is asked for again.
    raw(dir.path())
        .execute("UPDATE photos SET original_here = 1, bytes = 7", [])
        .unwrap();
    assert_eq!(store.wanting(&names).unwrap().0.len(), 2);
}

#[test]
fn a_backup_made_in_use_is_restored_whole() {
    let dir = TempDir::new().unwrap();
    let (home, copy, back) = (
        dir.path().join("home"),
        dir.path().join("copy"),
        dir.path().join("back"),
    );
    let store = Store::open(&home).unwrap();
    let photo = vec![4; 3000];
    store.append("s", b"one").unwrap();
    store
        .put_photo("s", &meta(&photo), &photo, Some(b"small"))
        .unwrap();
    store.backup(&copy).unwrap();
    store.append("s", b"after").unwrap();
    assert_eq!(chunks(&store), [&b"one"[..], b"after"]);
    let (restored, damage) = Store::restore(&copy, &back).unwrap();
    assert_eq!(damage, []);
    assert_eq!(chunks(&restored), [b"one"]);
    let path = restored
        .file(&hash(&photo), Part::Original)
        .unwrap()
        .unwrap();
    assert_eq!(fs::read(path).unwrap(), photo);
    assert!(
        restored
            .file(&hash(&photo), Part::Thumbnail)
            .unwrap()
            .is_some()
    );
    drop(restored);
    let error = Store::restore(&copy, &back).unwrap_err();
    assert!(
        error.to_string().contains("holds a store already"),
        "{error}"
    );
    let error = Store::restore(&dir.path().join("none"), &dir.path().join("x")).unwrap_err();
    assert!(error.to_string().contains("holds no backup"), "{error}");
    // A second backup to the same place is newer.
    store.backup(&copy).unwrap();
    let (restored, _) = Store::restore(&copy, &dir.path().join("again")).unwrap();
    assert_eq!(chunks(&restored).len(), 2);
}

#[test]
fn rotten_pages_are_refused_and_told() {
    let dir = TempDir::new().unwrap();
    let store = Store::open(dir.path()).unwrap();
    store.append("s", &[1; 20_000]).unwrap();
    drop(store);
    let path = dir.path().join(DATABASE);
    let mut bytes = fs::read(&path).unwrap();
    bytes[4096..4196].fill(0x55);
    fs::write(&path, &bytes).unwrap();
    let error = Store::open(dir.path()).unwrap_err();
    assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
    fs::write(
        &path,
        b"this is no database, whatever its name says, it is far too short",
    )
    .unwrap();
    let error = Store::open(dir.path()).unwrap_err();
    assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
}
