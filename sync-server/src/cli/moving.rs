//! `scupper move`: from one machine's folder into a shared office.

use super::Failure;
use crate::accounts;
use crate::desk::stores_below;
use crate::storage::{Objects, move_in};
use std::path::PathBuf;

/// Move an office from its folder into PostgreSQL and a bucket. Stop the server first.
///
/// The folder stays as it is; the database must be empty. Devices and sessions go on working
/// with a server on the new place.
#[derive(Debug, clap::Args)]
pub(super) struct MoveArgs {
    /// Folder of the server's data.
    #[arg(long, value_name = "DIR", env = "SCUPPER_DATA")]
    data: PathBuf,
    /// The database (`postgres://…`).
    #[arg(long, value_name = "URL", env = "SCUPPER_POSTGRES")]
    postgres: String,
    /// Bucket for photos: `s3://BUCKET/PREFIX`.
    #[arg(long, value_name = "URL", env = "SCUPPER_OBJECTS")]
    objects: String,
}

pub(super) fn run(args: &MoveArgs) -> Result<(), Failure> {
    let file = args.data.join("office.sqlite");
    if !file.exists() {
        return Err(Failure::Input(format!(
            "{}: holds no office; give the folder that `scupper serve` uses",
            args.data.display()
        )));
    }
    let accounts = accounts::open_file(&file)?;
    let found = stores_below(&args.data).map_err(|e| Failure::other("listing stores", e))?;
    let numbered = found.into_iter().filter_map(|dir| {
        let contractor = dir.file_name()?.to_str()?.parse().ok()?;
        Some((contractor, dir))
    });
    let stores: Vec<(i64, PathBuf)> = numbered.collect();
    let objects = Objects::open(&args.objects)?;
    let moved = move_in(&args.data, &accounts, &stores, &args.postgres, &objects)?;
    eprintln!(
        "scupper: moved {} survey(s) and {} file(s) of photos; start the server with --postgres",
        moved.surveys, moved.files
    );
    Ok(())
}
