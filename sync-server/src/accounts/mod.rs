//! Who may do what: contractors, their people, enrolled devices, sign-ins, surveys, the audit log.
//!
//! Kept in `office.sqlite`, or in PostgreSQL where several processes share an office. Secrets are
//! stored as digests only. Everything that belongs to one contractor is invisible to another: a
//! survey of theirs is "not found", never "forbidden". Nothing here knows HTTP; time comes in as
//! Unix seconds.

mod catalogue;
mod devices;
mod links;
mod passwords;
mod people;
mod pricing;
mod reach;
mod schema;
mod seen;
mod settled;
mod sums;

pub use devices::DeviceRow;
pub use links::Link;
pub use pricing::Version;
pub use reach::Reach;
pub use seen::Seen;
pub use settled::Settled;

use crate::error::AppError;
use crate::sql::{Database, Link as Statements, values};
use scupper_core::store::{self, StoreKey};
use std::path::Path;
use std::sync::Arc;

/// Name of the accounts' file in a data folder.
pub(crate) const FILE: &str = "office.sqlite";

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
    db: Arc<dyn Database>,
}

impl Accounts {
    /// Opens or makes `office.sqlite` in a folder that exists, under a key or plain.
    pub fn open(dir: &Path, key: Option<&StoreKey>) -> Result<Self, AppError> {
        let db = schema::open(&dir.join(FILE), key)?;
        Ok(Self { db: Arc::new(db) })
    }

    /// Accounts in a database whose schema is there.
    #[cfg(feature = "postgres")]
    pub(crate) fn over(db: Arc<dyn Database>) -> Self {
        Self { db }
    }

    fn within<T>(
        &self,
        work: impl FnOnce(&mut dyn Statements) -> Result<T, AppError>,
    ) -> Result<T, AppError> {
        self.db.within(work)
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
        self.within(|db| note(db, now, contractor, who, what, about))
    }

    /// Where the office's own work on a survey stands, beside its document: the number of the last
    /// line of the log about it, 0 before the first.
    pub(crate) fn stands(&self, contractor: i64, survey: &str) -> Result<i64, AppError> {
        let row = self.db.row(
            "SELECT max(seq) FROM audit WHERE contractor = ?1 AND about = ?2",
            values![contractor, survey],
        )?;
        let last = row.map_or(Ok(None), |row| row.opt_int(0))?;
        Ok(last.unwrap_or_default())
    }

    /// Copies the accounts to another folder while others read and write them.
    pub fn backup(&self, to: &Path) -> Result<(), AppError> {
        self.db.backup(to)
    }

    /// The newest entries of the audit log, as `(at, who, what, about)`.
    pub fn audit(
        &self,
        contractor: i64,
        most: u32,
    ) -> Result<Vec<(i64, String, String, String)>, AppError> {
        let rows = self.db.rows(
            "SELECT at, who, what, about FROM audit WHERE contractor = ?1
             ORDER BY seq DESC LIMIT ?2",
            values![contractor, most],
        )?;
        rows.iter()
            .map(|row| Ok((row.int(0)?, row.text(1)?, row.text(2)?, row.text(3)?)))
            .collect()
    }
}

/// The accounts of a folder as a database, to be moved; they must be there.
#[cfg(feature = "postgres")]
pub(crate) fn of_folder(
    dir: &Path,
    key: Option<&StoreKey>,
) -> Result<crate::sql::Sqlite, AppError> {
    schema::open(&there(dir)?, key)
}

/// Makes the accounts of a folder from those of a backup. Under a key, the backup is under it
/// too or is plain.
pub(crate) fn restore(from: &Path, to: &Path, key: Option<&StoreKey>) -> Result<(), AppError> {
    let file = there(from)?;
    let own = key.filter(|_| !store::is_plain(&file).unwrap_or(false));
    schema::open(&file, own)?.copy_to(to, key)
}

fn there(dir: &Path) -> Result<std::path::PathBuf, AppError> {
    let file = dir.join(FILE);
    match file.exists() {
        true => Ok(file),
        false => Err(AppError::Unusable(format!(
            "{}: holds no office; give the folder that `scupper serve` uses, or a backup of it",
            dir.display()
        ))),
    }
}

fn note(
    db: &mut dyn Statements,
    now: i64,
    contractor: Option<i64>,
    who: &str,
    what: &str,
    about: &str,
) -> Result<(), AppError> {
    db.execute(
        "INSERT INTO audit (at, contractor, who, what, about) VALUES (?1, ?2, ?3, ?4, ?5)",
        values![now, contractor, who, what, about],
    )?;
    Ok(())
}

#[cfg(test)]
mod rot;
#[cfg(test)]
mod tests;
