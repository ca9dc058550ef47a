//! Which photos show a finding: those it names, and those of the same unit whose caption names
//! the same part. Read by repairs and papers; decides nothing.

use crate::survey::codes::{Certainty, Component, Condition};
use crate::survey::{Finding, Photo, Survey};
use std::collections::BTreeMap;

/// What tells findings apart; ids are empty in a survey written by hand.
type Key = (String, String, Component, Condition, Option<String>);

fn key(finding: &Finding) -> Key {
    (
        finding.id.clone(),
        finding.about.clone(),
        finding.component,
        finding.condition,
        finding.remark.clone(),
    )
}

/// The photos of a survey by the findings that they show.
#[derive(Debug, Default)]
pub struct Pictured<'a> {
    photos: BTreeMap<Key, Vec<&'a Photo>>,
}

impl<'a> Pictured<'a> {
    /// Looks through a survey once.
    pub fn of(survey: &'a Survey) -> Self {
        let mut named: BTreeMap<&str, Vec<&Finding>> = BTreeMap::new();
        let mut at: BTreeMap<&str, Vec<&Finding>> = BTreeMap::new();
        for finding in survey.findings.iter().filter(|f| stands(f)) {
            for photo in &finding.origin.photos {
                named.entry(photo).or_default().push(finding);
            }
            at.entry(&finding.about).or_default().push(finding);
        }
        let mut pictured = Self::default();
        for photo in survey.photos.iter().filter(|p| p.withdrawn_by.is_none()) {
            let by = |id: &str| named.get(id).filter(|_| !id.is_empty());
            let about = photo.about.as_deref().and_then(|about| at.get(about));
            match by(&photo.id).or_else(|| by(&photo.hash)) {
                Some(findings) => findings.iter().for_each(|f| pictured.add(f, photo)),
                None => {
                    if let Some(finding) = about.and_then(|findings| spoken_of(findings, photo)) {
                        pictured.add(finding, photo);
                    }
                }
            }
        }
        pictured
    }

    fn add(&mut self, finding: &Finding, photo: &'a Photo) {
        self.photos.entry(key(finding)).or_default().push(photo);
    }

    /// The photos of a finding, in the survey's order.
    pub fn photos(&self, finding: &Finding) -> &[&'a Photo] {
        self.photos.get(&key(finding)).map_or(&[], Vec::as_slice)
    }
}

fn stands(finding: &Finding) -> bool {
    finding.origin.withdrawn_by.is_none()
        && finding.certainty != Certainty::Absent
        && finding.condition != Condition::Good
}

/// Of findings at one unit the one that a caption speaks of: whose condition it names too before
/// others, the graver before the lesser.
fn spoken_of<'a>(findings: &[&'a Finding], photo: &Photo) -> Option<&'a Finding> {
    let caption = photo.caption.as_deref()?.to_lowercase();
    let findings = findings.iter().copied();
    findings
        .filter(|f| caption.contains(&f.component.words()))
        .min_by_key(|f| (!caption.contains(&f.condition.words()), f.severity))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::survey::read::survey_from_json;

    #[test]
    fn a_caption_that_names_unit_and_part_belongs_to_its_finding() {
        let survey = survey_from_json(
            r#"{"findings": [
                {"ref": "RTU-1", "component": "belt", "condition": "frayed", "severity": "repair"},
                {"ref": "RTU-1", "component": "belt", "condition": "cracked", "severity": "minor"},
                {"ref": "RTU-1", "component": "filter", "condition": "dirty", "photos": ["c"]},
                {"ref": "RTU-2", "component": "belt", "condition": "good"}],
              "photos": [{"id": "a", "ref": "RTU-1", "caption": "Cracked belt"},
                {"id": "b", "ref": "RTU-1", "caption": "The belt through the louver"},
                {"id": "c", "ref": "RTU-1", "caption": "Belt and filter"},
                {"id": "d", "ref": "RTU-2", "caption": "Belt"}, {"id": "e", "caption": "Belt"}]}"#,
        )
        .unwrap();
        let pictured = Pictured::of(&survey);
        let ids = |k: usize| -> Vec<&str> {
            let photos = pictured.photos(&survey.findings[k]);
            photos.iter().map(|p| p.id.as_str()).collect()
        };
        assert_eq!((ids(0), ids(1), ids(2)), (vec!["b"], vec!["a"], vec!["c"]));
        assert!(ids(3).is_empty());
    }
}
