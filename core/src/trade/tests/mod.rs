//! Boundary words, each at, just below and just above; and what a missing input gives.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod electrical;
mod others;
mod roof;

use super::*;

pub(super) const USUAL: &Limits = &Limits::USUAL;

#[track_caller]
pub(super) fn table<const N: usize>(rule: impl Fn(f64) -> Outcome, rows: [(f64, Verdict); N]) {
    for (value, expected) in rows {
        let outcome = rule(value);
        assert_eq!(outcome.verdict, expected, "at {value}: {}", outcome.because);
    }
}

#[test]
fn every_rule_is_in_the_contract_or_said_to_be_added() {
    let ids: Vec<&str> = RULES.iter().map(|r| r.id).collect();
    for id in "disconnect-ampacity overcurrent-max overcurrent-standard-size nameplate-mca-recomputed \
               disconnect-in-sight working-space-depth receptacle-25ft voltage-unbalance edge-distance \
               edge-guard-10ft opening-guarded ladder-extension ladder-fixed-over-24ft access-over-16ft \
               intake-separation trap-depth condensate-drain-size filter-face-velocity service-life \
               refrigerant-leak-rule hose-reach"
        .split_whitespace()
    {
        assert!(ids.contains(&id), "{id}");
    }
    let mut sorted = ids.clone();
    sorted.sort_unstable();
    sorted.dedup();
    assert_eq!(sorted.len(), ids.len(), "an id is used twice");
}

#[test]
fn the_page_of_rules_is_up_to_date() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/rules.md");
    let page = std::fs::read_to_string(path).unwrap();
    assert!(
        page == rules_page(Profile::builtin()),
        "run: cargo run -p scupper-core --example rules_page > docs/rules.md"
    );
}
