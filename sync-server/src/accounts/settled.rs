//! What reviewers settled, newest first, each with the way back. The document itself holds the
//! truth and its history; this only remembers which button undoes which press.

use super::Accounts;
use crate::error::AppError;
use rusqlite::{OptionalExtension, params};

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
        let db = self.db()?;
        db.prepare_cached(
            "INSERT INTO settled (contractor, survey, at, who, said, undo)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        )?
        .execute(params![contractor, survey, now, who, said, undo])?;
        Ok(db.last_insert_rowid())
    }

    /// The newest decisions on a survey.
    pub fn settled(
        &self,
        contractor: i64,
        survey: &str,
        most: u32,
    ) -> Result<Vec<Settled>, AppError> {
        let db = self.db()?;
        let mut query = db.prepare_cached(
            "SELECT seq, who, said, undo IS NOT NULL AND NOT undone, undone FROM settled
             WHERE contractor = ?1 AND survey = ?2 ORDER BY seq DESC LIMIT ?3",
        )?;
        let rows = query.query_map(params![contractor, survey, most], |row| {
            Ok(Settled {
                seq: row.get(0)?,
                who: row.get(1)?,
                said: row.get(2)?,
                undoable: row.get(3)?,
                undone: row.get(4)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// The form that takes a decision back, if it was not taken back yet.
    pub(crate) fn undo_of(
        &self,
        contractor: i64,
        survey: &str,
        seq: i64,
    ) -> Result<String, AppError> {
        let db = self.db()?;
        let mut query = db.prepare_cached(
            "SELECT undo FROM settled
             WHERE contractor = ?1 AND survey = ?2 AND seq = ?3
                 AND undo IS NOT NULL AND NOT undone",
        )?;
        let undo = query
            .query_row(params![contractor, survey, seq], |row| row.get(0))
            .optional()?;
        undo.ok_or(AppError::NotFound(
            "a decision that can still be taken back",
        ))
    }

    /// Notes that a decision was taken back.
    pub(crate) fn undone(&self, seq: i64) -> Result<(), AppError> {
        self.db()?
            .execute("UPDATE settled SET undone = 1 WHERE seq = ?1", [seq])?;
        Ok(())
    }

    /// The office's own device id, which signs what reviewers settle; made on first use.
    pub(crate) fn office_device(&self) -> Result<String, AppError> {
        let db = self.db()?;
        let fresh = format!("office-{}", crate::random::spoken_code()?.to_lowercase());
        db.execute(
            "INSERT OR IGNORE INTO office (only, device) VALUES (1, ?1)",
            [fresh],
        )?;
        Ok(db.query_row("SELECT device FROM office", [], |row| row.get(0))?)
    }
}
