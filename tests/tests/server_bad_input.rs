//! What is wrong from outside, put to a real device and a real server: pictures that are none, a
//! picture that would unfold to too much, a picture cut off, a disk that is really full.

use super::command::scupper;
use super::server_kit::{
    Server, Stand, device, enrol, exchange, heads, holds, level, merged, photo, send_next,
    server_heads, take,
};
use scupper_core::capture::{Capture, Header, Page, PhotoAbout};
use scupper_core::document::Table;
use scupper_core::store::Part;
use scupper_server::client::{Client, ClientError};
use serde_json::json;
use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Command, Stdio};

/// A PNG of a few bytes whose header claims 60,000 by 60,000 pixels.
fn bomb() -> Vec<u8> {
    let mut head = b"IHDR".to_vec();
    head.extend(60_000_u32.to_be_bytes());
    head.extend(60_000_u32.to_be_bytes());
    head.extend([8, 2, 0, 0, 0]);
    let mut crc = u32::MAX;
    for byte in &head {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ (0xedb8_8320 & (crc & 1).wrapping_neg());
        }
    }
    let mut file = b"\x89PNG\r\n\x1a\n\0\0\0\x0d".to_vec();
    file.extend(head);
    file.extend((!crc).to_be_bytes());
    file.extend(b"\0\0\0\0IDAT");
    file
}

/// Files that are no photo, each with words of the error that must name what is wrong.
fn wrong() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    let whole = photo("", 0);
    vec![
        (
            "no image",
            b"two filters, one belt".to_vec(),
            "is not an image",
        ),
        ("empty", Vec::new(), "is not an image"),
        ("bomb", bomb(), "60000 x 60000 pixels"),
        ("cut off", whole[..whole.len() / 2].to_vec(), "breaks off"),
    ]
}

#[test]
fn a_device_takes_no_bad_photo_and_says_why() {
    let home = tempfile::tempdir().unwrap();
    let mut day = device(&home.path().join("store"), "phone-a", "tech-1", 1);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    let before = heads(&day, &survey);
    for (name, bytes, said) in wrong() {
        let error = day.take_photo(&survey, &bytes, PhotoAbout::default());
        let error = error.unwrap_err().to_string();
        assert!(error.contains(said), "{name}: {error}");
        let file = home.path().join("file.jpg");
        std::fs::write(&file, &bytes).unwrap();
        let error = day.take_photo_file(&survey, &file, PhotoAbout::default());
        assert!(error.unwrap_err().to_string().contains(said), "{name}");
    }
    let absent = home.path().join("absent.jpg");
    let error = day.take_photo_file(&survey, &absent, PhotoAbout::default());
    assert!(error.unwrap_err().to_string().contains("absent.jpg"));
    assert_eq!(heads(&day, &survey), before);
    assert_eq!(day.store().all_photos().unwrap(), []);
    assert!(day.next_upload().unwrap().is_none());
    take(&mut day, &survey, &photo("", 0));
    assert_eq!(day.survey(&survey).unwrap().photos.len(), 1);
}

#[test]
fn a_server_that_is_sent_bad_photos_shows_gaps_and_goes_on() {
    let stand = Stand::new();
    let (client, server) = (&stand.client, &stand.server);
    let mut day = stand.day(1);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    let good = take(&mut day, &survey, &photo("", 0));
    let mut sent = 0;
    for (name, bytes, _) in wrong() {
        // A device of someone else's making may send anything under the right hash.
        let hash = blake3::hash(&bytes).to_string();
        let entry = json!({"hash": hash, "media_type": "image/jpeg", "bytes": bytes.len(),
            "caption": name});
        day.add(&survey, Table::Photos, entry).unwrap();
        level(&mut day, client, &survey).unwrap();
        let headers = [
            ("Content-Type", "image/jpeg"),
            ("Scupper-Photo", &hash),
            ("Scupper-Part", "original"),
            ("Scupper-Content", &hash),
            ("Scupper-Survey", &survey),
        ]
        .map(|(name, value)| Header {
            name: name.to_owned(),
            value: value.to_owned(),
        });
        let mut file = std::io::Cursor::new(&bytes);
        match client.upload("/v1/uploads", &headers, &mut file) {
            Ok(done) => sent += usize::from(done.complete),
            Err(ClientError::Refused {
                status: 422,
                detail,
            }) => {
                assert!(bytes.is_empty() && detail.contains("no bytes"), "{detail}");
            }
            Err(other) => panic!("{name}: {other}"),
        }
    }
    assert_eq!(sent, 3);
    while send_next(&mut day, client).unwrap().is_some() {}
    let cookie = server.sign_in();
    let page = server.get(&format!("/surveys/{survey}"), &cookie);
    assert!(page.starts_with("HTTP/1.1 200"), "{page}");
    let paper = server.get(
        &format!("/surveys/{survey}/papers/assessment.html"),
        &cookie,
    );
    assert!(paper.starts_with("HTTP/1.1 200"), "{paper}");
    for (name, ..) in wrong() {
        let gap = format!("The photo {name} is not shown: ");
        assert!(paper.contains(&gap), "{name} is not named as a gap");
    }
    assert_eq!(paper.matches("<img").count(), 1, "the good one is shown");
    assert!(holds(client, &good));
}

