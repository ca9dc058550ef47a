//! Which surveys of their firm a person may work with: all, or those named.
//!
//! Customers are always limited to one. What a caller cannot reach is "not found" to them, as if
//! it were another firm's.

use super::people::tidy_name;
use super::{Accounts, note};
use crate::error::AppError;
use rusqlite::{Connection, params};
use std::collections::BTreeSet;

/// The surveys that a caller may work with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reach {
    /// Every survey of their firm.
    All,
    /// These, and no other.
    Only(BTreeSet<String>),
}

impl Reach {
    /// These surveys and no other.
    pub fn only<S: AsRef<str>>(surveys: impl IntoIterator<Item = S>) -> Self {
        let names = surveys.into_iter().map(|id| id.as_ref().to_owned());
        Self::Only(names.collect())
    }

    /// Whether a survey is within it.
    pub fn covers(&self, survey: &str) -> bool {
        match self {
            Self::All => true,
            Self::Only(named) => named.contains(survey),
        }
    }

    /// What a person was limited to.
    pub(super) fn of(db: &Connection, person: i64, limited: bool) -> Result<Self, AppError> {
        if !limited {
            return Ok(Self::All);
        }
        let mut query = db.prepare_cached("SELECT survey FROM allowed WHERE person = ?1")?;
        let named = query.query_map([person], |row| row.get(0))?;
        Ok(Self::Only(named.collect::<Result<_, _>>()?))
    }
}

impl Accounts {
    /// Limits a person and all their devices to named surveys, or lets them at all of their
    /// firm's. Holds from their next request on.
    pub fn limit(
        &self,
        now: i64,
        contractor: i64,
        name: &str,
        reach: &Reach,
    ) -> Result<(), AppError> {
        let name = tidy_name("name", name)?;
        let mut db = self.db()?;
        let change = db.transaction()?;
        let (person, _) = person(&change, contractor, &name)?;
        change.execute("DELETE FROM allowed WHERE person = ?1", [person])?;
        let (limited, about) = match reach {
            Reach::All => (false, format!("{name}: every survey")),
            Reach::Only(named) => {
                for survey in named {
                    change.execute(
                        "INSERT INTO allowed (person, survey) VALUES (?1, ?2)",
                        params![person, survey],
                    )?;
                }
                let named: Vec<&str> = named.iter().map(String::as_str).collect();
                (true, format!("{name}: {}", named.join(", ")))
            }
        };
        change.execute(
            "UPDATE person SET limited = ?1 WHERE id = ?2",
            params![limited, person],
        )?;
        let what = "set who may work with which survey";
        note(&change, now, Some(contractor), "office", what, &about)?;
        Ok(change.commit()?)
    }

    /// What a person may work with.
    pub fn reach(&self, contractor: i64, name: &str) -> Result<Reach, AppError> {
        let db = self.db()?;
        let (person, limited) = person(&db, contractor, name.trim())?;
        Reach::of(&db, person, limited)
    }
}

/// A person's number, and whether they are limited.
fn person(db: &Connection, contractor: i64, name: &str) -> Result<(i64, bool), AppError> {
    use rusqlite::OptionalExtension;
    let found = db
        .query_row(
            "SELECT id, limited FROM person WHERE contractor = ?1 AND name = ?2",
            params![contractor, name],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .optional()?;
    found.ok_or(AppError::NotFound("a person of that name"))
}
