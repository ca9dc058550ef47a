//! What holds for every quote, tried on random surveys.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::assess::{Check, HazardEntry};
use crate::survey::codes::{
    AccessKind, Certainty, Component, Condition, EquipmentKind, HazardKind, Severity,
};
use crate::survey::units::{Btuh, Feet, Inches, Tons};
use crate::survey::{Access as WayUp, Belt, Equipment, Filter, Finding, Origin, Roof};
use crate::trade::{Basis, Source, Verdict};
use proptest::prelude::*;

fn source() -> Source {
    Source {
        standard: String::new(),
        edition: String::new(),
        section: String::new(),
        basis: Basis::CommonPractice,
    }
}

prop_compose! {
    fn any_unit()(
        kind in prop::sample::select(EquipmentKind::ALL),
        tons in prop::option::of(0u32..60),
        gas in prop::option::of(0u32..400_000),
        filters in prop::collection::vec((8u32..30, 8u32..30, 1u32..5, 0u32..9), 0..3),
        belts in prop::collection::vec((prop::sample::select(vec!["A42", "b48", "4L440", "odd"]), 0u32..4), 0..3),
    ) -> Equipment {
        let mut unit = Equipment::new("", "", kind);
        unit.nameplate.capacity_tons = tons.map(|t| Tons::new(f64::from(t) / 2.0).unwrap());
        unit.nameplate.gas_input_btuh = gas.map(|g| Btuh::new(f64::from(g)).unwrap());
        let inches = |v: u32| Inches::new(f64::from(v) - 0.5).unwrap();
        unit.filters = filters.iter().map(|(w, h, d, quantity)| Filter {
            width_in: inches(*w), height_in: inches(*h), depth_in: inches(*d), quantity: *quantity,
        }).collect();
        unit.belts = belts.iter().map(|(name, quantity)| Belt {
            designation: (*name).to_owned(), quantity: *quantity,
        }).collect();
        unit
    }
}

/// What is known of a unit besides its plate.
type Known = (Option<Verdict>, Option<u8>, Vec<(usize, usize, usize)>);

fn any_known() -> impl Strategy<Value = Known> {
    let verdict = prop::sample::select(vec![Verdict::Pass, Verdict::Unknown, Verdict::Fail]);
    let findings = (
        0..Component::ALL.len(),
        0..Condition::ALL.len(),
        0..Severity::ALL.len(),
    );
    (
        prop::option::of(verdict),
        prop::option::of(0u8..4),
        prop::collection::vec(findings, 0..4),
    )
}

fn any_survey(most: usize) -> impl Strategy<Value = (Survey, Assessment)> {
    let units = prop::collection::vec((any_unit(), any_known()), 0..most);
    let way = prop::option::of((prop::sample::select(AccessKind::ALL), 0u32..60));
    (units, way).prop_map(|(units, way)| {
        let mut survey = Survey::default();
        let mut assessment = Assessment::default();
        survey.site.roof = Some(Roof {
            access: way.map(|(kind, climb)| WayUp {
                kind,
                at_ft: None,
                climb_ft: Feet::new(f64::from(climb)).ok(),
                extends_ft: None,
                ladder_safety_system: None,
            }),
            ..Roof::default()
        });
        for (i, (mut unit, known)) in units.into_iter().enumerate() {
            unit.tag = format!("U-{i}");
            learn(&mut assessment, &unit.tag, known);
            survey.equipment.push(unit);
        }
        (survey, assessment)
    })
}

fn learn(assessment: &mut Assessment, tag: &str, (edge, hazard, findings): Known) {
    for rule in ["edge-distance", "hose-reach", "service-life"] {
        if let Some(verdict) = edge {
            assessment.checks.push(Check {
                rule: rule.into(),
                about: tag.into(),
                verdict,
                measured: None,
                required: None,
                because: String::new(),
                source: source(),
            });
        }
    }
    if let Some(which) = hazard {
        let (kind, zone) = match which {
            0 => (HazardKind::UnprotectedEdge, Some("under_6_ft")),
            1 => (HazardKind::UnprotectedEdge, Some("over_15_ft")),
            2 => (HazardKind::UnguardedOpening, None),
            _ => (HazardKind::ExposedWiring, None),
        };
        assessment.hazards.push(HazardEntry {
            kind,
            about: Some(tag.into()),
            zone: zone.map(str::to_owned),
            distance_ft: None,
            because: format!("{tag}: {kind}"),
            control: String::new(),
            caution: String::new(),
            reported: true,
            evidence: None,
            note_id: None,
            source: source(),
        });
    }
    for (component, condition, severity) in findings {
        assessment.findings.push(Finding {
            id: String::new(),
            about: tag.into(),
            component: Component::ALL[component],
            condition: Condition::ALL[condition],
            certainty: Certainty::Observed,
            severity: Severity::ALL[severity],
            action: None,
            remark: None,
            origin: Origin::default(),
        });
    }
}

