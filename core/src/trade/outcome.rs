//! What a rule function answers: a verdict, both numbers, one sentence, and what it lacked.
//!
//! Every rule of `trade` returns an [`Outcome`]; `assess` adds the unit and the source. Numbers
//! are settled to a millionth before they are compared, so that a plan shifted by 1,234.567 ft
//! still meets "at least 15" exactly where it met it before.

use super::catalogue::Cite;
use super::source::{Quantity, Requirement, Verdict};

/// The answer of one rule to one set of inputs.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// What it came to.
    pub verdict: Verdict,
    /// What was found.
    pub measured: Option<Quantity>,
    /// What is asked.
    pub required: Option<Requirement>,
    /// One sentence with both numbers, or with what is missing.
    pub because: String,
    /// Fields that would settle an unknown, or that were taken at their worst.
    pub needs: Vec<String>,
    /// Where the requirement comes from, if not from the rule's usual place.
    pub cite: Option<Cite>,
}

impl Outcome {
    pub(crate) fn new(verdict: Verdict, because: impl Into<String>) -> Self {
        Self {
            verdict,
            measured: None,
            required: None,
            because: because.into(),
            needs: Vec::new(),
            cite: None,
        }
    }

    /// An input is missing: says what, and which fields would settle it.
    pub(crate) fn unknown(because: impl Into<String>, needs: &[&str]) -> Self {
        Self::new(Verdict::Unknown, because).needing(needs)
    }

    pub(crate) fn needing(mut self, fields: &[&str]) -> Self {
        self.needs.extend(fields.iter().map(|f| (*f).to_owned()));
        self
    }

    pub(crate) fn measured(mut self, value: f64, unit: &str) -> Self {
        self.measured = Some(Quantity {
            value: settle(value),
            unit: unit.to_owned(),
        });
        self
    }

    pub(crate) fn at_least(self, bound: f64, unit: &str) -> Self {
        self.asks(unit, |r| r.at_least = Some(settle(bound)))
    }

    pub(crate) fn at_most(self, bound: f64, unit: &str) -> Self {
        self.asks(unit, |r| r.at_most = Some(settle(bound)))
    }

    pub(crate) fn more_than(self, bound: f64, unit: &str) -> Self {
        self.asks(unit, |r| r.more_than = Some(settle(bound)))
    }

    pub(crate) fn citing(mut self, cite: Cite) -> Self {
        self.cite = Some(cite);
        self
    }

    fn asks(mut self, unit: &str, set: impl FnOnce(&mut Requirement)) -> Self {
        let mut requirement = Requirement {
            unit: unit.to_owned(),
            ..Requirement::default()
        };
        set(&mut requirement);
        self.required = Some(requirement);
        self
    }
}

/// Rounds away what only floating point added: a millionth of the unit.
pub(crate) fn settle(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// A number as people write it: at most two decimals, none that are zero, and never rounded up
/// onto a whole number it does not reach.
pub(crate) fn num(value: f64) -> String {
    let value = settle(value);
    let short = (value * 100.0).round() / 100.0;
    if short != value && short.fract() == 0.0 {
        format!("{value}")
    } else {
        format!("{short}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_people_write_them() {
        for (value, text) in [
            (24.0, "24"),
            (22.025, "22.03"),
            (99.65, "99.65"),
            (5.9999, "5.9999"),
            (0.1 + 0.2, "0.3"),
            (6.000_000_000_1, "6"),
        ] {
            assert_eq!(num(value), text);
        }
    }
}
