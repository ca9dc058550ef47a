//! Warnings on the roof: said when someone arrives, not again while they stay, again when they
//! come back.
//!
//! The phone tells where its bearer is, by the unit they speak of or by a place on the plan, and
//! is told what is new there. Nothing new is no all-clear: what nobody recorded warns of nothing.

use super::asked::Asked;
use super::hazards::{self, opening_entry, warns_at};
use super::roofs::extent;
use super::types::HazardEntry;
use super::{AssessOptions, ask_all};
use crate::plan::{SitePlan, gap};
use crate::survey::codes::HazardKind;
use crate::survey::units::PointFt;
use crate::survey::{SITE, Survey};
use crate::trade::falls::{NEAR, Zone, nearest_unguarded};
use crate::trade::{Profile, Verdict, num, settle};
use geo::{Intersects, Point, Rect};
use std::collections::BTreeSet;

/// Where someone is, or is about to work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Whereabouts<'a> {
    /// At a unit, by its tag.
    Unit(&'a str),
    /// At a place on the plan.
    Place(PointFt),
}

/// One warning, to be spoken and shown.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct RoofWarning {
    /// One short line to be spoken.
    pub line: String,
    /// The hazard, with its control and its source.
    pub hazard: HazardEntry,
}

/// Remembers what someone was warned of where they are now.
#[derive(Debug, Clone, Default)]
pub struct Watch {
    here: BTreeSet<String>,
}

impl Watch {
    /// Someone arrived, or something on the survey changed where they are: what they have not
    /// been warned of there yet, most dangerous first.
    pub fn arrive(&mut self, survey: &Survey, at: Whereabouts<'_>) -> Vec<RoofWarning> {
        let found = here(survey, at);
        let before = std::mem::take(&mut self.here);
        self.here = found.iter().map(|(key, _)| key.clone()).collect();
        found
            .into_iter()
            .filter(|(key, _)| !before.contains(key))
            .map(|(_, hazard)| RoofWarning {
                line: line(&hazard),
                hazard,
            })
            .collect()
    }
}

/// A hazard as one short line to be spoken or shown.
pub fn line(hazard: &HazardEntry) -> String {
    let at = match hazard.about.as_deref() {
        Some(SITE) | None => "this roof",
        Some(tag) => tag,
    };
    let far = hazard.distance_ft.map_or(String::new(), |ft| {
        format!(", {} feet", num((ft * 10.0).floor() / 10.0))
    });
    format!("Caution at {at}: {}{far}.", hazard.kind.words())
}

/// The hazards at a place, each with a key that stays the same while its words change.
fn here(survey: &Survey, at: Whereabouts<'_>) -> Vec<(String, HazardEntry)> {
    let plan = SitePlan::new(survey);
    let options = AssessOptions::default();
    let profile = options.profile_for(survey);
    let asked = ask_all(&plan, &options);
    let all = hazards::list(&plan, &asked, profile);
    let mut found: Vec<(String, HazardEntry)> = Vec::new();
    let mut add = |detail: &str, hazard: HazardEntry| {
        let about = hazard.about.as_deref().unwrap_or_default();
        let key = format!("{} {about} {detail}", hazard.kind.code());
        if !found.iter().any(|(known, _)| *known == key) {
            found.push((key, hazard));
        }
    };
    match at {
        Whereabouts::Unit(tag) => {
            for hazard in all.into_iter().filter(|h| warns_at(&plan, h, tag)) {
                // Several openings of the site differ by where they are.
                let detail = match hazard.about.as_deref() {
                    Some(SITE) => hazard.because.clone(),
                    _ => String::new(),
                };
                add(&detail, hazard);
            }
        }
        Whereabouts::Place(at) => {
            for (detail, hazard) in around(&plan, &asked, at, profile) {
                add(&detail, hazard);
            }
            let near = units_near(&plan, at);
            for hazard in all {
                match hazard.about.as_deref() {
                    None => add("", hazard),
                    Some(SITE) if hazard.reported => add("", hazard),
                    Some(tag) if near.contains(tag) => add("", hazard),
                    _ => {}
                }
            }
        }
    }
    found
}

