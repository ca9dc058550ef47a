//! The equipment register: one row a unit, in the order people count.

use super::asks_for_work;
use super::types::RegisterRow;
use crate::survey::{Equipment, Survey};
use crate::trade::num;
use std::collections::BTreeMap;

pub(super) fn rows(survey: &Survey) -> Vec<RegisterRow> {
    let mut about: BTreeMap<&str, About> = BTreeMap::new();
    for finding in survey.findings.iter().filter(|f| asks_for_work(f)) {
        let entry = about.entry(&finding.about).or_default();
        entry.findings += 1;
        entry.worst = Some(
            entry
                .worst
                .map_or(finding.severity, |w| w.min(finding.severity)),
        );
    }
    for photo in survey.photos.iter().filter(|p| p.withdrawn_by.is_none()) {
        if let Some(reference) = &photo.about {
            about.entry(reference).or_default().photos += 1;
        }
    }
    for draft in &survey.drafts {
        if draft.origin.withdrawn_by.is_none() && draft.origin.confirmed_by.is_empty() {
            about
                .entry(&draft.about)
                .or_default()
                .unconfirmed
                .push(&draft.field);
        }
    }
    let mut units: Vec<&Equipment> = survey.equipment.iter().collect();
    units.sort_by_cached_key(|unit| tag_order(&unit.tag));
    units.into_iter().map(|unit| row(unit, &about)).collect()
}

#[derive(Default)]
struct About<'a> {
    worst: Option<crate::survey::codes::Severity>,
    findings: usize,
    photos: usize,
    unconfirmed: Vec<&'a str>,
}

fn row(unit: &Equipment, about: &BTreeMap<&str, About<'_>>) -> RegisterRow {
    let by_id = (unit.id != unit.tag && !unit.id.is_empty()).then_some(unit.id.as_str());
    let entries: Vec<&About<'_>> = std::iter::once(unit.tag.as_str())
        .chain(by_id)
        .filter_map(|key| about.get(key))
        .collect();
    let mut unconfirmed: Vec<String> = entries
        .iter()
        .flat_map(|e| &e.unconfirmed)
        .map(|f| (*f).to_owned())
        .collect();
    unconfirmed.sort();
    unconfirmed.dedup();
    let plate = &unit.nameplate;
    RegisterRow {
        tag: unit.tag.clone(),
        id: unit.id.clone(),
        kind: unit.kind,
        make: plate.make.clone(),
        model: plate.model.clone(),
        serial: plate.serial.clone(),
        manufactured_year: plate.manufactured_year,
        supply: supply(unit),
        mca_a: plate.mca_a.map(|a| a.get()),
        mocp_a: plate.mocp_a.map(|a| a.get()),
        disconnect_a: unit.disconnect.rating_a.map(|a| a.get()),
        refrigerant: plate.refrigerant.clone(),
        capacity_tons: plate.capacity_tons.map(|t| t.get()),
        filters: unit.filters.clone(),
        belts: unit.belts.clone(),
        worst: entries.iter().filter_map(|e| e.worst).min(),
        findings: entries.iter().map(|e| e.findings).sum(),
        photos: entries.iter().map(|e| e.photos).sum(),
        unconfirmed,
    }
}

fn supply(unit: &Equipment) -> Option<String> {
    let plate = &unit.nameplate;
    let parts: Vec<String> = [
        plate.voltage_v.map(|v| format!("{} V", num(v.get()))),
        plate.phase.map(|p| format!("{p} ph")),
        plate.hertz.map(|h| format!("{} Hz", num(h.get()))),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!parts.is_empty()).then(|| parts.join(" "))
}

/// Letters, then the number as a number: RTU-2 before RTU-10.
pub(super) fn tag_order(tag: &str) -> (String, u64, String) {
    let digits = tag.find(|c: char| c.is_ascii_digit()).unwrap_or(tag.len());
    let (letters, rest) = tag.split_at(digits);
    let end = rest
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(rest.len());
    let (number, tail) = rest.split_at(end);
    (
        letters.to_owned(),
        number.parse().unwrap_or(u64::MAX),
        tail.to_owned(),
    )
}
