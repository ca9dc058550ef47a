//! Which surveys of their firm a person may work with: all, or those named.
//!
//! Customers are always limited to one. What a caller cannot reach is "not found" to them, as if
//! it were another firm's.

use super::people::tidy_name;
use super::{Accounts, note};
use crate::error::AppError;
use crate::sql::{Link as Statements, values};
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
}

impl Accounts {
    /// What a person was limited to.
    pub(super) fn reach_of(&self, person: i64, limited: bool) -> Result<Reach, AppError> {
        if !limited {
            return Ok(Reach::All);
        }
        let named = self.db.rows(
            "SELECT survey FROM allowed WHERE person = ?1",
            values![person],
        )?;
        let named = named.iter().map(|row| row.text(0));
        Ok(Reach::Only(named.collect::<Result<_, _>>()?))
    }

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
        self.within(|db| {
            let (person, _) = person(db, contractor, &name)?;
            db.execute("DELETE FROM allowed WHERE person = ?1", values![person])?;
            let (limited, about) = match reach {
                Reach::All => (false, format!("{name}: every survey")),
                Reach::Only(named) => {
                    for survey in named {
                        db.execute(
                            "INSERT INTO allowed (person, survey) VALUES (?1, ?2)",
                            values![person, survey],
                        )?;
                    }
                    let named: Vec<&str> = named.iter().map(String::as_str).collect();
                    (true, format!("{name}: {}", named.join(", ")))
                }
            };
            db.execute(
                "UPDATE person SET limited = ?1 WHERE id = ?2",
                values![limited, person],
            )?;
            let what = "set who may work with which survey";
            note(db, now, Some(contractor), "office", what, &about)
        })
    }

    /// What a person may work with.
    pub fn reach(&self, contractor: i64, name: &str) -> Result<Reach, AppError> {
        let (person, limited) = self.within(|db| person(db, contractor, name.trim()))?;
        self.reach_of(person, limited)
    }
}

/// A person's number, and whether they are limited.
fn person(db: &mut dyn Statements, contractor: i64, name: &str) -> Result<(i64, bool), AppError> {
    let found = db.row(
        "SELECT id, limited FROM person WHERE contractor = ?1 AND name = ?2",
        values![contractor, name],
    )?;
    let found = found.ok_or(AppError::NotFound("a person of that name"))?;
    Ok((found.int(0)?, found.truth(1)?))
}
