//! Files of a store: where each is, and writing one so that it is whole or absent.

use super::error::StoreError;
use super::uploads::Part;
use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// The folders of a store.
pub(super) struct Files {
    dir: PathBuf,
}

/// Whether this is the hex of a BLAKE3, and so a safe file name.
pub(super) fn is_hash(hash: &str) -> bool {
    hash.len() == 64
        && hash
            .bytes()
            .all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
}

impl Files {
    pub(super) fn new(dir: &Path) -> Self {
        Self {
            dir: dir.to_owned(),
        }
    }

    pub(super) fn dir(&self) -> &Path {
        &self.dir
    }

    pub(super) fn folders(&self) -> [PathBuf; 4] {
        ["photos", "thumbnails", "incoming", "damaged"].map(|name| self.dir.join(name))
    }

    /// Where the file of a photo's part is, or would be.
    pub(super) fn of(&self, part: Part, hash: &str) -> Result<PathBuf, StoreError> {
        check(hash)?;
        let (folder, end) = match part {
            Part::Original => ("photos", ""),
            Part::Thumbnail => ("thumbnails", ".jpg"),
        };
        let shard = hash.get(..2).unwrap_or_default();
        let path = self.dir.join(folder).join(shard);
        Ok(path.join(format!("{hash}{end}")))
    }

    pub(super) fn incoming(&self, part: &str, hash: &str) -> Result<PathBuf, StoreError> {
        check(hash)?;
        Ok(self.dir.join("incoming").join(format!("{part}-{hash}")))
    }

    pub(super) fn damaged(&self, hash: &str) -> PathBuf {
        self.dir.join("damaged").join(hash)
    }
}

fn check(hash: &str) -> Result<(), StoreError> {
    if is_hash(hash) {
        return Ok(());
    }
    Err(StoreError::refused(
        "photo hash",
        "must be a BLAKE3 in 64 small hex digits",
    ))
}

/// Flushes a folder, so that a file's new name survives a power cut.
pub(super) fn sync_dir(dir: &Path) -> Result<(), StoreError> {
    let flushed = File::open(dir).and_then(|dir| dir.sync_all());
    flushed.map_err(|e| StoreError::io("flush", dir, e))
}

/// Moves a flushed file to its place and makes the new name durable.
pub(super) fn settle(from: &Path, to: &Path) -> Result<(), StoreError> {
    if let Some(folder) = to.parent() {
        if !folder.exists() {
            fs::create_dir_all(folder).map_err(|e| StoreError::io("make", folder, e))?;
            if let Some(above) = folder.parent() {
                sync_dir(above)?;
            }
        }
        fs::rename(from, to).map_err(|e| StoreError::io("move into place", to, e))?;
        sync_dir(folder)?;
    }
    Ok(())
}

/// Writes a file whole: beside its place first, flushed, then renamed.
pub(super) fn write_whole(beside: &Path, to: &Path, bytes: &[u8]) -> Result<(), StoreError> {
    let written = File::create(beside).and_then(|mut file| {
        file.write_all(bytes)?;
        file.sync_all()
    });
    if let Err(error) = written {
        let _ = fs::remove_file(beside);
        return Err(StoreError::io("write", to, error));
    }
    settle(beside, to)
}

/// BLAKE3 of a file, in hex, read a piece at a time; none if there is no such file.
pub(super) fn hash_file(path: &Path) -> Result<Option<String>, StoreError> {
    let mut file = match File::open(path) {
        Ok(file) => file,
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        Err(e) => return Err(StoreError::io("open", path, e)),
    };
    let mut hasher = blake3::Hasher::new();
    let mut piece = vec![0_u8; 128 * 1024];
    loop {
        let read = file
            .read(&mut piece)
            .map_err(|e| StoreError::io("read", path, e))?;
        if read == 0 {
            return Ok(Some(hasher.finalize().to_hex().to_string()));
        }
        hasher.update(piece.get(..read).unwrap_or_default());
    }
}
