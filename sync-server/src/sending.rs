//! What must be before papers leave the office: someone has read every hazard, by name.

use crate::accounts::{Caller, Seen};
use crate::error::AppError;
use crate::readings::Readings;
use crate::state::Office;
use scupper_core::assess::HazardEntry;
use std::collections::BTreeMap;

/// What a hazard is known by: a hash of what it says, so that one that changed is another.
pub(crate) fn known_by(hazard: &HazardEntry) -> String {
    let about = hazard.about.as_deref().unwrap_or_default();
    let zone = hazard.zone.as_deref().unwrap_or_default();
    let said = [&hazard.kind.words(), about, zone, &hazard.because].join("\n");
    let hash = blake3::hash(said.as_bytes()).to_hex();
    hash.chars().take(24).collect()
}

impl Office {
    /// Notes that a reviewer read those of these hazards that the survey has; how many it were.
    pub(crate) fn see_hazards(
        &self,
        caller: &Caller,
        survey: &str,
        shown: &[String],
    ) -> Result<usize, AppError> {
        let readings = self.readings(caller, survey)?;
        let all = readings.assessment.hazards.iter().map(known_by);
        let mut read: Vec<String> = all.filter(|hazard| shown.contains(hazard)).collect();
        read.sort();
        read.dedup();
        let at = (caller.contractor, survey);
        self.accounts
            .see_hazards(self.unix(), at, &caller.name, &read)?;
        self.live.call(caller.contractor, survey);
        Ok(read.len())
    }

    /// Who read which hazard of a survey.
    pub(crate) fn hazards_seen(
        &self,
        caller: &Caller,
        survey: &str,
    ) -> Result<BTreeMap<String, Seen>, AppError> {
        self.accounts.hazards_seen(caller.contractor, survey)
    }

    /// Refuses what would send a survey's papers while a hazard was read by nobody.
    pub(crate) fn may_send(
        &self,
        caller: &Caller,
        survey: &str,
        readings: &Readings,
    ) -> Result<(), AppError> {
        let seen = self.hazards_seen(caller, survey)?;
        let hazards = readings.assessment.hazards.iter().map(known_by);
        match hazards.filter(|hazard| !seen.contains_key(hazard)).count() {
            0 => Ok(()),
            n => Err(AppError::Conflict {
                detail: format!(
                    "nothing was sent: {} not read by anyone in the office yet; read the hazards \
                     at the top of the survey's page, say there that you did, then send",
                    match n {
                        1 => "1 hazard was".to_owned(),
                        n => format!("{n} hazards were"),
                    }
                ),
                headers: Vec::new(),
            }),
        }
    }
}
