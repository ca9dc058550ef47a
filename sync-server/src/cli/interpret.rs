//! `scupper interpret`: a dictation in, what it was understood to say out.

use super::{Failure, files};
use scupper_core::dictation::{Lexicon, interpret};
use scupper_core::survey::spoken::Transcript;
use std::path::PathBuf;

/// Read one dictated note and print what it was understood to say, as JSON.
///
/// Every value comes with the words it came from. Words that nothing was made of are listed
/// under `unparsed`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The transcript as JSON; `-` reads stdin.
    transcript: PathBuf,
    /// Accepted for likeness with the other commands: the answer is always JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let transcript: Transcript = files::json(&args.transcript)?;
    files::answer_json(&interpret(&transcript, Lexicon::builtin()))
}
