//! Survey and assessment as pricing reads them: units in tag order, facts looked up by tag.
//!
//! Everything is sorted here once, so that the order of entry never shows in a quote.

use crate::assess::{Assessment, HazardEntry};
use crate::survey::codes::{Certainty, EquipmentKind, HazardKind};
use crate::survey::{Equipment, Finding, SITE, Survey};
use crate::trade::Verdict;
use std::collections::BTreeMap;

/// A survey and its assessment, indexed.
pub(crate) struct View<'a> {
    pub(crate) survey: &'a Survey,
    pub(crate) units: Vec<&'a Equipment>,
    findings: BTreeMap<&'a str, Vec<&'a Finding>>,
    verdicts: BTreeMap<(&'a str, &'a str), Verdict>,
    hazards: BTreeMap<&'a str, Vec<&'a HazardEntry>>,
    kinds: BTreeMap<&'a str, EquipmentKind>,
}

impl<'a> View<'a> {
    pub(crate) fn new(survey: &'a Survey, assessment: &'a Assessment) -> Self {
        let mut units: Vec<&Equipment> = survey.equipment.iter().collect();
        units.sort_by_cached_key(|unit| (tag_order(&unit.tag), unit.kind, whole(unit)));
        let mut findings: BTreeMap<&str, Vec<&Finding>> = BTreeMap::new();
        for finding in &assessment.findings {
            let counts =
                finding.certainty != Certainty::Absent && finding.origin.withdrawn_by.is_none();
            if counts {
                findings.entry(&finding.about).or_default().push(finding);
            }
        }
        for list in findings.values_mut() {
            list.sort_by_cached_key(|f| (f.severity, f.component, f.condition, whole(*f)));
        }
        let mut hazards: BTreeMap<&str, Vec<&HazardEntry>> = BTreeMap::new();
        for hazard in &assessment.hazards {
            let about = hazard.about.as_deref().unwrap_or(SITE);
            hazards.entry(about).or_default().push(hazard);
        }
        for list in hazards.values_mut() {
            list.sort_by_cached_key(|h| (h.kind, whole(*h)));
        }
        let mut verdicts: BTreeMap<(&str, &str), Verdict> = BTreeMap::new();
        for check in &assessment.checks {
            let verdict = verdicts
                .entry((check.rule.as_str(), check.about.as_str()))
                .or_insert(check.verdict);
            // Of two answers the graver one counts: a fail before an unknown before a pass.
            *verdict = (*verdict).min(check.verdict);
        }
        let kinds = units
            .iter()
            .map(|unit| (unit.tag.as_str(), unit.kind))
            .collect();
        Self {
            survey,
            kinds,
            units,
            findings,
            verdicts,
            hazards,
        }
    }

    /// Findings about a tag that were not denied or withdrawn, gravest first.
    pub(crate) fn findings(&self, tag: &str) -> &[&'a Finding] {
        self.findings.get(tag).map_or(&[], Vec::as_slice)
    }

    /// All such findings, tag by tag.
    pub(crate) fn all_findings(&self) -> impl Iterator<Item = &'a Finding> {
        self.findings.values().flatten().copied()
    }

    /// Hazards at a tag, or at the site.
    pub(crate) fn hazards(&self, tag: &str) -> &[&'a HazardEntry] {
        self.hazards.get(tag).map_or(&[], Vec::as_slice)
    }

    /// Hazards that are at no unit of this survey.
    pub(crate) fn site_hazards(&self) -> impl Iterator<Item = &'a HazardEntry> {
        self.hazards
            .iter()
            .filter(|(about, _)| !self.kinds.contains_key(*about))
            .flat_map(|(_, list)| list.iter().copied())
    }

    /// What a rule said of a tag.
    pub(crate) fn verdict(&self, rule: &str, tag: &str) -> Option<Verdict> {
        self.verdicts.get(&(rule, tag)).copied()
    }

    /// What the unit with this tag is.
    pub(crate) fn kind(&self, tag: &str) -> Option<EquipmentKind> {
        self.kinds.get(tag).copied()
    }

    /// Whether someone at a unit could fall off an edge, as hazards and checks tell it.
    pub(crate) fn nearness(&self, unit: &Equipment) -> Nearness {
        let mut edges = self.hazards(&unit.tag).iter();
        let near = edges.find(|hazard| is_near_edge(hazard));
        match (near, self.verdict("edge-distance", &unit.tag)) {
            (Some(hazard), _) => Nearness::Near(hazard.because.clone()),
            (None, Some(Verdict::Fail)) => {
                Nearness::Near("it fails the edge-distance check".into())
            }
            (None, Some(Verdict::Pass | Verdict::Advise)) => Nearness::Away,
            (None, Some(Verdict::Unknown) | None) => Nearness::Unknown,
        }
    }
}

/// Whether someone at a unit could fall off an edge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Nearness {
    /// Under 15 ft from an unprotected edge, and why.
    Near(String),
    /// Not near one, as the assessment found.
    Away,
    /// Nobody could tell.
    Unknown,
}

/// An unprotected edge that calls for protection: all but those known to be over 15 ft away,
/// where 29 CFR 1910.28(b)(13)(iii) lets a work rule stand in for it.
pub(crate) fn is_near_edge(hazard: &HazardEntry) -> bool {
    hazard.kind == HazardKind::UnprotectedEdge && hazard.zone.as_deref() != Some("over_15_ft")
}

/// A key that puts RTU-2 before RTU-10.
pub fn tag_order(tag: &str) -> (String, u64, String) {
    let digits = tag.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (letters, number) = tag.split_at(digits);
    (
        letters.to_owned(),
        number.parse().unwrap_or(0),
        tag.to_owned(),
    )
}

fn whole<T: serde::Serialize>(value: &T) -> String {
    serde_json::to_string(value).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tags_sort_as_people_count() {
        let mut tags = ["RTU-10", "EF-1", "RTU-2", "RTU", "7"];
        tags.sort_by_cached_key(|tag| tag_order(tag));
        assert_eq!(tags, ["7", "EF-1", "RTU", "RTU-2", "RTU-10"]);
    }
}
