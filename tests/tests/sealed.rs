//! Databases encrypted under a key: nothing of them can be read without it, and everything that
//! works on a plain folder works on such a one.
//!
//! `cargo test -p scupper-tests --features sqlcipher --test all sealed`; it links libcrypto.

use super::command::{answer, scupper};
use super::server_kit::{
    Dice, Server, admit_with, holds, level, merged, photo, send_next, surroundings, take,
};
use scupper_core::capture::{Capture, Identity, Page};
use scupper_core::store::{Limits, Store, StoreError, StoreKey};
use scupper_server::client::Client;
use serde_json::json;
use std::fs;
use std::path::{Path, PathBuf};

/// Words that would be found in a database that is not encrypted.
const NEEDLE: &str = "Marlstone Ovens 7719";

fn key(n: u8) -> StoreKey {
    StoreKey::new([n; 32])
}

fn day(store: Store) -> Capture {
    let identity = Identity {
        device_id: "phone-a".to_owned(),
        author: "tech-1".to_owned(),
    };
    Capture::over(store, identity, Box::new(surroundings(7)))
}

fn open(dir: &Path, key: Option<&StoreKey>) -> Result<Store, StoreError> {
    Store::open_keyed(dir, Limits::default(), key)
}

/// Every database file below a folder, logs and copies too, in order.
fn databases(dir: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(databases(&path));
        } else if path.to_string_lossy().contains(".sqlite") {
            found.push((path.clone(), fs::read(&path).unwrap()));
        }
    }
    found.sort();
    found
}

fn readable(dir: &Path) -> bool {
    let found = databases(dir);
    assert!(!found.is_empty());
    let holds = |bytes: &[u8], words: &str| {
        let mut runs = bytes.windows(words.len());
        runs.any(|run| run == words.as_bytes())
    };
    let head = "SQLite format";
    let clear = |bytes: &Vec<u8>| holds(bytes, NEEDLE) || holds(bytes, head);
    found.iter().any(|(_, bytes)| clear(bytes))
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let to = to.join(path.file_name().unwrap());
        match path.is_dir() {
            true => copy(&path, &to),
            false => drop(fs::copy(&path, &to).unwrap()),
        }
    }
}

#[test]
fn an_encrypted_store_shows_nothing_and_opens_with_its_own_key_only() {
    let home = tempfile::tempdir().unwrap();
    let at = |name: &str| home.path().join(name);
    let written = |dir: &Path, key: Option<&StoreKey>| {
        let mut day = day(open(dir, key).unwrap());
        let survey = day.create_survey(NEEDLE).unwrap();
        day.set(&survey, "site", "address", json!("9 Kiln Street"))
            .unwrap();
        take(&mut day, &survey, &photo("", 0));
        (day, survey)
    };
    // As a process that was killed leaves it: the last pages are in the log.
    let (alive, survey) = written(&at("alive"), Some(&key(1)));
    copy(&at("alive"), &at("dead"));
    drop(alive);
    let (plain, _) = written(&at("plain"), None);
    assert!(readable(&at("plain")), "the words would not be found");
    drop(plain);
    let name = |dir: &str, key: Option<&StoreKey>| {
        let store = open(&at(dir), key).unwrap();
        assert_eq!(store.verify().unwrap(), []);
        let mut day = day(store);
        let id = day.surveys(Page::default()).unwrap()[0].id.clone();
        day.survey(&id).unwrap().site.name
    };
    for dir in ["alive", "dead"] {
        assert!(!readable(&at(dir)), "{dir}");
        // All but the index of the log, which is made anew at every opening.
        let kept = || {
            let all = databases(&at(dir)).into_iter();
            all.filter(|(path, _)| !path.to_string_lossy().ends_with("-shm"))
                .collect::<Vec<_>>()
        };
        let before = kept();
        for (wrong, said) in [(Some(key(2)), "does not fit"), (None, "is encrypted")] {
            let error = open(&at(dir), wrong.as_ref()).unwrap_err();
            assert!(matches!(error, StoreError::Key { .. }), "{dir}: {error:?}");
            assert!(error.to_string().contains(said), "{dir}: {error}");
        }
        assert!(kept() == before, "{dir} changed");
        assert_eq!(name(dir, Some(&key(1))), NEEDLE, "{dir}");
    }
    let error = open(&at("plain"), Some(&key(1))).unwrap_err();
    assert!(error.to_string().contains("is not encrypted"), "{error}");

    // A backup is under the same key; a plain one is encrypted as it is brought back.
    let store = open(&at("alive"), Some(&key(1))).unwrap();
    store.backup(&at("copy")).unwrap();
    store.backup(&at("copy")).unwrap();
    drop(store);
    assert!(!readable(&at("copy")));
    let wrong = Store::restore_keyed(&at("copy"), &at("no"), Some(&key(2)));
    assert!(matches!(wrong.unwrap_err(), StoreError::Key { .. }));
    for from in ["copy", "plain"] {
        let to = format!("{from}-back");
        let back = Store::restore_keyed(&at(from), &at(&to), Some(&key(1)));
        let (store, damaged) = back.unwrap();
        assert_eq!(damaged, [], "{from}");
        drop(store);
        assert!(!readable(&at(&to)), "{from}");
        assert_eq!(name(&to, Some(&key(1))), NEEDLE, "{from}");
    }
    let mut day = day(open(&at("copy-back"), Some(&key(1))).unwrap());
    day.set(&survey, "site", "address", json!("10 Kiln Street"))
        .unwrap();

    // Stores of every released schema become encrypted ones.
    let frozen = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/store");
    for entry in fs::read_dir(frozen).unwrap() {
        let old = entry.unwrap().path();
        let named = old.file_name().unwrap().to_str().unwrap();
        copy(&old, &at(named));
        let to = at(&format!("{named}-back"));
        let back = Store::restore_keyed(&at(named), &to, Some(&key(1)));
        let (store, damaged) = back.unwrap();
        assert_eq!(damaged, []);
        assert_eq!(store.surveys().unwrap().len(), 1);
        drop(store);
        open(&to, Some(&key(1))).unwrap();
        assert!(!readable(&to));
    }
}

