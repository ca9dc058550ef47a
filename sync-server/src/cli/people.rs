//! `scupper admit`, `limit`, `password`, `devices`, `revoke`, `audit`: who may exchange with this
//! server, and who did what to that.

use super::home::Home;
use super::{Failure, files};
use crate::accounts::{Accounts, Reach, Role};
use crate::limits::Limits;
use chrono::{Local, TimeZone};
use scupper_core::capture::Invitation;
use std::fmt::Write;

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
    /// Limit them to this survey of the firm; may be given more than once.
    #[arg(long = "survey", value_name = "ID")]
    surveys: Vec<String>,
    /// Also print the code as a QR code with this address of the server in it.
    #[arg(long, value_name = "SERVER_URL")]
    qr: Option<String>,
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

/// Limit a person and their devices to named surveys, or tell how they are limited.
#[derive(Debug, clap::Args)]
pub(super) struct LimitArgs {
    /// The person's short name.
    name: String,
    /// A survey they may work with; may be given more than once. All others are closed to them.
    #[arg(long = "survey", value_name = "ID")]
    surveys: Vec<String>,
    /// Let them at every survey of the firm again.
    #[arg(long, conflicts_with = "surveys")]
    all: bool,
    #[command(flatten)]
    place: Place,
}

/// Give a reviewer a password, read as one line from stdin. It ends their sessions.
///
/// A reviewer who is signed in by a link sets their own under their name on the page.
#[derive(Debug, clap::Args)]
pub(super) struct PasswordArgs {
    /// The reviewer's short name.
    name: String,
    #[command(flatten)]
    place: Place,
}

/// Tell who made codes, enrolled, signed in, opened surveys and made links, newest first.
#[derive(Debug, clap::Args)]
pub(super) struct AuditArgs {
    /// Entries at most.
    #[arg(long, value_name = "N", default_value_t = 200)]
    most: u32,
    #[command(flatten)]
    place: Place,
}

#[derive(Debug, clap::Args)]
struct Place {
    #[command(flatten)]
    home: Home,
    /// The firm whose people and surveys these are.
    #[arg(long, default_value = "office")]
    contractor: String,
}

impl Place {
    fn open(&self) -> Result<(Accounts, i64), Failure> {
        let accounts = self.home.accounts()?;
        let contractor = accounts.contractor(&self.contractor)?;
        Ok((accounts, contractor))
    }
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
    if !args.surveys.is_empty() {
        accounts.limit(now, contractor, &args.name, &Reach::only(&args.surveys))?;
    }
    let minutes = life.as_secs() / 60;
    files::answer(&match role {
        Role::Technician => format!("{code}\n"),
        Role::Reviewer => format!("/sign-in/{code}\n"),
    })?;
    if let Some(server) = &args.qr {
        let text = match role {
            Role::Technician => {
                let (server, code) = (server.clone(), code);
                Invitation { server, code }.text()
            }
            Role::Reviewer => format!("{}/sign-in/{code}", server.trim_end_matches('/')),
        };
        files::answer(&format!("{text}\n{}\n", qr(&text)?))?;
    }
    eprintln!(
        "{}, for {} only, good for {minutes} minutes and one use",
        args.role, args.name
    );
    Ok(())
}

/// A QR code (ISO/IEC 18004) of half blocks, light on dark terminals as well.
fn qr(text: &str) -> Result<String, Failure> {
    use qrcode::render::unicode::Dense1x2;
    let code = qrcode::QrCode::new(text);
    let code = code.map_err(|error| Failure::Input(format!("--qr: {error}; shorten it")))?;
    let mut drawn = code.render::<Dense1x2>();
    drawn
        .dark_color(Dense1x2::Light)
        .light_color(Dense1x2::Dark);
    Ok(drawn.build())
}

pub(super) fn limit(args: &LimitArgs) -> Result<(), Failure> {
    let (accounts, contractor) = args.place.open()?;
    let reach = match (args.all, args.surveys.is_empty()) {
        (true, _) => Some(Reach::All),
        (false, false) => Some(Reach::only(&args.surveys)),
        (false, true) => None,
    };
    if let Some(reach) = &reach {
        accounts.limit(Local::now().timestamp(), contractor, &args.name, reach)?;
    }
    match accounts.reach(contractor, &args.name)? {
        Reach::All => eprintln!("{} may work with every survey of the firm", args.name),
        Reach::Only(named) => {
            eprintln!("{} may work with these and no other:", args.name);
            let lines: String = named.iter().map(|id| format!("{id}\n")).collect();
            files::answer(&lines)?;
        }
    }
    Ok(())
}

pub(super) fn password(args: &PasswordArgs) -> Result<(), Failure> {
    let (accounts, contractor) = args.place.open()?;
    let mut line = String::new();
    std::io::stdin()
        .read_line(&mut line)
        .map_err(|error| Failure::Input(format!("stdin: {error}")))?;
    let now = Local::now().timestamp();
    let password = line.trim_end_matches(['\r', '\n']);
    accounts.set_password(now, contractor, &args.name, password, None)?;
    eprintln!("{} signs in with this password from now on", args.name);
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

pub(super) fn audit(args: &AuditArgs) -> Result<(), Failure> {
    let (accounts, contractor) = args.place.open()?;
    let entries = accounts.audit(contractor, args.most)?;
    let line = |(at, who, what, about): &(i64, String, String, String)| {
        format!("{}\t{who}\t{what}\t{about}\n", moment(*at))
    };
    files::answer(&entries.iter().map(line).collect::<String>())
}

fn moment(unix: i64) -> String {
    Local.timestamp_opt(unix, 0).single().map_or_else(
        || unix.to_string(),
        |at| at.format("%Y-%m-%d %H:%M").to_string(),
    )
}
