//! The `scupper` command: what it takes, and the exit code it gives.
//!
//! 0: done. 2: the input is bad, with the place and the mend on stderr. 1: something else
//! failed (disk, network). Answers go to stdout, everything else to stderr.

mod assess;
mod files;
mod home;
mod interpret;
mod keep;
#[cfg(feature = "postgres")]
mod moving;
mod papers;
mod people;
mod quote;
mod serve;

pub(crate) use files::answer;
pub(crate) use serve::{runtime, stop};

use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// Rooftop equipment surveys: what was said and seen on the roof, made into an assessment, a
/// hazard list and quote inputs.
///
/// It tells which checks passed, failed or could not be made. It never says that something is
/// safe: local code and licensed, qualified people decide.
#[derive(Debug, Parser)]
#[command(
    name = "scupper",
    version,
    propagate_version = true,
    max_term_width = 100
)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Interpret(interpret::Args),
    Assess(assess::Args),
    Quote(quote::Args),
    Papers(papers::PapersArgs),
    Serve(serve::Args),
    Demo(crate::demo::Args),
    Admit(people::AdmitArgs),
    Limit(people::LimitArgs),
    Password(people::PasswordArgs),
    Devices(people::DevicesArgs),
    Revoke(people::RevokeArgs),
    Audit(people::AuditArgs),
    Verify(keep::VerifyArgs),
    #[cfg(feature = "postgres")]
    Move(moving::MoveArgs),
    Backup(keep::BackupArgs),
    Restore(keep::RestoreArgs),
}

/// Why a command did not do its work.
#[derive(Debug)]
pub(crate) enum Failure {
    /// The caller gave something that cannot be used; the text names the place and the mend.
    Input(String),
    /// Anything else.
    Other(String),
}

impl Failure {
    pub(crate) fn other(doing: &str, error: impl std::fmt::Display) -> Self {
        Self::Other(format!("{doing}: {error}"))
    }
}

impl From<crate::AppError> for Failure {
    fn from(error: crate::AppError) -> Self {
        if error.status().is_client_error() {
            Self::Input(error.to_string())
        } else {
            Self::Other(error.to_string())
        }
    }
}

/// Runs the command that the process was called with.
pub fn run() -> ExitCode {
    let cli = Cli::parse();
    let done = match cli.command {
        Command::Interpret(args) => interpret::run(&args),
        Command::Assess(args) => assess::run(&args),
        Command::Quote(args) => quote::run(&args),
        Command::Papers(args) => papers::run(&args),
        Command::Serve(args) => serve::run(args),
        Command::Demo(args) => crate::demo::run(&args),
        Command::Admit(args) => people::admit(&args),
        Command::Limit(args) => people::limit(&args),
        Command::Password(args) => people::password(&args),
        Command::Devices(args) => people::devices(&args),
        Command::Revoke(args) => people::revoke(&args),
        Command::Audit(args) => people::audit(&args),
        #[cfg(feature = "postgres")]
        Command::Move(args) => moving::run(&args),
        Command::Verify(args) => keep::verify(&args),
        Command::Backup(args) => keep::backup(&args),
        Command::Restore(args) => keep::restore(&args),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(Failure::Input(text)) => {
            eprintln!("scupper: {text}");
            ExitCode::from(2)
        }
        Err(Failure::Other(text)) => {
            eprintln!("scupper: {text}");
            ExitCode::FAILURE
        }
    }
}
