//! The hazard list: what the plan shows and what people reported, in one order.
//!
//! A hazard that was both computed and reported is one entry with the plan's distance and the
//! person's words. Nothing is left out because it could not be measured: an edge of which only a
//! rough distance is known is listed at the nearer reading.

use super::asked::Asked;
use super::controls::{CAUTION, control};
use super::register::tag_order;
use super::roofs::extent;
use super::types::HazardEntry;
use crate::plan::{Place, SitePlan, gap};
use crate::survey::codes::{AccessKind, Certainty, Component, Condition, HazardKind, Severity};
use crate::survey::{Finding, Origin, SITE};
use crate::trade::falls::{FAR, Zone};
use crate::trade::{
    Profile, Verdict, disconnect, falls, ladders, num, overcurrent, settle, supply, workspace,
};
use geo::Rect;

pub(super) fn list(plan: &SitePlan<'_>, asked: &[Asked], profile: &Profile) -> Vec<HazardEntry> {
    let mut hazards = computed(plan, asked, profile);
    for hazard in plan
        .survey
        .hazards
        .iter()
        .filter(|h| h.origin.withdrawn_by.is_none())
    {
        let said = hazard.remark.clone();
        report(
            &mut hazards,
            hazard.kind,
            hazard.about.clone(),
            said,
            &hazard.origin,
            profile,
        );
    }
    for finding in &plan.survey.findings {
        if finding.severity == Severity::Danger
            && finding.certainty != Certainty::Absent
            && finding.origin.withdrawn_by.is_none()
        {
            let said = finding_words(finding);
            let about = Some(finding.about.clone());
            report(
                &mut hazards,
                kind_of(finding),
                about,
                Some(said),
                &finding.origin,
                profile,
            );
        }
    }
    for hazard in &mut hazards {
        if let Some(more) = figures(plan, hazard) {
            hazard.control = format!("{} {more}", hazard.control);
        }
    }
    hazards.sort_by(|a, b| {
        let far = |h: &HazardEntry| h.distance_ft.unwrap_or(f64::MAX);
        let tag = |h: &HazardEntry| tag_order(h.about.as_deref().unwrap_or(SITE));
        rank(a)
            .cmp(&rank(b))
            .then(far(a).total_cmp(&far(b)))
            .then(tag(a).cmp(&tag(b)))
    });
    hazards
}

/// What stands between a voltage and the boundaries that hold for it.
const PHASES: &str = " V between phases: ";

/// The voltage and its boundaries, if it is those that a control comes to at a place.
pub fn by_voltage(here: &str) -> Option<(&str, &str)> {
    here.strip_prefix("At ")?.split_once(PHASES)
}

/// What the usual control comes to here: approach boundaries at this voltage, a ladder's setting
/// at this eave.
fn figures(plan: &SitePlan<'_>, hazard: &HazardEntry) -> Option<String> {
    match hazard.kind {
        HazardKind::LiveElectrical | HazardKind::ExposedWiring => {
            let volts = plan
                .survey
                .unit(hazard.about.as_deref()?)?
                .nameplate
                .voltage_v?;
            let bounds = supply::shock_boundaries(volts)?;
            let restricted = match bounds.restricted {
                Some(inches) => format!("restricted approach {} in", num(inches.get())),
                None => "avoid contact".to_owned(),
            };
            Some(format!(
                "At {}{PHASES}limited approach {} in from fixed parts, {} ft from movable ones; {restricted} (NFPA 70E Table 130.4(E)(a)).",
                num(volts.get()),
                num(bounds.limited_fixed.get()),
                num(bounds.limited_movable.get())
            ))
        }
        HazardKind::LadderAccess => {
            let mut ladders = plan.roofs.iter().filter_map(|r| r.roof.access.as_ref());
            let climb = ladders
                .find(|a| a.kind == AccessKind::PortableLadder)?
                .climb_ft?;
            let setting = ladders::setting(climb);
            Some(format!(
                "For a climb of {} ft: feet {} ft out from the wall, rails at least {} ft long (29 CFR 1926.1053(b)).",
                num(climb.get()),
                num((setting.set_back.get() * 10.0).round() / 10.0),
                num((setting.rail_length.get() * 10.0).ceil() / 10.0)
            ))
        }
        _ => None,
    }
}

/// What can kill first comes first.
fn rank(hazard: &HazardEntry) -> u8 {
    use HazardKind as K;
    let near = hazard
        .zone
        .as_deref()
        .is_none_or(|z| z == Zone::Under6.code());
    match hazard.kind {
        K::UnguardedOpening => 0,
        K::UnprotectedEdge if near || hazard.reported => 0,
        K::LiveElectrical | K::ExposedWiring | K::OverheadLine => 1,
        K::GasLeak | K::Structural | K::ConfinedSpace => 2,
        K::LadderAccess => 3,
        K::UnprotectedEdge => 4,
        K::RefrigerantRelease | K::WeatherHeat => 5,
        K::HotSurface | K::SlipperySurface | K::Trip | K::StingingInsects => 6,
        K::Other => 7,
    }
}

