//! What reviewers settled, newest first, each with the way back. The document itself holds the
//! truth and its history; this only remembers which button undoes which press.

use super::Accounts;
use crate::error::AppError;
use crate::sql::values;

/// One decision of a reviewer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settled {
    /// Its number.
    pub seq: i64,
    /// Who decided.
    pub who: String,
    /// What, in words.
    pub said: String,
    /// Whether it can still be taken back.
    pub undoable: bool,
    /// Whether it was.
    pub undone: bool,
}

impl Accounts {
    /// Remembers a decision; `undo` is the decision that takes it back, as its form.
    pub(crate) fn settle(
        &self,
        now: i64,
        (contractor, survey): (i64, &str),
        who: &str,
        said: &str,
        undo: Option<&str>,
    ) -> Result<i64, AppError> {
        let made = self.db.row(
            "INSERT INTO settled (contractor, survey, at, who, said, undo)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6) RETURNING seq",
            values![contractor, survey, now, who, said, undo],
        )?;
        made.ok_or_else(|| AppError::internal("settled", "no number"))?
            .int(0)
    }

    /// The newest decisions on a survey.
    pub fn settled(
        &self,
        contractor: i64,
        survey: &str,
        most: u32,
    ) -> Result<Vec<Settled>, AppError> {
        let rows = self.db.rows(
            "SELECT seq, who, said, undo, undone FROM settled
             WHERE contractor = ?1 AND survey = ?2 ORDER BY seq DESC LIMIT ?3",
            values![contractor, survey, most],
        )?;
        let settled = |row: &crate::sql::Row| {
            let undone = row.truth(4)?;
            Ok(Settled {
                seq: row.int(0)?,
                who: row.text(1)?,
                said: row.text(2)?,
                undoable: row.opt_text(3)?.is_some() && !undone,
                undone,
            })
        };
        rows.iter().map(settled).collect()
    }

    /// What a decision was, and the forms that take it back, if it was not taken back yet.
    pub(crate) fn undo_of(
        &self,
        contractor: i64,
        survey: &str,
        seq: i64,
    ) -> Result<(String, String), AppError> {
        let undo = self.db.row(
            "SELECT said, undo FROM settled
             WHERE contractor = ?1 AND survey = ?2 AND seq = ?3
                 AND undo IS NOT NULL AND undone = 0",
            values![contractor, survey, seq],
        )?;
        let row = undo.ok_or(AppError::NotFound(
            "a decision that can still be taken back",
        ))?;
        Ok((row.text(0)?, row.text(1)?))
    }

    /// Notes that a decision was taken back.
    pub(crate) fn undone(&self, seq: i64) -> Result<(), AppError> {
        self.db
            .execute("UPDATE settled SET undone = 1 WHERE seq = ?1", values![seq])?;
        Ok(())
    }

    /// The office's own device id, which signs what reviewers settle; made on first use.
    pub(crate) fn office_device(&self) -> Result<String, AppError> {
        let fresh = format!("office-{}", crate::random::spoken_code()?.to_lowercase());
        self.within(|db| {
            db.execute(
                "INSERT INTO office (\"only\", device) VALUES (1, ?1)
                 ON CONFLICT (\"only\") DO NOTHING",
                values![fresh],
            )?;
            let row = db.row("SELECT device FROM office", Vec::new())?;
            row.ok_or_else(|| AppError::internal("office", "no device"))?
                .text(0)
        })
    }
}
