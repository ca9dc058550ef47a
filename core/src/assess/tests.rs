//! Whole surveys with verdicts worked out by hand.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::survey::codes::HazardKind;
use crate::survey::read::survey_from_json;
use crate::trade::{Basis, Verdict};

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

fn check<'a>(assessment: &'a Assessment, rule: &str, about: &str) -> &'a Check {
    verdict(assessment, rule, about);
    let found = assessment
        .checks
        .iter()
        .find(|c| c.rule == rule && c.about == about);
    found.unwrap()
}

/// A survey of one 100 x 60 ft roof 20 ft up, all edges 8 in unless said otherwise.
fn on_roof(roof: &str, equipment: &str) -> Assessment {
    let edges = r#""edges": [{"from": 0, "parapet_in": 8}, {"from": 1, "parapet_in": 8}, {"from": 2, "parapet_in": 8}, {"from": 3, "parapet_in": 8}]"#;
    let edges = if roof.contains("\"edges\"") {
        String::new()
    } else {
        format!("{edges},")
    };
    assessed(&format!(
        r#"{{"survey_id": "s", "surveyed_on": "2026-04-14", "site": {{"name": "n", "roof": {{{edges} {roof}
            "height_ft": 20, "slope_rise_in_12": 0.25, "outline_ft": [[0,0],[100,0],[100,60],[0,60]]}}}},
            "equipment": [{equipment}]}}"#
    ))
}

fn rtu(tag: &str, at: [f64; 2], size: [f64; 2], rest: &str) -> String {
    format!(
        r#"{{"tag": "{tag}", "kind": "packaged_rooftop_unit", "at_ft": {at:?}, "size_ft": {size:?} {rest}}}"#
    )
}

#[test]
fn an_empty_unit_passes_nothing() {
    use crate::survey::codes::EquipmentKind;
    for kind in EquipmentKind::ALL {
        let mut survey = Survey::default();
        survey
            .equipment
            .push(crate::survey::Equipment::new("u", "U-1", *kind));
        let assessment = assess(&survey, &AssessOptions::default());
        assert!(!assessment.checks.is_empty());
        for check in &assessment.checks {
            assert_eq!(check.verdict, Verdict::Unknown, "{kind} {}", check.rule);
            let rule = check.rule.as_str();
            let needed = assessment
                .missing
                .iter()
                .any(|m| m.why.contains(rule) && m.how.is_some());
            assert!(needed, "nothing says how to settle {rule} of a {kind}");
        }
    }
}

#[test]
fn a_unit_at_or_over_an_edge() {
    // The footprint ends 6 ft from the west edge; the person at its west side, 3 ft.
    let west = r#", "service_sides": ["W"]"#;
    let east = r#", "service_sides": ["E"]"#;
    for (x, sides, measured, expected) in [
        (9.0, west, 3.0, Verdict::Fail),
        (12.0, west, 6.0, Verdict::Advise),
        (11.99, west, 5.99, Verdict::Fail),
        (21.0, west, 15.0, Verdict::Pass),
        // Serviced from the east the person stands 6 ft from the west edge at the least.
        (3.0, east, 6.0, Verdict::Advise),
        // Touching the edge, and over it.
        (3.0, west, 0.0, Verdict::Fail),
        (1.0, east, 4.0, Verdict::Fail),
        (-2.0, east, 1.0, Verdict::Fail),
    ] {
        let found = on_roof("", &rtu("RTU-1", [x, 30.0], [6.0, 4.0], sides));
        let found = check(&found, "edge-distance", "RTU-1");
        assert_eq!(found.verdict, expected, "{x}: {}", found.because);
        assert_eq!(found.measured.as_ref().unwrap().value, measured, "{x}");
    }
    // The equipment's own question is another one.
    for (x, expected) in [(13.0, Verdict::Fail), (13.01, Verdict::Pass)] {
        let found = on_roof("", &rtu("RTU-1", [x, 30.0], [6.0, 4.0], ""));
        assert_eq!(verdict(&found, "edge-guard-10ft", "RTU-1"), expected, "{x}");
    }
}

