//! Prints how long a whole assessment, its quote and the plan take for 50, 500 and 5,000 units on
//! 20 roofs, with six findings and two photos each.
//!
//! `cargo run --release -p scupper-core --example assess_speed`

use scupper_core::assess::{AssessOptions, assess};
use scupper_core::plan::{DrawOptions, draw};
use scupper_core::quote::{RateBook, quote};
use scupper_core::survey::Survey;
use scupper_core::survey::read::survey_from_json;
use std::time::{Duration, Instant};

const ROOFS: usize = 20;
/// What is found at every unit.
const FOUND: [(&str, &str); 6] = [
    ("outdoor_air_screen", "torn"),
    ("condenser_coil", "hail_dented"),
    ("filter", "dirty"),
    ("belt", "frayed"),
    ("cabinet", "rusted"),
    ("access_panel", "loose"),
];

/// Units in rows 14 ft apart on roofs that grow with them.
fn survey(units: usize) -> Result<Survey, Box<dyn std::error::Error>> {
    let each = units.div_ceil(ROOFS);
    let side = (each as f64).sqrt().ceil().max(2.0);
    let extent = 20.0 + 14.0 * side;
    let mut roofs = Vec::new();
    let (mut equipment, mut findings, mut photos) = (Vec::new(), Vec::new(), Vec::new());
    for r in 0..ROOFS {
        let (x, y) = (
            (r % 5) as f64 * (extent + 30.0),
            (r / 5) as f64 * (extent + 30.0),
        );
        let at = |dx: f64, dy: f64| serde_json::json!([x + dx, y + dy]);
        roofs.push(serde_json::json!({
            "id": format!("r{r}"), "height_ft": 20 + r, "slope_rise_in_12": 0.25,
            "outline_ft": [at(0.0, 0.0), at(extent, 0.0), at(extent, extent * 0.6), at(extent * 0.8, extent * 0.6), at(extent * 0.8, extent), at(0.0, extent)],
            "edges": [{"from": 0, "parapet_in": 8}, {"from": 1, "parapet_in": 42}],
            "openings": [{"kind": "skylight", "at_ft": at(extent / 2.0, 8.0), "size_ft": [4, 4], "guarded": false}],
            "obstacles": [{"outline_ft": [at(20.0, 18.0), at(24.0, 18.0), at(24.0, 21.0), at(20.0, 21.0)]}],
            "access": {"kind": "hatch", "at_ft": at(5.0, 5.0)},
            "water_sources": [{"at_ft": at(1.0, 1.0)}], "receptacles": [{"at_ft": at(9.0, 9.0)}],
            "air_points": [{"kind": "exhaust_class_2", "at_ft": at(12.0, 6.0), "height_ft": 2}],
        }));
        for k in 0..each.min(units - equipment.len().min(units)) {
            let (column, row) = ((k as f64) % side, (k as f64 / side).floor());
            equipment.push(serde_json::json!({
                "id": format!("u-{r}-{k}"), "tag": format!("RTU-{}", equipment.len() + 1), "kind": "packaged_rooftop_unit",
                "at_ft": at(14.0 + 14.0 * column, 14.0 + 14.0 * row), "size_ft": [8, 5],
                "service_sides": ["N", "E"], "outdoor_air_side": "W", "airflow_cfm": 2000,
                "nameplate": {"voltage_v": 460, "phase": 3, "mca_a": 24, "mocp_a": 30, "loads": {"largest_motor_rla_a": 14.1, "other_a": [1.4, 3]}},
                "disconnect": {"rating_a": 30, "distance_ft": 3, "in_sight": true},
                "readings": {"line_voltage_v": [458, 461, 456]},
                "filters": [{"width_in": 20, "height_in": 25, "depth_in": 2, "quantity": 4}], "belts": [{"designation": "A42", "quantity": 2}],
            }));
        }
    }
    for k in 1..=units {
        let tag = format!("RTU-{k}");
        for (n, (component, condition)) in FOUND.iter().enumerate() {
            findings.push(serde_json::json!({"id": format!("f-{k}-{n}"), "ref": tag, "component": component,
                "condition": condition, "severity": "minor", "remark": "seen from outside, panel shut"}));
        }
        for n in 0..2 {
            photos.push(serde_json::json!({"id": format!("p-{k}-{n}"), "ref": tag, "caption": format!("The belt, {n}")}));
        }
    }
    let main = roofs.remove(0);
    let json = serde_json::json!({"survey_id": "speed", "surveyed_on": "2026-04-14",
        "site": {"name": "speed", "roof": main, "more_roofs": roofs}, "equipment": equipment, "findings": findings, "photos": photos});
    Ok(survey_from_json(&json.to_string())?)
}

/// Median of several runs.
fn median(mut run: impl FnMut()) -> Duration {
    let mut times: Vec<Duration> = (0..9)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed()
        })
        .collect();
    times.sort();
    times.get(4).copied().unwrap_or_default()
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    println!("units  checks  assess (median of 9)  each unit  quote  drawing");
    let book = RateBook::builtin_example();
    for units in [50, 500, 5_000] {
        let survey = survey(units)?;
        let options = AssessOptions::default();
        let checks = assess(&survey, &options).checks.len();
        let time = median(|| {
            std::hint::black_box(assess(&survey, &options));
        });
        let assessment = assess(&survey, &options);
        let priced = median(|| {
            std::hint::black_box(quote(&survey, &assessment, &book));
        });
        let drawing = median(|| {
            std::hint::black_box(draw(&survey, &DrawOptions::default()));
        });
        println!(
            "{units:5}  {checks:6}  {:17.2} ms  {:6.1} us  {:6.2} ms  {:5.1} ms",
            time.as_secs_f64() * 1e3,
            time.as_secs_f64() * 1e6 / units as f64,
            priced.as_secs_f64() * 1e3,
            drawing.as_secs_f64() * 1e3,
        );
    }
    Ok(())
}
