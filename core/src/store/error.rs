//! What can go wrong with a store. Nothing acknowledged before is lost by any of these.

use std::io;
use std::path::{Path, PathBuf};

/// What to do about a database that is not sound.
pub(super) const MEND: &str = "restore a backup, or begin an empty store and exchange: the server \
                               sends what it has";

/// A store that cannot be opened, read or written.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// Another process has the store open.
    #[error("{dir}: another process has this store open; close it first")]
    Locked {
        /// The store.
        dir: PathBuf,
    },
    /// There is no room. What was being written does not count; everything before it does.
    #[error("no room to {doing}; free some space and try again, nothing before this is lost")]
    DiskFull {
        /// What was being done.
        doing: String,
    },
    /// The store holds as many photos as it may.
    #[error("{held} of {most} bytes for photos are used; raise the quota or free some")]
    Quota {
        /// Bytes held.
        held: u64,
        /// Bytes allowed.
        most: u64,
    },
    /// The key does not go with the database. Nothing was changed.
    #[error("{file}: {problem}")]
    Key {
        /// The database.
        file: PathBuf,
        /// What does not fit and what would.
        problem: &'static str,
    },
    /// The file was written by a newer program; it can be read but not written.
    #[error(
        "the store has schema {found}, this program knows {known}; update the program to write"
    )]
    TooNew {
        /// Schema of the file.
        found: u32,
        /// Newest schema that this program knows.
        known: u32,
    },
    /// Something on disk is not what was written.
    #[error("{what} is damaged: {problem}")]
    Damaged {
        /// Which file or row.
        what: String,
        /// What is wrong and what can be done.
        problem: String,
    },
    /// An upload goes on from another place than was given.
    #[error("the upload goes on at byte {expected}, not {given}")]
    WrongOffset {
        /// Where it goes on.
        expected: u64,
        /// Where the sender would have gone on.
        given: u64,
    },
    /// A limit or check says no.
    #[error("{what}: {problem}")]
    Refused {
        /// What was refused.
        what: String,
        /// Why, and what would be right.
        problem: String,
    },
    /// The file system says no.
    #[error("cannot {doing} {path}: {source}")]
    Io {
        /// What was being done.
        doing: &'static str,
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// SQLite says no.
    #[error("cannot {doing}: {problem}")]
    Database {
        /// What was being done.
        doing: &'static str,
        /// What SQLite said.
        problem: String,
    },
}

impl StoreError {
    pub(super) fn io(doing: &'static str, path: &Path, source: io::Error) -> Self {
        if matches!(
            source.kind(),
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded
        ) {
            return Self::DiskFull {
                doing: format!("{doing} {}", path.display()),
            };
        }
        Self::Io {
            doing,
            path: path.to_owned(),
            source,
        }
    }

    pub(super) fn sql(doing: &'static str) -> impl FnOnce(rusqlite::Error) -> Self {
        use rusqlite::ErrorCode::{DatabaseCorrupt, DiskFull, NotADatabase};
        move |error| match error.sqlite_error_code() {
            Some(DiskFull) => Self::DiskFull {
                doing: doing.to_owned(),
            },
            Some(DatabaseCorrupt | NotADatabase) => Self::Damaged {
                what: "scupper.sqlite".to_owned(),
                problem: format!("{error}; {MEND}"),
            },
            _ => Self::Database {
                doing,
                problem: error.to_string(),
            },
        }
    }

    pub(super) fn refused(what: impl Into<String>, problem: impl Into<String>) -> Self {
        Self::Refused {
            what: what.into(),
            problem: problem.into(),
        }
    }
}
