//! What a survey's price rests on: a rate book of its own, where someone adjusted one, and the
//! versions that were locked. A version holds inputs only (rate book, maintenance programme, state
//! of the document, day) and the hash of the figures they gave, by which it is told whether they
//! still give them.

use super::{Accounts, note};
use crate::error::AppError;
use crate::sql::{Row, values};

/// The inputs of a price, locked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Version {
    /// Its number.
    pub seq: i64,
    /// When it was locked, in Unix seconds.
    pub at: i64,
    /// Who locked it.
    pub who: String,
    /// What they called it.
    pub title: String,
    /// State of the document, as one word.
    pub heads: String,
    /// The day the assessment was made for, as ISO 8601.
    pub as_of: String,
    /// The rate book, as TOML.
    pub book: String,
    /// The maintenance programme, as TOML; versions locked before it was kept have none.
    pub programme: Option<String>,
    /// BLAKE3 of the figures, in hex.
    pub figures: String,
}

impl Version {
    fn read(row: &Row) -> Result<Self, AppError> {
        Ok(Self {
            seq: row.int(0)?,
            at: row.int(1)?,
            who: row.text(2)?,
            title: row.text(3)?,
            heads: row.text(4)?,
            as_of: row.text(5)?,
            book: row.text(6)?,
            programme: row.opt_text(7)?,
            figures: row.text(8)?,
        })
    }
}

impl Accounts {
    /// The rate book that a survey was given, as TOML; none where the office's own counts.
    pub(crate) fn rates(&self, contractor: i64, survey: &str) -> Result<Option<String>, AppError> {
        let row = self.db.row(
            "SELECT book FROM rates WHERE contractor = ?1 AND survey = ?2",
            values![contractor, survey],
        )?;
        row.map(|row| row.text(0)).transpose()
    }

    /// Gives a survey a rate book, or has the office's own count again.
    pub(crate) fn set_rates(
        &self,
        now: i64,
        (contractor, survey): (i64, &str),
        who: &str,
        book: Option<&str>,
    ) -> Result<(), AppError> {
        self.within(|db| {
            match book {
                Some(book) => db.execute(
                    "INSERT INTO rates (contractor, survey, book, who, at)
                     VALUES (?1, ?2, ?3, ?4, ?5)
                     ON CONFLICT (contractor, survey) DO UPDATE
                         SET book = excluded.book, who = excluded.who, at = excluded.at",
                    values![contractor, survey, book, who, now],
                )?,
                None => db.execute(
                    "DELETE FROM rates WHERE contractor = ?1 AND survey = ?2",
                    values![contractor, survey],
                )?,
            };
            note(db, now, Some(contractor), who, "changed the rates", survey)
        })
    }

    /// Locks a version; its number is given here, whatever it says.
    pub(crate) fn lock_version(
        &self,
        (contractor, survey): (i64, &str),
        version: &Version,
    ) -> Result<i64, AppError> {
        let v = version;
        self.within(|db| {
            let made = db.row(
                "INSERT INTO price_version
                     (contractor, survey, at, who, title, heads, as_of, book, programme, figures)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10) RETURNING seq",
                values![
                    contractor,
                    survey,
                    v.at,
                    &v.who,
                    &v.title,
                    &v.heads,
                    &v.as_of,
                    &v.book,
                    v.programme.as_deref(),
                    &v.figures
                ],
            )?;
            note(db, v.at, Some(contractor), &v.who, "locked a price", survey)?;
            made.ok_or_else(|| AppError::internal("locking a price", "no number"))?
                .int(0)
        })
    }

    /// The locked versions of a survey, newest first.
    pub fn versions(&self, contractor: i64, survey: &str) -> Result<Vec<Version>, AppError> {
        let rows = self.db.rows(
            "SELECT seq, at, who, title, heads, as_of, book, programme, figures FROM price_version
             WHERE contractor = ?1 AND survey = ?2 ORDER BY seq DESC",
            values![contractor, survey],
        )?;
        rows.iter().map(Version::read).collect()
    }
}
