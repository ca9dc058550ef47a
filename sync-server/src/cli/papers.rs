//! `scupper papers`: every paper of a survey, written to a folder.

use super::{Failure, files};
use crate::papers::{Folder, Material, NoPictures, Pictures, Shelf, Who, in_order, make_all};
use scupper_core::quote::{PaperSize, quote};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};

/// Write the papers of a survey: assessment, register, plan for maps, order list, quote
/// worksheet and a letter ready to send.
///
/// quote.json and quote-worksheet.xlsx show costs: they are for the office.
#[derive(Debug, clap::Args)]
pub(super) struct PapersArgs {
    /// The survey as JSON; `-` reads stdin.
    survey: PathBuf,
    /// Folder to write to; it is made when it is not there.
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Folder with the photos; they are found by their hash, whatever they are called.
    #[arg(long, value_name = "DIR")]
    photos: Option<PathBuf>,
    #[command(flatten)]
    rates: super::quote::Rates,
    /// What it is printed on, letter or a4; without it as the rate book says, or else letter.
    #[arg(long, value_name = "SIZE")]
    paper: Option<PaperSize>,
    /// Who sends the letter, such as "Ada Quill <ada@example.org>".
    #[arg(long, default_value = "The office <office@example.invalid>")]
    from: Who,
    /// Whom the letter goes to; without it the mail program asks.
    #[arg(long)]
    to: Option<Who>,
    #[command(flatten)]
    by: super::assess::By,
}

pub(super) fn run(args: &PapersArgs) -> Result<(), Failure> {
    let mut survey = files::survey(&args.survey)?;
    in_order(&mut survey);
    let book = args.rates.book()?;
    std::fs::create_dir_all(&args.out).map_err(|error| unwritable(&args.out, &error))?;
    let assessment = args.by.assess(&survey)?;
    let priced = quote(&survey, &assessment, &book);
    let shelf: Box<dyn Shelf> = match &args.photos {
        Some(dir) if dir.is_dir() => Box::new(Folder::new(dir)),
        Some(dir) => {
            return Err(Failure::Input(format!(
                "{}: is no folder; give the folder that holds the photos",
                dir.display()
            )));
        }
        None => Box::new(NoPictures),
    };
    let shown = std::io::stderr().is_terminal();
    let all = survey.photos.len();
    let pictures = Pictures::prepare(&survey, &*shelf, &|done| {
        if shown && (done % 25 == 0 || done == all) {
            eprint!("\rphotos {done} of {all}   ");
        }
    });
    if shown && all > 0 {
        eprintln!();
    }
    let material = Material {
        survey: &survey,
        assessment: &assessment,
        quote: &priced,
        book: &book,
        pictures: &pictures,
        paper: args.paper.unwrap_or(book.paper),
        from: args.from.clone(),
        to: args.to.clone(),
    };
    let mut names = Vec::new();
    make_all(&material, &mut |name, bytes| {
        let path = args.out.join(name);
        std::fs::write(&path, bytes).map_err(|error| format!("{}: {error}", path.display()))?;
        if shown {
            eprintln!("{name}");
        }
        names.push(path.display().to_string());
        Ok(())
    })
    .map_err(Failure::Other)?;
    for (photo, why) in pictures.gaps(&survey) {
        eprintln!("scupper: photo {} is not shown: {why}", photo.id);
    }
    files::answer(&(names.join("\n") + "\n"))
}

fn unwritable(path: &Path, error: &std::io::Error) -> Failure {
    Failure::Input(format!("{}: cannot be written to: {error}", path.display()))
}
