//! Opening a store: the lock, the pragmas, the numbered migrations.

use super::error::{MEND, StoreError};
use super::files::{self, Files};
use super::key::{self, StoreKey};
use super::photos::Limits;
use rusqlite::Connection;
use std::fs::{self, File, TryLockError};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard};
use std::time::Duration;

/// Every schema change, in order. Never edited once released; see `fixtures/store`.
const MIGRATIONS: [&str; 2] = [
    include_str!("migrations/001_first.sql"),
    include_str!("migrations/002_room_for_uploads.sql"),
];

/// The newest schema that this program knows.
pub(super) const KNOWN: u32 = MIGRATIONS.len() as u32;

/// Name of the database file within a store.
pub(super) const DATABASE: &str = "scupper.sqlite";

/// The store of one device or server, open for this process alone.
pub struct Store {
    db: Mutex<Connection>,
    pub(super) files: Files,
    pub(super) limits: Limits,
    pub(super) key: Option<StoreKey>,
    /// Schema of a file newer than this program: it is only read.
    newer: Option<u32>,
    _lock: File,
}

impl std::fmt::Debug for Store {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Store({})", self.dir().display())
    }
}

impl Store {
    /// Opens the store in a folder, making it if there is none.
    ///
    /// # Errors
    /// [`StoreError::Locked`] when another process has it, [`StoreError::Damaged`] when the
    /// database is not sound.
    pub fn open(dir: &Path) -> Result<Self, StoreError> {
        Self::open_with(dir, Limits::default())
    }

    /// Opens a store with limits of one's own.
    pub fn open_with(dir: &Path, limits: Limits) -> Result<Self, StoreError> {
        Self::open_keyed(dir, limits, None)
    }

    /// Opens a store whose database is encrypted under a key, or makes one; without a key like
    /// [`Store::open_with`].
    ///
    /// # Errors
    /// [`StoreError::Key`] when the key does not go with the database; nothing was changed then.
    pub fn open_keyed(
        dir: &Path,
        limits: Limits,
        key: Option<&StoreKey>,
    ) -> Result<Self, StoreError> {
        let made =
            |path: &Path| fs::create_dir_all(path).map_err(|e| StoreError::io("make", path, e));
        made(dir)?;
        let lock = lock(dir)?;
        let files = Files::new(dir);
        for folder in files.folders() {
            made(&folder)?;
        }
        let path = dir.join(DATABASE);
        let fresh = !path.exists();
        let mut db = connect(&path, key)?;
        let version = version(&db)?;
        let newer = (version > KNOWN).then_some(version);
        if newer.is_none() {
            migrate(&mut db, version)?;
        }
        if fresh {
            files::sync_dir(dir)?;
        } else {
            sound(&db)?;
        }
        Ok(Self {
            db: Mutex::new(db),
            files,
            limits,
            key: key.cloned(),
            newer,
            _lock: lock,
        })
    }

    /// The folder of the store.
    pub fn dir(&self) -> &Path {
        self.files.dir()
    }

    /// Schema of a file newer than this program.
    pub(super) fn newer(&self) -> Option<u32> {
        self.newer
    }

    /// The connection, to read.
    pub(super) fn db(&self) -> Result<MutexGuard<'_, Connection>, StoreError> {
        self.db.lock().map_err(|_| StoreError::Database {
            doing: "use the store",
            problem: "an earlier call failed half-way; open the store again".to_owned(),
        })
    }

    /// The connection, to write.
    pub(super) fn writable(&self) -> Result<MutexGuard<'_, Connection>, StoreError> {
        match self.newer {
            Some(found) => Err(StoreError::TooNew {
                found,
                known: KNOWN,
            }),
            None => self.db(),
        }
    }
}

/// How long a lock is waited for, in tries, and between two.
const TRIES: u32 = 40;
const BETWEEN: Duration = Duration::from_millis(5);

fn lock(dir: &Path) -> Result<File, StoreError> {
    let path: PathBuf = dir.join("scupper.lock");
    let options = File::options().create(true).append(true).open(&path);
    let file = options.map_err(|e| StoreError::io("open", &path, e))?;
    let mut tries = 0;
    loop {
        match file.try_lock() {
            Ok(()) => return Ok(file),
            // A process that another thread just started holds what its parent let go of until it
            // runs its own program.
            Err(TryLockError::WouldBlock) if tries < TRIES => {
                tries += 1;
                std::thread::sleep(BETWEEN);
            }
            Err(TryLockError::WouldBlock) => {
                return Err(StoreError::Locked {
                    dir: dir.to_owned(),
                });
            }
            Err(TryLockError::Error(e)) => return Err(StoreError::io("lock", &path, e)),
        }
    }
}

fn connect(path: &Path, key: Option<&StoreKey>) -> Result<Connection, StoreError> {
    let db = key::connect(path, key)?;
    // fullfsync is what Apple systems need for a flush to reach the disk; others ignore it.
    db.execute_batch(
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA fullfsync = ON;
         PRAGMA checkpoint_fullfsync = ON; PRAGMA cell_size_check = ON; PRAGMA trusted_schema = OFF;",
    )
    .map_err(StoreError::sql("open the store"))?;
    Ok(db)
}

fn version(db: &Connection) -> Result<u32, StoreError> {
    db.query_row("PRAGMA user_version", [], |row| row.get(0))
        .map_err(StoreError::sql("read the schema's number"))
}

fn migrate(db: &mut Connection, from: u32) -> Result<(), StoreError> {
    for (number, sql) in (1_u32..).zip(MIGRATIONS) {
        if number <= from {
            continue;
        }
        let doing = "bring the schema up to date";
        let tx = db.transaction().map_err(StoreError::sql(doing))?;
        tx.execute_batch(sql).map_err(StoreError::sql(doing))?;
        tx.pragma_update(None, "user_version", number)
            .map_err(StoreError::sql(doing))?;
        tx.commit().map_err(StoreError::sql(doing))?;
    }
    Ok(())
}

/// Refuses a database whose pages do not hang together.
pub(super) fn sound(db: &Connection) -> Result<(), StoreError> {
    let verdict: String = db
        .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
        .map_err(StoreError::sql("check the store"))?;
    if verdict == "ok" {
        return Ok(());
    }
    Err(StoreError::Damaged {
        what: DATABASE.to_owned(),
        problem: format!("{verdict}; {MEND}"),
    })
}

/// BLAKE3 over columns, each with its length, so that no two rows run together.
pub(super) fn row_sum(columns: &[&[u8]]) -> Vec<u8> {
    let mut hasher = blake3::Hasher::new_derive_key("scupper 2026 row of the store");
    for column in columns {
        hasher.update(&(column.len() as u64).to_le_bytes());
        hasher.update(column);
    }
    hasher.finalize().as_bytes().to_vec()
}
