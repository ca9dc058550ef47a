//! What a device's day costs, each figure a ratio to an anchor measured in the same run.
//!
//! `cargo bench -p scupper-core --bench capture` prints the table, of the survey in `made_up`; memory
//! is a bench of its own.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

mod made_up;

use automerge::Automerge;
use chrono::{DateTime, FixedOffset, TimeDelta};
use made_up::{build, edit, row, set, stamp};
use scupper_core::capture::{Capture, Identity, Surroundings, durable};
use scupper_core::document::{Actor, Change, Edit, SurveyDoc, Table};
use scupper_core::exchange::{Limits, Shared, prepare};
use scupper_core::store::Store;
use serde_json::json;
use std::fs::File;
use std::hint::black_box;
use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};
use tempfile::TempDir;

fn sorted(mut times: Vec<Duration>) -> (f64, f64) {
    times.sort();
    let at = |q: f64| times[((times.len() - 1) as f64 * q) as usize].as_secs_f64() * 1e6;
    (at(0.5), at(0.99))
}

fn times<T>(count: usize, mut work: impl FnMut(usize) -> T) -> Vec<Duration> {
    let mut timed = Vec::new();
    for n in 0..count {
        let start = Instant::now();
        black_box(work(n));
        timed.push(start.elapsed());
    }
    timed
}

struct Bench(DateTime<FixedOffset>, u64);

impl Surroundings for Bench {
    fn now(&mut self) -> DateTime<FixedOffset> {
        self.0 += TimeDelta::seconds(1);
        self.0
    }

    fn random(&mut self) -> [u8; 8] {
        self.1 = self
            .1
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        self.1.to_be_bytes()
    }
}

fn durable_edits(doc: &SurveyDoc, dir: &Path) {
    let mut raw = File::options()
        .create(true)
        .append(true)
        .open(dir.join("raw"))
        .unwrap();
    let mut append = |_: usize| {
        raw.write_all(&[7; 300]).unwrap();
        raw.sync_data().unwrap();
    };
    let before = times(1500, &mut append);
    let store = Store::open(&dir.join("store")).unwrap();
    store.compact("s-1", &doc.save()).unwrap();
    let identity = Identity {
        device_id: "phone-ana".to_owned(),
        author: "ana".to_owned(),
    };
    let bench = Bench(stamp(0, 100_000).at, 9);
    let mut capture = Capture::over(store, identity, Box::new(bench));
    capture.survey("s-1").unwrap();
    // Kept below the length at which the next edit would compact.
    let edits = times(230, |n| {
        capture
            .set(
                "s-1",
                &format!("RTU-{}", n % 200),
                "nameplate.mca_a",
                json!(n + 100),
            )
            .unwrap();
    });
    let findings = times(230, |n| {
        let entry = json!({"ref": format!("RTU-{n}"), "component": "belt", "condition": "worn",
            "certainty": "observed", "severity": "repair", "action": "replace", "author": "ana",
            "remark": format!("remark number {n} of about sixty characters, as people write them"),
            "at": "2026-04-14T08:02:11-05:00", "confidence": 0.5});
        capture.add("s-1", Table::Findings, entry).unwrap();
    });
    let store = capture.store();
    let plain = times(1500, |_| store.append("s-2", &[7; 300]).unwrap());
    let mut both = before;
    both.extend(times(1500, &mut append));
    let (raw50, raw99) = sorted(both);
    let name = "append + fdatasync";
    let (p50, p99) = sorted(plain);
    row("store 300 B, p50", p50, raw50, "us", name, "<= 1.25");
    row("store 300 B, p99", p99, raw99, "us", name, "<= 2");
    let (p50, p99) = sorted(edits);
    row(
        "one-field edit to disk, p50",
        p50,
        raw50,
        "us",
        name,
        "<= 1.5",
    );
    row("one-field edit to disk, p99", p99, raw99, "us", name, "-");
    let (p50, _) = sorted(findings);
    row("new finding to disk, p50", p50, raw50, "us", name, "<= 2.5");
}

