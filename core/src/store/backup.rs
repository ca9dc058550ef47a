//! Copying a store while it is in use, and bringing a copy back.

use super::error::StoreError;
use super::files::{Files, sync_dir, write_whole};
use super::key::{self, StoreKey};
use super::photos::Limits;
use super::schema::{DATABASE, Store, sound};
use super::uploads::Part;
use super::verify::Damage;
use std::fs;
use std::path::Path;

impl Store {
    /// Copies the store to a folder while others read and write it. A second backup to the same
    /// folder copies only new photos. The copy is under the store's own key, if it has one.
    pub fn backup(&self, to: &Path) -> Result<(), StoreError> {
        self.copy_to(to, self.key.as_ref())
    }

    fn copy_to(&self, to: &Path, key: Option<&StoreKey>) -> Result<(), StoreError> {
        let files = Files::new(to);
        for folder in files.folders() {
            fs::create_dir_all(&folder).map_err(|e| StoreError::io("make", &folder, e))?;
        }
        // The database first: every photo that it names is in its place already.
        let path = to.join(DATABASE);
        let beside = to.join("scupper.sqlite.new");
        let _ = fs::remove_file(&beside);
        key::copy(&*self.db()?, self.key.as_ref(), &beside, key)?;
        let file = fs::File::open(&beside).and_then(|file| file.sync_all());
        file.map_err(|e| StoreError::io("flush", &beside, e))?;
        for row in self.all_photos()? {
            let hash = &row.meta.hash;
            for part in [Part::Original, Part::Thumbnail] {
                let (from, copy) = (self.files.of(part, hash)?, files.of(part, hash)?);
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
        Self::restore_keyed(backup, to, None)
    }

    /// The same under a key: the backup is under it too, or is plain and only the new store is
    /// encrypted.
    pub fn restore_keyed(
        backup: &Path,
        to: &Path,
        key: Option<&StoreKey>,
    ) -> Result<(Self, Vec<Damage>), StoreError> {
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
        let own = key.filter(|_| !key::is_plain(&from).unwrap_or(false));
        sound(&key::connect(&from, own)?)?;
        let source = Self::open_keyed(backup, Limits::default(), own)?;
        source.copy_to(to, key)?;
        drop(source);
        let restored = Self::open_keyed(to, Limits::default(), key)?;
        let damage = restored.verify()?;
        Ok((restored, damage))
    }
}
