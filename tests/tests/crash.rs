//! Real processes killed with real `kill -9`: what was acknowledged is there afterwards.

use chrono::{DateTime, FixedOffset};
use scupper_core::capture::{Capture, Identity, Page, Surroundings};
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// How often the device is killed; `SCUPPER_KILLS` makes the run longer.
fn kills() -> u64 {
    std::env::var("SCUPPER_KILLS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(20)
}

struct Frozen;

impl Surroundings for Frozen {
    fn now(&mut self) -> DateTime<FixedOffset> {
        DateTime::parse_from_rfc3339("2026-04-14T18:00:00-08:00").unwrap()
    }
    fn random(&mut self) -> [u8; 8] {
        [7; 8]
    }
}

fn reopen(dir: &Path) -> Capture {
    let identity = Identity {
        device_id: "phone-a".to_owned(),
        author: "tech-1".to_owned(),
    };
    Capture::open(dir, identity, Box::new(Frozen)).unwrap()
}

/// Lets a device get `enough` things done and a little further, kills it in the middle of whatever
/// it is at, and returns what it had acknowledged.
fn work_and_die(dir: &Path, seed: u64, enough: usize, further: Duration) -> Vec<String> {
    let photo = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../fixtures/bakery/photos/p-11-rtu3-disconnect.jpg");
    let mut child = Command::new(env!("CARGO_BIN_EXE_roofwalk"))
        .args([
            dir.as_os_str(),
            seed.to_string().as_ref(),
            photo.as_os_str(),
        ])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut said: Vec<String> = lines.by_ref().take(enough).map_while(Result::ok).collect();
    std::thread::sleep(further);
    // SIGKILL on Unix: no handler, no clean-up.
    child.kill().unwrap();
    child.wait().unwrap();
    said.extend(lines.map_while(Result::ok));
    said
}

#[test]
fn nothing_acknowledged_is_lost_to_kill_9() {
    let dir = tempfile::tempdir().unwrap();
    let (mut notes, mut photos) = (BTreeSet::new(), BTreeSet::new());
    let mut acknowledged = 0;
    let mut checked = BTreeSet::new();
    for round in 0..kills() {
        let further = Duration::from_micros((round * 7_919) % 60_000);
        let lines = work_and_die(dir.path(), round, 1 + (round as usize * 5) % 13, further);
        let mut addresses = Vec::new();
        for line in &lines {
            match line.split_once(' ').unwrap() {
                ("address", mark) => addresses.push(mark.to_owned()),
                ("note", mark) => drop(notes.insert(mark.to_owned())),
                ("photo", hash) => drop(photos.insert(hash.to_owned())),
                _ => continue,
            }
            acknowledged += 1;
        }
        let mut day = reopen(dir.path());
        let Some(id) = day
            .surveys(Page::default())
            .unwrap()
            .first()
            .map(|s| s.id.clone())
        else {
            assert!(lines.is_empty(), "round {round}: the survey itself is gone");
            continue;
        };
        let survey = day.survey(&id).unwrap();
        if let Some(last) = addresses.last() {
            // The last one said, or one more that was on disk before its line was out.
            let now = survey.site.address.clone().unwrap();
            let step = |mark: &str| mark.split('-').nth(1).unwrap().parse::<u64>().unwrap();
            assert!(
                now == *last || step(&now) == step(last) + 3,
                "round {round}: {last}, found {now}"
            );
        }
        let kept: BTreeSet<String> = survey.notes.iter().map(|n| n.id.clone()).collect();
        assert!(
            notes.is_subset(&kept),
            "round {round}: lost {:?}",
            notes.difference(&kept)
        );
        let shown: BTreeSet<String> = survey.photos.iter().map(|p| p.hash.clone()).collect();
        assert!(
            photos.is_subset(&shown),
            "round {round}: lost {:?}",
            photos.difference(&shown)
        );
        for hash in photos.iter().filter(|hash| checked.insert((*hash).clone())) {
            let path = day.store().original_path(hash).unwrap().unwrap();
            let bytes = std::fs::read(path).unwrap();
            assert_eq!(blake3::hash(&bytes).to_string(), *hash, "round {round}");
        }
    }
    assert!(
        acknowledged > kills() * 3,
        "only {acknowledged} things were done"
    );
    println!(
        "{acknowledged} acknowledged over {} kills, none lost",
        kills()
    );
}