/// A shell line in a mount namespace of its own, where `dir` is a disk of `size`; none where the
/// machine does not allow that.
fn on_a_small_disk(dir: &Path, size: &str, line: &str) -> Option<Command> {
    let mut probe = Command::new("unshare");
    let probe = probe.args(["-Urm", "mount", "-t", "tmpfs", "none", "/mnt"]);
    let works = probe.stdout(Stdio::null()).stderr(Stdio::null()).status();
    if !works.is_ok_and(|status| status.success()) {
        crate::not_run::not_run("disk", "this machine lets nobody mount a small disk");
        return None;
    }
    let mut shell = Command::new("unshare");
    let script = format!("mount -t tmpfs -o size={size} none \"$DISK\" && {line}");
    shell.args(["-Urm", "sh", "-c", &script]).env("DISK", dir);
    Some(shell)
}

#[test]
fn a_device_on_a_full_disk_says_so_and_keeps_what_it_had() {
    let home = tempfile::tempdir().unwrap();
    let (disk, copy) = (home.path().join("disk"), home.path().join("copy"));
    std::fs::create_dir(&disk).unwrap();
    let picture = home.path().join("photo.jpg");
    std::fs::write(&picture, photo("", 0)).unwrap();
    let line = "{ \"$WALK\" \"$DISK\" 1 \"$PHOTO\"; echo \"code $?\"; cp -r \"$DISK\" \"$COPY\"; }";
    let Some(mut walk) = on_a_small_disk(&disk, "3m", line) else {
        return;
    };
    let walk = walk.env("WALK", env!("CARGO_BIN_EXE_roofwalk"));
    let walked = walk.env("PHOTO", &picture).env("COPY", &copy);
    let walked = walked.output().unwrap();
    let said = String::from_utf8(walked.stdout).unwrap();
    let complaint = String::from_utf8(walked.stderr).unwrap();
    assert!(said.contains("code 1"), "{said}{complaint}");
    assert!(complaint.contains("DiskFull"), "{complaint}");
    let mut day = device(&copy, "phone-a", "tech-1", 9);
    let id = day.surveys(Page::default()).unwrap()[0].id.clone();
    let survey = day.survey(&id).unwrap();
    let (mut notes, mut photos) = (0, 0);
    for line in said.lines() {
        match line.split_once(' ').unwrap() {
            ("note", mark) => {
                assert!(survey.notes.iter().any(|n| n.id == mark), "lost {mark}");
                notes += 1;
            }
            ("photo", hash) => {
                assert!(survey.photos.iter().any(|p| p.hash == hash), "lost {hash}");
                let path = day.store().file(hash, Part::Original).unwrap().unwrap();
                let bytes = std::fs::read(path).unwrap();
                assert_eq!(blake3::hash(&bytes).to_string(), hash);
                photos += 1;
            }
            _ => {}
        }
    }
    assert!(photos > 3 && notes > 3, "{said}");
    // With room again it goes on.
    take(&mut day, &id, &photo("after", 0));
    assert_eq!(day.store().verify().unwrap(), []);
    println!("device on a full disk: {notes} notes and {photos} photos acknowledged, none lost");
}

