//! The building and its roofs: outlines, edges, openings, ways up, water and power.

use super::codes::{AccessKind, AirPointKind, OpeningKind};
use super::units::{Feet, Inches, PointFt, RiseIn12, SizeFt};
use serde::{Deserialize, Serialize};

/// The place that was surveyed.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Site {
    /// Name of the site, as the customer calls it.
    #[serde(default)]
    pub name: String,
    /// Postal address, one line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub address: Option<String>,
    /// The main roof, if anything about it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub roof: Option<Roof>,
    /// Further roofs and levels, on the same local plan.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub more_roofs: Vec<Roof>,
    /// Id of the profile of codes that the place has adopted, such as `us-model-codes`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub code_profile: Option<String>,
    /// Where water was said to be, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_source: Option<String>,
    /// How the roof was said to be reached, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub access: Option<String>,
}

impl Site {
    /// All roofs, the main one first.
    pub fn roofs(&self) -> impl Iterator<Item = &Roof> {
        self.roof.iter().chain(&self.more_roofs)
    }
}

/// One roof surface at one level.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Roof {
    /// Name that equipment refers to; the main roof may go without.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Height of the surface above the ground.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_ft: Option<Feet>,
    /// Slope.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slope_rise_in_12: Option<RiseIn12>,
    /// Covering, as a code such as `modified_bitumen`, `epdm`, `tpo`, `built_up`, `metal`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub membrane: Option<String>,
    /// Corners of the outline, in order; the last joins the first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub outline_ft: Vec<PointFt>,
    /// What stands along the edges; an edge not listed was not recorded.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub edges: Vec<Edge>,
    /// Skylights, hatches, holes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub openings: Vec<Opening>,
    /// Things a hose or air path goes round.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub obstacles: Vec<Obstacle>,
    /// The way up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub access: Option<Access>,
    /// Hose bibbs and other water.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub water_sources: Vec<WaterSource>,
    /// Service receptacles.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub receptacles: Vec<Receptacle>,
    /// Vents, exhausts, flues.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub air_points: Vec<AirPoint>,
}

/// The stretch of outline from one corner to the next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Edge {
    /// Index of the corner in `outline_ft` where the edge begins.
    pub from: usize,
    /// Height of the parapet or rail above the surface; absent when not measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parapet_in: Option<Inches>,
    /// Drop to the surface below; absent means the height of the roof.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drop_ft: Option<Feet>,
}

/// A hole a person could fall through.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Opening {
    /// What it is.
    pub kind: OpeningKind,
    /// Its centre.
    pub at_ft: PointFt,
    /// Its extent, if measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size_ft: Option<SizeFt>,
    /// Whether a cover, screen or rail was seen; absent when nobody looked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guarded: Option<bool>,
    /// Drop below it; absent means the height of the roof.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drop_ft: Option<Feet>,
}

/// Something solid on the roof.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Obstacle {
    /// Its corners.
    pub outline_ft: Vec<PointFt>,
}

/// The way up to a roof.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Access {
    /// What it is.
    pub kind: AccessKind,
    /// Where it meets the roof.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_ft: Option<PointFt>,
    /// Height climbed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub climb_ft: Option<Feet>,
    /// How far the rails reach above the landing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub extends_ft: Option<Feet>,
    /// Whether a ladder safety system or personal fall arrest is fitted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ladder_safety_system: Option<bool>,
}

/// A place to connect a hose.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WaterSource {
    /// Where, on the plan.
    pub at_ft: PointFt,
    /// Whether it is on the ground rather than on this roof.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_grade: Option<bool>,
}

/// A power outlet for tools.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Receptacle {
    /// Where, on the plan.
    pub at_ft: PointFt,
    /// Whether it is ground-fault protected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gfci: Option<bool>,
}

/// A place where air or fumes come out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AirPoint {
    /// What comes out.
    pub kind: AirPointKind,
    /// Where, on the plan.
    pub at_ft: PointFt,
    /// Height of the outlet above the roof.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_ft: Option<Feet>,
}
