//! Switches, fuses, nameplates, supply, working space.

use super::{USUAL, table};
use crate::survey::codes::*;
use crate::survey::units::*;
use crate::trade::Verdict::{Advise, Fail, Pass, Unknown};
use crate::trade::workspace::{Facing, SideSeen};
use crate::trade::*;

#[test]
fn switches_and_fuses() {
    let amps = |a: f64| Some(Amps::of(a));
    table(
        |rating| disconnect::ampacity(amps(rating), amps(24.0), None, true),
        [(23.9, Fail), (24.0, Pass), (24.1, Pass)],
    );
    // 115 % of 24 + 3 A is 31.05 A, more than the MCA of 30 A.
    let loads = disconnect::loads(24.0, &[3.0]);
    table(
        |rating| disconnect::ampacity(amps(rating), amps(30.0), Some(&loads), true),
        [(30.0, Fail), (31.0, Fail), (31.05, Pass), (60.0, Pass)],
    );
    assert_eq!(
        disconnect::smallest_frame(&[Amps::of(24.0), Amps::of(3.0)]).map(Amps::get),
        Some(60.0)
    );
    assert_eq!(
        disconnect::smallest_frame(&[Amps::of(26.0)]).map(Amps::get),
        Some(30.0)
    );
    table(
        |fuse| overcurrent::max(amps(fuse), amps(45.0), None),
        [(44.9, Pass), (45.0, Pass), (45.1, Fail)],
    );
    table(
        |ft| disconnect::in_sight(Some(true), Some(Feet::of(ft)), true),
        [(49.9, Pass), (50.0, Pass), (50.1, Fail)],
    );
    assert_eq!(disconnect::in_sight(Some(false), None, true).verdict, Fail);
    assert_eq!(
        disconnect::in_sight(None, Some(Feet::of(50.1)), true).verdict,
        Fail
    );
    table(
        |fuse| overcurrent::standard_size(amps(fuse)),
        [
            (6.0, Advise),
            (15.0, Pass),
            (17.5, Advise),
            (33.0, Fail),
            (600.0, Pass),
            (601.0, Advise),
            (602.0, Fail),
        ],
    );
    for (raw, down) in [
        (5.0, 15.0),
        (15.0, 15.0),
        (59.99, 50.0),
        (60.0, 60.0),
        (99.65, 90.0),
        (100.0, 100.0),
        (124.9, 110.0),
        (601.0, 600.0),
        (699.9, 600.0),
        (799.0, 700.0),
        (801.0, 800.0),
    ] {
        assert_eq!(overcurrent::round_down(Amps::of(raw)).get(), down, "{raw}");
    }
}

#[test]
fn nameplates() {
    let amps = |a: f64| Some(Amps::of(a));
    let loads = disconnect::loads_of_two_circuits(); // 80.65 A
    table(
        |marked| nameplate::mca(amps(marked), Some(&loads)),
        [
            (80.1, Advise),
            (80.15, Pass),
            (80.65, Pass),
            (88.7, Pass),
            (88.8, Advise),
        ],
    );
    table(
        |marked| nameplate::mocp(Amps::of(marked), &loads).unwrap(),
        [(80.0, Pass), (90.0, Pass), (100.0, Advise)],
    );
    // Rounding down would fall below the MCA of 71 A: the first size above it counts.
    let heavy = disconnect::loads(4.0, &[66.0]);
    assert_eq!(
        nameplate::largest_protection(&heavy)
            .unwrap()
            .standard
            .get(),
        80.0
    );
}

#[test]
fn supply_and_working_space() {
    for (percent, expected) in [(1.0, Pass), (1.01, Advise), (5.0, Advise), (5.01, Fail)] {
        // Average 100, one line off by so much, the others sharing it.
        let lines = [
            100.0 + percent,
            100.0 - percent / 2.0,
            100.0 - percent / 2.0,
        ];
        assert_eq!(
            supply::unbalance(&lines.map(Volts::of)).verdict,
            expected,
            "{percent}"
        );
    }
    assert_eq!(supply::unbalance(&[Volts::of(0.0); 3]).verdict, Unknown);
    assert_eq!(supply::derating(Percent::of(5.01)), None);
    let side = |depth: f64, facing: &Facing| {
        vec![SideSeen {
            side: Side::North,
            depth: SpanFt::exact(depth),
            facing: facing.clone(),
        }]
    };
    let (open, case, live) = (
        Facing::Nothing,
        Facing::Grounded("b".into()),
        Facing::Live("b".into()),
    );
    for (line, phase, facing, asked) in [
        (208.0, 3, &open, 3.0),
        (208.0, 3, &case, 3.0),
        (208.0, 3, &live, 3.0),
        (240.0, 1, &live, 3.0),
        (460.0, 3, &open, 3.0),
        (460.0, 3, &case, 3.5),
        (460.0, 3, &live, 4.0),
        (575.0, 3, &live, 4.0),
    ] {
        table(
            |depth| {
                workspace::depth(
                    Some(Volts::of(line)),
                    Some(phase),
                    &side(depth, facing),
                    USUAL,
                )
            },
            [(asked - 0.01, Fail), (asked, Pass), (asked + 0.01, Pass)],
        );
    }
    // A 240 V three-phase supply may have a 208 V leg.
    table(
        |depth| workspace::depth(Some(Volts::of(240.0)), Some(3), &side(depth, &case), USUAL),
        [(2.99, Fail), (3.0, Advise), (3.49, Advise), (3.5, Pass)],
    );
    // The row is chosen by volts to ground, the shock boundary by volts between phases.
    assert_eq!(
        workspace::required_depth(150.0, 3, USUAL).map(Feet::get),
        Some(3.0)
    );
    assert_eq!(
        workspace::required_depth(150.1, 3, USUAL).map(Feet::get),
        Some(4.0)
    );
    assert_eq!(
        workspace::required_depth(601.0, 2, USUAL).map(Feet::get),
        Some(4.0)
    );
    assert_eq!(workspace::required_depth(1000.1, 2, USUAL), None);
    for (volts, restricted) in [(150.0, None), (151.0, Some(12.0)), (208.0, Some(12.0))] {
        let found = supply::shock_boundaries(Volts::of(volts)).unwrap();
        assert_eq!(found.restricted.map(Inches::get), restricted, "{volts}");
    }
    assert_eq!(supply::shock_boundaries(Volts::of(49.9)), None);
}
