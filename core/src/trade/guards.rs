//! Guards that the mechanical code asks where equipment is near an edge.
//!
//! Counts the equipment's distance (10 ft), never the person's, which is `falls`.

use super::catalogue::{Cite, Rule};
use super::falls::{EdgeSeen, GUARD};
use super::outcome::{Outcome, num, settle};
use super::profile::Limits;
use super::profile::Standard::MechanicalCode;
use super::source::Verdict::{Advise, Fail, Pass};
use crate::survey::units::{Inches, SpanFt};

/// Does equipment near an edge have the guard that the mechanical code asks?
pub const EDGE_GUARD: Rule = Rule {
    id: "edge-guard-10ft",
    title: "Guard where equipment or a hatch is near an edge",
    cite: Cite::published(MechanicalCode, "304.11"),
    applies: "every unit whose place and size are known, and every roof hatch",
    formula: "equipment within 10 ft of an edge with a drop of more than 30 in needs a guard at \
              least 42 in high",
    note: "Measured from the footprint, not from the person. 10 ft exactly is within; 30 in exactly \
           is not more than 30. A parapet of 39 to less than 42 in guards a person under \
           1910.29(b)(1) but falls short here, so it is advised on. Permanent anchors can stand in \
           for a guard (from memory).",
    examples: || {
        let at = |ft: f64, drop_in: f64, parapet: f64| {
            vec![EdgeSeen {
                name: "east edge".to_owned(),
                field: "site.roof.edges[1].parapet_in".to_owned(),
                distance: SpanFt::exact(ft),
                parapet: Some(Inches::of(parapet)),
                drop: Some(Inches::of(drop_in).feet()),
            }]
        };
        vec![
            (
                "9.5 ft away, drop 31 in, parapet 8 in",
                edge_guard(&at(9.5, 31.0, 8.0), &Limits::USUAL),
            ),
            (
                "9.5 ft away, drop 30 in, parapet 8 in",
                edge_guard(&at(9.5, 30.0, 8.0), &Limits::USUAL),
            ),
            (
                "10.5 ft away, drop 200 in, parapet 8 in",
                edge_guard(&at(10.5, 200.0, 8.0), &Limits::USUAL),
            ),
            (
                "5 ft away, drop 200 in, parapet 40 in",
                edge_guard(&at(5.0, 200.0, 40.0), &Limits::USUAL),
            ),
        ]
    },
};

/// The rule [`EDGE_GUARD`]. `edges` are all edges of the roof, seen from the footprint.
pub fn edge_guard(edges: &[EdgeSeen], limits: &Limits) -> Outcome {
    let judged = edges.iter().filter_map(|edge| judge_guard(edge, limits));
    judged
        .min_by(|a, b| {
            (a.verdict, distance(a))
                .partial_cmp(&(b.verdict, distance(b)))
                .unwrap_or(std::cmp::Ordering::Equal)
        })
        .unwrap_or_else(|| {
            Outcome::new(
                Pass,
                format!(
                    "Every edge with a drop of more than {} in has a guard of at least {} in recorded.",
                    num(limits.guard_drop_above_in.get()),
                    num(limits.guard_height_in.get())
                ),
            )
            .more_than(limits.guard_within_ft.get(), "ft")
        })
}

fn distance(outcome: &Outcome) -> f64 {
    outcome.measured.as_ref().map_or(f64::MAX, |q| q.value)
}

/// One edge; none if it needs no guard or has the whole of it.
fn judge_guard(edge: &EdgeSeen, limits: &Limits) -> Option<Outcome> {
    let (limit, most_drop, top) = (
        limits.guard_within_ft.get(),
        limits.guard_drop_above_in.get(),
        limits.guard_height_in.get(),
    );
    let parapet = edge.parapet.map(|p| settle(p.get()));
    if parapet.is_some_and(|p| p >= top) {
        return None;
    }
    let drop = edge.drop.map(|d| settle(d.inches().get()));
    if drop.is_some_and(|d| d <= most_drop) {
        return None;
    }
    let (low, high) = (settle(edge.distance.low), settle(edge.distance.high));
    let near = format!("{} ({})", edge.name, edge.guard_words());
    let fall = drop.map_or("an unknown drop".to_owned(), |d| {
        format!("a drop of {} in", num(d))
    });
    let within = num(limit);
    let outcome = if low > limit {
        Outcome::new(
            Pass,
            format!(
                "The nearest edge without a full guard, the {near}, is {} ft away, more than {within} ft.",
                num(low)
            ),
        )
    } else if high > limit {
        Outcome::unknown(
            format!(
                "The {near} is between {} and {} ft away, by how well the unit's place is known; within {within} ft a guard is asked.",
                num(low),
                num(high)
            ),
            &["at_ft"],
        )
    } else if drop.is_none() {
        Outcome::unknown(
            format!(
                "The {near} is {} ft away, within {within} ft, but its drop is not recorded; more than {} in asks for a guard.",
                num(low),
                num(most_drop)
            ),
            &["site.roof.height_ft"],
        )
    } else if parapet.is_some_and(|p| p >= GUARD.get()) {
        Outcome::new(
            Advise,
            format!(
                "The {near} is {} ft away with {fall}; its guard is short of the {} in asked here.",
                num(low),
                num(top)
            ),
        )
    } else {
        Outcome::new(
            Fail,
            format!(
                "The {near} is {} ft away, within {within} ft, with {fall}, more than {} in, and no guard of {} in was recorded.",
                num(low),
                num(most_drop),
                num(top)
            ),
        )
    };
    let outcome = outcome.measured(low, "ft").more_than(limit, "ft");
    Some(if edge.parapet.is_none() && low <= limit {
        outcome.needing(&[edge.field.as_str()])
    } else {
        outcome
    })
}
