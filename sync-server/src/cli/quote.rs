//! `scupper quote`: a survey and a rate book in, quote inputs out.

use super::{Failure, assess, files};
use crate::words;
use scupper_core::quote::{EXAMPLE, Programme, Quote, RateBook, quote};
use std::fmt::Write;
use std::path::PathBuf;

/// Work out tasks, materials, crew, hours and the price range of a maintenance agreement.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The survey as JSON; `-` reads stdin.
    survey: PathBuf,
    #[command(flatten)]
    rates: Rates,
    /// Print the quote inputs as JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    by: assess::By,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let survey = files::survey(&args.survey)?;
    let book = args.rates.book()?;
    let answer = quote(&survey, &args.by.assess(&survey)?, &book);
    if args.json {
        files::answer_json(&answer)
    } else {
        files::answer(&text(&answer))
    }
}

/// What a contractor brings: rates, and the maintenance programme.
#[derive(Debug, Clone, Default, clap::Args)]
pub(super) struct Rates {
    /// Rates and prices as TOML; without it an invented example, which quote and papers say.
    #[arg(long, value_name = "RATES.toml")]
    ratebook: Option<PathBuf>,
    /// Tasks and how often they are done, as TOML of the form of
    /// core/programme/standard-180.toml; without it that one.
    #[arg(long, value_name = "PROGRAMME.toml")]
    programme: Option<PathBuf>,
}

impl Rates {
    /// The rate book, with the programme in it.
    pub(super) fn book(&self) -> Result<RateBook, Failure> {
        let programme = match &self.programme {
            Some(path) => {
                Programme::from_toml(&files::text(path)?).map_err(|e| files::in_file(path, &e))?
            }
            None => Programme::builtin().clone(),
        };
        match &self.ratebook {
            Some(path) => RateBook::with_programme(&files::text(path)?, programme)
                .map_err(|e| files::in_file(path, &e)),
            None => RateBook::with_programme(EXAMPLE, programme)
                .map_err(|e| Failure::Input(format!("the example rate book: {e}"))),
        }
    }
}

fn text(quote: &Quote) -> String {
    let mut out = String::new();
    let price = &quote.price_cents_per_year;
    let hours = &quote.labour_hours_per_year;
    let _ = writeln!(
        out,
        "PRICE A YEAR  likely {}  (low {}, high {})",
        words::money(price.likely.get(), &quote.currency),
        words::money(price.low.get(), &quote.currency),
        words::money(price.high.get(), &quote.currency)
    );
    let _ = writeln!(
        out,
        "LABOUR HOURS  likely {}  (low {}, high {}), {} visits a year, crew of {}",
        hours.likely.get(),
        hours.low.get(),
        hours.high.get(),
        quote.visits_per_year,
        quote.crew.size
    );
    if let Some(why) = &quote.empty {
        let _ = writeln!(out, "  {why}");
    }
    for why in &quote.crew.because {
        let _ = writeln!(out, "  crew: {why}");
    }
    let _ = writeln!(out, "\nTASKS ({})", quote.tasks.len());
    for task in &quote.tasks {
        let _ = writeln!(
            out,
            "  {}\t{} x {} min a year\t{}",
            task.tag, task.per_year, task.minutes, task.words
        );
    }
    let _ = writeln!(out, "\nMATERIALS ({})", quote.materials.len());
    for line in &quote.materials {
        let cost = words::money(line.cost_cents_per_year.get(), &quote.currency);
        let _ = writeln!(out, "  {}\t{} a year\t{cost}", line.item, line.per_year);
    }
    let _ = writeln!(out, "\nREPAIRS, priced apart ({})", quote.repairs.len());
    for repair in &quote.repairs {
        let price = repair
            .price_cents
            .map(|c| words::money(c.get(), &quote.currency));
        let _ = writeln!(
            out,
            "  [{}] {}: {} {}\t{}",
            repair.severity,
            repair.about,
            repair.component.words(),
            repair.condition.words(),
            price.as_deref().unwrap_or("no price listed")
        );
    }
    for (title, lines) in [
        ("ASSUMPTIONS", &quote.assumptions),
        ("EXCLUSIONS", &quote.exclusions),
    ] {
        let _ = writeln!(out, "\n{title} ({})", lines.len());
        for line in lines {
            let _ = writeln!(out, "  {line}");
        }
    }
    let _ = writeln!(out, "\nMISSING ({})", quote.missing.len());
    for gap in &quote.missing {
        let _ = writeln!(out, "  {}: {} — {}", gap.about, gap.field, gap.why);
    }
    let _ = writeln!(out, "\nRate book: {}", quote.rate_book);
    if let Some(note) = &quote.rate_book_note {
        let _ = writeln!(out, "{note}");
    }
    out
}
