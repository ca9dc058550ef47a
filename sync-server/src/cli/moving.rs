//! `scupper move`: from one machine's folder into a shared office.

use super::Failure;
use super::home::Home;
use crate::accounts;
use crate::storage::{Objects, move_in};
use std::path::PathBuf;

/// Move an office from its folder into PostgreSQL and a bucket. Stop the server first.
///
/// The folder stays as it is; the database must be empty. Devices and sessions go on working
/// with a server on the new place.
#[derive(Debug, clap::Args)]
pub(super) struct MoveArgs {
    #[command(flatten)]
    home: Home,
}

pub(super) fn run(args: &MoveArgs) -> Result<(), Failure> {
    let folder = &args.home.folder;
    let Some((db, objects)) = args.home.shared()? else {
        return Err(Failure::Input(
            "--postgres and --objects: give the place to move to".to_owned(),
        ));
    };
    let key = folder.key()?;
    let accounts = accounts::of_folder(&folder.data, key.as_ref())?;
    let numbered = folder.stores()?.into_iter().filter_map(|dir| {
        let contractor = dir.file_name()?.to_str()?.parse().ok()?;
        Some((contractor, dir))
    });
    let stores: Vec<(i64, PathBuf)> = numbered.collect();
    let place = (db, &Objects::open(objects)?);
    let moved = move_in(&folder.data, &accounts, &stores, key.as_ref(), place)?;
    eprintln!(
        "scupper: moved {} survey(s) and {} file(s) of photos; start the server with --postgres",
        moved.surveys, moved.files
    );
    Ok(())
}