#[test]
fn a_unit_off_the_roof_or_of_unknown_place_is_named() {
    let off = on_roof("", &rtu("RTU-1", [300.0, 30.0], [6.0, 4.0], ""));
    let found = check(&off, "edge-distance", "RTU-1");
    assert_eq!(found.verdict, Verdict::Unknown);
    assert!(
        found.because.contains("outside every roof outline"),
        "{}",
        found.because
    );
    let nowhere = on_roof("", r#"{"tag": "RTU-1", "kind": "packaged_rooftop_unit"}"#);
    assert_eq!(
        verdict(&nowhere, "edge-distance", "RTU-1"),
        Verdict::Unknown
    );
    assert!(
        nowhere
            .missing
            .iter()
            .any(|m| m.about == "RTU-1" && m.field == "at_ft")
    );
    let pointlike = on_roof(
        "",
        r#"{"tag": "RTU-1", "kind": "packaged_rooftop_unit", "at_ft": [1, 1]}"#,
    );
    assert_eq!(
        verdict(&pointlike, "edge-distance", "RTU-1"),
        Verdict::Unknown
    );
    assert!(
        pointlike
            .missing
            .iter()
            .any(|m| m.about == "RTU-1" && m.field == "size_ft")
    );
}

#[test]
fn a_rough_place_across_a_boundary_is_unknown_with_both_readings() {
    let rough = r#", "service_sides": ["W"], "at_accuracy_ft": 4"#;
    let found = on_roof("", &rtu("RTU-1", [13.0, 30.0], [6.0, 4.0], rough));
    let edge = check(&found, "edge-distance", "RTU-1");
    assert_eq!(edge.verdict, Verdict::Unknown);
    assert!(
        edge.because.contains("between 3 and 11 ft"),
        "{}",
        edge.because
    );
    assert!(
        found
            .missing
            .iter()
            .any(|m| m.about == "RTU-1" && m.field == "at_ft")
    );
    // The hazard is listed at the nearer reading all the same.
    let hazard = found
        .hazards
        .iter()
        .find(|h| h.about.as_deref() == Some("RTU-1"))
        .unwrap();
    assert_eq!(
        (hazard.zone.as_deref(), hazard.distance_ft),
        (Some("under_6_ft"), Some(3.0))
    );
    let far = on_roof("", &rtu("RTU-1", [50.0, 30.0], [6.0, 4.0], rough));
    assert_eq!(verdict(&far, "edge-distance", "RTU-1"), Verdict::Pass);
}

#[test]
fn an_edge_not_recorded_counts_as_open_and_is_missing() {
    let roof = r#""edges": [{"from": 0, "parapet_in": 42}, {"from": 1, "parapet_in": 42}, {"from": 2, "parapet_in": 42}, {"from": 3}],"#;
    let found = on_roof(roof, &rtu("RTU-1", [8.0, 30.0], [6.0, 4.0], ""));
    assert_eq!(verdict(&found, "edge-distance", "RTU-1"), Verdict::Fail);
    let gap = found
        .missing
        .iter()
        .find(|m| m.field == "site.roof.edges[3].parapet_in")
        .unwrap();
    assert_eq!(gap.about, "site");
    assert_eq!(gap.why, "needed for edge-distance, edge-guard-10ft");
    let closed = roof.replace("{\"from\": 3}", "{\"from\": 3, \"parapet_in\": 39}");
    let found = on_roof(&closed, &rtu("RTU-1", [8.0, 30.0], [6.0, 4.0], ""));
    assert_eq!(verdict(&found, "edge-distance", "RTU-1"), Verdict::Pass);
    assert_eq!(verdict(&found, "edge-guard-10ft", "RTU-1"), Verdict::Advise);
    assert!(
        found
            .hazards
            .iter()
            .all(|h| h.about.as_deref() != Some("RTU-1"))
    );
}

/// A lower roof at 20 ft and another at its east side, from x = 100 to 160.
fn two_roofs(height: f64, extra: &str, at: [f64; 2]) -> Assessment {
    assessed(&format!(
        r#"{{"site": {{"name": "n", "roof": {{"id": "low", "height_ft": 20, "outline_ft": [[0,0],[100,0],[100,60],[0,60]]}},
            "more_roofs": [{{"id": "high", "height_ft": {height}, "outline_ft": [[100,0],[160,0],[160,60],[100,60]] {extra}}}]}},
            "equipment": [{}]}}"#,
        rtu("RTU-1", at, [6.0, 4.0], r#", "service_sides": ["E", "W"]"#)
    ))
}

