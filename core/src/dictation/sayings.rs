//! Single sentences behind the name of a unit, as technicians say them, and what each tells: parts
//! with their conditions, or a danger.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::said::{note, told};
use super::{Interpretation, Lexicon, interpret};

const FINDINGS: &str = include_str!("../../../fixtures/dictation/sayings.txt");
const DANGERS: &str = include_str!("../../../fixtures/dictation/dangers.txt");

/// The sentences of a file, and what each tells.
fn rows(file: &str) -> impl Iterator<Item = (&str, &str)> {
    let lines = file.lines().filter(|line| !line.starts_with('#'));
    lines.map(|line| line.split_once(" | ").unwrap())
}

fn heard(said: &str) -> Interpretation {
    interpret(&note(&format!("RTU-1.|{said}")), Lexicon::builtin())
}

#[test]
fn each_sentence_tells_its_findings() {
    let mut missed = Vec::new();
    for (said, wanted) in rows(FINDINGS) {
        let heard = heard(said);
        let found = heard.findings.iter().map(|f| {
            let told = format!("{} {}", told(f), f.certainty.code());
            told.replace(" observed", "")
        });
        let found: Vec<String> = found.collect();
        let all = wanted.split("; ").all(|one| found.iter().any(|f| f == one));
        if !all {
            missed.push((said, found));
        }
    }
    assert!(missed.is_empty(), "{missed:#?}");
}

#[test]
fn each_sentence_tells_its_danger() {
    for (said, wanted) in rows(DANGERS) {
        let found = heard(said).hazards.into_iter().map(|h| match h.about {
            Some(unit) => format!("{} {unit}", h.kind.code()),
            None => h.kind.code().to_owned(),
        });
        assert_eq!(found.collect::<Vec<_>>(), [wanted], "{said}");
    }
}
