//! `scupper demo`: the whole job once, on real parts. A real server on a loopback port, two
//! devices with stores of their own, everything between them over HTTP.
//!
//! Nothing here decides what comes out: it feeds a scenario folder in and writes down what the
//! server answers. Another folder, or other lines in it, gives other answers.

mod check;
mod device;
mod office;
mod papers;
mod scenario;

use crate::cli::Failure;
use device::DemoDevice;
use office::DemoOffice;
use scenario::Scenario;
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Run the whole job on an invented scenario: two technicians, one roof, no signal, one office.
///
/// Writes assessment.html, hazards.json, assessment.json, quote.json, survey.json and
/// register.csv, and prints ten lines to check by eye. Exit code 1 if devices and server do not
/// agree at the end, or a photo is not what was taken.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Folder for what comes out; made if it is not there.
    #[arg(long, value_name = "DIR", default_value = "out")]
    out: PathBuf,
    /// Folder with the scenario; its format is told in fixtures/README.md.
    #[arg(long, value_name = "DIR")]
    fixtures: Option<PathBuf>,
    /// Leave the review page running and print its address; Ctrl-C stops.
    #[arg(long)]
    serve: bool,
}

/// Runs the demo.
pub(crate) fn run(args: &Args) -> Result<(), Failure> {
    let dir = args.fixtures.clone().unwrap_or_else(scenario::default_dir);
    let scenario = Scenario::read(&dir)?;
    let out =
        |error: std::io::Error| Failure::Input(format!("--out {}: {error}", args.out.display()));
    std::fs::create_dir_all(&args.out).map_err(out)?;
    let work = tempfile::Builder::new()
        .prefix("scupper-demo-")
        .tempdir()
        .map_err(|error| Failure::other("making a folder for the stores", error))?;

    let mut progress = Progress::new();
    progress.step("start the server");
    let office = DemoOffice::start(&work.path().join("office"), &scenario)?;
    progress.step("enrol the devices");
    let mut devices = enrol(&office, &scenario, work.path())?;
    let survey = office.prepare(&scenario)?;
    for device in &mut devices {
        device.join(&survey)?;
    }
    progress.step("enter the plan and exchange it");
    // The plan is the last technician's: they have the drawings.
    if let Some(device) = devices.last_mut() {
        device.enter_plan(&scenario)?;
        device.exchange()?;
    }
    for device in &mut devices {
        device.exchange()?;
    }
    for device in &mut devices {
        progress.step(&format!(
            "{} works on the roof, without signal",
            device.author()
        ));
        device.work(&scenario)?;
    }
    progress.step("signal again: exchange");
    // Once for what is one's own, once more for what the others brought.
    for _ in 0..2 {
        for device in &mut devices {
            device.exchange()?;
        }
    }
    for device in &mut devices {
        let author = device.author().to_owned();
        device.upload(|sent| progress.step(&format!("{author} uploads photos: {sent}")))?;
    }
    progress.step("write the papers");
    let read = papers::write(&office, &devices, &survey, &args.out)?;
    progress.step("check");
    let outcome = check::check(&office, &devices, &scenario, &survey, &read)?;
    progress.done();
    let look = args.out.join("assessment.html");
    crate::cli::answer(&outcome.lines(&look))?;
    if args.serve {
        office.serve_until_stopped(&survey)?;
    } else {
        office.stop();
    }
    outcome.verdict()
}

fn enrol(
    office: &DemoOffice,
    scenario: &Scenario,
    work: &Path,
) -> Result<Vec<DemoDevice>, Failure> {
    scenario
        .technicians()
        .map(|(person, id)| {
            let code = office.admit(person)?;
            DemoDevice::enrol(office, person, id, &code, &work.join(id))
        })
        .collect()
}

/// One line on a terminal that says what is going on; silent elsewhere.
struct Progress {
    shown: bool,
    width: usize,
}

impl Progress {
    fn new() -> Self {
        Self {
            shown: std::io::stderr().is_terminal(),
            width: 0,
        }
    }

    fn step(&mut self, what: &str) {
        if self.shown {
            let line = format!("scupper demo: {what}");
            eprint!("\r{line:<width$}", width = self.width);
            self.width = line.chars().count();
            let _ = std::io::stderr().flush();
        }
    }

    fn done(&mut self) {
        if self.shown {
            eprint!("\r{:<width$}\r", "", width = self.width);
        }
    }
}
