//! Plain types of the trade: a survey and all that is in it, as the contracts write it.
//!
//! Nothing here knows a database, a document format or a rule; everything else knows this.

pub mod codes;
mod equipment;
mod placed;
pub mod read;
mod record;
pub(crate) mod shape;
mod site;
pub mod spoken;
pub mod units;

pub use equipment::{Belt, Condensate, Disconnect, Equipment, Filter, Loads, Nameplate, Readings};
pub use read::InputError;
pub use record::{Draft, Finding, FollowUp, Hazard, Note, Origin, Photo, SITE};
pub use site::{Access, AirPoint, Edge, Obstacle, Opening, Receptacle, Roof, Site, WaterSource};

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// One visit to one site, in plain form.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Survey {
    /// Identity of the survey.
    #[serde(default)]
    pub survey_id: String,
    /// Day of the visit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surveyed_on: Option<NaiveDate>,
    /// The last visit's survey, if this one started from it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent: Option<String>,
    /// The building and its roofs.
    #[serde(default)]
    pub site: Site,
    /// The units.
    #[serde(default)]
    pub equipment: Vec<Equipment>,
    /// What is worn, broken or wrong.
    #[serde(default)]
    pub findings: Vec<Finding>,
    /// Dangers that someone reported.
    #[serde(default)]
    pub hazards: Vec<Hazard>,
    /// Things to come back for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub follow_ups: Vec<FollowUp>,
    /// Dictated values and the words they came from.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub drafts: Vec<Draft>,
    /// Voice notes.
    #[serde(default)]
    pub notes: Vec<Note>,
    /// Photos.
    #[serde(default)]
    pub photos: Vec<Photo>,
}

impl Survey {
    /// The unit with this tag or id.
    pub fn unit(&self, tag_or_id: &str) -> Option<&Equipment> {
        self.equipment
            .iter()
            .find(|unit| unit.tag == tag_or_id || (!unit.id.is_empty() && unit.id == tag_or_id))
    }
}