fn opening(doc: &SurveyDoc, dir: &Path) {
    let store = Store::open(&dir.join("open")).unwrap();
    let snapshot = doc.save();
    store.compact("s-1", &snapshot).unwrap();
    store.set_summary("s-1", "{\"site\":\"Bakery\"}").unwrap();
    let actor = Actor::of_device("phone-ana", [4; 6]);
    let mut ahead = durable::load(&store, "s-1", actor).unwrap().unwrap().doc;
    for n in 0..500 {
        let edit = set(
            format!("RTU-{}", n % 200),
            "nameplate.mocp_a",
            json!(n + 1000),
        );
        let change = ahead.edit(&stamp(0, 200_000 + n as i64), edit).unwrap();
        store.append("s-1", change.unwrap().bytes()).unwrap();
    }
    let (bare, _) = sorted(times(9, |_| Automerge::load(&snapshot).unwrap()));
    let (cold, _) = sorted(times(9, |_| durable::load(&store, "s-1", actor).unwrap()));
    let (list, _) = sorted(times(9, |_| store.surveys().unwrap()));
    drop(store);
    let (open, _) = sorted(times(9, |_| {
        Store::open(&dir.join("open")).unwrap().surveys().unwrap()
    }));
    let name = "load of the bare snapshot";
    row(
        "cold open, snapshot + 500 changes",
        cold / 1e3,
        bare / 1e3,
        "ms",
        name,
        "<= 1.2",
    );
    row(
        "store open and list of surveys",
        open / 1e3,
        bare / 1e3,
        "ms",
        name,
        "<= 0.25",
    );
    row(
        "list of surveys alone",
        list / 1e3,
        bare / 1e3,
        "ms",
        name,
        "-",
    );
    let (hydrate, _) = sorted(times(5, |_| {
        Automerge::load(&snapshot).unwrap().hydrate(None)
    }));
    let (plain, _) = sorted(times(5, |_| {
        let doc = SurveyDoc::load("s-1", std::slice::from_ref(&snapshot), actor).unwrap();
        doc.survey()
    }));
    row(
        "load and read the survey",
        plain / 1e3,
        hydrate / 1e3,
        "ms",
        "load + hydrate",
        "<= 1.5",
    );
    let save = Automerge::load(&snapshot).unwrap().save_nocompress();
    let small = zstd::bulk::compress(&save, 19).unwrap().len();
    row(
        "snapshot size",
        snapshot.len() as f64 / 1e3,
        small as f64 / 1e3,
        "kB",
        "zstd-19 of it unpacked",
        "<= 1.2",
    );
    let (read, _) = sorted(times(5, |_| doc.survey()));
    let (conflicts, _) = sorted(times(5, |_| doc.conflicts()));
    let (offers, _) = sorted(times(5, |_| doc.same_unit_offers()));
    println!(
        "\nsurvey() {:.1} ms, conflicts() {:.1} ms, same_unit_offers() {:.1} ms\n",
        read / 1e3,
        conflicts / 1e3,
        offers / 1e3
    );
}

fn exchanging(doc: &SurveyDoc) {
    let snapshot = doc.save();
    let actor = Actor::of_device("phone-ben", [5; 6]);
    let mut ben = SurveyDoc::load("s-1", std::slice::from_ref(&snapshot), actor).unwrap();
    let heads = ben.heads();
    for n in 0..1500 {
        let made = match n % 3 {
            0 => set(format!("RTU-{}", n % 200), "nameplate.mca_a", json!(n + 7)),
            _ => match edit(200 + n) {
                Edit::Add { table, entry, .. } => Edit::Add {
                    table,
                    id: format!("new-{n:06}"),
                    entry,
                },
                other => other,
            },
        };
        ben.edit(&stamp(1, 300_000 + n as i64), made).unwrap();
    }
    let changes = ben.changes_since(&heads).unwrap();
    let raw: Vec<u8> = changes.iter().flat_map(Change::bytes).copied().collect();
    let packed = zstd::bulk::compress(&raw, 19).unwrap().len();
    let shared = Shared {
        heads: scupper_core::exchange::Hashes::of(&heads),
        ..Shared::default()
    };
    let limits = Limits {
        chunk_bytes: 8 << 20,
        ..Limits::default()
    };
    let sent = prepare(&ben, &shared, 0, limits).encode().unwrap().len();
    row(
        "request after 1,500 edits",
        sent as f64 / 1e3,
        packed as f64 / 1e3,
        "kB",
        "zstd-19 of the raw changes",
        "<= 1.2",
    );
    let last = ben
        .edit(
            &stamp(1, 400_000),
            set("site".to_owned(), "name", json!("Quay")),
        )
        .unwrap()
        .unwrap();
    let mut heads = heads;
    heads = scupper_core::document::grow_heads(&heads, &changes);
    let shared = Shared {
        heads: scupper_core::exchange::Hashes::of(&heads),
        ..Shared::default()
    };
    let one = prepare(&ben, &shared, 0, Limits::default())
        .encode()
        .unwrap()
        .len();
    row(
        "request of one live edit",
        one as f64,
        last.bytes().len() as f64,
        "B",
        "its raw change",
        "<= 2.5",
    );
    let load = || SurveyDoc::load("s-1", std::slice::from_ref(&snapshot), actor).unwrap();
    let mut took = (Vec::new(), Vec::new());
    for _ in 0..5 {
        let (mut ours, mut plain) = (load(), Automerge::load(&snapshot).unwrap());
        took.0
            .extend(times(1, |_| ours.apply_changes(&changes).unwrap()));
        took.1
            .extend(times(1, |_| plain.load_incremental(&raw).unwrap()));
    }
    let (ours, theirs) = (sorted(took.0).0 / 1e3, sorted(took.1).0 / 1e3);
    row(
        "apply 1,500 changes of others",
        ours,
        theirs,
        "ms",
        "load_incremental",
        "<= 1.3",
    );
}

fn main() {
    let dir = TempDir::new_in(".").unwrap();
    let start = Instant::now();
    let doc = build(12_000);
    println!(
        "built {} changes in {:.1} s\n",
        doc.change_count(),
        start.elapsed().as_secs_f64()
    );
    println!("| goal | measured | anchor | ratio | target |\n|---|---|---|---|---|");
    durable_edits(&doc, dir.path());
    opening(&doc, dir.path());
    println!("| goal | measured | anchor | ratio | target |\n|---|---|---|---|---|");
    exchanging(&doc);
}
