//! Bytes of photos on their way in: one file an upload, appended, flushed, then checked.
//!
//! Invariants: an offset told to a client is read from the file after it was flushed to disk;
//! one writer an upload, even when its connection died; bytes count only once their BLAKE3 is
//! the announced one. The server's folder `uploads` holds nothing else.

use crate::accounts::UploadRow;
use crate::error::AppError;
use std::collections::HashMap;
use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use tokio::sync::OwnedMutexGuard;

type Gate = Arc<tokio::sync::Mutex<()>>;

/// The folder of uploads that are not finished.
#[derive(Debug)]
pub struct Uploads {
    dir: PathBuf,
    gates: Mutex<HashMap<String, Gate>>,
}

impl Uploads {
    /// Opens or makes `uploads` in the server's data folder.
    pub fn open(data: &Path) -> Result<Self, AppError> {
        let dir = data.join("uploads");
        std::fs::create_dir_all(&dir)?;
        Ok(Self {
            dir,
            gates: Mutex::new(HashMap::new()),
        })
    }

    /// The file of an upload; `row` came from the database, so its id is ours, not a path.
    pub(crate) fn path(&self, row: &UploadRow) -> PathBuf {
        self.dir.join(format!("{}.part", row.id))
    }

    /// Where an upload stands, after flushing what is there.
    pub(crate) fn offset(&self, row: &UploadRow) -> Result<u64, AppError> {
        match OpenOptions::new().append(true).open(self.path(row)) {
            Ok(file) => {
                file.sync_all()?;
                Ok(file.metadata()?.len())
            }
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(0),
            Err(error) => Err(error.into()),
        }
    }

    /// Waits for the right to append, then opens the file at its end.
    pub(crate) async fn appender(&self, row: &UploadRow) -> Result<Appender, AppError> {
        let gate = {
            let mut gates = self
                .gates
                .lock()
                .map_err(|_| AppError::internal("uploads", "a thread died holding the gates"))?;
            // Gates that nobody holds or waits for are dropped here, so the map stays small.
            gates.retain(|_, gate| Arc::strong_count(gate) > 1);
            gates.entry(row.id.clone()).or_default().clone()
        };
        let guard = gate.lock_owned().await;
        let (path, length, dir) = (self.path(row), row.length, self.dir.clone());
        tokio::task::spawn_blocking(move || Appender::open(&path, &dir, length, guard)).await?
    }

    /// Removes an upload's bytes.
    pub(crate) fn discard(&self, id: &str) -> Result<(), AppError> {
        match std::fs::remove_file(self.dir.join(format!("{id}.part"))) {
            Err(error) if error.kind() != ErrorKind::NotFound => Err(error.into()),
            _ => Ok(()),
        }
    }
}

/// The only writer of one upload. It moves in and out of blocking tasks together with its
/// guard, so a write that outlives its request still finishes before the next one begins.
#[derive(Debug)]
pub(crate) struct Appender {
    file: File,
    offset: u64,
    length: u64,
    _guard: OwnedMutexGuard<()>,
}

impl Appender {
    fn open(
        path: &Path,
        dir: &Path,
        length: u64,
        guard: OwnedMutexGuard<()>,
    ) -> Result<Self, AppError> {
        let fresh = !path.exists();
        let file = OpenOptions::new().create(true).append(true).open(path)?;
        if fresh {
            File::open(dir)?.sync_all()?;
        }
        let offset = file.metadata()?.len();
        Ok(Self {
            file,
            offset,
            length,
            _guard: guard,
        })
    }

    /// Bytes in the file.
    pub(crate) fn offset(&self) -> u64 {
        self.offset
    }

    /// Appends bytes, never past the announced length.
    pub(crate) async fn write(mut self, bytes: Vec<u8>) -> Result<Self, AppError> {
        tokio::task::spawn_blocking(move || {
            let after = self.offset.saturating_add(bytes.len() as u64);
            if after > self.length {
                return Err(AppError::Unusable(format!(
                    "more bytes came than the announced length of {}",
                    self.length
                )));
            }
            self.file.write_all(&bytes)?;
            self.offset = after;
            Ok(self)
        })
        .await?
    }

    /// Flushes to disk and tells where the upload stands.
    pub(crate) async fn flush(self) -> Result<Self, AppError> {
        tokio::task::spawn_blocking(move || {
            self.file.sync_all()?;
            Ok(self)
        })
        .await?
    }

    /// Whether all bytes are here.
    pub(crate) fn complete(&self) -> bool {
        self.offset == self.length
    }
}

/// The BLAKE3 of a file, in hex, read in pieces.
pub(crate) fn digest_of(path: &Path) -> Result<String, AppError> {
    let mut hasher = blake3::Hasher::new();
    hasher.update_reader(File::open(path)?)?;
    Ok(hasher.finalize().to_hex().to_string())
}
