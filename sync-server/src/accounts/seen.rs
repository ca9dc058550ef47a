//! Which hazards of a survey someone in the office has read and answers for, by name. A hazard
//! is known by what it says, so one that changed has to be read again.

use super::{Accounts, note};
use crate::error::AppError;
use crate::sql::values;
use std::collections::BTreeMap;

/// Who read a hazard, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// Their name.
    pub who: String,
    /// When, in Unix seconds.
    pub at: i64,
}

impl Accounts {
    /// Notes that someone read these hazards of a survey.
    pub(crate) fn see_hazards(
        &self,
        now: i64,
        (contractor, survey): (i64, &str),
        who: &str,
        hazards: &[String],
    ) -> Result<(), AppError> {
        self.within(|db| {
            for hazard in hazards {
                db.execute(
                    "INSERT INTO hazard_seen (contractor, survey, hazard, who, at)
                     VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT DO NOTHING",
                    values![contractor, survey, hazard, who, now],
                )?;
            }
            let read = format!("read {} hazards of {survey}", hazards.len());
            note(db, now, Some(contractor), who, &read, survey)
        })
    }

    /// The hazards of a survey that were read.
    pub fn hazards_seen(
        &self,
        contractor: i64,
        survey: &str,
    ) -> Result<BTreeMap<String, Seen>, AppError> {
        let rows = self.db.rows(
            "SELECT hazard, who, at FROM hazard_seen WHERE contractor = ?1 AND survey = ?2",
            values![contractor, survey],
        )?;
        let seen = |row: &crate::sql::Row| {
            let (who, at) = (row.text(1)?, row.int(2)?);
            Ok((row.text(0)?, Seen { who, at }))
        };
        rows.iter().map(seen).collect()
    }
}