#[test]
fn roofs_that_share_an_edge() {
    // From the lower roof the higher one is a wall: nobody falls over it, and it ends the space.
    let low = two_roofs(29.0, "", [94.0, 30.0]);
    let edge = check(&low, "edge-distance", "RTU-1");
    assert_eq!(
        (edge.verdict, edge.measured.as_ref().unwrap().value),
        (Verdict::Pass, 28.0),
        "{}",
        edge.because
    );
    // From the higher one it is an edge with a drop of 9 ft.
    let high = two_roofs(29.0, "", [108.0, 30.0]);
    let edge = check(&high, "edge-distance", "RTU-1");
    assert_eq!(
        (edge.verdict, edge.measured.as_ref().unwrap().value),
        (Verdict::Fail, 2.0),
        "{}",
        edge.because
    );
    let guard = check(&high, "edge-guard-10ft", "RTU-1");
    assert!(
        guard.because.contains("drop of 108 in"),
        "{}",
        guard.because
    );
    // A step of 3 ft is no fall to the federal rule, but more than 30 in to the mechanical code.
    let step = two_roofs(23.0, "", [108.0, 30.0]);
    let edge = check(&step, "edge-distance", "RTU-1");
    assert_eq!(
        (edge.verdict, edge.measured.as_ref().unwrap().value),
        (Verdict::Pass, 28.0),
        "{}",
        edge.because
    );
    assert_eq!(verdict(&step, "edge-guard-10ft", "RTU-1"), Verdict::Fail);
    // At one height the surface goes on, to the other roof's far edges.
    let level = two_roofs(20.0, "", [98.0, 30.0]);
    let edge = check(&level, "edge-distance", "RTU-1");
    assert_eq!(
        (edge.verdict, edge.measured.as_ref().unwrap().value),
        (Verdict::Pass, 28.0),
        "{}",
        edge.because
    );
}

#[test]
fn working_space_between_units() {
    let unit = |tag: &str, y: f64, volts: u32, side: &str| {
        rtu(
            tag,
            [50.0, y],
            [6.0, 4.0],
            &format!(
                r#", "service_sides": ["{side}"], "nameplate": {{"voltage_v": {volts}, "phase": 3}}"#
            ),
        )
    };
    // Footprints 3.6 ft apart: a casing opposite asks 3.5 ft at 277 V to ground, live parts 4 ft.
    for (volts, other, expected) in [
        (460, "N", Verdict::Pass),
        (460, "S", Verdict::Fail),
        (208, "S", Verdict::Pass),
    ] {
        let found = on_roof(
            "",
            &format!(
                "{},{}",
                unit("RTU-1", 20.0, volts, "N"),
                unit("RTU-2", 27.6, volts, other)
            ),
        );
        let depth = check(&found, "working-space-depth", "RTU-1");
        assert_eq!(
            depth.verdict, expected,
            "{volts} {other}: {}",
            depth.because
        );
        assert_eq!(depth.measured.as_ref().unwrap().value, 3.6);
    }
    // The roof ends 2 ft from the north side.
    let edge = on_roof("", &unit("RTU-1", 56.0, 208, "N"));
    assert_eq!(
        verdict(&edge, "working-space-depth", "RTU-1"),
        Verdict::Fail
    );
}

#[test]
fn a_hose_goes_round_what_stands_in_the_way() {
    // From (0, 30) to a footprint that begins at x = 27; a wall from (10, 0) to (12, 40) between.
    let roof = r#""water_sources": [{"at_ft": [0, 30]}], "obstacles": [{"outline_ft": [[10,0],[12,0],[12,40],[10,40]]}],"#;
    let found = on_roof(roof, &rtu("RTU-1", [30.0, 30.0], [6.0, 4.0], ""));
    let hose = check(&found, "hose-reach", "RTU-1");
    // Over the wall's north corners (10, 40) and (12, 40), then to the corner (27, 32).
    let run = 200.0_f64.sqrt() + 2.0 + (15.0_f64.powi(2) + 8.0_f64.powi(2)).sqrt();
    assert!(
        (hose.measured.as_ref().unwrap().value - run).abs() < 1e-5,
        "{}",
        hose.because
    );
    let grade = roof
        .replace("[0, 30]}", "[0, 30], \"at_grade\": true}")
        .replace("[[10,0],[12,0],[12,40],[10,40]]", "[[1,1],[2,1],[2,2]]");
    let found = on_roof(&grade, &rtu("RTU-1", [30.0, 30.0], [6.0, 4.0], ""));
    assert_eq!(
        check(&found, "hose-reach", "RTU-1")
            .measured
            .as_ref()
            .unwrap()
            .value,
        47.0
    );
}

