//! Copying a store while it is in use, and bringing a copy back.

use super::error::StoreError;
use super::files::{Files, sync_dir, write_whole};
use super::schema::{DATABASE, Store, sound};
use super::verify::Damage;
use rusqlite::Connection;
use rusqlite::backup::Backup;
use std::fs;
use std::path::Path;
use std::time::Duration;

impl Store {
    /// Copies the store to a folder while others read and write it. A second backup to the same
    /// folder copies only new photos.
    pub fn backup(&self, to: &Path) -> Result<(), StoreError> {
        let files = Files::new(to);
        for folder in files.folders() {
            fs::create_dir_all(&folder).map_err(|e| StoreError::io("make", &folder, e))?;
        }
        // The database first: every photo that it names is in its place already.
        let path = to.join(DATABASE);
        let beside = to.join("scupper.sqlite.new");
        let _ = fs::remove_file(&beside);
        {
            let doing = StoreError::sql;
            let mut copy = Connection::open(&beside).map_err(doing("make the backup"))?;
            let db = self.db()?;
            let backup = Backup::new(&db, &mut copy).map_err(doing("make the backup"))?;
            backup
                .run_to_completion(1024, Duration::ZERO, None)
                .map_err(doing("make the backup"))?;
        }
        let file = fs::File::open(&beside).and_then(|file| file.sync_all());
        file.map_err(|e| StoreError::io("flush", &beside, e))?;
        for row in self.all_photos()? {
            let hash = &row.meta.hash;
            let pairs = [
                (self.files.original(hash)?, files.original(hash)?),
                (self.files.thumbnail(hash)?, files.thumbnail(hash)?),
            ];
            for (from, copy) in pairs {
                if from.exists() && !copy.exists() {
                    let bytes = fs::read(&from).map_err(|e| StoreError::io("read", &from, e))?;
                    write_whole(&files.incoming("copy", hash)?, &copy, &bytes)?;
                }
            }
        }
        fs::rename(&beside, &path).map_err(|e| StoreError::io("move into place", &path, e))?;
        sync_dir(to)
    }

    /// Brings a backup back into an empty folder and opens it. Returns the store and what was
    /// found damaged in it.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when there is a store in the folder already.
    pub fn restore(backup: &Path, to: &Path) -> Result<(Self, Vec<Damage>), StoreError> {
        let from = backup.join(DATABASE);
        if to.join(DATABASE).exists() {
            return Err(StoreError::refused(
                to.display().to_string(),
                "holds a store already; give an empty folder",
            ));
        }
        if !from.exists() {
            return Err(StoreError::refused(
                backup.display().to_string(),
                "holds no backup; give the folder that a backup was made to",
            ));
        }
        let db = Connection::open(&from).map_err(StoreError::sql("open the backup"))?;
        sound(&db)?;
        drop(db);
        let source = Self::open(backup)?;
        source.backup(to)?;
        drop(source);
        let restored = Self::open(to)?;
        let damage = restored.verify()?;
        Ok((restored, damage))
    }
}
