//! From a survey to what the office reads: register, verdicts, hazards, what is missing.
//!
//! A pure function of the survey, the day and the jurisdiction profile. Which rule is asked of
//! which unit is decided in `unit`, `place` and `roofs`; what a verdict means for people, in
//! `hazards` and `missing`. Nothing here knows a document, a database or a page.

mod asked;
mod controls;
mod hazards;
mod missing;
mod odd;
mod place;
mod register;
mod roofs;
mod types;
mod unit;
mod watch;

#[cfg(test)]
mod laws;
#[cfg(test)]
mod tests;

pub use controls::usual_control;
pub use hazards::by_voltage;
pub use odd::{OddValue, odd_values, read_off};
pub use types::{Assessment, Check, HazardEntry, Missing, RegisterRow};
pub use watch::{RoofWarning, Watch, Whereabouts, line as warning_line};

use crate::plan::SitePlan;
use crate::survey::codes::{Certainty, Condition, Severity};
use crate::survey::{Finding, Survey};
use crate::trade::Profile;
use asked::Asked;
use chrono::{DateTime, FixedOffset, NaiveDate};

/// What an assessment goes by besides the survey.
#[derive(Debug, Clone, Copy, Default)]
pub struct AssessOptions<'a> {
    /// The day it is made for; by default the day of the visit, else of the latest note or photo.
    pub as_of: Option<NaiveDate>,
    /// The editions to quote; by default those that the survey names, else the usual ones.
    pub profile: Option<&'a Profile>,
}

impl<'a> AssessOptions<'a> {
    fn profile_for(&self, survey: &Survey) -> &'a Profile {
        self.profile.unwrap_or_else(|| Profile::of(survey))
    }
}

/// The caution that goes with every copy.
pub const CAUTION: &str = "This is a survey, not an inspection: it compares what was seen, said and \
measured from outside with published requirements. It never says that a place or a unit is safe. \
Local codes and the authority having jurisdiction decide; work at edges, on live parts, gas and \
refrigerant is for licensed, qualified people with the controls that their employer sets.";

/// Assesses a survey.
pub fn assess(survey: &Survey, options: &AssessOptions<'_>) -> Assessment {
    let plan = SitePlan::new(survey);
    let profile = options.profile_for(survey);
    let asked = ask_all(&plan, options);
    let hazards = hazards::list(&plan, &asked, profile);
    let mut findings: Vec<_> = survey
        .findings
        .iter()
        .filter(|f| f.origin.withdrawn_by.is_none())
        .cloned()
        .collect();
    findings.sort_by_key(|f| (f.severity, f.certainty == Certainty::Absent));
    Assessment {
        survey_id: survey.survey_id.clone(),
        profile: profile.id().to_owned(),
        register: register::rows(survey),
        missing: missing::list(&plan, &asked),
        not_checked: missing::not_checked(survey, profile, &asked),
        checks: asked.into_iter().map(|a| a.check(profile)).collect(),
        hazards,
        findings,
        caution: CAUTION.to_owned(),
    }
}

/// What a phone warns of when someone is about to work at a unit: the unit's own hazards, openings
/// near it, and what concerns the whole site. Most dangerous first.
pub fn hazards_near(survey: &Survey, tag: &str) -> Vec<HazardEntry> {
    let plan = SitePlan::new(survey);
    let options = AssessOptions::default();
    let asked = ask_all(&plan, &options);
    let mut near = hazards::list(&plan, &asked, options.profile_for(survey));
    near.retain(|hazard| hazards::warns_at(&plan, hazard, tag));
    near
}

fn ask_all<'a>(plan: &SitePlan<'a>, options: &AssessOptions<'_>) -> Vec<Asked> {
    let as_of = options.as_of.or_else(|| day_of(plan.survey));
    let limits = options.profile_for(plan.survey).limits();
    let mut asked = Vec::new();
    for (index, unit) in plan.survey.equipment.iter().enumerate() {
        unit::ask(unit, index, as_of, &mut asked);
        place::ask(plan, index, unit, limits, &mut asked);
    }
    roofs::ask(plan, limits, &mut asked);
    asked
}

/// The day of a visit: as recorded, else the day of its latest note or photo.
fn day_of(survey: &Survey) -> Option<NaiveDate> {
    let latest = |times: &mut dyn Iterator<Item = DateTime<FixedOffset>>| times.max();
    let notes = latest(&mut survey.notes.iter().filter_map(|n| n.recorded_at));
    let photos = latest(&mut survey.photos.iter().filter_map(|p| p.taken_at));
    survey
        .surveyed_on
        .or_else(|| notes.max(photos).map(|at| at.date_naive()))
}

/// Whether a finding asks for work.
fn asks_for_work(finding: &Finding) -> bool {
    finding.origin.withdrawn_by.is_none()
        && finding.certainty != Certainty::Absent
        && finding.condition != Condition::Good
        && finding.severity <= Severity::Minor
}