#[test]
fn reported_and_computed_hazards_are_one_list() {
    let mut survey = survey_from_json(CONTRACT).unwrap();
    let reported: Vec<crate::survey::Hazard> = serde_json::from_str(
        r#"[{"kind": "trip", "ref": "site", "author": "tech-1", "remark": "loose pavers by the hatch"},
            {"kind": "unprotected_edge", "ref": "RTU-9", "author": "tech-2"},
            {"kind": "ladder_access", "ref": "site", "author": "tech-1", "note_id": "n-1", "evidence": {"segment": 0, "start": 1, "end": 9}},
            {"kind": "gas_leak", "ref": "RTU-2", "withdrawn_by": "tech-1"}]"#,
    )
    .unwrap();
    survey.hazards = reported;
    let finding = r#"{"ref": "RTU-2", "component": "wiring", "condition": "exposed", "severity": "danger", "author": "tech-2"}"#;
    survey.findings.push(serde_json::from_str(finding).unwrap());
    let list = assess(&survey, &AssessOptions::default()).hazards;
    let kinds: Vec<&str> = list.iter().map(|h| h.kind.code()).collect();
    assert_eq!(
        kinds,
        [
            "unguarded_opening",
            "unprotected_edge",
            "exposed_wiring",
            "ladder_access",
            "trip"
        ]
    );
    let ladder = &list[3];
    assert!(
        ladder.reported && ladder.because.contains("24 ft up") && ladder.because.contains("tech-1")
    );
    assert_eq!(
        (ladder.note_id.as_deref(), ladder.evidence.unwrap().end),
        (Some("n-1"), 9)
    );
    assert!(
        list.iter()
            .all(|h| !h.control.is_empty() && !h.caution.is_empty())
    );
    // On the roof: the unit's own and the site's, not another unit's.
    let near: Vec<String> = hazards_near(&survey, "RTU-2")
        .iter()
        .map(|h| h.kind.code().to_owned())
        .collect();
    assert_eq!(near, ["exposed_wiring", "ladder_access", "trip"]);
}

#[test]
fn what_is_missing_comes_in_the_order_of_a_lap() {
    let units = [
        ("RTU-1", 90.0, 30.0),
        ("RTU-2", 50.0, 8.0),
        ("RTU-3", 10.0, 50.0),
        ("RTU-10", 50.0, 52.0),
    ]
    .map(|(tag, x, y)| rtu(tag, [x, y], [6.0, 4.0], ""));
    let roof = r#""access": {"kind": "hatch", "at_ft": [0, 30]},"#;
    let found = on_roof(
        roof,
        &format!(
            "{}, {}",
            units.join(","),
            r#"{"tag": "EF-1", "kind": "exhaust_fan"}"#
        ),
    );
    let later = |m: &&Missing| {
        m.field.contains("voltage_v") && m.field.starts_with("readings")
            || m.field.contains("static_in_wg")
            || m.field == "airflow_cfm"
    };
    let lap: Vec<&Missing> = found.missing.iter().take_while(|m| !later(m)).collect();
    assert!(found.missing.iter().skip(lap.len()).all(|m| later(&m)));
    assert!(lap.len() + 5 < found.missing.len());
    let mut stops: Vec<&str> = lap.iter().map(|m| m.about.as_str()).collect();
    stops.dedup();
    // In at the west, clockwise: north-west, north, east, south; then what is not on the plan.
    assert_eq!(stops, ["site", "RTU-3", "RTU-10", "RTU-1", "RTU-2", "EF-1"]);
}

