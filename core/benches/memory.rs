//! The peak of applying 10,000 changes beside that of a cold load of all of them, each the kernel's
//! figure of a child process. Fails when it is more than twice as much; `tests/run` asks for it.
//!
//! `cargo bench -p scupper-core --bench memory` prints what `docs/reliability.md` quotes.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

mod made_up;

use made_up::{build, row};
use scupper_core::document::{Actor, Change, SurveyDoc};
use scupper_core::exchange::Limits;
use std::fs;
use std::hint::black_box;
use std::path::Path;
use std::process::{Command, ExitCode};
use tempfile::TempDir;

/// Peak and current memory of this process, in kilobytes.
fn memory(field: &str) -> f64 {
    let status = fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find(|line| line.starts_with(field)).unwrap();
    line.split_whitespace().nth(1).unwrap().parse().unwrap()
}

fn child(mode: &str, dir: &Path) {
    let actor = Actor::of_device("phone-ana", [6; 6]);
    let bytes = fs::read(dir.join(mode)).unwrap();
    let start = memory("VmRSS");
    if mode == "whole" {
        black_box(SurveyDoc::load("s-1", &[bytes], actor).unwrap());
        println!("{}", memory("VmHWM") - start);
        return;
    }
    // Ten thousand changes come in messages of one chunk each, onto the first two thousand.
    let base = fs::read(dir.join("base")).unwrap();
    let mut doc = SurveyDoc::load("s-1", &[base], actor).unwrap();
    fs::write("/proc/self/clear_refs", "5").unwrap();
    let start = memory("VmRSS");
    let mut rest = bytes.as_slice();
    let mut chunk = Vec::new();
    let mut size = 0;
    while let Some((length, after)) = rest.split_first_chunk::<4>() {
        let (one, after) = after.split_at(u32::from_le_bytes(*length) as usize);
        chunk.push(Change::parse(one).unwrap());
        size += one.len();
        rest = after;
        if size > Limits::default().chunk_bytes || rest.is_empty() {
            doc.apply_changes(&std::mem::take(&mut chunk)).unwrap();
            size = 0;
        }
    }
    assert_eq!(doc.change_count(), 12_001);
    println!("{}", memory("VmHWM") - start);
}

/// Applying 10,000 changes may take so many times the memory of a cold load.
const MOST: f64 = 2.0;

/// Whether the promise about memory holds.
fn heap(doc: &SurveyDoc, dir: &Path) -> bool {
    let base = build(2_000);
    let rest = doc.changes_since(&base.heads()).unwrap();
    let framed: Vec<u8> = rest
        .iter()
        .flat_map(|change| {
            [
                &(change.bytes().len() as u32).to_le_bytes()[..],
                change.bytes(),
            ]
            .concat()
        })
        .collect();
    fs::write(dir.join("whole"), doc.save()).unwrap();
    fs::write(dir.join("base"), base.save()).unwrap();
    fs::write(dir.join("rest"), framed).unwrap();
    let run = |mode: &str| -> f64 {
        let me = std::env::current_exe().unwrap();
        let out = Command::new(me)
            .args(["--child", mode])
            .arg(dir)
            .output()
            .unwrap();
        let text = String::from_utf8(out.stdout).unwrap();
        text.trim()
            .parse::<f64>()
            .unwrap_or_else(|_| panic!("{:?}", out.stderr))
            / 1024.0
    };
    let (rest, whole) = (run("rest"), run("whole"));
    row(
        "memory to apply 10,000 changes",
        rest,
        whole,
        "MiB",
        "peak of a cold load",
        "<= 2",
    );
    rest > 0.0 && rest <= MOST * whole
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    if let [_, flag, mode, dir] = arguments.as_slice()
        && flag == "--child"
    {
        child(mode, Path::new(dir));
        return ExitCode::SUCCESS;
    }
    let dir = TempDir::new_in(".").unwrap();
    println!("| goal | measured | anchor | ratio | target |\n|---|---|---|---|---|");
    let holds = heap(&build(12_000), dir.path());
    // In the words that `tests/run` adds up.
    let (passed, failed) = (u8::from(holds), u8::from(!holds));
    println!("memory: {passed} passed, {failed} failed");
    match holds {
        true => ExitCode::SUCCESS,
        false => ExitCode::FAILURE,
    }
}