#[test]
fn no_flipped_byte_of_an_encrypted_store_is_read_in_silence() {
    let home = tempfile::tempdir().unwrap();
    let (sound, rotten) = (home.path().join("sound"), home.path().join("rotten"));
    let mut walk = day(open(&sound, Some(&key(1))).unwrap());
    let survey = walk.create_survey(NEEDLE).unwrap();
    let before = walk.survey(&survey).unwrap();
    drop(walk);
    let name = "scupper.sqlite";
    let whole = fs::read(sound.join(name)).unwrap();
    let mut dice = Dice(3);
    let (mut named, mut same) = (0, 0);
    for _ in 0..60 {
        let mut bytes = whole.clone();
        let at = dice.below(bytes.len());
        bytes[at] ^= 1 << dice.below(8);
        let _ = fs::remove_dir_all(&rotten);
        fs::create_dir(&rotten).unwrap();
        fs::write(rotten.join(name), bytes).unwrap();
        let read = open(&rotten, Some(&key(1))).ok().and_then(|store| {
            let mut walk = day(store);
            walk.survey(&survey).ok()
        });
        match read {
            Some(read) => {
                assert_eq!(read, before, "byte {at}");
                same += 1;
            }
            None => named += 1,
        }
    }
    println!("{named} flips refused, {same} without effect, 0 silent");
    assert!(named > 40);
}

#[test]
fn an_office_under_a_key_serves_is_copied_and_comes_back() {
    let home = tempfile::tempdir().unwrap();
    let at = |name: &str| home.path().join(name).to_str().unwrap().to_owned();
    let (data, copied, back, file) = (at("data"), at("copy"), at("back"), at("key"));
    fs::create_dir(&data).unwrap();
    fs::write(&file, format!("{}\n", "0f".repeat(32))).unwrap();
    fs::write(at("other"), "1e".repeat(32)).unwrap();
    let keyed = [("SCUPPER_KEY_FILE", file.as_str())];
    let mut server = Server::start_with(Path::new(&data), &keyed);
    let code = admit_with(Path::new(&data), "tech-1", &["--key-file", &file]);
    let (client, _) = Client::enrol(&server.base, &code, "phone-a", "phone").unwrap();
    let mut day = day(open(Path::new(&at("phone")), None).unwrap());
    let survey = day.create_survey(NEEDLE).unwrap();
    let hash = take(&mut day, &survey, &photo("", 0));
    level(&mut day, &client, &survey).unwrap();
    while send_next(&mut day, &client).unwrap().is_some() {}
    server.kill();
    assert!(!readable(Path::new(&data)));
    // The files of photos are as they came: docs/security.md says so.
    let original = format!("{data}/firms/1/photos/{}/{hash}", &hash[..2]);
    assert_eq!(blake3::hash(&fs::read(original).unwrap()).to_string(), hash);

    let bare = scupper(&["verify", "--data", &data]);
    let complaint = String::from_utf8(bare.stderr).unwrap();
    assert_eq!(bare.status.code(), Some(2), "{complaint}");
    assert!(complaint.contains("is encrypted"), "{complaint}");
    let other = ["verify", "--data", &data, "--key-file", &at("other")];
    let complaint = String::from_utf8(scupper(&other).stderr).unwrap();
    assert!(complaint.contains("does not fit"), "{complaint}");
    answer(&["verify", "--data", &data, "--key-file", &file]);
    answer(&[
        "backup",
        "--data",
        &data,
        "--to",
        &copied,
        "--key-file",
        &file,
    ]);
    assert!(!readable(Path::new(&copied)));
    answer(&[
        "restore",
        "--from",
        &copied,
        "--data",
        &back,
        "--key-file",
        &file,
    ]);
    assert!(!readable(Path::new(&back)));
    let server = Server::start_with(Path::new(&back), &keyed);
    let client = Client::new(&server.base, client.token());
    assert_eq!(merged(&client, &survey), day.survey(&survey).unwrap());
    assert!(holds(&client, &hash));
}
