//! Who may do what: contractors, their people, enrolled devices, sign-ins, surveys, the audit log.
//!
//! Kept in `office.sqlite`. Secrets are stored as digests only. Everything that belongs to one
//! contractor is invisible to another: a survey of theirs is "not found", never "forbidden".
//! Nothing here knows HTTP; time comes in as Unix seconds.

mod devices;
mod links;
mod passwords;
mod people;
mod reach;
mod schema;
mod settled;

pub use devices::DeviceRow;
pub use links::Link;
pub use reach::Reach;
pub use settled::Settled;

use crate::error::AppError;
use rusqlite::{Connection, params};
use std::path::Path;
use std::sync::{Mutex, MutexGuard};

/// What a person does for a contractor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Surveys on the roof with an enrolled device.
    Technician,
    /// Settles and sends in the office.
    Reviewer,
}

impl Role {
    /// The word for it, as stored and typed.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Technician => "technician",
            Self::Reviewer => "reviewer",
        }
    }

    /// The role that a word names.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Technician, Self::Reviewer]
            .into_iter()
            .find(|role| role.word() == word)
    }
}

/// Who is asking, once a token or session was found good.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caller {
    /// The contractor that everything they see belongs to.
    pub contractor: i64,
    /// Their name; the author of what they enter.
    pub name: String,
    /// What they may do.
    pub rights: Rights,
    /// The surveys they may do it with.
    pub reach: Reach,
}

/// What a caller may do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Rights {
    /// Read and write their contractor's surveys, as this one device.
    Device(String),
    /// Read and settle their contractor's surveys in the browser.
    Reviewer {
        /// Must come back in every form, so that no other site can post one.
        form_key: String,
    },
    /// Read the assessment of one survey and its photos, nothing else.
    Customer {
        /// The one survey.
        survey: String,
    },
}

/// The accounts of one server.
#[derive(Debug)]
pub struct Accounts {
    db: Mutex<Connection>,
}

impl Accounts {
    /// Opens or makes `office.sqlite` in a folder that exists.
    pub fn open(dir: &Path) -> Result<Self, AppError> {
        let mut db = Connection::open(dir.join("office.sqlite"))?;
        schema::migrate(&mut db)?;
        Ok(Self { db: Mutex::new(db) })
    }

    fn db(&self) -> Result<MutexGuard<'_, Connection>, AppError> {
        self.db
            .lock()
            .map_err(|_| AppError::internal("accounts", "a thread died while it held the database"))
    }

    /// Writes down that someone did something, for good.
    pub fn record(
        &self,
        now: i64,
        contractor: Option<i64>,
        who: &str,
        what: &str,
        about: &str,
    ) -> Result<(), AppError> {
        note(&*self.db()?, now, contractor, who, what, about)
    }

    /// Copies the accounts to another folder while others read and write them.
    pub fn backup(&self, to: &Path) -> Result<(), AppError> {
        let mut copy = Connection::open(to.join("office.sqlite"))?;
        let db = self.db()?;
        let backup = rusqlite::backup::Backup::new(&db, &mut copy)?;
        backup.run_to_completion(256, std::time::Duration::ZERO, None)?;
        Ok(())
    }

    /// The newest entries of the audit log, as `(at, who, what, about)`.
    pub fn audit(
        &self,
        contractor: i64,
        most: u32,
    ) -> Result<Vec<(i64, String, String, String)>, AppError> {
        let db = self.db()?;
        let mut query = db.prepare_cached(
            "SELECT at, who, what, about FROM audit WHERE contractor = ?1
             ORDER BY seq DESC LIMIT ?2",
        )?;
        let rows = query.query_map(params![contractor, most], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

fn note(
    db: &Connection,
    now: i64,
    contractor: Option<i64>,
    who: &str,
    what: &str,
    about: &str,
) -> Result<(), AppError> {
    db.prepare_cached(
        "INSERT INTO audit (at, contractor, who, what, about) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?
    .execute(params![now, contractor, who, what, about])?;
    Ok(())
}

#[cfg(test)]
mod tests;
