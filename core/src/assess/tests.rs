//! Whole surveys with verdicts worked out by hand.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::survey::read::survey_from_json;
use crate::trade::Verdict;

fn assessed(json: &str) -> Assessment {
    assess(&survey_from_json(json).unwrap(), &AssessOptions::default())
}

const CONTRACT: &str = r#"{"survey_id": "s-1", "site": {"name": "n", "roof": {
   "height_ft": 24, "slope_rise_in_12": 0.25, "membrane": "modified_bitumen",
   "outline_ft": [[0,0],[120,0],[120,80],[0,80]],
   "edges": [{"from": 0, "parapet_in": 8}, {"from": 1, "parapet_in": 42}],
   "openings": [{"kind": "skylight", "at_ft": [60,40], "size_ft": [4,4], "guarded": false}],
   "access": {"kind": "portable_ladder", "at_ft": [0,10], "climb_ft": 24, "extends_ft": 3, "ladder_safety_system": false},
   "water_sources": [{"at_ft": [0,0], "at_grade": true}],
   "receptacles": [{"at_ft": [50,20], "gfci": true}],
   "air_points": [{"kind": "plumbing_vent", "at_ft": [20,22], "height_ft": 1.0}]}},
 "equipment": [{"id": "u-1", "tag": "RTU-2", "kind": "packaged_rooftop_unit",
   "at_ft": [30,20], "size_ft": [8,5], "service_sides": ["N","E"],
   "outdoor_air_side": "W", "airflow_cfm": 2000,
   "nameplate": {"voltage_v": 240, "phase": 1, "mca_a": 24, "mocp_a": 30, "loads": {"largest_motor_rla_a": 14.1, "other_a": [1.4, 3.0]}},
   "disconnect": {"rating_a": 30, "fuse_a": null, "distance_ft": 3, "in_sight": true},
   "readings": {"line_voltage_v": [238, 241, 236]},
   "condensate": {"trap_depth_in": 2.0, "static_in_wg": -1.5, "drain_size_in": 0.75},
   "filters": [{"width_in": 20, "height_in": 25, "depth_in": 2, "quantity": 4}],
   "belts": [{"designation": "A42", "quantity": 1}]}]}"#;

#[track_caller]
fn verdict(assessment: &Assessment, rule: &str, about: &str) -> Verdict {
    let mut found = assessment
        .checks
        .iter()
        .filter(|c| c.rule == rule && c.about == about);
    let check = found
        .next()
        .unwrap_or_else(|| panic!("no {rule} of {about}"));
    assert!(found.next().is_none(), "two {rule} of {about}");
    check.verdict
}

#[test]
fn the_contracts_example() {
    use Verdict::{Advise, Fail, Pass, Unknown};
    let assessment = assessed(CONTRACT);
    for (rule, about, expected) in [
        ("disconnect-ampacity", "RTU-2", Pass),
        ("overcurrent-max", "RTU-2", Unknown),
        ("overcurrent-standard-size", "RTU-2", Unknown),
        ("nameplate-mca-recomputed", "RTU-2", Pass),
        ("disconnect-in-sight", "RTU-2", Pass),
        ("working-space-depth", "RTU-2", Pass),
        ("receptacle-25ft", "RTU-2", Pass),
        ("voltage-unbalance", "RTU-2", Advise),
        ("edge-distance", "RTU-2", Pass),
        ("edge-guard-10ft", "RTU-2", Pass),
        ("opening-guarded", "site", Fail),
        ("ladder-extension", "site", Pass),
        ("access-over-16ft", "site", Fail),
        ("intake-separation", "RTU-2", Fail),
        ("trap-depth", "RTU-2", Pass),
        ("condensate-drain-size", "RTU-2", Unknown),
        ("filter-face-velocity", "RTU-2", Pass),
        ("service-life", "RTU-2", Unknown),
        ("refrigerant-leak-rule", "RTU-2", Unknown),
        ("hose-reach", "RTU-2", Pass),
    ] {
        assert_eq!(verdict(&assessment, rule, about), expected, "{rule}");
    }
    let ampacity = assessment
        .checks
        .iter()
        .find(|c| c.rule == "disconnect-ampacity")
        .unwrap();
    assert_eq!(ampacity.measured.as_ref().unwrap().value, 30.0);
    assert_eq!(ampacity.required.as_ref().unwrap().at_least, Some(24.0));
    assert_eq!(ampacity.source.section, "440.12");
}