#[test]
fn a_server_on_a_full_disk_says_so_and_goes_on_when_there_is_room() {
    let data = tempfile::tempdir().unwrap();
    let home = tempfile::tempdir().unwrap();
    // The accounts stay on the machine's own disk; surveys and photos go to the small one.
    let (disk, room) = (data.path().join("firms"), home.path().join("room"));
    std::fs::create_dir(&disk).unwrap();
    // The remount comes from inside: nobody else sees that disk.
    let line = "{ (n=0; while [ ! -e \"$ROOM\" ] && [ $n -lt 600 ]; do sleep 0.1; n=$((n+1)); \
                done; mount -o remount,size=64m \"$DISK\"; : > \"$ROOM.made\") </dev/null \
                >/dev/null 2>&1 & exec \"$SERVE\" serve --listen 127.0.0.1:0 --data \"$DATA\"; }";
    let Some(mut shell) = on_a_small_disk(&disk, "2m", line) else {
        return;
    };
    shell.env("ROOM", &room).env("DATA", data.path());
    shell.env("SERVE", env!("CARGO_BIN_EXE_scupper-here"));
    shell.stderr(Stdio::null());
    let server = Server::spawn(shell);
    let client = enrol(data.path(), &server.base, "tech-1", "phone-a");
    let mut day = device(home.path(), "phone-a", "tech-1", 4);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    let (mut units, mut photos) = (BTreeSet::new(), BTreeSet::new());
    let mut step = |day: &mut Capture, n: usize| -> Result<(), ClientError> {
        let text = format!("{n} ").repeat(4_000 / 2);
        let unit = json!({"tag": format!("RTU-{n}"), "kind": "packaged_rooftop_unit",
            "notes": text});
        let id = day.add(&survey, Table::Equipment, unit).unwrap();
        if n.is_multiple_of(2) {
            take(day, &survey, &photo(&n.to_string(), 0));
        }
        while exchange(day, &client, &survey)?.again {}
        units.insert(id);
        while let Some((hash, _)) = send_next(day, &client)? {
            photos.insert(hash);
        }
        Ok(())
    };
    let refused = (0..400).find_map(|n| step(&mut day, n).err());
    let Some(ClientError::Refused { status, detail }) = refused else {
        panic!("{refused:?}");
    };
    assert_eq!(status, 507, "{detail}");
    assert!(detail.contains("disk is full"), "{detail}");
    let there = merged(&client, &survey);
    let kept: BTreeSet<String> = there.equipment.iter().map(|u| u.id.clone()).collect();
    assert!(units.is_subset(&kept), "lost {:?}", units.difference(&kept));
    // What counts as sent here is whole: originals and thumbnails alike were answered.
    let whole = photos.iter().filter(|hash| holds(&client, hash)).count();
    assert!(whole + 1 >= photos.len(), "{whole} of {}", photos.len());
    std::fs::write(&room, b"").unwrap();
    while !room.with_extension("made").exists() {
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    level(&mut day, &client, &survey).unwrap();
    while send_next(&mut day, &client).unwrap().is_some() {}
    level(&mut day, &client, &survey).unwrap();
    assert_eq!(server_heads(&client, &survey), heads(&day, &survey));
    let mine = day.survey(&survey).unwrap();
    for shot in &mine.photos {
        assert!(holds(&client, &shot.hash), "{}", shot.hash);
    }
    println!(
        "server on a full disk: {} exchanges and {whole} photos acknowledged, none lost; {} units \
         and {} photos on both sides once there was room",
        units.len(),
        mine.equipment.len(),
        mine.photos.len()
    );
}

#[test]
fn a_second_process_on_a_devices_store_is_refused_and_harms_nothing() {
    let home = tempfile::tempdir().unwrap();
    let mut day = device(home.path(), "phone-a", "tech-1", 1);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    let second = Command::new(env!("CARGO_BIN_EXE_roofwalk"))
        .arg(home.path())
        .args(["2", "/dev/null"])
        .output()
        .unwrap();
    let complaint = String::from_utf8(second.stderr).unwrap();
    assert!(!second.status.success());
    assert!(complaint.contains("Locked"), "{complaint}");
    day.set(&survey, "site", "address", json!("9 Kiln Street"))
        .unwrap();
    drop(day);
    let mut day = device(home.path(), "phone-a", "tech-1", 2);
    let address = day.survey(&survey).unwrap().site.address;
    assert_eq!(address.as_deref(), Some("9 Kiln Street"));
}

#[test]
fn a_damaged_original_is_found_by_verify_and_sent_again_by_whoever_has_it() {
    let stand = Stand::new();
    let mut day = stand.day(1);
    let folder = &stand.folder().to_owned();
    let Stand {
        server,
        client,
        data,
        ..
    } = stand;
    let survey = day.create_survey("Ovens and Ice").unwrap();
    let hash = take(&mut day, &survey, &photo("", 0));
    level(&mut day, &client, &survey).unwrap();
    while send_next(&mut day, &client).unwrap().is_some() {}
    assert!(holds(&client, &hash));
    server.stop();
    let verify = || scupper(&["verify", "--data", folder]);
    assert_eq!(verify().status.code(), Some(0));
    let photos = data.path().join("firms/1/photos");
    let file = photos.join(&hash[..2]).join(&hash);
    let mut bytes = std::fs::read(&file).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&file, bytes).unwrap();
    let found = verify();
    assert_eq!(found.status.code(), Some(1));
    let said = String::from_utf8(found.stdout).unwrap();
    assert!(
        said.contains(&hash) && said.contains("asked for again"),
        "{said}"
    );

    let server = Server::start(data.path());
    let client = Client::new(&server.base, client.token());
    assert!(!holds(&client, &hash));
    level(&mut day, &client, &survey).unwrap();
    let sent = send_next(&mut day, &client).unwrap();
    assert_eq!(sent.map(|(hash, _)| hash), Some(hash.clone()));
    assert!(holds(&client, &hash));
    server.stop();
    assert_eq!(verify().status.code(), Some(0));
}
