//! What understanding costs beside only finding the phrases: `cargo bench -p scupper-core`.
//!
//! Prints the time of `interpret` over a megabyte of dictation, that of a bare Aho-Corasick scan
//! for the same phrases over the same text, their ratio, and the 99th percentile of one
//! segment's drafts in a session. The text is the clean fixtures, over and over.
#![allow(clippy::unwrap_used)]

use aho_corasick::{AhoCorasick, MatchKind};
use scupper_core::dictation::{Lexicon, Session, interpret};
use scupper_core::survey::spoken::{Segment, Transcript};
use std::hint::black_box;
use std::time::{Duration, Instant};

const SIZE: usize = 1 << 20;
const RUNS: usize = 9;

fn median(mut run: impl FnMut()) -> Duration {
    run();
    let mut times: Vec<Duration> = (0..RUNS)
        .map(|_| {
            let from = Instant::now();
            run();
            from.elapsed()
        })
        .collect();
    times.sort();
    times[RUNS / 2]
}

fn note(texts: &[&str]) -> Transcript {
    let segments = texts.iter().map(|text| Segment {
        text: (*text).into(),
        ..Segment::default()
    });
    Transcript {
        note_id: "n".into(),
        author: None,
        recorded_at: None,
        segments: segments.collect(),
    }
}

fn main() {
    let lexicon = Lexicon::builtin();
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../fixtures/dictation/clean.json"
    );
    let fixtures: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let notes: Vec<Vec<String>> = fixtures
        .as_array()
        .unwrap()
        .iter()
        .map(|d| serde_json::from_value(d["text"].clone()).unwrap())
        .collect();
    let text = notes.concat().join(" ");
    let text = text.repeat(SIZE / text.len() + 1);

    let scan = AhoCorasick::builder()
        .match_kind(MatchKind::LeftmostLongest)
        .ascii_case_insensitive(true)
        .build(lexicon.phrases())
        .unwrap();
    let bare = median(|| {
        black_box(scan.find_iter(black_box(&text)).count());
    });
    let whole = note(&[&text]);
    let full = median(|| {
        black_box(interpret(black_box(&whole), lexicon));
    });
    let speed = |time: Duration| text.len() as f64 / 1e6 / time.as_secs_f64();
    println!(
        "{} phrases, {} bytes, {} matches",
        lexicon.phrases().count(),
        text.len(),
        scan.find_iter(&text).count()
    );
    println!("bare scan {bare:?} ({:.0} MB/s)", speed(bare));
    println!("interpret {full:?} ({:.0} MB/s)", speed(full));
    println!("ratio {:.1}", full.as_secs_f64() / bare.as_secs_f64());

    let mut times = Vec::new();
    for _ in 0..20 {
        for texts in &notes {
            let mut session = Session::new("n", &[], lexicon);
            for (text, n) in texts.iter().zip(0u64..) {
                let segment = Segment {
                    start_ms: n * 1000,
                    end_ms: n * 1000 + 900,
                    text: text.clone(),
                    ..Segment::default()
                };
                let from = Instant::now();
                black_box(session.feed(segment));
                times.push(from.elapsed());
            }
        }
    }
    times.sort();
    println!(
        "one segment: p50 {:?}, p99 {:?}",
        times[times.len() / 2],
        times[times.len() * 99 / 100]
    );
}
