//! `scupper admit`, `devices`, `revoke`: who may exchange with this server.

use super::{Failure, files};
use crate::accounts::{Accounts, Role};
use crate::limits::Limits;
use chrono::{Local, TimeZone};
use std::fmt::Write;
use std::path::{Path, PathBuf};

/// Make a one-time code: a technician's enrols a device, a reviewer's signs in to the page.
///
/// The code is good for 15 minutes and for one use. It is shown once and kept only as a digest.
#[derive(Debug, clap::Args)]
pub(super) struct AdmitArgs {
    /// `technician` or `reviewer`.
    #[arg(value_parser = ["technician", "reviewer"])]
    role: String,
    /// The short name under which their entries are kept.
    name: String,
    /// Their name in full, for those who read the survey.
    #[arg(long, value_name = "NAME")]
    full_name: Option<String>,
    #[command(flatten)]
    place: Place,
}

/// List the enrolled devices.
#[derive(Debug, clap::Args)]
pub(super) struct DevicesArgs {
    #[command(flatten)]
    place: Place,
}

/// Shut a device out at once; what it sent before stays.
#[derive(Debug, clap::Args)]
pub(super) struct RevokeArgs {
    /// The device's id, as `scupper devices` lists it.
    device: String,
    #[command(flatten)]
    place: Place,
}

#[derive(Debug, clap::Args)]
struct Place {
    /// Folder of the server's data.
    #[arg(long, value_name = "DIR", env = "SCUPPER_DATA")]
    data: PathBuf,
    /// The firm whose people and surveys these are.
    #[arg(long, default_value = "office")]
    contractor: String,
}

impl Place {
    fn open(&self) -> Result<(Accounts, i64), Failure> {
        let accounts = open(&self.data)?;
        let contractor = accounts.contractor(&self.contractor)?;
        Ok((accounts, contractor))
    }
}

fn open(data: &Path) -> Result<Accounts, Failure> {
    if !data.is_dir() {
        return Err(Failure::Input(format!(
            "{}: is no folder; give --data the folder that `scupper serve` uses",
            data.display()
        )));
    }
    Ok(Accounts::open(data)?)
}

pub(super) fn admit(args: &AdmitArgs) -> Result<(), Failure> {
    let (accounts, contractor) = args.place.open()?;
    let role = Role::from_word(&args.role)
        .ok_or_else(|| Failure::Input("role: must be technician or reviewer".to_owned()))?;
    let life = Limits::default().code_life;
    let now = Local::now().timestamp();
    let code = accounts.admit(now, life, contractor, &args.name, role)?;
    if let Some(full) = &args.full_name {
        accounts.call_person(contractor, &args.name, full)?;
    }
    let minutes = life.as_secs() / 60;
    files::answer(&match role {
        Role::Technician => format!("{code}\n"),
        Role::Reviewer => format!("/sign-in/{code}\n"),
    })?;
    eprintln!(
        "{}, for {} only, good for {minutes} minutes and one use",
        args.role, args.name
    );
    Ok(())
}

pub(super) fn devices(args: &DevicesArgs) -> Result<(), Failure> {
    let (accounts, contractor) = args.place.open()?;
    let mut text = String::new();
    for row in accounts.devices(contractor)? {
        let state = match (row.revoked_at, row.seen_at) {
            (Some(at), _) => format!("revoked {}", moment(at)),
            (None, Some(at)) => format!("last seen {}", moment(at)),
            (None, None) => "never seen".to_owned(),
        };
        let _ = writeln!(
            text,
            "{}\t{}\t{}\tenrolled {}\t{state}",
            row.id,
            row.person,
            row.name,
            moment(row.enrolled_at)
        );
    }
    if text.is_empty() {
        eprintln!("no device is enrolled; make a code with `scupper admit technician NAME`");
    }
    files::answer(&text)
}

pub(super) fn revoke(args: &RevokeArgs) -> Result<(), Failure> {
    let (accounts, contractor) = args.place.open()?;
    accounts.revoke(Local::now().timestamp(), contractor, &args.device)?;
    eprintln!("{} is shut out", args.device);
    Ok(())
}

fn moment(unix: i64) -> String {
    Local.timestamp_opt(unix, 0).single().map_or_else(
        || unix.to_string(),
        |at| at.format("%Y-%m-%d %H:%M").to_string(),
    )
}
