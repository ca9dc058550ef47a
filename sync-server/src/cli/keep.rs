//! `scupper verify`, `backup`, `restore`: is everything still what was written, and a copy of it.

use super::Failure;
use crate::accounts::Accounts;
use crate::desk::stores_below;
use crate::storage::{Embedded, Places};
use scupper_core::store::{self, Store};
use std::path::{Path, PathBuf};

/// Check every document and photo against its hash. Stop the server first.
///
/// A damaged photo is set aside and asked for again from any device that has it. Exit code 1
/// tells that something was found.
#[derive(Debug, clap::Args)]
pub(super) struct VerifyArgs {
    /// Folder of a server's or a device's data.
    #[arg(long, value_name = "DIR", env = "SCUPPER_DATA")]
    data: PathBuf,
    /// Look over the shared office instead, while it runs (`postgres://…`).
    #[cfg(feature = "postgres")]
    #[arg(
        long,
        value_name = "URL",
        env = "SCUPPER_POSTGRES",
        requires = "objects"
    )]
    postgres: Option<String>,
    /// Bucket of the shared office's photos.
    #[cfg(feature = "postgres")]
    #[arg(long, value_name = "URL", env = "SCUPPER_OBJECTS")]
    objects: Option<String>,
}

/// Copy everything to another folder. Stop the server first.
///
/// A second backup to the same folder copies only what is new of the photos.
#[derive(Debug, clap::Args)]
pub(super) struct BackupArgs {
    /// Folder of the server's data.
    #[arg(long, value_name = "DIR", env = "SCUPPER_DATA")]
    data: PathBuf,
    /// Folder for the copy; made if it is not there.
    #[arg(long, value_name = "DIR")]
    to: PathBuf,
}

/// Make a server's data folder from a backup, and check it.
#[derive(Debug, clap::Args)]
pub(super) struct RestoreArgs {
    /// Folder of the backup.
    #[arg(long, value_name = "DIR")]
    from: PathBuf,
    /// Folder for the server's data; must be empty or not there.
    #[arg(long, value_name = "DIR", env = "SCUPPER_DATA")]
    data: PathBuf,
}

pub(super) fn verify(args: &VerifyArgs) -> Result<(), Failure> {
    let mut damaged = 0;
    let places = places(args)?;
    for (name, place) in &places {
        for damage in place.verify()? {
            damaged += 1;
            super::files::answer(&format!("{name}: {}: {}\n", damage.what, damage.problem))?;
        }
    }
    eprintln!(
        "scupper: looked over {} store(s), found {damaged} damaged",
        places.len()
    );
    if damaged > 0 {
        return Err(Failure::Other(format!("{damaged} damaged, listed above")));
    }
    Ok(())
}

fn places(args: &VerifyArgs) -> Result<Places, Failure> {
    #[cfg(feature = "postgres")]
    if let (Some(url), Some(objects)) = (&args.postgres, &args.objects) {
        return Ok(crate::storage::every_place(url, objects, &args.data)?);
    }
    let mut places: Places = Vec::new();
    for dir in stores(&args.data)? {
        let place = Embedded::open(&dir, store::Limits::default())?;
        places.push((dir.display().to_string(), Box::new(place)));
    }
    Ok(places)
}

pub(super) fn backup(args: &BackupArgs) -> Result<(), Failure> {
    let accounts = Accounts::open(&existing(&args.data)?)?;
    std::fs::create_dir_all(&args.to)
        .map_err(|e| Failure::Input(format!("--to {}: {e}", args.to.display())))?;
    accounts.backup(&args.to)?;
    for dir in stores(&args.data)? {
        let store = Store::open(&dir).map_err(crate::AppError::from)?;
        store
            .backup(&args.to.join(below(&args.data, &dir)))
            .map_err(crate::AppError::from)?;
    }
    eprintln!("scupper: copied to {}", args.to.display());
    Ok(())
}

pub(super) fn restore(args: &RestoreArgs) -> Result<(), Failure> {
    let from = existing(&args.from)?;
    let taken = std::fs::read_dir(&args.data).is_ok_and(|mut dir| dir.next().is_some());
    if taken {
        return Err(Failure::Input(format!(
            "--data {}: is not empty; give a new folder, so that nothing is written over",
            args.data.display()
        )));
    }
    std::fs::create_dir_all(&args.data)
        .map_err(|e| Failure::Input(format!("--data {}: {e}", args.data.display())))?;
    Accounts::open(&from)?.backup(&args.data)?;
    for dir in stores(&from)? {
        let to = args.data.join(below(&from, &dir));
        let (_, damaged) = Store::restore(&dir, &to).map_err(crate::AppError::from)?;
        for damage in damaged {
            eprintln!(
                "scupper: {}: {}: {}",
                dir.display(),
                damage.what,
                damage.problem
            );
        }
    }
    eprintln!(
        "scupper: restored to {}; start the server there",
        args.data.display()
    );
    Ok(())
}

fn existing(dir: &Path) -> Result<PathBuf, Failure> {
    if dir.is_dir() {
        return Ok(dir.to_owned());
    }
    Err(Failure::Input(format!("{}: is no folder", dir.display())))
}

fn stores(data: &Path) -> Result<Vec<PathBuf>, Failure> {
    let found = stores_below(&existing(data)?).map_err(|e| Failure::other("listing stores", e))?;
    if found.is_empty() {
        return Err(Failure::Input(format!(
            "{}: holds no store; give the folder that `scupper serve` uses",
            data.display()
        )));
    }
    Ok(found)
}

fn below(data: &Path, dir: &Path) -> PathBuf {
    dir.strip_prefix(data).unwrap_or(Path::new("")).to_owned()
}
