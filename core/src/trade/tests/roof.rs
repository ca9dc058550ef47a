//! Edges, guards, openings, ladders.

use super::{USUAL, table};
use crate::survey::codes::*;
use crate::survey::units::*;
use crate::trade::Verdict::{Advise, Fail, Pass, Unknown};
use crate::trade::falls::EdgeSeen;
use crate::trade::*;

fn edge(ft: f64, drop_ft: Option<f64>, parapet_in: Option<f64>) -> Vec<EdgeSeen> {
    vec![EdgeSeen {
        name: "west edge".to_owned(),
        field: "site.roof.edges[0].parapet_in".to_owned(),
        distance: SpanFt::exact(ft),
        parapet: parapet_in.map(Inches::of),
        drop: drop_ft.map(Feet::of),
    }]
}

#[test]
fn falls() {
    table(
        |ft| falls::edge_distance(&edge(ft, Some(20.0), Some(8.0)), None),
        [
            (0.0, Fail),
            (5.999, Fail),
            (6.0, Advise),
            (14.999, Advise),
            (15.0, Pass),
            (15.001, Pass),
        ],
    );
    // A drop of 4 ft or more is a fall; an unknown one too.
    table(
        |drop| falls::edge_distance(&edge(1.0, Some(drop), None), None),
        [(3.999, Pass), (4.0, Fail), (4.001, Fail)],
    );
    assert_eq!(
        falls::edge_distance(&edge(1.0, None, None), None).verdict,
        Fail
    );
    // 39 in and more guards.
    table(
        |parapet| falls::edge_distance(&edge(1.0, Some(20.0), Some(parapet)), None),
        [(38.999, Fail), (39.0, Pass), (39.001, Pass)],
    );
    // On a slope of more than 4 in 12 distance alone does not pass.
    table(
        |rise| falls::edge_distance(&edge(20.0, Some(20.0), None), Some(RiseIn12::of(rise))),
        [(3.999, Pass), (4.0, Pass), (4.001, Advise)],
    );
    let outcome = falls::edge_distance(&edge(3.0, Some(20.0), None), None);
    assert_eq!(outcome.needs, ["site.roof.edges[0].parapet_in"]);
    // Rough positions: both readings, and unknown only where the boundary lies between them.
    for (low, high, expected) in [
        (2.0, 5.9, Fail),
        (5.0, 7.0, Unknown),
        (6.0, 14.0, Advise),
        (14.0, 15.0, Unknown),
        (15.0, 40.0, Pass),
    ] {
        let mut rough = edge(0.0, Some(20.0), Some(8.0));
        rough[0].distance = SpanFt { low, high };
        let outcome = falls::edge_distance(&rough, None);
        assert_eq!(outcome.verdict, expected, "{low} to {high}");
        if expected == Unknown {
            assert!(outcome.because.contains(&num(low)) && outcome.because.contains(&num(high)));
        }
    }
}

#[test]
fn guards_by_the_mechanical_code() {
    table(
        |ft| guards::edge_guard(&edge(ft, Some(20.0), Some(8.0)), USUAL),
        [(9.999, Fail), (10.0, Fail), (10.001, Pass)],
    );
    table(
        |drop_in| guards::edge_guard(&edge(5.0, Some(drop_in / 12.0), Some(8.0)), USUAL),
        [(29.9, Pass), (30.0, Pass), (30.1, Fail)],
    );
    table(
        |parapet| guards::edge_guard(&edge(5.0, Some(20.0), Some(parapet)), USUAL),
        [(38.9, Fail), (39.0, Advise), (41.9, Advise), (42.0, Pass)],
    );
    assert_eq!(
        guards::edge_guard(&edge(5.0, None, Some(8.0)), USUAL).verdict,
        Unknown
    );
    assert_eq!(
        guards::edge_guard(&edge(5.0, None, Some(42.0)), USUAL).verdict,
        Pass
    );
    assert_eq!(guards::edge_guard(&[], USUAL).verdict, Pass);
}

#[test]
fn openings() {
    for kind in [OpeningKind::Skylight, OpeningKind::Hatch, OpeningKind::Hole] {
        table(
            |drop| falls::opening_guarded(kind, Some(false), Some(Feet::of(drop))),
            [(3.999, Pass), (4.0, Fail), (4.001, Fail)],
        );
        assert_eq!(
            falls::opening_guarded(kind, Some(false), None).verdict,
            Fail
        );
        assert_eq!(falls::opening_guarded(kind, None, None).verdict, Unknown);
        assert_eq!(falls::opening_guarded(kind, Some(true), None).verdict, Pass);
    }
}

#[test]
fn ladders_and_access() {
    use AccessKind::{FixedLadder, Hatch, PortableLadder, Stair};
    table(
        |ft| ladders::extension(Some(PortableLadder), Some(Feet::of(ft))).unwrap(),
        [(2.999, Fail), (3.0, Pass), (3.001, Pass)],
    );
    table(
        |inches| ladders::extension(Some(FixedLadder), Some(Inches::of(inches).feet())).unwrap(),
        [(41.9, Fail), (42.0, Pass), (42.1, Pass)],
    );
    table(
        |climb| {
            ladders::fixed_over_24(Some(FixedLadder), Some(Feet::of(climb)), None, Some(false))
                .unwrap()
        },
        [(23.999, Pass), (24.0, Pass), (24.001, Fail)],
    );
    for kind in [Hatch, Stair] {
        assert_eq!(ladders::extension(Some(kind), None), None);
        assert_eq!(ladders::fixed_over_24(Some(kind), None, None, None), None);
    }
    table(
        |height| ladders::access_over_16(Some(PortableLadder), Some(Feet::of(height)), None, USUAL),
        [(15.999, Pass), (16.0, Pass), (16.001, Fail)],
    );
    assert_eq!(
        ladders::access_over_16(Some(FixedLadder), None, None, USUAL).verdict,
        Pass
    );
    assert_eq!(
        ladders::access_over_16(Some(PortableLadder), None, Some(Feet::of(24.0)), USUAL).verdict,
        Fail
    );
    assert_eq!(
        ladders::access_over_16(Some(PortableLadder), None, Some(Feet::of(12.0)), USUAL).verdict,
        Unknown
    );
    assert_eq!(
        ladders::access_over_16(None, Some(Feet::of(12.0)), None, USUAL).verdict,
        Pass
    );
}