fn bytes(quote: &Quote) -> String {
    serde_json::to_string(quote).unwrap()
}

/// The example book with a short simulation.
fn book() -> RateBook {
    let mut book = RateBook::builtin_example();
    book.range.trials = 100;
    book
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn low_is_below_likely_is_below_high((survey, assessment) in any_survey(12)) {
        let quote = quote(&survey, &assessment, &book());
        for line in &quote.tasks {
            prop_assert!(line.three_point.low <= line.three_point.likely);
            prop_assert!(line.three_point.likely <= line.three_point.high);
        }
        let hours = quote.labour_hours_per_year;
        prop_assert!(hours.low <= hours.likely && hours.likely <= hours.high);
        let price = quote.price_cents_per_year;
        prop_assert!(price.low <= price.likely && price.likely <= price.high);
        prop_assert!(price.low >= Cents::ZERO);
    }

    #[test]
    fn lines_add_up_to_totals((survey, assessment) in any_survey(12)) {
        let quote = quote(&survey, &assessment, &book());
        let tasks: u64 = quote.tasks.iter()
            .map(|line| u64::from(line.per_year) * line.minutes * u64::from(line.people)).sum();
        let each_visit = quote.access.minutes_per_visit + quote.travel.minutes;
        let visits = u64::from(quote.visits_per_year) * u64::from(quote.crew.size) * each_visit;
        prop_assert_eq!(quote.labour_minutes_per_year.likely, tasks + visits);
        let people = quote.people_minutes_per_year;
        prop_assert_eq!(quote.labour_minutes_per_year.likely, people.technician + people.second_person);
        let materials: Cents = quote.materials.iter().map(|line| line.cost_cents_per_year).sum();
        prop_assert_eq!(quote.build_up.likely.materials_cents, materials);
        let up = quote.build_up;
        for step in [up.low, up.likely, up.high] {
            let sum = step.labour_cents + step.labour_markup_cents + step.materials_cents
                + step.materials_markup_cents + step.hire_cents + step.hire_markup_cents
                + step.contingency_cents + step.tax_cents;
            prop_assert_eq!(step.price_cents, sum);
        }
    }

    #[test]
    fn another_unit_never_lowers_hours_or_price(
        (mut survey, mut assessment) in any_survey(8),
        unit in any_unit(),
        known in any_known(),
    ) {
        let before = quote(&survey, &assessment, &book());
        let unit = Equipment { tag: "NEW-1".into(), ..unit };
        learn(&mut assessment, &unit.tag, known);
        survey.equipment.push(unit);
        let after = quote(&survey, &assessment, &book());
        let (a, b) = (before.labour_minutes_per_year, after.labour_minutes_per_year);
        prop_assert!(a.low <= b.low && a.likely <= b.likely && a.high <= b.high, "{:?} {:?}", a, b);
        let (a, b) = (before.price_cents_per_year, after.price_cents_per_year);
        prop_assert!(a.low <= b.low && a.likely <= b.likely && a.high <= b.high, "{:?} {:?}", a, b);
    }

    #[test]
    fn order_of_entry_never_matters((survey, assessment) in any_survey(8), seed in any::<u64>()) {
        let book = book();
        let first = bytes(&quote(&survey, &assessment, &book));
        prop_assert_eq!(&first, &bytes(&quote(&survey, &assessment, &book)));
        let (mut survey, mut assessment) = (survey, assessment);
        let mut random = simulate::SplitMix64(seed);
        shuffle(&mut survey.equipment, &mut random);
        shuffle(&mut assessment.checks, &mut random);
        shuffle(&mut assessment.hazards, &mut random);
        shuffle(&mut assessment.findings, &mut random);
        prop_assert_eq!(first, bytes(&quote(&survey, &assessment, &book)));
    }

    #[test]
    fn an_edge_is_never_priced_unprotected((survey, assessment) in any_survey(8)) {
        let view = View::new(&survey, &assessment);
        let quote = quote(&survey, &assessment, &book());
        let exposed = view.units.iter().any(|unit| view.nearness(unit) != view::Nearness::Away);
        let protected = quote.access.lines.iter().any(|line| line.item == "fall protection" && line.minutes > 0);
        prop_assert!(!exposed || (protected && quote.crew.size >= 2));
    }
}

fn shuffle<T>(list: &mut [T], random: &mut simulate::SplitMix64) {
    for i in (1..list.len()).rev() {
        list.swap(i, (random.next() % (i as u64 + 1)) as usize);
    }
}
