//! Where an office's data is, as every command takes it: the folder, its key, or the shared place.

use super::Failure;
use crate::accounts::Accounts;
use crate::desk::stores_below;
use crate::storage::{Embedded, Places};
use scupper_core::store::{Limits, Store, StoreKey};
use std::path::{Path, PathBuf};

/// A data folder.
#[derive(Debug, clap::Args)]
pub(super) struct Folder {
    /// Folder of the data that `scupper serve` keeps, or a device's.
    #[arg(long, value_name = "DIR", env = "SCUPPER_DATA")]
    pub(super) data: PathBuf,
    /// File with the key of encrypted databases, 64 hex digits on one line. Only in programs
    /// built with the feature `sqlcipher`; keep a copy elsewhere, nothing opens without it.
    #[arg(long, value_name = "FILE", env = "SCUPPER_KEY_FILE")]
    key_file: Option<PathBuf>,
}

impl Folder {
    /// The key, if a file with one was given.
    pub(super) fn key(&self) -> Result<Option<StoreKey>, Failure> {
        let Some(path) = &self.key_file else {
            return Ok(None);
        };
        let text = super::files::text(path)?;
        let key = StoreKey::from_hex(text.trim()).ok_or_else(|| {
            Failure::Input(format!(
                "{}: must hold 64 hex digits and nothing else; `openssl rand -hex 32` makes a key",
                path.display()
            ))
        })?;
        Ok(Some(key))
    }

    /// The accounts, beside a server that may be running.
    pub(super) fn accounts(&self) -> Result<Accounts, Failure> {
        Ok(Accounts::open(existing(&self.data)?, self.key()?.as_ref())?)
    }

    /// Folders with a store in it; at least one.
    pub(super) fn stores(&self) -> Result<Vec<PathBuf>, Failure> {
        stores(&self.data)
    }

    /// Opens one of them.
    pub(super) fn store(&self, dir: &Path) -> Result<Store, Failure> {
        let opened = Store::open_keyed(dir, Limits::default(), self.key()?.as_ref());
        Ok(opened.map_err(crate::AppError::from)?)
    }
}

/// The folders with a store below one; at least one.
pub(super) fn stores(data: &Path) -> Result<Vec<PathBuf>, Failure> {
    let found = stores_below(existing(data)?).map_err(|e| Failure::other("listing stores", e))?;
    if found.is_empty() {
        return Err(Failure::Input(format!(
            "{}: holds no store; give the folder that `scupper serve` uses",
            data.display()
        )));
    }
    Ok(found)
}

/// A folder that must be there.
pub(super) fn existing(dir: &Path) -> Result<&Path, Failure> {
    if dir.is_dir() {
        return Ok(dir);
    }
    Err(Failure::Input(format!(
        "{}: is no folder; give the one that `scupper serve` uses",
        dir.display()
    )))
}

/// A data folder, or the shared place that stands for it.
#[derive(Debug, clap::Args)]
pub(super) struct Home {
    #[command(flatten)]
    pub(super) folder: Folder,
    /// Database of an office that several processes serve (`postgres://…`). `--data` then holds
    /// copies of photos only.
    #[cfg(feature = "postgres")]
    #[arg(long, value_name = "URL", env = "SCUPPER_POSTGRES")]
    postgres: Option<String>,
    /// Bucket for its photos: `s3://BUCKET/PREFIX`; endpoint, region and keys from the `AWS_…`
    /// environment.
    #[cfg(feature = "postgres")]
    #[arg(long, value_name = "URL", env = "SCUPPER_OBJECTS")]
    objects: Option<String>,
}

#[cfg(feature = "postgres")]
impl Home {
    /// Database and bucket, if the office is a shared one.
    pub(super) fn shared(&self) -> Result<Option<(&str, &str)>, Failure> {
        match (&self.postgres, &self.objects) {
            (Some(db), Some(objects)) => Ok(Some((db, objects))),
            (None, None) => Ok(None),
            _ => Err(Failure::Input(
                "--postgres and --objects: give both, or neither".to_owned(),
            )),
        }
    }

    pub(super) fn accounts(&self) -> Result<Accounts, Failure> {
        match &self.postgres {
            Some(url) => Ok(Accounts::over(std::sync::Arc::new(
                crate::storage::SharedPlace::connect(url)?,
            ))),
            None => self.folder.accounts(),
        }
    }

    /// Every firm's place.
    pub(super) fn places(&self) -> Result<Places, Failure> {
        match self.shared()? {
            Some((db, objects)) => Ok(crate::storage::every_place(db, objects, &self.folder.data)?),
            None => self.folder.places(),
        }
    }
}

#[cfg(not(feature = "postgres"))]
impl Home {
    pub(super) fn accounts(&self) -> Result<Accounts, Failure> {
        self.folder.accounts()
    }

    /// Every firm's place.
    pub(super) fn places(&self) -> Result<Places, Failure> {
        self.folder.places()
    }
}

impl Folder {
    fn places(&self) -> Result<Places, Failure> {
        let mut places: Places = Vec::new();
        for dir in self.stores()? {
            let place = Embedded::over(self.store(&dir)?);
            places.push((dir.display().to_string(), Box::new(place)));
        }
        Ok(places)
    }
}
