//! Bytes from outside, made wrong: a seeded generator bends good examples and hands them to
//! whatever reads such bytes. A panic, a hang or a broken promise is a finding.
//!
//! No coverage guides it, so it is a stable toolchain's alternative to a fuzzer, not a rival; a
//! seed and a number name each input for good. The `fuzz` binary runs it for long, a test for
//! a moment.

mod bend;
mod office;
mod targets;

pub use bend::{Bend, Dice};
pub use targets::{Reader, TARGETS, Target, named};

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

/// What came of a run.
#[derive(Debug, Default)]
pub struct Report {
    /// Inputs tried.
    pub tried: u64,
    /// Inputs that the reader took.
    pub taken: u64,
    /// The longest that one input took.
    pub slowest: Duration,
    /// Inputs that made it panic, with what it said.
    pub findings: Vec<(Vec<u8>, String)>,
}

/// Most findings that a run collects.
const ENOUGH: usize = 5;

/// Tries a target until `goes_on` says no.
pub fn run(target: &Target, seed: u64, mut goes_on: impl FnMut(&Report) -> bool) -> Report {
    let corpus = (target.corpus)();
    let mut read = (target.reader)();
    let mut report = Report::default();
    let mut bend = Bend::new(seed, &corpus);
    // The good ones first, as they are.
    let mut good = corpus.iter().cloned();
    while report.findings.len() < ENOUGH && goes_on(&report) {
        let input = good.next().unwrap_or_else(|| bend.next());
        let began = Instant::now();
        match catch_unwind(AssertUnwindSafe(|| read(&input))) {
            Ok(taken) => {
                report.taken += u64::from(taken);
                // What was taken bends further.
                if taken {
                    bend.keep(input);
                }
            }
            Err(panic) => {
                let said = panic.downcast_ref::<String>().cloned();
                let said = said.or_else(|| panic.downcast_ref::<&str>().map(|s| (*s).to_owned()));
                report.findings.push((input, said.unwrap_or_default()));
                // What it was at when it panicked is not to be trusted.
                read = (target.reader)();
            }
        }
        report.tried += 1;
        report.slowest = report.slowest.max(began.elapsed());
    }
    report
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reader_that_panics_is_found_with_its_input() {
        let target = Target {
            name: "brittle",
            corpus: || vec![b"{\"a\": 1}".to_vec()],
            reader: || {
                Box::new(|bytes| {
                    assert!(!bytes.contains(&0xff), "stumbled");
                    true
                })
            },
        };
        let report = run(&target, 1, |report| report.tried < 2_000);
        let (input, said) = &report.findings[0];
        assert!(input.contains(&0xff) && said.contains("stumbled"), "{said}");
    }
}
