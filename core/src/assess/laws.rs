//! Laws that hold for every survey: shifting and turning, room and knowledge only ever help, and
//! nothing panics.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::plan::{DrawOptions, draw};
use crate::survey::read::survey_from_json;
use crate::trade::Verdict;
use proptest::prelude::*;
use serde_json::{Map, Value, json};

const OUTLINES: &[&[[f64; 2]]] = &[
    &[[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0]],
    &[
        [0.0, 0.0],
        [70.0, 0.0],
        [70.0, 25.0],
        [35.0, 25.0],
        [35.0, 60.0],
        [0.0, 60.0],
    ],
    &[
        [5.0, 0.0],
        [60.0, 8.0],
        [66.0, 44.0],
        [20.0, 52.0],
        [-6.0, 30.0],
    ],
];

fn point() -> impl Strategy<Value = [f64; 2]> {
    (-8..75_i32, -8..65_i32).prop_map(|(x, y)| [f64::from(x), f64::from(y)])
}

fn some<T: std::fmt::Debug + Clone + 'static>(values: &'static [T]) -> impl Strategy<Value = T> {
    prop::sample::select(values)
}

fn unit(k: usize) -> impl Strategy<Value = Value> {
    (
        (some(&["packaged_rooftop_unit", "exhaust_fan", "condensing_unit"]), point()),
        (2..12_i32, 2..8_i32),
        prop::sample::subsequence(vec!["N", "E", "S", "W"], 0..=3),
        some(&["N", "E", "S", "W"]),
        (some(&[208, 240, 460]), some(&[1, 3]), 10..90_i32, 15..100_i32),
        (10..110_i32, some(&[15, 20, 33, 60, 601]), 0..60_i32, any::<bool>()),
    )
        .prop_map(move |((kind, at), (w, h), sides, air, (volts, phase, mca, mocp), (rating, fuse, far, seen))| {
            json!({"tag": format!("U-{k}"), "kind": kind, "at_ft": at, "size_ft": [w, h],
                "service_sides": sides, "outdoor_air_side": air, "airflow_cfm": 2000,
                "nameplate": {"voltage_v": volts, "phase": phase, "mca_a": mca, "mocp_a": mocp,
                    "refrigerant": "R-410A", "charge_lb": 16, "capacity_tons": 12, "manufactured_year": 2009,
                    "loads": {"largest_motor_rla_a": 20, "other_a": [3.5, 4]}},
                "disconnect": {"rating_a": rating, "fuse_a": fuse, "distance_ft": far, "in_sight": seen, "voltage_v": 240},
                "readings": {"line_voltage_v": [230, 231, 215]},
                "condensate": {"trap_depth_in": 1, "static_in_wg": -1.5, "drain_size_in": 0.75},
                "filters": [{"width_in": 20, "height_in": 20, "depth_in": 2, "quantity": 2}]})
        })
}

fn survey() -> impl Strategy<Value = Value> {
    (
        some(OUTLINES),
        prop::collection::vec(some(&[Some(0.0), Some(8.0), Some(39.0), Some(42.0), None]), 6),
        some(&[2.0, 3.0, 14.0, 30.0]),
        (prop::collection::vec(point(), 3), prop::collection::vec(point(), 3)),
        (unit(0), unit(1), unit(2)),
        (some(&["portable_ladder", "fixed_ladder", "hatch"]), 10..40_i32, 2..5_i32, any::<bool>()),
    )
        .prop_map(|(outline, parapets, height, (a, b), (u, v, w), (access, climb, above, system))| {
            let edges: Vec<Value> = outline
                .iter()
                .zip(&parapets)
                .enumerate()
                .filter_map(|(i, (_, p))| p.map(|p| json!({"from": i, "parapet_in": p})))
                .collect();
            let box_at = |p: &[f64; 2]| json!([[p[0], p[1]], [p[0] + 4.0, p[1]], [p[0] + 4.0, p[1] + 5.0], [p[0], p[1] + 5.0]]);
            json!({"survey_id": "s", "surveyed_on": "2026-04-14", "site": {"name": "n", "roof": {
                "height_ft": height, "slope_rise_in_12": 0.25, "outline_ft": outline, "edges": edges,
                "openings": [{"kind": "skylight", "at_ft": a[0], "size_ft": [4, 4], "guarded": false}],
                "obstacles": [{"outline_ft": box_at(&a[1])}],
                "access": {"kind": access, "at_ft": [0, 10], "climb_ft": climb, "extends_ft": above, "ladder_safety_system": system},
                "water_sources": [{"at_ft": b[0]}], "receptacles": [{"at_ft": b[1], "gfci": true}],
                "air_points": [{"kind": "exhaust_class_3", "at_ft": a[2], "height_ft": 2}, {"kind": "plumbing_vent", "at_ft": b[2], "height_ft": 1}]}},
                "equipment": [u, v, w]})
        })
}

