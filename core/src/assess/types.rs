//! What an assessment is made of: rows, verdicts, hazards, gaps. Plain data, as in the contracts.

use crate::survey::codes::{EquipmentKind, HazardKind, Severity};
use crate::survey::spoken::Evidence;
use crate::survey::{Belt, Filter, Finding};
use serde::{Deserialize, Serialize};

use crate::trade::{Quantity, Requirement, Source, Verdict};

/// Everything the office reads of a survey. Derived, never stored.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Assessment {
    /// Identity of the survey.
    pub survey_id: String,
    /// Jurisdiction profile whose editions were used.
    pub profile: String,
    /// One row per piece of equipment.
    pub register: Vec<RegisterRow>,
    /// One verdict per rule and unit it applies to.
    pub checks: Vec<Check>,
    /// What could hurt someone, what can kill first coming first.
    pub hazards: Vec<HazardEntry>,
    /// What to fetch before the roof is left.
    pub missing: Vec<Missing>,
    /// Findings, gravest first.
    pub findings: Vec<Finding>,
    /// What nobody could look at.
    pub not_checked: Vec<String>,
    /// Caution that goes with every copy.
    pub caution: String,
}

/// One unit in the equipment register.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RegisterRow {
    /// Tag.
    #[serde(rename = "ref")]
    pub tag: String,
    /// Identity of the equipment.
    pub id: String,
    /// Kind.
    pub kind: EquipmentKind,
    /// Maker.
    pub make: Option<String>,
    /// Model number.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Year of manufacture.
    pub manufactured_year: Option<i32>,
    /// Electrical supply in words, such as `460 V 3 ph`.
    pub supply: Option<String>,
    /// Minimum circuit ampacity.
    pub mca_a: Option<f64>,
    /// Maximum overcurrent protection.
    pub mocp_a: Option<f64>,
    /// Disconnect rating.
    pub disconnect_a: Option<f64>,
    /// Refrigerant.
    pub refrigerant: Option<String>,
    /// Cooling capacity.
    pub capacity_tons: Option<f64>,
    /// Filters.
    pub filters: Vec<Filter>,
    /// Belts.
    pub belts: Vec<Belt>,
    /// Gravest finding.
    pub worst: Option<Severity>,
    /// Number of findings that ask for work.
    pub findings: usize,
    /// Number of photos.
    pub photos: usize,
    /// Fields that nobody confirmed yet.
    pub unconfirmed: Vec<String>,
}

/// The outcome of one rule on one unit, or on the site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Check {
    /// Rule id, such as `disconnect-ampacity`.
    pub rule: String,
    /// Tag, or `site`.
    #[serde(rename = "ref")]
    pub about: String,
    /// Outcome.
    pub verdict: Verdict,
    /// What was found.
    pub measured: Option<Quantity>,
    /// What the standard asks.
    pub required: Option<Requirement>,
    /// One sentence with both numbers.
    pub because: String,
    /// Where the requirement comes from.
    pub source: Source,
}

/// Something that could hurt someone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct HazardEntry {
    /// What it is.
    pub kind: HazardKind,
    /// Tag, `site`, or absent.
    #[serde(rename = "ref")]
    pub about: Option<String>,
    /// Distance class of an edge or opening: `under_6_ft`, `6_to_15_ft`, `over_15_ft`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub zone: Option<String>,
    /// Nearest distance, if known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub distance_ft: Option<f64>,
    /// Why, with both numbers.
    pub because: String,
    /// The usual control: eliminate, guard, restrain, warn, in that order.
    pub control: String,
    /// Caution that goes with it where it is shown alone.
    pub caution: String,
    /// Whether a person reported it (true) or the plan shows it (false).
    pub reported: bool,
    /// Words a person said, if reported by voice.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub evidence: Option<Evidence>,
    /// Note that holds those words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note_id: Option<String>,
    /// Where the control comes from.
    pub source: Source,
}

/// A field that would settle an `unknown`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Missing {
    /// Tag, or `site`.
    #[serde(rename = "ref")]
    pub about: String,
    /// The field.
    pub field: String,
    /// What needs it.
    pub why: String,
    /// The shortest way to get it without opening a panel.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub how: Option<String>,
}