#[test]
fn the_day_is_given_or_recorded_or_the_latest_note() {
    let unit = r#"{"tag": "RTU-1", "kind": "packaged_rooftop_unit", "nameplate": {"manufactured_year": 2010}}"#;
    let json = |rest: &str| format!(r#"{{"site": {{"name": "n"}}, "equipment": [{unit}] {rest}}}"#);
    let at = |rest: &str, as_of: Option<NaiveDate>| {
        let survey = survey_from_json(&json(rest)).unwrap();
        let options = AssessOptions {
            as_of,
            profile: None,
        };
        let found = assess(&survey, &options);
        check(&found, "service-life", "RTU-1")
            .measured
            .as_ref()
            .map(|q| q.value)
    };
    let note = r#", "notes": [{"id": "n", "recorded_at": "2025-12-31T23:30:00-05:00"}]"#;
    assert_eq!(at("", None), None);
    assert_eq!(at(note, None), Some(15.0));
    assert_eq!(
        at(&format!(r#", "surveyed_on": "2026-04-14" {note}"#), None),
        Some(16.0)
    );
    assert_eq!(at(note, NaiveDate::from_ymd_opt(2030, 1, 1)), Some(20.0));
}

#[test]
fn odd_outlines() {
    let unit = rtu(
        "RTU-1",
        [20.0, 20.0],
        [4.0, 4.0],
        r#", "service_sides": ["E"]"#,
    );
    let measured = |outline: &str| {
        let json = format!(
            r#"{{"site": {{"name": "n", "roof": {{"height_ft": 20, "outline_ft": {outline}}}}}, "equipment": [{unit}]}}"#
        );
        let found = assessed(&json);
        let edge = check(&found, "edge-distance", "RTU-1");
        (edge.verdict, edge.measured.as_ref().map(|q| q.value))
    };
    // The person stands from x = 22 to 25, y = 18 to 22. Drawn either way round, and closed or not.
    assert_eq!(
        measured("[[0,0],[60,0],[60,40],[0,40]]"),
        (Verdict::Pass, Some(18.0))
    );
    assert_eq!(
        measured("[[0,40],[60,40],[60,0],[0,0],[0,40]]"),
        (Verdict::Pass, Some(18.0))
    );
    // A notch reaches in to x = 30.
    assert_eq!(
        measured("[[0,0],[60,0],[60,18],[30,18],[30,22],[60,22],[60,40],[0,40]]"),
        (Verdict::Fail, Some(5.0))
    );
    // A courtyard drawn with a slit along y = 20: its west wall, at x = 33, is an edge; the slit is not.
    assert_eq!(
        measured(
            "[[0,0],[60,0],[60,20],[45,20],[45,10],[33,10],[33,30],[45,30],[45,20],[60,20],[60,40],[0,40]]"
        ),
        (Verdict::Advise, Some(8.0))
    );
    // Two wings that touch at a corner.
    assert_eq!(
        measured("[[0,0],[40,0],[40,40],[80,40],[80,80],[40,80],[40,40],[0,40]]"),
        (Verdict::Pass, Some(15.0))
    );
}

#[test]
fn a_roof_on_a_roof() {
    let at = |x: f64| {
        let json = format!(
            r#"{{"site": {{"name": "n", "roof": {{"height_ft": 20, "outline_ft": [[0,0],[100,0],[100,60],[0,60]]}},
                "more_roofs": [{{"id": "shed", "height_ft": 32, "outline_ft": [[40,20],[60,20],[60,40],[40,40]]}}]}},
                "equipment": [{}]}}"#,
            rtu(
                "RTU-1",
                [x, 30.0],
                [4.0, 4.0],
                r#", "service_sides": ["E"], "nameplate": {"voltage_v": 460, "phase": 3}"#
            )
        );
        assessed(&json)
    };
    // On the main roof, 2 ft from the shed's wall.
    let found = at(36.0);
    assert_eq!(verdict(&found, "edge-distance", "RTU-1"), Verdict::Pass);
    let depth = check(&found, "working-space-depth", "RTU-1");
    assert_eq!(
        (depth.verdict, depth.measured.as_ref().unwrap().value),
        (Verdict::Fail, 2.0),
        "{}",
        depth.because
    );
    // On the shed, the person 5 ft from its east edge, with 12 ft below.
    let found = at(50.0);
    let edge = check(&found, "edge-distance", "RTU-1");
    assert_eq!(
        (edge.verdict, edge.measured.as_ref().unwrap().value),
        (Verdict::Fail, 5.0),
        "{}",
        edge.because
    );
}