pub(super) fn entry(
    kind: HazardKind,
    about: Option<String>,
    because: String,
    profile: &Profile,
) -> HazardEntry {
    let control = control(kind);
    HazardEntry {
        kind,
        about,
        zone: None,
        distance_ft: None,
        because,
        control: control.words.to_owned(),
        caution: CAUTION.to_owned(),
        reported: false,
        evidence: None,
        note_id: None,
        source: control.cite.source(profile),
    }
}

/// What the verdicts show.
fn computed(plan: &SitePlan<'_>, asked: &[Asked], profile: &Profile) -> Vec<HazardEntry> {
    let mut hazards: Vec<HazardEntry> = Vec::new();
    for one in asked {
        let verdict = one.outcome.verdict;
        let because = || one.outcome.because.clone();
        if one.rule.id == falls::EDGE_DISTANCE.id {
            let near = |d: &f64| settle(*d) < FAR.get() || verdict == Verdict::Advise;
            if let Some(distance) = one.distance.filter(near) {
                let about = Some(one.about.clone());
                hazards.push(HazardEntry {
                    zone: Some(Zone::of(distance).code().to_owned()),
                    distance_ft: Some(settle(distance)),
                    ..entry(HazardKind::UnprotectedEdge, about, because(), profile)
                });
            }
            continue;
        }
        if one.opening.is_some() || verdict != Verdict::Fail {
            continue;
        }
        let kind = match one.rule.id {
            id if [
                ladders::EXTENSION.id,
                ladders::FIXED_OVER_24.id,
                ladders::ACCESS_OVER_16.id,
            ]
            .contains(&id) =>
            {
                HazardKind::LadderAccess
            }
            id if [
                disconnect::AMPACITY.id,
                disconnect::VOLTAGE.id,
                disconnect::IN_SIGHT.id,
                overcurrent::MAX.id,
                workspace::DEPTH.id,
                supply::UNBALANCE.id,
            ]
            .contains(&id) =>
            {
                HazardKind::LiveElectrical
            }
            _ => continue,
        };
        let same = |h: &&mut HazardEntry| h.kind == kind && h.about.as_deref() == Some(&one.about);
        match hazards.iter_mut().rev().take(4).find(same) {
            Some(known) => known.because = format!("{} {}", known.because, one.outcome.because),
            None => hazards.push(HazardEntry {
                source: one.outcome.cite.unwrap_or(one.rule.cite).source(profile),
                ..entry(kind, Some(one.about.clone()), because(), profile)
            }),
        }
    }
    hazards.extend(openings(plan, asked, profile));
    hazards
}

/// Openings without a guard, or of which nobody recorded one: each for the site, and for every
/// unit that is worked at within 15 ft of it.
fn openings(plan: &SitePlan<'_>, asked: &[Asked], profile: &Profile) -> Vec<HazardEntry> {
    let mut hazards = Vec::new();
    for (index, roof) in plan.roofs.iter().enumerate() {
        let open: Vec<(Rect, &Asked)> = asked
            .iter()
            .filter(|a| a.roof == Some(index) && a.outcome.verdict != Verdict::Pass)
            .filter_map(|a| {
                let opening = roof.roof.openings.get(a.opening?)?;
                Some((extent(opening.at_ft, opening.size_ft)?, a))
            })
            .collect();
        if open.is_empty() {
            continue;
        }
        let mut nearest: Vec<Option<(f64, &str)>> = vec![None; open.len()];
        for (i, unit) in plan.survey.equipment.iter().enumerate() {
            let Place::On {
                roof: on,
                footprint: Some(_),
                accuracy,
                ..
            } = plan.place(i)
            else {
                continue;
            };
            if !roof.level_with.contains(&on) {
                continue;
            }
            let areas = plan.standing_areas(i);
            let mut closest: Option<(f64, &Asked)> = None;
            for ((hole, one), known) in open.iter().zip(&mut nearest) {
                let ft = areas.iter().map(|a| gap(a, hole)).fold(f64::MAX, f64::min);
                let ft = settle((ft - accuracy).max(0.0));
                if known.is_none_or(|(d, _)| ft < d) {
                    *known = Some((ft, &unit.tag));
                }
                if closest.is_none_or(|(d, _)| ft < d) {
                    closest = Some((ft, one));
                }
            }
            if let Some((ft, one)) = closest.filter(|(ft, _)| *ft < FAR.get()) {
                let because = format!(
                    "Work here is {} ft from an opening. {}",
                    num(ft),
                    one.outcome.because
                );
                let about = Some(unit.tag.clone());
                hazards.push(opening_entry(one, about, because, Some(ft), profile));
            }
        }
        for ((_, one), near) in open.iter().zip(nearest) {
            let because = match near {
                Some((ft, tag)) => format!(
                    "{} The nearest work, at {tag}, is {} ft away.",
                    one.outcome.because,
                    num(ft)
                ),
                None => one.outcome.because.clone(),
            };
            let about = Some(SITE.to_owned());
            hazards.push(opening_entry(
                one,
                about,
                because,
                near.map(|(ft, _)| ft),
                profile,
            ));
        }
    }
    hazards
}

