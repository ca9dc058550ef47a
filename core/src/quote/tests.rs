//! Quotes of small hand-made surveys, worked out by hand beside the check.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::assess::{Check, HazardEntry};
use crate::survey::codes::{AccessKind, EquipmentKind, HazardKind};
use crate::survey::units::{Feet, Inches};
use crate::survey::{Access as WayUp, Belt, Equipment, Filter, Roof};
use crate::trade::{Basis, Source, Verdict};

fn source() -> Source {
    Source {
        standard: "29 CFR".into(),
        edition: "2024".into(),
        section: "1910.28(b)(13)".into(),
        basis: Basis::Published,
    }
}

fn check(rule: &str, tag: &str, verdict: Verdict) -> Check {
    Check {
        rule: rule.into(),
        about: tag.into(),
        verdict,
        measured: None,
        required: None,
        because: "as measured".into(),
        source: source(),
    }
}

fn edge(tag: &str, zone: &str) -> HazardEntry {
    HazardEntry {
        kind: HazardKind::UnprotectedEdge,
        about: Some(tag.into()),
        zone: Some(zone.into()),
        distance_ft: Some(4.2),
        because: format!("{tag} is 4.2 ft from an unprotected edge"),
        control: "fall protection".into(),
        caution: String::new(),
        reported: false,
        evidence: None,
        note_id: None,
        source: source(),
    }
}

fn filter(w: f64, h: f64, d: f64, quantity: u32) -> Filter {
    let inches = |v| Inches::new(v).unwrap();
    Filter {
        width_in: inches(w),
        height_in: inches(h),
        depth_in: inches(d),
        quantity,
    }
}

fn fan(tag: &str) -> Equipment {
    let mut fan = Equipment::new(tag, tag, EquipmentKind::ExhaustFan);
    fan.belts.push(Belt {
        designation: "A42".into(),
        quantity: 1,
    });
    fan
}

/// One belt-driven fan, far from any edge, reached by a hatch.
fn one_fan() -> (Survey, Assessment) {
    let mut survey = Survey {
        survey_id: "s".into(),
        equipment: vec![fan("EF-1")],
        ..Survey::default()
    };
    survey.site.roof = Some(Roof {
        access: Some(WayUp {
            kind: AccessKind::Hatch,
            at_ft: None,
            climb_ft: Feet::new(20.0).ok(),
            extends_ft: None,
            ladder_safety_system: None,
        }),
        ..Roof::default()
    });
    let assessment = Assessment {
        checks: vec![check("edge-distance", "EF-1", Verdict::Pass)],
        ..Assessment::default()
    };
    (survey, assessment)
}

fn book() -> RateBook {
    RateBook::builtin_example()
}

/// Worked by hand with the example rates; `docs/quote.md` walks through the same figures.
#[test]
fn one_fan_by_hand() {
    let (survey, assessment) = one_fan();
    let quote = quote(&survey, &assessment, &book());
    // task             per year  low/likely/high  mean
    // look_over            2      3/5/10          33/6 = 5.5  -> 6
    // inspect_belts        2      4/6/10          38/6 = 6.33 -> 6
    // replace_belts        1     15/20/35        130/6 = 21.67 -> 22
    // inspect_fans         2      6/10/18         64/6 = 10.67 -> 11
    // inspect_curb         1      2/4/8           26/6 = 4.33 -> 4
    // clean_fan            1     15/25/45        160/6 = 26.67 -> 27
    let lines: Vec<(&str, u32, u64)> = quote
        .tasks
        .iter()
        .map(|line| (line.task.as_str(), line.per_year, line.minutes))
        .collect();
    assert_eq!(
        lines,
        [
            ("look_over", 2, 6),
            ("inspect_belts", 2, 6),
            ("replace_belts", 1, 22),
            ("inspect_fans", 2, 11),
            ("inspect_curb", 1, 4),
            ("clean_fan", 1, 27),
        ]
    );
    assert_eq!(quote.visits_per_year, 2);
    assert_eq!(quote.crew.size, 1);
    // hatch 10/20/30 -> 20, travel 30/40/70 -> 260/6 = 43.33 -> 43
    assert_eq!(quote.access.minutes_per_visit, 20);
    assert_eq!(quote.travel.minutes, 43);
    // tasks 12 + 12 + 22 + 22 + 4 + 27 = 99; access 40; travel 86: 225 minutes
    assert_eq!(quote.labour_minutes_per_year.likely, 225);
    // widths a year: 14 12 20 24 6 30 40 80; squares sum 196+144+400+576+36+900+1600+6400 =
    // 10252; sum 226, squared 51076; variance 0.7 x 10252 + 0.3 x 51076 = 22499.2;
    // 1.28 x sqrt(22499.2) / 6 = 31.999.. -> 31
    assert_eq!(quote.labour_minutes_per_year.low, 194);
    assert_eq!(quote.labour_minutes_per_year.high, 256);
    // labour 225 x 5200 / 60 = 19500; mark-up 55 % = 10725
    // belt 1 x 1350, mark-up 30 % = 405; vehicle 2 x 3600 = 7200, mark-up 15 % = 1080
    // subtotal 40260, contingency 5 % = 2013, tax 8.25 % of 1755 = 144.79 -> 145
    let likely = quote.build_up.likely;
    assert_eq!(likely.labour_cents, Cents::new(19_500));
    assert_eq!(likely.labour_markup_cents, Cents::new(10_725));
    assert_eq!(likely.materials_cents, Cents::new(1_350));
    assert_eq!(likely.materials_markup_cents, Cents::new(405));
    assert_eq!(likely.hire_cents, Cents::new(7_200));
    assert_eq!(likely.hire_markup_cents, Cents::new(1_080));
    assert_eq!(likely.contingency_cents, Cents::new(2_013));
    assert_eq!(likely.tax_cents, Cents::new(145));
    assert_eq!(quote.price_cents_per_year.likely, Cents::new(42_418));
    // low: labour 19500 x 194 / 225 = 16813.33 -> 16813; mark-up 9247.15 -> 9247; subtotal
    // 36095; contingency 1804.75 -> 1805; tax 145: 38045
    assert_eq!(quote.price_cents_per_year.low, Cents::new(38_045));
    // high: 19500 x 256 / 225 = 22186.67 -> 22187; 12202.85 -> 12203; subtotal 44425;
    // 2221.25 -> 2221; 145: 46791
    assert_eq!(quote.price_cents_per_year.high, Cents::new(46_791));
}

