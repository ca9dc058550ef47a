//! Databases that may be encrypted: the key, and opening and copying a file under it.
//!
//! With the feature `sqlcipher` every page of a keyed database is encrypted (AES-256) and carries
//! a sum that only the key can make. The key comes from the caller and stays in memory; it is
//! never derived from a password here. A key that does not fit is an error of its own, told
//! before anything is written. Without the feature every key is refused.

use super::error::StoreError;
use rusqlite::backup::Backup;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags};
use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;
use std::time::Duration;

/// A key of 32 random bytes; shown to nobody.
#[derive(Clone, PartialEq, Eq)]
pub struct StoreKey([u8; 32]);

impl std::fmt::Debug for StoreKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("StoreKey")
    }
}

impl StoreKey {
    /// A key of bytes that nobody can guess.
    pub const fn new(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// A key written as 64 hex digits; none if the text is something else.
    pub fn from_hex(text: &str) -> Option<Self> {
        let bytes = blake3::Hash::from_hex(text).ok()?;
        Some(Self(*bytes.as_bytes()))
    }

    /// As SQLCipher reads a key that needs no stretching.
    fn literal(&self) -> String {
        format!("x'{}'", blake3::Hash::from_bytes(self.0).to_hex())
    }
}

/// How a database file looks from outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Looks {
    Fresh,
    /// Not encrypted, though it may be spoilt.
    Plain,
    /// Whole pages of what nobody can read.
    Sealed,
}

/// The first bytes of a plain database (SQLite's file format, 1.3.1).
const HEAD: &[u8; 16] = b"SQLite format 3\0";
/// Length of an encrypted page, which SQLCipher sets.
const PAGE: u64 = 4096;

fn looks(path: &Path) -> Result<Looks, StoreError> {
    let read = File::open(path).and_then(|file| {
        let (mut head, bytes) = (Vec::new(), file.metadata()?.len());
        file.take(16).read_to_end(&mut head)?;
        Ok((head, bytes))
    });
    let (head, bytes) = match read {
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(Looks::Fresh),
        other => other.map_err(|e| StoreError::io("read", path, e))?,
    };
    let alike = head.iter().zip(HEAD).filter(|(one, other)| one == other);
    Ok(match bytes {
        0 => Looks::Fresh,
        // Random bytes are hardly ever like that.
        _ if alike.count() >= 8 => Looks::Plain,
        _ if bytes.is_multiple_of(PAGE) => Looks::Sealed,
        _ => Looks::Plain,
    })
}

/// Whether a database is there and needs no key.
pub fn is_plain(path: &Path) -> Result<bool, StoreError> {
    Ok(looks(path)? == Looks::Plain)
}

/// Opens or makes a database under a key, or plain without one. Its pragmas are the caller's.
///
/// # Errors
/// [`StoreError::Key`] when the key does not go with the file.
pub fn connect(path: &Path, key: Option<&StoreKey>) -> Result<Connection, StoreError> {
    let wrong = |problem| {
        let file = path.to_owned();
        Err(StoreError::Key { file, problem })
    };
    if key.is_some() && !cfg!(feature = "sqlcipher") {
        return wrong("this program was built without encryption; use one with feature sqlcipher");
    }
    match (looks(path)?, key) {
        (Looks::Plain, Some(_)) => {
            return wrong("is not encrypted; open it without a key, or restore it under one");
        }
        (Looks::Sealed, None) => {
            return wrong(
                "is encrypted, or its beginning is damaged; give its key, or restore a backup",
            );
        }
        _ => {}
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
        | OpenFlags::SQLITE_OPEN_CREATE
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let doing = StoreError::sql;
    let db = Connection::open_with_flags(path, flags).map_err(doing("open the database"))?;
    let Some(key) = key else {
        return Ok(db);
    };
    // Errors come back from calls; SQLCipher would also print them. And as long as the key is not
    // known to fit, closing the file must not move what is in its log.
    let stay = DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE;
    let read = db
        .pragma_update(None, "cipher_log_level", "NONE")
        .and_then(|()| db.pragma_update(None, "key", key.literal()))
        .and_then(|()| db.set_db_config(stay, true))
        .and_then(|_| db.query_row("SELECT count(*) FROM sqlite_master", [], |_| Ok(())))
        .and_then(|()| db.set_db_config(stay, false));
    match read {
        Err(e) if e.sqlite_error_code() == Some(ErrorCode::NotADatabase) => {
            wrong("the key does not fit, or its beginning is damaged; nothing was changed")
        }
        other => other.map(|_| db).map_err(doing("open the database")),
    }
}

/// Copies an open database to a new file while others use it. The copy is under `key`, whether
/// or not the original has one.
pub fn copy(
    db: &Connection,
    own: Option<&StoreKey>,
    to: &Path,
    key: Option<&StoreKey>,
) -> Result<(), StoreError> {
    let doing = StoreError::sql;
    if own == key {
        let mut copy = connect(to, key)?;
        let backup = Backup::new(db, &mut copy).map_err(doing("copy the database"))?;
        return backup
            .run_to_completion(1024, Duration::ZERO, None)
            .map_err(doing("copy the database"));
    }
    // Pages can only be copied under the same key; this writes them anew.
    drop(connect(to, key)?);
    let key = key.map_or_else(String::new, StoreKey::literal);
    export(db, to, &key).map_err(doing("copy the database"))
}

fn export(db: &Connection, to: &Path, key: &str) -> rusqlite::Result<()> {
    let version: u32 = db.pragma_query_value(None, "user_version", |row| row.get(0))?;
    db.execute(
        "ATTACH DATABASE ?1 AS copy KEY ?2",
        [to.to_string_lossy().as_ref(), key],
    )?;
    let written = db
        .query_row("SELECT sqlcipher_export('copy')", [], |_| Ok(()))
        .and_then(|()| db.pragma_update(Some("copy"), "user_version", version));
    db.execute("DETACH DATABASE copy", [])?;
    written
}
