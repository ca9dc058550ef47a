//! Power outlets, air, water, drains, filters, age, refrigerant, belts, conduit, hail.

use super::{USUAL, table};
use crate::survey::codes::*;
use crate::survey::units::*;
use crate::trade::Verdict::{Advise, Fail, Pass, Unknown};
use crate::trade::*;
use chrono::NaiveDate;

#[test]
fn power_air_and_water() {
    table(
        |ft| receptacle::within_25_ft(Some(SpanFt::exact(ft)), None, USUAL),
        [(24.9, Pass), (25.0, Pass), (25.1, Fail)],
    );
    let vent = |ft: f64, height: Option<f64>, intake: Option<f64>| {
        let outlet = air::OutletSeen {
            name: "plumbing vent".to_owned(),
            kind: Some(crate::survey::codes::AirPointKind::PlumbingVent),
            distance: SpanFt::exact(ft),
            height: height.map(Feet::of),
            own: false,
        };
        air::separation(&[outlet], intake.map(Feet::of)).verdict
    };
    for (ft, height, intake, expected) in [
        (8.0, Some(5.0), Some(2.0), Pass),
        (8.0, Some(4.9), Some(2.0), Fail),
        (2.9, Some(9.0), Some(2.0), Fail),
        (3.0, Some(5.0), Some(2.0), Pass),
        (8.0, Some(2.9), None, Fail),
        (8.0, Some(3.0), None, Unknown),
        (8.0, None, Some(1.0), Unknown),
        (10.0, None, None, Pass),
        (2.9, None, None, Fail),
    ] {
        assert_eq!(
            vent(ft, height, intake),
            expected,
            "{ft} {height:?} {intake:?}"
        );
    }
    assert!(air::code_intake_clear(Feet::of(10.0), Feet::of(0.0)));
    assert!(air::code_intake_clear(Feet::of(8.0), Feet::of(3.0)));
    assert!(!air::code_intake_clear(Feet::of(8.0), Feet::of(2.5)));
    table(
        |ft| {
            water::hose_reach(
                &[water::HoseRun {
                    length: SpanFt::exact(ft),
                    rise: Some(Feet::of(0.0)),
                }],
                None,
            )
        },
        [
            (100.0, Pass),
            (100.1, Advise),
            (150.0, Advise),
            (150.1, Fail),
        ],
    );
}

#[test]
fn drains_filters_age_and_refrigerant() {
    table(
        |seal| condensate::trap_depth(Some(Inches::of(seal)), Some(InWg::of(-2.0))),
        [(1.49, Fail), (1.5, Pass), (1.51, Pass)],
    );
    for (tons, size) in [(20.0, 0.75), (20.1, 1.0), (250.0, 2.0)] {
        assert_eq!(
            condensate::required_drain(Tons::of(tons)).map(Inches::get),
            Some(size)
        );
    }
    assert_eq!(condensate::required_drain(Tons::of(250.1)), None);
    assert_eq!(condensate::drain_fall(Feet::of(20.0)).get(), 2.5);
    let filter = |depth: f64| {
        vec![crate::survey::Filter {
            width_in: Inches::of(24.0),
            height_in: Inches::of(24.0),
            depth_in: Inches::of(depth),
            quantity: 1,
        }]
    };
    // 4 ft2 of face.
    table(
        |cfm| filters::face_velocity(&filter(2.0), Some(Cfm::of(cfm)), None),
        [(2000.0, Pass), (2001.0, Advise)],
    );
    table(
        |cfm| filters::face_velocity(&filter(1.0), Some(Cfm::of(cfm)), None),
        [(1200.0, Pass), (1201.0, Advise)],
    );
    for (made, expected) in [(2012, Pass), (2011, Pass), (2010, Advise), (2027, Unknown)] {
        let outcome =
            service_life::standing(EquipmentKind::PackagedRooftopUnit, Some(made), Some(2026));
        assert_eq!(outcome.unwrap().verdict, expected, "{made}");
    }
    let day = |y, m, d| NaiveDate::from_ymd_opt(y, m, d);
    for (kind, name, lb, on, expected) in [
        (
            EquipmentKind::PackagedRooftopUnit,
            "R-22",
            49.9,
            day(2026, 4, 1),
            Pass,
        ),
        (
            EquipmentKind::PackagedRooftopUnit,
            "R-22",
            50.0,
            day(2026, 4, 1),
            Advise,
        ),
        (
            EquipmentKind::AirCooledChiller,
            "r410a",
            14.9,
            day(2026, 4, 1),
            Pass,
        ),
        (
            EquipmentKind::AirCooledChiller,
            "HFC-410A",
            15.0,
            day(2026, 1, 1),
            Advise,
        ),
        (
            EquipmentKind::AirCooledChiller,
            "R-410A",
            15.0,
            day(2025, 12, 31),
            Pass,
        ),
        (
            EquipmentKind::AirCooledChiller,
            "R-290",
            400.0,
            day(2026, 4, 1),
            Pass,
        ),
        (
            EquipmentKind::AirCooledChiller,
            "R-999",
            400.0,
            day(2026, 4, 1),
            Unknown,
        ),
    ] {
        let outcome = refrigerant::leak_rule(kind, Some(name), Some(Pounds::of(lb)), on);
        assert_eq!(
            outcome.verdict, expected,
            "{name} {lb}: {}",
            outcome.because
        );
    }
    let rate =
        |lb, days| refrigerant::annualized_rate(Pounds::of(lb), Pounds::of(60.0), days).unwrap();
    assert_eq!(rate(6.0, 500).get(), 10.0);
    assert!(!refrigerant::Use::ComfortCooling.exceeded_by(rate(6.0, 500)));
    assert!(refrigerant::Use::ComfortCooling.exceeded_by(rate(6.0, 364)));
    assert_eq!(
        refrigerant::annualized_rate(Pounds::of(1.0), Pounds::of(60.0), 0),
        None
    );
    let rolling = refrigerant::rolling_rate(&[Pounds::of(3.0), Pounds::of(4.0)], Pounds::of(60.0));
    assert!((rolling.unwrap().get() - 11.666_667).abs() < 1e-9);
}