fn read(value: &Value) -> Survey {
    survey_from_json(&value.to_string()).unwrap()
}

fn verdicts(value: &Value) -> Vec<(String, String, Verdict)> {
    let assessment = assess(&read(value), &AssessOptions::default());
    assessment
        .checks
        .into_iter()
        .map(|c| (c.rule, c.about, c.verdict))
        .collect()
}

/// Applies a turn by quarters and a shift to everything that has a place, a size or a side.
fn moved(value: &Value, quarters: usize, shift: (f64, f64)) -> Value {
    fn pair(v: &Value, f: impl Fn(f64, f64) -> (f64, f64)) -> Value {
        let (x, y) = f(v[0].as_f64().unwrap(), v[1].as_f64().unwrap());
        json!([x, y])
    }
    let place = |v: &Value| {
        pair(v, |mut x, mut y| {
            for _ in 0..quarters {
                (x, y) = (-y, x);
            }
            (x + shift.0, y + shift.1)
        })
    };
    let side = |v: &Value| {
        let names = ["N", "W", "S", "E"];
        let at = names
            .iter()
            .position(|n| *n == v.as_str().unwrap())
            .unwrap();
        json!(names[(at + quarters) % 4])
    };
    fn walk(v: &Value, f: &dyn Fn(&str, &Value) -> Option<Value>) -> Value {
        match v {
            Value::Object(map) => Value::Object(
                map.iter()
                    .map(|(k, v)| (k.clone(), f(k, v).unwrap_or_else(|| walk(v, f))))
                    .collect(),
            ),
            Value::Array(list) => Value::Array(list.iter().map(|v| walk(v, f)).collect()),
            other => other.clone(),
        }
    }
    walk(value, &|key, v| match key {
        "at_ft" => Some(place(v)),
        "outline_ft" => Some(Value::Array(
            v.as_array().unwrap().iter().map(place).collect(),
        )),
        "size_ft" => Some(pair(
            v,
            |x, y| if quarters % 2 == 1 { (y, x) } else { (x, y) },
        )),
        "service_sides" => Some(Value::Array(
            v.as_array().unwrap().iter().map(side).collect(),
        )),
        "outdoor_air_side" => Some(side(v)),
        _ => None,
    })
}

/// The survey with some of its fields left out, chosen by bits.
fn thinned(value: &Value, bits: &mut impl Iterator<Item = bool>) -> Value {
    const NEEDED: &[&str] = &[
        "tag",
        "kind",
        "at_ft",
        "site",
        "equipment",
        "from",
        "width_in",
        "height_in",
        "depth_in",
        "quantity",
    ];
    match value {
        Value::Object(map) => {
            let mut kept = Map::new();
            for (key, v) in map {
                let list = v.as_array().is_some_and(|l| l.iter().all(Value::is_object));
                let drop = bits.next().unwrap_or(false) && !NEEDED.contains(&key.as_str());
                // An obstacle without its outline is not one, so it goes as a whole or not at all.
                let whole = key == "outline_ft" && map.len() == 1;
                if !drop || whole {
                    kept.insert(
                        key.clone(),
                        if list || v.is_object() {
                            thinned(v, bits)
                        } else {
                            v.clone()
                        },
                    );
                }
            }
            Value::Object(kept)
        }
        Value::Array(list) => Value::Array(list.iter().map(|v| thinned(v, bits)).collect()),
        other => other.clone(),
    }
}

