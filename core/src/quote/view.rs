//! Survey and assessment as pricing reads them: units in tag order, facts looked up by tag.
//!
//! Everything is sorted here once, so that the order of entry never shows in a quote.

use crate::assess::{Assessment, Check, HazardEntry};
use crate::survey::codes::{Certainty, EquipmentKind, HazardKind};
use crate::survey::{Equipment, Finding, SITE, Survey};
use crate::trade::Verdict;
use std::collections::BTreeMap;

/// The rules that pricing asks about.
const READ: [&str; 3] = ["edge-distance", "hose-reach", "service-life"];

/// A survey and its assessment, indexed.
pub(crate) struct View<'a> {
    pub(crate) survey: &'a Survey,
    pub(crate) units: Vec<&'a Equipment>,
    findings: BTreeMap<&'a str, Vec<&'a Finding>>,
    checks: BTreeMap<(&'a str, &'a str), &'a Check>,
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
            let key = |f: &Finding| (f.severity, f.component, f.condition);
            list.sort_by(|a, b| key(a).cmp(&key(b)).then_with(|| whole(*a).cmp(&whole(*b))));
        }
        let mut hazards: BTreeMap<&str, Vec<&HazardEntry>> = BTreeMap::new();
        for hazard in &assessment.hazards {
            let about = hazard.about.as_deref().unwrap_or(SITE);
            hazards.entry(about).or_default().push(hazard);
        }
        for list in hazards.values_mut() {
            list.sort_by(|a, b| {
                let kinds = a.kind.cmp(&b.kind);
                kinds.then_with(|| whole(*a).cmp(&whole(*b)))
            });
        }
        let mut checks: BTreeMap<(&str, &str), &Check> = BTreeMap::new();
        let read = |check: &&Check| READ.contains(&check.rule.as_str());
        for check in assessment.checks.iter().filter(read) {
            let known = checks
                .entry((check.rule.as_str(), check.about.as_str()))
                .or_insert(check);
            // Of two answers the graver one counts: a fail before an unknown before a pass.
            if (check.verdict, &check.because) < (known.verdict, &known.because) {
                *known = check;
            }
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
            checks,
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
        self.checks.get(&(rule, tag)).map(|check| check.verdict)
    }

    /// What the unit with this tag is.
    pub(crate) fn kind(&self, tag: &str) -> Option<EquipmentKind> {
        self.kinds.get(tag).copied()
    }

    /// Whether someone at a unit could fall off an edge, as hazards and checks tell it.
    pub(crate) fn nearness(&self, unit: &Equipment) -> Nearness {
        let near = |zone: Zone| {
            let mut edges = self.hazards(&unit.tag).iter();
            edges.find(|hazard| {
                hazard.kind == HazardKind::UnprotectedEdge && Zone::of(hazard) == zone
            })
        };
        if let Some(hazard) = near(Zone::Close) {
            return Nearness::Close(said(hazard));
        }
        if let Some(hazard) = near(Zone::Near) {
            return Nearness::Near(said(hazard));
        }
        match self.checks.get(&("edge-distance", unit.tag.as_str())) {
            Some(check) => match check.verdict {
                Verdict::Pass => Nearness::Away,
                Verdict::Advise | Verdict::Fail => {
                    Nearness::Near(format!("{}: {}", unit.tag, check.because))
                }
                Verdict::Unknown => Nearness::Unknown,
            },
            None => Nearness::Unknown,
        }
    }
}

/// Whether someone at a unit could fall off an edge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Nearness {
    /// Under 6 ft from an unprotected edge, or at one whose distance nobody gave; and why.
    Close(String),
    /// Near enough for protection, 6 ft away or more; and why.
    Near(String),
    /// Not near one, as the assessment found.
    Away,
    /// Nobody could tell.
    Unknown,
}

/// How near an edge or a hole is, as its hazard says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Zone {
    /// Under 6 ft, or not told.
    Close,
    /// 6 to 15 ft.
    Near,
    /// 15 ft or more, where 29 CFR 1910.28(b)(13)(iii) lets a work rule stand in for protection.
    Away,
}

impl Zone {
    pub(crate) fn of(hazard: &HazardEntry) -> Self {
        match hazard.zone.as_deref() {
            Some("6_to_15_ft") => Self::Near,
            Some("over_15_ft") => Self::Away,
            _ => Self::Close,
        }
    }
}

/// A hazard's reason, beginning with where it is.
pub(crate) fn said(hazard: &HazardEntry) -> String {
    match hazard.about.as_deref() {
        Some(tag) if hazard.because.contains(tag) => hazard.because.clone(),
        Some(SITE) | None => format!("site: {}", hazard.because),
        Some(tag) => format!("{tag}: {}", hazard.because),
    }
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