pub(super) fn opening_entry(
    one: &Asked,
    about: Option<String>,
    because: String,
    ft: Option<f64>,
    profile: &Profile,
) -> HazardEntry {
    let cite = one.outcome.cite.unwrap_or(one.rule.cite);
    HazardEntry {
        zone: ft.map(|ft| Zone::of(ft).code().to_owned()),
        distance_ft: ft,
        source: cite.source(profile),
        ..entry(HazardKind::UnguardedOpening, about, because, profile)
    }
}

/// Adds what a person reported, to the computed entry of the same kind and place if there is one.
fn report(
    hazards: &mut Vec<HazardEntry>,
    kind: HazardKind,
    about: Option<String>,
    said: Option<String>,
    origin: &Origin,
    profile: &Profile,
) {
    let by = origin
        .author
        .as_deref()
        .map_or(String::new(), |author| format!(" by {author}"));
    let words = match said {
        Some(said) if !said.trim().is_empty() => {
            format!("Reported{by}: {}.", said.trim().trim_end_matches('.'))
        }
        _ => format!("Reported{by}."),
    };
    let known = hazards
        .iter_mut()
        .find(|h| h.kind == kind && h.about == about && about.is_some());
    let target = match known {
        Some(known) => {
            known.because = format!("{} {words}", known.because);
            known
        }
        None => {
            hazards.push(entry(kind, about, words, profile));
            match hazards.last_mut() {
                Some(last) => last,
                None => return,
            }
        }
    };
    target.reported = true;
    if target.evidence.is_none() {
        target.evidence = origin.evidence;
        target.note_id.clone_from(&origin.note_id);
    }
}

fn finding_words(finding: &Finding) -> String {
    let hedge = if finding.certainty == Certainty::Suspected {
        " (suspected)"
    } else {
        ""
    };
    format!(
        "{} {}{hedge}",
        finding.component.words(),
        finding.condition.words()
    )
}

/// What a dangerous finding is as a hazard.
fn kind_of(finding: &Finding) -> HazardKind {
    use Component as C;
    match finding.component {
        C::Wiring | C::ControlWiring | C::Conduit => HazardKind::ExposedWiring,
        C::Disconnect | C::ControlCover | C::Receptacle => HazardKind::LiveElectrical,
        C::GasPiping | C::GasRegulator | C::HeatExchanger | C::FlueCap => HazardKind::GasLeak,
        C::RefrigerantLine | C::Compressor if finding.condition == Condition::Leaking => {
            HazardKind::RefrigerantRelease
        }
        C::Hatch | C::Skylight => HazardKind::UnguardedOpening,
        C::Parapet | C::Guardrail => HazardKind::UnprotectedEdge,
        C::Ladder => HazardKind::LadderAccess,
        C::RoofSurface | C::RoofMembrane | C::WalkwayPad => match finding.condition {
            Condition::Ponding | Condition::Frosted => HazardKind::SlipperySurface,
            Condition::Debris | Condition::Loose => HazardKind::Trip,
            _ => HazardKind::Structural,
        },
        _ => HazardKind::Other,
    }
}

/// Whether someone about to work at a unit is warned of a hazard: its own, what was reported of
/// the site, and what the plan shows of the site that is not far away by measurement.
pub(super) fn warns_at(plan: &SitePlan<'_>, hazard: &HazardEntry, tag: &str) -> bool {
    let unit = plan
        .survey
        .equipment
        .iter()
        .position(|u| u.tag == tag || (!u.id.is_empty() && u.id == tag));
    match hazard.about.as_deref() {
        None => true,
        Some(SITE) => {
            // An opening near the unit has an entry of the unit's own; of a unit that is not on
            // the plan nobody can tell, so every opening counts.
            let placed = unit.is_some_and(|i| {
                matches!(
                    plan.place(i),
                    Place::On {
                        footprint: Some(_),
                        ..
                    }
                )
            });
            hazard.reported || hazard.kind != HazardKind::UnguardedOpening || !placed
        }
        Some(about) => unit
            .and_then(|i| plan.survey.equipment.get(i))
            .map_or(about == tag, |u| {
                about == u.tag || (!u.id.is_empty() && about == u.id)
            }),
    }
}
