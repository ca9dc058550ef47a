//! A dictation and what it was understood to say: the shapes that go in and come out of
//! `dictation`, which `document` keeps as drafts.

use super::codes::{Action, Certainty, Component, Condition, EquipmentKind, HazardKind, Severity};
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};

/// What a recogniser wrote down of one voice note.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Transcript {
    /// Identity of the note.
    pub note_id: String,
    /// Who spoke.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub author: Option<String>,
    /// When the note began, by the device's clock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recorded_at: Option<DateTime<FixedOffset>>,
    /// The pieces, in the order spoken.
    pub segments: Vec<Segment>,
}

/// A piece of a note; it may cut a sentence anywhere.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Segment {
    /// When it begins, from the start of the note.
    #[serde(default)]
    #[cfg_attr(feature = "uniffi", uniffi(default))]
    pub start_ms: u64,
    /// When it ends.
    #[serde(default)]
    #[cfg_attr(feature = "uniffi", uniffi(default))]
    pub end_ms: u64,
    /// The words.
    pub text: String,
    /// The recogniser's trust in them, 0 to 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "uniffi", uniffi(default))]
    pub confidence: Option<f64>,
    /// The recogniser's other guesses.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "uniffi", uniffi(default))]
    pub alternatives: Vec<String>,
}

/// The words that something came from: a byte range of one segment's text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Evidence {
    /// Index of the segment.
    pub segment: usize,
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

/// What a note was understood to say.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Interpretation {
    /// Identity of the note.
    pub note_id: String,
    /// Equipment that was spoken of.
    #[serde(default)]
    pub equipment: Vec<Mention>,
    /// Values.
    #[serde(default)]
    pub facts: Vec<Fact>,
    /// What is wrong, or looked at and good.
    #[serde(default)]
    pub findings: Vec<SpokenFinding>,
    /// Dangers.
    #[serde(default)]
    pub hazards: Vec<SpokenHazard>,
    /// Things to come back for.
    #[serde(default)]
    pub follow_ups: Vec<SpokenFollowUp>,
    /// Words that nothing was made of.
    #[serde(default)]
    pub unparsed: Vec<Evidence>,
}

/// A piece of equipment that was spoken of.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Mention {
    /// Its tag, such as `RTU-2`.
    #[serde(rename = "ref")]
    pub tag: String,
    /// What it is.
    pub kind: EquipmentKind,
    /// The number in its tag, if it has one.
    #[serde(default)]
    pub number: Option<u32>,
}

/// A value of a field.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Fact {
    /// Tag of the equipment, or `site`.
    #[serde(rename = "ref")]
    pub about: String,
    /// The field, such as `nameplate.mca_a`.
    pub field: String,
    /// The value: a number, text, or an object as the contracts say.
    pub value: serde_json::Value,
    /// The words it came from.
    pub evidence: Evidence,
    /// How sure the reading is, 0 to 1.
    pub confidence: f64,
    /// Why a person should look before it counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needs_confirmation: Option<String>,
}

/// A finding as it was heard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct SpokenFinding {
    /// Tag of the equipment, or `site`.
    #[serde(rename = "ref")]
    pub about: String,
    /// The part.
    pub component: Component,
    /// What is the matter with it.
    pub condition: Condition,
    /// How sure the speaker was.
    pub certainty: Certainty,
    /// How much it matters.
    pub severity: Severity,
    /// What it asks for.
    #[serde(default)]
    pub action: Option<Action>,
    /// The words it came from.
    pub evidence: Evidence,
    /// How sure the reading is, 0 to 1.
    pub confidence: f64,
    /// Why a person should look before it counts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needs_confirmation: Option<String>,
}

/// A danger as it was heard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct SpokenHazard {
    /// What it is.
    pub kind: HazardKind,
    /// Tag of the equipment, or absent.
    #[serde(rename = "ref")]
    pub about: Option<String>,
    /// The words it came from.
    pub evidence: Evidence,
    /// How sure the reading is, 0 to 1.
    pub confidence: f64,
}

/// Something to come back for, as it was heard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct SpokenFollowUp {
    /// Tag of the equipment, or `site`.
    #[serde(rename = "ref")]
    pub about: String,
    /// A component code or a field name.
    #[serde(rename = "about")]
    pub what: String,
    /// The words it came from.
    pub evidence: Evidence,
}