/// One leaf replaced by something odd.
fn spoilt(value: &mut Value, mut at: usize, odd: &Value) -> usize {
    match value {
        Value::Object(map) => map.values_mut().for_each(|v| at = spoilt(v, at, odd)),
        Value::Array(list) => list.iter_mut().for_each(|v| at = spoilt(v, at, odd)),
        leaf => {
            if at == 0 {
                *leaf = odd.clone();
            }
            at = at.wrapping_sub(1);
        }
    }
    at
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn shifting_and_turning_change_no_verdict(value in survey(), quarters in 0..4_usize, x in -2000.0..2000.0, y in -2000.0..2000.0) {
        prop_assert_eq!(verdicts(&value), verdicts(&moved(&value, quarters, (x, y))));
    }

    #[test]
    fn room_never_worsens_a_zone(value in survey(), stretch in 1.0..4.0_f64) {
        // All edges move away from the first unit; nothing else changes.
        let at = value["equipment"][0]["at_ft"].clone();
        let mut wider = value.clone();
        for corner in wider["site"]["roof"]["outline_ft"].as_array_mut().unwrap() {
            for k in 0..2 {
                let middle = at[k].as_f64().unwrap();
                corner[k] = json!(middle + (corner[k].as_f64().unwrap() - middle) * stretch);
            }
        }
        let zone = |v: &Value| {
            verdicts(v).into_iter().find(|(rule, about, _)| rule == "edge-distance" && about == "U-0").unwrap().2
        };
        // A unit that overhangs stays where it is while the edge moves from under its middle.
        let survey = read(&value);
        let shape = crate::survey::shape::polygon(&survey.site.roof.as_ref().unwrap().outline_ft).unwrap();
        prop_assume!(geo::Contains::contains(&shape, &geo::Point::from(<[f64; 2]>::from(survey.equipment[0].at_ft.unwrap()))));
        let (before, after) = (zone(&value), zone(&wider));
        // Fail < Advise < Pass; a unit off the roof stays off it.
        prop_assert!(after >= before, "{:?} became {:?}", before, after);
    }

    #[test]
    fn knowing_more_never_turns_fail_into_unknown(value in survey(), bits in prop::collection::vec(prop::bool::weighted(0.3), 400)) {
        let less = thinned(&value, &mut bits.into_iter());
        prop_assume!(survey_from_json(&less.to_string()).is_ok());
        // A unit that an outline shows to be off the roof is no longer judged by its place.
        let off: Vec<String> = verdicts(&value).iter().filter(|v| v.0 == "edge-distance" && v.2 == Verdict::Unknown).map(|v| v.1.clone()).collect();
        let full = verdicts(&value);
        for (rule, about, verdict) in verdicts(&less) {
            if verdict == Verdict::Fail && !off.contains(&about) {
                let more: Vec<_> = full.iter().filter(|v| v.0 == rule && v.1 == about).collect();
                prop_assert!(more.iter().all(|v| v.2 != Verdict::Unknown), "{rule} of {about}");
            }
        }
    }

    #[test]
    fn nothing_panics(value in survey(), leaf in 0..260_usize, odd in prop::sample::select(vec![
        json!(null), json!(0), json!(-1), json!(1e300), json!(-1e300), json!(1e-300), json!(999_999.5), json!(true), json!(""), json!("N"),
        json!([]), json!({}), json!([1e6, -1e6]), json!([[0, 0], [1e6, 0], [1e6, 1e6]]), json!(4_294_967_295_u64), json!("R-410A"),
    ])) {
        let mut value = value;
        spoilt(&mut value, leaf, &odd);
        match survey_from_json(&value.to_string()) {
            Ok(survey) => {
                let assessment = assess(&survey, &AssessOptions::default());
                prop_assert!(serde_json::to_string(&assessment).is_ok());
                prop_assert!(draw(&survey, &DrawOptions::phone()).ends_with("</svg>\n"));
            }
            Err(error) => prop_assert!(!error.place.is_empty() && !error.problem.is_empty()),
        }
    }
}
