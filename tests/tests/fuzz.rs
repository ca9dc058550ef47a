//! Every reader of bytes from outside, for a moment; `cargo run -p scupper-tests --bin fuzz` goes
//! on for as long as one likes.

use scupper_tests::fuzz::{TARGETS, run};

#[test]
fn no_bent_bytes_make_a_reader_panic() {
    for target in TARGETS {
        let report = run(target, 20_260_414, |report| report.tried < 250);
        assert!(
            report.findings.is_empty(),
            "{}: {:?}",
            target.name,
            report.findings
        );
        // The good ones are read, or nothing was tried at all.
        let good = (target.corpus)().len() as u64;
        assert!(
            good > 0 && report.taken > good / 2,
            "{}: {} taken",
            target.name,
            report.taken
        );
        println!(
            "{}: {} inputs, {} taken",
            target.name, report.tried, report.taken
        );
    }
}