#[test]
fn a_unit_of_unknown_size_near_an_edge_is_still_warned_of() {
    let found = on_roof(
        "",
        r#"{"tag": "RTU-1", "kind": "packaged_rooftop_unit", "at_ft": [4, 30]}"#,
    );
    assert_eq!(verdict(&found, "edge-distance", "RTU-1"), Verdict::Unknown);
    let hazard = found
        .hazards
        .iter()
        .find(|h| h.about.as_deref() == Some("RTU-1"))
        .unwrap();
    assert_eq!(hazard.distance_ft, Some(4.0));
    assert!(
        hazard.because.contains("centre is 4 ft"),
        "{}",
        hazard.because
    );
}

#[test]
fn controls_come_with_this_place_s_figures() {
    let mut survey = survey_from_json(CONTRACT).unwrap();
    survey.equipment[0].disconnect.in_sight = Some(false);
    let list = assess(&survey, &AssessOptions::default()).hazards;
    let control = |kind: &str| {
        list.iter()
            .find(|h| h.kind.code() == kind)
            .unwrap()
            .control
            .clone()
    };
    assert!(control("live_electrical").contains("At 240 V between phases: limited approach 42 in"));
    // 24 ft up: 24 x 1.0328 / 4 = 6.2 ft out, (24 + 3) x 1.0328 = 27.9 ft of rail.
    assert!(
        control("ladder_access").contains("feet 6.2 ft out from the wall, rails at least 27.9 ft")
    );
}

#[test]
fn the_codes_are_those_that_the_survey_or_the_caller_names() {
    let json = |codes: &str| {
        format!(
            r#"{{"site": {{"name": "n", {codes} "roof": {{"height_ft": 20, "receptacles": [{{"at_ft": [30, 30]}}]}}}},
            "equipment": [{}]}}"#,
            rtu("RTU-1", [50.0, 30.0], [8.0, 4.0], "")
        )
    };
    let source = |found: &Assessment| {
        let check = found.checks.iter().find(|c| c.rule == "receptacle-25ft");
        let source = &check.unwrap().source;
        (source.edition.clone(), source.section.clone(), source.basis)
    };
    let usual = assessed(&json(""));
    assert_eq!(usual.profile, "us-model-codes");
    assert_eq!(
        source(&usual),
        ("2023".into(), "210.63(A)".into(), Basis::Published)
    );
    let older = assessed(&json(r#""code_profile": "us-older-codes","#));
    assert_eq!(older.profile, "us-older-codes");
    assert_eq!(
        source(&older),
        ("2014".into(), "210.63".into(), Basis::Memory)
    );
    let survey = survey_from_json(&json(r#""code_profile": "atlantis","#)).unwrap();
    let unknown = assess(&survey, &AssessOptions::default());
    assert_eq!(unknown.profile, "us-model-codes");
    assert!(
        unknown
            .not_checked
            .iter()
            .any(|line| line.contains("atlantis"))
    );
    // An amendment: 15 ft instead of 25; the receptacle is 16 ft from the unit's side.
    let amended = include_str!("../../profiles/us_model_codes.toml")
        .replace("receptacle_within_ft = 25", "receptacle_within_ft = 15");
    let amended = Profile::from_toml(&amended).unwrap();
    let options = AssessOptions {
        profile: Some(&amended),
        ..AssessOptions::default()
    };
    for (found, expected) in [
        (unknown, Verdict::Pass),
        (assess(&survey, &options), Verdict::Fail),
    ] {
        let check = found
            .checks
            .iter()
            .find(|c| c.rule == "receptacle-25ft")
            .unwrap();
        assert_eq!(check.verdict, expected, "{}", check.because);
    }
}

#[test]
fn no_distance_is_enough_on_a_steep_roof() {
    let unit = rtu(
        "RTU-1",
        [50.0, 30.0],
        [8.0, 4.0],
        r#", "service_sides": ["S"]"#,
    );
    let steep = assessed(&format!(
        r#"{{"site": {{"roof": {{"height_ft": 20, "slope_rise_in_12": 5, "outline_ft": [[0,0],[100,0],[100,60],[0,60]]}}}},
            "equipment": [{unit}]}}"#
    ));
    let edge = |h: &&HazardEntry| h.kind == HazardKind::UnprotectedEdge;
    let hazard = steep.hazards.iter().find(edge).expect("an edge is listed");
    assert_eq!(hazard.zone.as_deref(), Some("over_15_ft"));
}