/// Unguarded edges and openings less than 6 ft from a place.
fn around(
    plan: &SitePlan<'_>,
    asked: &[Asked],
    at: PointFt,
    profile: &Profile,
) -> Vec<(String, HazardEntry)> {
    let Some(spot) = extent(at, None) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for (index, roof) in plan.roofs.iter().enumerate() {
        let on = |p: &geo::Polygon| p.intersects(&Point(spot.min()));
        if !roof.polygon.as_ref().is_some_and(on) {
            continue;
        }
        let edges = plan.edges_seen(index, &[spot], 0.0);
        if let Some(edge) = nearest_unguarded(&edges) {
            let ft = settle(edge.distance.low);
            if ft < NEAR.get() {
                let because = format!("The {} is {} ft away and unguarded.", edge.name, num(ft));
                let entry = HazardEntry {
                    zone: Some(Zone::of(ft).code().to_owned()),
                    distance_ft: Some(ft),
                    ..hazards::entry(
                        HazardKind::UnprotectedEdge,
                        Some(SITE.to_owned()),
                        because,
                        profile,
                    )
                };
                found.push((edge.name.clone(), entry));
            }
        }
        for one in asked {
            let open = one.roof == Some(index) && one.outcome.verdict != Verdict::Pass;
            let opening = one.opening.filter(|_| open);
            let hole = opening
                .and_then(|k| roof.roof.openings.get(k))
                .and_then(|o| extent(o.at_ft, o.size_ft));
            if let Some(ft) = hole.map(|hole| settle(gap(&spot, &hole)))
                && ft < NEAR.get()
            {
                let because = format!("{} It is {} ft away.", one.outcome.because, num(ft));
                let about = Some(SITE.to_owned());
                let entry = opening_entry(one, about, because, Some(ft), profile);
                found.push((format!("{index} {opening:?}"), entry));
            }
        }
    }
    found.sort_by(|a, b| {
        let far = |h: &HazardEntry| h.distance_ft.unwrap_or(0.0);
        far(&a.1).total_cmp(&far(&b.1))
    });
    found
}

/// Units that someone at a place stands at or is about to: within 6 ft of where one works.
fn units_near<'a>(plan: &SitePlan<'a>, at: PointFt) -> BTreeSet<&'a str> {
    let spot = extent(at, None).unwrap_or(Rect::new((0.0, 0.0), (0.0, 0.0)));
    let near = |i: &usize| {
        let areas = plan.standing_areas(*i);
        areas.iter().any(|area| gap(area, &spot) < NEAR.get())
    };
    let units = plan.survey.equipment.iter().enumerate();
    units
        .filter(|(i, _)| near(i))
        .map(|(_, unit)| unit.tag.as_str())
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
    use super::*;
    use crate::survey::read::survey_from_json;

    fn survey(parapet: f64) -> Survey {
        let json = format!(
            r#"{{"site": {{"roof": {{"height_ft": 20, "outline_ft": [[0,0],[100,0],[100,60],[0,60]],
                "edges": [{{"from": 0, "parapet_in": {parapet}}}, {{"from": 1, "parapet_in": 42}}, {{"from": 2, "parapet_in": 42}}, {{"from": 3, "parapet_in": 42}}],
                "openings": [{{"kind": "skylight", "at_ft": [60, 30], "size_ft": [4, 4], "guarded": false}}]}}}},
              "hazards": [{{"kind": "stinging_insects", "ref": "RTU-2"}}],
              "equipment": [{{"tag": "RTU-1", "kind": "packaged_rooftop_unit", "at_ft": [20, 8], "size_ft": [8, 4], "service_sides": ["S"]}},
                {{"tag": "RTU-2", "kind": "packaged_rooftop_unit", "at_ft": [20, 45], "size_ft": [8, 4], "service_sides": ["N"]}}]}}"#
        );
        survey_from_json(&json).unwrap()
    }

    fn lines(warnings: &[RoofWarning]) -> Vec<&str> {
        warnings.iter().map(|w| w.line.as_str()).collect()
    }

    #[test]
    fn a_unit_warns_on_arrival_and_again_on_coming_back() {
        let survey = survey(8.0);
        let mut watch = Watch::default();
        let mut at = |tag| watch.arrive(&survey, Whereabouts::Unit(tag));
        let edge = "Caution at RTU-1: unprotected edge, 3 feet.";
        assert_eq!(lines(&at("RTU-1")), [edge]);
        assert!(at("RTU-1").is_empty(), "said once while one stays");
        assert_eq!(lines(&at("RTU-2")), ["Caution at RTU-2: stinging insects."]);
        assert_eq!(lines(&at("RTU-1")), [edge]);
    }

    #[test]
    fn a_place_warns_of_edge_opening_and_the_unit_there() {
        let survey = survey(8.0);
        let mut watch = Watch::default();
        let mut at = |x, y| watch.arrive(&survey, Whereabouts::Place([x, y].into()));
        assert!(at(90.0, 30.0).is_empty());
        // 5.9 ft from the south edge; then exactly 6, which is no longer under 6.
        assert_eq!(
            lines(&at(80.0, 5.9)),
            ["Caution at this roof: unprotected edge, 5.9 feet."]
        );
        assert!(at(80.0, 6.0).is_empty());
        assert_eq!(
            lines(&at(56.0, 30.0)),
            ["Caution at this roof: unguarded opening, 2 feet."]
        );
        assert!(at(57.0, 30.0).is_empty(), "nearer, but warned of already");
        assert_eq!(
            lines(&at(20.0, 50.0)),
            ["Caution at RTU-2: stinging insects."]
        );
    }

    #[test]
    fn what_is_recorded_while_one_stays_warns_at_once() {
        let mut watch = Watch::default();
        let guarded = survey(42.0);
        assert!(
            watch
                .arrive(&guarded, Whereabouts::Unit("RTU-1"))
                .is_empty()
        );
        let open = survey(8.0);
        assert_eq!(watch.arrive(&open, Whereabouts::Unit("RTU-1")).len(), 1);
    }
}
