//! `scupper verify`, `backup`, `restore`: is everything still what was written, and a copy of it.

use super::home::{Folder, Home, existing, stores};
use super::{Failure, files};
use crate::AppError;
use crate::accounts;
use scupper_core::store::Store;
use std::path::{Path, PathBuf};

/// Check every document and photo against its hash. Stop the server first.
///
/// A shared office is looked over while it runs. A damaged photo is set aside and asked for
/// again from any device that has it. Exit code 1 tells that something was found.
#[derive(Debug, clap::Args)]
pub(super) struct VerifyArgs {
    #[command(flatten)]
    home: Home,
}

/// Copy everything to another folder. Stop the server first.
///
/// A second backup to the same folder copies only what is new of the photos. Databases that are
/// encrypted are so in the copy, under the same key.
#[derive(Debug, clap::Args)]
pub(super) struct BackupArgs {
    #[command(flatten)]
    folder: Folder,
    /// Folder for the copy; made if it is not there.
    #[arg(long, value_name = "DIR")]
    to: PathBuf,
}

/// Make a server's data folder from a backup, and check it. `--data` must be empty or not there.
///
/// With a key, the backup is under the same key, or is plain and becomes encrypted.
#[derive(Debug, clap::Args)]
pub(super) struct RestoreArgs {
    /// Folder of the backup.
    #[arg(long, value_name = "DIR")]
    from: PathBuf,
    #[command(flatten)]
    folder: Folder,
}

pub(super) fn verify(args: &VerifyArgs) -> Result<(), Failure> {
    let mut damaged = 0;
    let places = args.home.places()?;
    for (name, place) in &places {
        for damage in place.verify()? {
            damaged += 1;
            files::answer(&format!("{name}: {}: {}\n", damage.what, damage.problem))?;
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

pub(super) fn backup(args: &BackupArgs) -> Result<(), Failure> {
    let (folder, to) = (&args.folder, &args.to);
    let accounts = folder.accounts()?;
    std::fs::create_dir_all(to)
        .map_err(|e| Failure::Input(format!("--to {}: {e}", to.display())))?;
    accounts.backup(to)?;
    for dir in folder.stores()? {
        let copied = folder
            .store(&dir)?
            .backup(&to.join(below(&folder.data, &dir)));
        copied.map_err(AppError::from)?;
    }
    eprintln!("scupper: copied to {}", to.display());
    Ok(())
}

pub(super) fn restore(args: &RestoreArgs) -> Result<(), Failure> {
    let (from, data) = (existing(&args.from)?, &args.folder.data);
    let taken = std::fs::read_dir(data).is_ok_and(|mut dir| dir.next().is_some());
    if taken {
        return Err(Failure::Input(format!(
            "--data {}: is not empty; give a new folder, so that nothing is written over",
            data.display()
        )));
    }
    let key = args.folder.key()?;
    let dirs = stores(from)?;
    std::fs::create_dir_all(data)
        .map_err(|e| Failure::Input(format!("--data {}: {e}", data.display())))?;
    accounts::restore(from, data, key.as_ref())?;
    for dir in dirs {
        let to = data.join(below(from, &dir));
        let restored = Store::restore_keyed(&dir, &to, key.as_ref());
        let (_, damaged) = restored.map_err(AppError::from)?;
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
        data.display()
    );
    Ok(())
}

fn below(data: &Path, dir: &Path) -> PathBuf {
    dir.strip_prefix(data).unwrap_or(Path::new("")).to_owned()
}
