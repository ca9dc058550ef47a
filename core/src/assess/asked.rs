//! One rule asked of one thing, and what it answered.

use super::types::Check;
use crate::survey::SITE;
use crate::trade::{Outcome, Profile, Rule};

/// A rule's answer and whom it is about.
pub(super) struct Asked {
    pub(super) rule: &'static Rule,
    /// Tag, or `site`.
    pub(super) about: String,
    /// The unit, by its index in the survey.
    pub(super) unit: Option<usize>,
    /// The roof, by its index on the plan.
    pub(super) roof: Option<usize>,
    pub(super) outcome: Outcome,
    /// Nearest distance that the answer turned on, for a hazard.
    pub(super) distance: Option<f64>,
    /// The opening it is about, by its index on the roof.
    pub(super) opening: Option<usize>,
}

impl Asked {
    pub(super) fn of_unit(rule: &'static Rule, index: usize, tag: &str, outcome: Outcome) -> Self {
        Self {
            rule,
            about: tag.to_owned(),
            unit: Some(index),
            roof: None,
            outcome,
            distance: None,
            opening: None,
        }
    }

    /// Rules name fields of `site.roof`; `path` is the roof that is really meant.
    pub(super) fn of_roof(rule: &'static Rule, roof: usize, path: &str, outcome: Outcome) -> Self {
        Self {
            about: SITE.to_owned(),
            unit: None,
            ..Self::of_unit(rule, 0, SITE, outcome).on(roof, path)
        }
    }

    pub(super) fn on(mut self, roof: usize, path: &str) -> Self {
        self.roof = Some(roof);
        for field in &mut self.outcome.needs {
            if let Some(rest) = field.strip_prefix("site.roof.") {
                *field = format!("{path}.{rest}");
            }
        }
        self
    }

    pub(super) fn at(mut self, distance: Option<f64>) -> Self {
        self.distance = distance;
        self
    }

    pub(super) fn check(self, profile: &Profile) -> Check {
        let cite = self.outcome.cite.unwrap_or(self.rule.cite);
        Check {
            rule: self.rule.id.to_owned(),
            about: self.about,
            verdict: self.outcome.verdict,
            measured: self.outcome.measured,
            required: self.outcome.required,
            because: self.outcome.because,
            source: cite.source(profile),
        }
    }
}
