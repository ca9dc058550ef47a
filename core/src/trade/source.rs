//! How a rule answers: a verdict with both numbers and the place the requirement comes from.

use serde::{Deserialize, Serialize};

/// What a check came to. `Unknown` is never a pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The requirement is not met.
    Fail,
    /// Worth a qualified person's look; the source does not make it a plain failure.
    Advise,
    /// An input is missing.
    Unknown,
    /// The requirement is met by what was recorded.
    Pass,
}

/// How a requirement is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
pub enum Basis {
    /// Seen in a published text.
    #[serde(rename = "published")]
    Published,
    /// From memory of the named text, which was not reread.
    #[serde(rename = "memory")]
    Memory,
    /// Common practice, no source.
    #[serde(rename = "common practice")]
    CommonPractice,
}

/// Where a requirement comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Source {
    /// Standard, such as `NFPA 70`.
    pub standard: String,
    /// Edition, such as `2023`.
    pub edition: String,
    /// Section, such as `440.12`.
    pub section: String,
    /// How it is known.
    pub basis: Basis,
}

/// A number with its unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Quantity {
    /// The number.
    pub value: f64,
    /// Its unit.
    pub unit: String,
}

/// What a standard asks of a quantity; exactly one bound is given.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Requirement {
    /// This much or more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_least: Option<f64>,
    /// This much or less.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_most: Option<f64>,
    /// Strictly more than this.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub more_than: Option<f64>,
    /// Strictly less than this.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub less_than: Option<f64>,
    /// Unit of the bound.
    pub unit: String,
}