#[test]
fn blends_come_from_their_parts() {
    for (name, parts) in [
        ("R-410A", &[(0.5, 675.0), (0.5, 3500.0)][..]),
        (
            "R-407C",
            &[(0.23, 675.0), (0.25, 3500.0), (0.52, 1430.0)][..],
        ),
        (
            "R-407A",
            &[(0.20, 675.0), (0.40, 3500.0), (0.40, 1430.0)][..],
        ),
        ("R-454B", &[(0.689, 675.0), (0.311, 4.0)][..]),
    ] {
        assert_eq!(
            refrigerant::blend_gwp(parts),
            refrigerant::find(name).unwrap().gwp,
            "{name}"
        );
    }
}

#[test]
fn conduit_belts_filters_and_hail() {
    for (size, most) in [
        (0.75, 36.0),
        (1.25, 36.0),
        (1.5, 48.0),
        (2.0, 48.0),
        (2.5, 60.0),
    ] {
        assert!(
            conduit::whip_within_limit(Inches::of(size), Inches::of(most)),
            "{size}"
        );
        assert!(
            !conduit::whip_within_limit(Inches::of(size), Inches::of(most + 0.1)),
            "{size}"
        );
    }
    assert!(conduit::metal_supported(Inches::of(12.0), Inches::of(54.0)));
    assert!(!conduit::metal_supported(
        Inches::of(12.1),
        Inches::of(54.0)
    ));
    assert!(!conduit::nonmetallic_supported(
        Inches::of(12.0),
        Inches::of(36.1)
    ));
    for (read, cross) in [
        ("A50", Some("4L520")),
        ("5l 450", Some("B42")),
        ("b-42", Some("5L450")),
        ("4L465", None),
        ("AX60", None),
    ] {
        let belt = belts::Designation::read(read).unwrap();
        assert_eq!(
            belt.cross().map(|b| b.to_string()).as_deref(),
            cross,
            "{read}"
        );
    }
    for odd in ["", "A", "42", "A42X", "Q10", "A0", "A99999999999"] {
        assert_eq!(belts::Designation::read(odd), None, "{odd}");
    }
    let filter = |w: f64, h: f64, quantity| crate::survey::Filter {
        width_in: Inches::of(w),
        height_in: Inches::of(h),
        depth_in: Inches::of(2.0),
        quantity,
    };
    let order = filters::order_list(&[
        filter(20.0, 16.0, 2),
        filter(16.0, 20.0, 4),
        filter(16.0, 25.0, 1),
    ]);
    let lines: Vec<_> = order
        .iter()
        .map(|l| (l.width.get(), l.height.get(), l.quantity))
        .collect();
    assert_eq!(lines, [(16.0, 20.0, 6), (16.0, 25.0, 1)]);
    for (depth, share, expected) in [
        (0.1, 90.0, hail::HailClass::Minor),
        (0.125, 30.0, hail::HailClass::Moderate),
        (0.25, 29.9, hail::HailClass::Moderate),
        (0.25, 30.0, hail::HailClass::Severe),
    ] {
        assert_eq!(hail::class(Inches::of(depth), Percent::of(share)), expected);
    }
}