#[test]
fn an_edge_brings_protection_and_a_second_person() {
    let (survey, mut assessment) = one_fan();
    let alone = quote(&survey, &assessment, &book());
    assessment.hazards.push(edge("EF-1", "under_6_ft"));
    let near = quote(&survey, &assessment, &book());
    assert_eq!(near.crew.size, 2);
    assert_eq!(
        near.crew.because,
        ["EF-1 is 4.2 ft from an unprotected edge"]
    );
    assert!(near.tasks.iter().all(|line| line.people == 2));
    assert!(
        near.access
            .lines
            .iter()
            .any(|line| line.item == "fall protection")
    );
    // Twice the people on everything, and two set-ups of 27 minutes for two people.
    assert_eq!(
        near.labour_minutes_per_year.likely,
        2 * alone.labour_minutes_per_year.likely + 2 * 2 * 27
    );
    // The rate book cannot talk it away.
    let mut bold = book();
    bold.crew.two_people_for.clear();
    bold.crew.stand_by_for.clear();
    assert_eq!(quote(&survey, &assessment, &bold), near);
    // Nor does it matter over 15 ft away.
    assessment.hazards[0].zone = Some("over_15_ft".into());
    assert_eq!(quote(&survey, &assessment, &book()).crew.size, 1);
}

#[test]
fn an_unknown_edge_is_never_taken_for_none() {
    let (survey, mut assessment) = one_fan();
    for checks in [
        vec![],
        vec![check("edge-distance", "EF-1", Verdict::Unknown)],
    ] {
        assessment.checks = checks;
        let quote = quote(&survey, &assessment, &book());
        assert_eq!(quote.crew.size, 2);
        assert!(
            quote
                .access
                .lines
                .iter()
                .any(|line| line.item == "fall protection")
        );
        let gap = quote
            .missing
            .iter()
            .find(|gap| gap.field == "at_ft")
            .unwrap();
        assert!(gap.could_move_price_by_cents > Cents::ZERO);
    }
}

#[test]
fn an_empty_roof_is_a_clear_empty_quote() {
    let quote = quote(&Survey::default(), &Assessment::default(), &book());
    assert!(quote.empty.unwrap().contains("no equipment"));
    assert_eq!(quote.visits_per_year, 0);
    assert_eq!(quote.price_cents_per_year, Range::default());
    assert_eq!(quote.labour_minutes_per_year, Range::default());
    assert!(quote.tasks.is_empty() && quote.materials.is_empty() && quote.options.is_empty());
}

#[test]
fn filters_join_by_nominal_size() {
    let (mut survey, assessment) = one_fan();
    let mut unit = Equipment::new("", "RTU-1", EquipmentKind::PackagedRooftopUnit);
    unit.filters = vec![filter(25.0, 20.0, 2.0, 3), filter(19.5, 24.5, 1.75, 1)];
    survey.equipment.push(unit);
    let quote = quote(&survey, &assessment, &book());
    let line = &quote.materials[0];
    assert_eq!(line.item, "filter 20x25x2");
    assert_eq!((line.per_round, line.per_year), (4, 16));
    assert_eq!(line.cost_cents_per_year, Cents::new(14_400));
    assert!(line.notes[0].contains("recorded as 19.5x24.5x1.75"));
}

#[test]
fn belts_that_fit_the_same_drive_join_with_a_note() {
    let (mut survey, assessment) = one_fan();
    // 4L440 is 44.0 in outside, A42 is 42 + 2 (`trade::belts` cites where that comes from).
    for (tag, designation) in [("EF-2", "4L440"), ("EF-3", "a 42"), ("EF-4", "4L460")] {
        let mut fan = fan(tag);
        fan.belts[0].designation = designation.into();
        survey.equipment.push(fan);
    }
    let quote = quote(&survey, &assessment, &book());
    let items: Vec<(&str, u64, i64)> = quote
        .materials
        .iter()
        .map(|line| {
            (
                line.item.as_str(),
                line.per_year,
                line.unit_cost_cents.get(),
            )
        })
        .collect();
    assert_eq!(items, [("belt A42", 3, 1350), ("belt 4L460", 1, 2400)]);
    assert_eq!(quote.materials[0].refs, ["EF-1", "EF-2", "EF-3"]);
    assert!(quote.materials[0].notes[0].contains("also recorded as 4L440"));
}
