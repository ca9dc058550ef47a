//! What was said, seen and photographed on the visit: findings, hazards, notes, photos.

use super::codes::{Action, Certainty, Component, Condition, HazardKind, Severity};
use super::spoken::{Evidence, Segment};
use super::units::PointFt;
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};

/// The `ref` that means the roof or the building itself.
pub const SITE: &str = "site";

fn site() -> String {
    SITE.to_owned()
}

/// Something that is worn, broken, wrong, or was looked at and found good.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Identity; empty in a survey written by hand.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub id: String,
    /// Tag of the equipment, or [`SITE`].
    #[serde(rename = "ref", default = "site")]
    pub about: String,
    /// The part.
    pub component: Component,
    /// What is the matter with it.
    pub condition: Condition,
    /// How sure the speaker was.
    #[serde(default = "observed")]
    pub certainty: Certainty,
    /// How much it matters.
    #[serde(default = "noted")]
    pub severity: Severity,
    /// What it asks for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub action: Option<Action>,
    /// Remark in free words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
    /// Where it came from and who stands behind it.
    #[serde(flatten)]
    pub origin: Origin,
}

fn observed() -> Certainty {
    Certainty::Observed
}

fn noted() -> Severity {
    Severity::Note
}

/// A danger that someone reported.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Hazard {
    /// Identity; empty in a survey written by hand.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub id: String,
    /// What it is.
    pub kind: HazardKind,
    /// Tag of the equipment it is at, [`SITE`], or absent when not said.
    #[serde(rename = "ref", default)]
    pub about: Option<String>,
    /// Where on the plan.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_ft: Option<PointFt>,
    /// Remark in free words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remark: Option<String>,
    /// Where it came from and who stands behind it.
    #[serde(flatten)]
    pub origin: Origin,
}

/// Something to come back for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FollowUp {
    /// Identity; empty in a survey written by hand.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub id: String,
    /// Tag of the equipment, or [`SITE`].
    #[serde(rename = "ref", default = "site")]
    pub about: String,
    /// A component code or a field name.
    #[serde(rename = "about")]
    pub what: String,
    /// Where it came from and who stands behind it.
    #[serde(flatten)]
    pub origin: Origin,
}

/// Where an entry came from and who stands behind it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Origin {
    /// Who entered it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub author: Option<String>,
    /// When it was captured, by the device's clock.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<DateTime<FixedOffset>>,
    /// The note it was heard in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note_id: Option<String>,
    /// The words of that note.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub evidence: Option<Evidence>,
    /// How sure the interpretation is, 0 to 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub confidence: Option<f64>,
    /// Why a person should look before it counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub needs_confirmation: Option<String>,
    /// People who confirmed it; a dictated entry without one is a draft.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub confirmed_by: Vec<String>,
    /// Photos that show it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<String>,
    /// Who withdrew it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub withdrawn_by: Option<String>,
}

/// A dictated value of an equipment or site field, with the words it came from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Draft {
    /// Identity.
    pub id: String,
    /// Tag of the equipment, or [`SITE`].
    #[serde(rename = "ref")]
    pub about: String,
    /// The field, such as `nameplate.mca_a`.
    pub field: String,
    /// The value as it was heard.
    pub value: serde_json::Value,
    /// Where it came from and who stands behind it.
    #[serde(flatten)]
    pub origin: Origin,
}

/// A voice note as the recogniser wrote it down. Never changes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Note {
    /// Identity.
    #[serde(alias = "note_id")]
    pub id: String,
    /// Who spoke.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub author: Option<String>,
    /// When, by the device's clock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recorded_at: Option<DateTime<FixedOffset>>,
    /// The words.
    #[serde(default)]
    pub segments: Vec<Segment>,
}

/// A photo. Its bytes live beside the survey under their BLAKE3 hash.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Photo {
    /// Identity.
    #[serde(default)]
    pub id: String,
    /// BLAKE3 of the original file, 64 hex digits.
    #[serde(default)]
    pub hash: String,
    /// Media type of the original.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub media_type: String,
    /// Size of the original in bytes.
    #[serde(default)]
    pub bytes: u64,
    /// Width when upright, in pixels.
    #[serde(default)]
    pub width_px: u32,
    /// Height when upright, in pixels.
    #[serde(default)]
    pub height_px: u32,
    /// Who took it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub author: Option<String>,
    /// When it was taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken_at: Option<DateTime<FixedOffset>>,
    /// Latitude in degrees north, from the file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub latitude_deg: Option<f64>,
    /// Longitude in degrees east, from the file.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub longitude_deg: Option<f64>,
    /// Tag of the equipment it shows, [`SITE`], or absent when nobody said.
    #[serde(rename = "ref", default, skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// Caption in free words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caption: Option<String>,
    /// By how much a person turned it clockwise to see it upright: 90, 180 or 270 degrees.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turned_deg: Option<u16>,
    /// Who withdrew it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub withdrawn_by: Option<String>,
}
