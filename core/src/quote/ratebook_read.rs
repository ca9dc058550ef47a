//! Reading a rate book: TOML in, a checked [`RateBook`] or an error that names line and mend.
//!
//! What one value cannot know of itself is checked here, among them the safety floor: fall
//! protection that takes no time would price a person unprotected at an edge.

use super::lines::{Problem, Step, line_of, read, refuse};
use super::money::Cents;
use super::programme::Programme;
use super::ratebook::{RateBook, RepairPrice, TaskTime, TaxOn};
use super::takeoff;
use crate::survey::InputError;

/// The example shipped with Scupper. Its figures are invented.
pub const EXAMPLE: &str = include_str!("../../programme/example-rates.toml");

/// No single price in a rate book is above this: ten million.
const DEAREST: Cents = Cents::new(1_000_000_000);

impl RateBook {
    /// Reads and checks a rate book. The error's place is a line of the text.
    pub fn from_toml(text: &str) -> Result<Self, InputError> {
        Self::with_programme(text, Programme::builtin().clone())
    }

    /// The same for a contractor's own maintenance programme.
    pub fn with_programme(text: &str, programme: Programme) -> Result<Self, InputError> {
        read(text, |book: &mut Self| {
            book.programme = programme;
            check(book, text)
        })
    }

    /// The same for a book that was read before and kept. Times of tasks that the programme has
    /// since given up are left out, so that a change of programme makes no kept book unusable.
    pub fn kept(text: &str, programme: Programme) -> Result<Self, InputError> {
        read(text, |book: &mut Self| {
            let mut minutes = std::mem::take(&mut book.minutes);
            minutes.retain(|entry| known(&programme, &entry.task));
            (book.minutes, book.programme) = (minutes, programme);
            check(book, text)
        })
    }

    /// The book as a file that [`RateBook::from_toml`] reads. Comments of the file it came from
    /// are not in it.
    ///
    /// # Errors
    /// In words, if a value cannot be written.
    pub fn to_toml(&self) -> Result<String, String> {
        toml::to_string_pretty(self).map_err(|error| error.to_string())
    }

    /// The example shipped with Scupper, whose figures are invented.
    pub fn builtin_example() -> Self {
        // A test proves that the shipped file reads; were it broken, a book without rates would
        // show at once as a price of nothing.
        Self::from_toml(EXAMPLE).unwrap_or_default()
    }
}

fn check(book: &RateBook, text: &str) -> Result<(), Problem> {
    amounts(book)?;
    rules(book)?;
    takeoff_prices(book)?;
    times(book, text)?;
    repairs(book, text)
}

/// Whether a task is one of the programme or of the built-in one: a time for a task that the
/// contractor's own programme left out does no harm.
fn known(programme: &Programme, task: &str) -> bool {
    let both = [programme, Programme::builtin()];
    let mut tasks = both.iter().flat_map(|programme| &programme.tasks);
    tasks.any(|known| known.task == task)
}

fn amounts(book: &RateBook) -> Result<(), Problem> {
    for (key, text) in [("name", &book.name), ("currency", &book.currency)] {
        if text.trim().is_empty() {
            return refuse(&[&key], "is empty; give it a value");
        }
    }
    let fixed = fixed_prices(book);
    let fixed = fixed.iter().map(|(path, cents)| (path.as_slice(), *cents));
    for (path, cents) in fixed {
        let path: Vec<&dyn Step> = path.iter().map(|key| key as &dyn Step).collect();
        price(cents, &path)?;
    }
    for (table, key, list) in [
        ("filters", "cents", &book.filters.cents),
        (
            "filters",
            "unlisted_by_depth_cents",
            &book.filters.unlisted_by_depth_cents,
        ),
        ("belts", "cents", &book.belts.cents),
    ] {
        for (name, cents) in list {
            price(*cents, &[&table, &key, &name.as_str()])?;
        }
    }
    for (i, repair) in book.repairs.iter().enumerate() {
        price(repair.parts_cents, &[&"repairs", &i, &"parts_cents"])?;
    }
    if book.labour.technician_cents_per_hour == Cents::ZERO {
        return refuse(
            &[&"labour", &"technician_cents_per_hour"],
            "is 0; an hour of work costs something",
        );
    }
    Ok(())
}

fn price(cents: Cents, path: &[&dyn Step]) -> Result<(), Problem> {
    if cents < Cents::ZERO || cents > DEAREST {
        let (is, most) = (cents.get(), DEAREST.get());
        return refuse(path, format!("{is} cents: give 0 to {most}"));
    }
    Ok(())
}

fn rules(book: &RateBook) -> Result<(), Problem> {
    let range = &book.range;
    if range.correlation_percent.hundredths() > 10_000 {
        return refuse(&[&"range", &"correlation_percent"], "give 0 to 100");
    }
    if range.sigmas.hundredths() > 200 {
        return refuse(&[&"range", &"sigmas"], "give 0 to 2, such as 1.28");
    }
    if !(100..=20_000).contains(&range.trials) {
        return refuse(&[&"range", &"trials"], "give 100 to 20000");
    }
    if book.fall_protection.minutes.low == 0 {
        return refuse(
            &[&"fall_protection", &"minutes"],
            "low is 0; setting up fall protection takes time, and no price may assume that \
             a person works unprotected at an edge",
        );
    }
    if !(1..=2).contains(&book.crew.usual) {
        return refuse(&[&"crew", &"usual"], "give 1 or 2");
    }
    let visits = |visits: u32, path: &[&dyn Step]| match visits {
        1..=366 => Ok(()),
        _ => refuse(path, format!("{visits} visits a year: give 1 to 366")),
    };
    if let Some(agreed) = book.visits_per_year {
        visits(agreed, &[&"visits_per_year"])?;
    }
    for other in &book.options.visits_per_year {
        visits(*other, &[&"options", &"visits_per_year"])?;
    }
    if book.tax.percent.hundredths() > 0 && book.tax.on == TaxOn::Nothing {
        return refuse(
            &[&"tax", &"on"],
            "say what the tax is levied on: materials or everything",
        );
    }
    for (key, pieces) in [
        ("filters_per_unit", book.unknown.filters_per_unit),
        ("belts_per_unit", book.unknown.belts_per_unit),
    ] {
        if pieces > 1000 {
            return refuse(&[&"unknown", &key], "give 0 to 1000");
        }
    }
    Ok(())
}

/// Prices that no filter or belt would ever find.
fn takeoff_prices(book: &RateBook) -> Result<(), Problem> {
    for size in book.filters.cents.keys() {
        if takeoff::filter_key(size).as_deref() != Some(size) {
            return refuse(
                &[&"filters", &"cents", &size.as_str()],
                "write a nominal size in whole inches with the smaller face side first, such as \"20x25x2\"",
            );
        }
    }
    for depth in book.filters.unlisted_by_depth_cents.keys() {
        let whole = depth
            .parse::<u32>()
            .is_ok_and(|d| d > 0 && d.to_string() == *depth);
        if !whole {
            return refuse(
                &[&"filters", &"unlisted_by_depth_cents", &depth.as_str()],
                "write a depth in whole inches, such as \"2\"",
            );
        }
    }
    let mut names = std::collections::BTreeMap::new();
    for name in book.belts.cents.keys() {
        if let Some(other) = names.insert(takeoff::belt_name(name), name) {
            return refuse(
                &[&"belts", &"cents", &name.as_str()],
                format!("is the same belt as \"{other}\"; keep one price"),
            );
        }
    }
    Ok(())
}

fn times(book: &RateBook, text: &str) -> Result<(), Problem> {
    for (i, entry) in book.minutes.iter().enumerate() {
        if !known(&book.programme, &entry.task) {
            return refuse(
                &[&"minutes", &i, &"task"],
                format!(
                    "`{}` is no task of the maintenance programme; known are {}",
                    entry.task,
                    book.programme.task_names().join(", ")
                ),
            );
        }
        let hides = |earlier: &TaskTime| {
            let larger = match (earlier.up_to_tons, entry.up_to_tons) {
                (None, _) => true,
                (Some(earlier), Some(later)) => earlier >= later,
                (Some(_), None) => false,
            };
            earlier.task == entry.task && larger && all_of(&entry.kinds, &earlier.kinds)
        };
        if let Some(earlier) = book.minutes.iter().take(i).position(hides) {
            return never_used(text, "minutes", i, earlier);
        }
    }
    Ok(())
}

fn repairs(book: &RateBook, text: &str) -> Result<(), Problem> {
    for (i, entry) in book.repairs.iter().enumerate() {
        let hides = |earlier: &RepairPrice| {
            earlier.component == entry.component
                && all_of(&entry.conditions, &earlier.conditions)
                && all_of(&entry.kinds, &earlier.kinds)
        };
        if let Some(earlier) = book.repairs.iter().take(i).position(hides) {
            return never_used(text, "repairs", i, earlier);
        }
    }
    Ok(())
}

/// Whether one list holds all of another, where an empty one means everything.
fn all_of<T: PartialEq>(some: &[T], within: &[T]) -> bool {
    within.is_empty() || (!some.is_empty() && some.iter().all(|one| within.contains(one)))
}

fn never_used(text: &str, list: &str, i: usize, earlier: usize) -> Result<(), Problem> {
    let line = line_of(text, list, earlier);
    refuse(
        &[&list, &i],
        format!(
            "is never used: the entry of line {line} fits all that it fits, and the first counts; put it before that"
        ),
    )
}

/// The prices that have one place in the book.
fn fixed_prices(book: &RateBook) -> Vec<(Vec<&'static str>, Cents)> {
    vec![
        (
            vec!["labour", "technician_cents_per_hour"],
            book.labour.technician_cents_per_hour,
        ),
        (
            vec!["labour", "second_person_cents_per_hour"],
            book.labour.second_person_cents_per_hour,
        ),
        (
            vec!["travel", "vehicle_cents_per_visit"],
            book.travel.vehicle_cents_per_visit,
        ),
        (
            vec!["access", "portable_ladder", "cents_per_visit"],
            book.access.portable_ladder.cents_per_visit,
        ),
        (
            vec!["access", "fixed_ladder", "cents_per_visit"],
            book.access.fixed_ladder.cents_per_visit,
        ),
        (
            vec!["access", "hatch", "cents_per_visit"],
            book.access.hatch.cents_per_visit,
        ),
        (
            vec!["access", "stair", "cents_per_visit"],
            book.access.stair.cents_per_visit,
        ),
        (
            vec!["access", "unknown", "cents_per_visit"],
            book.access.unknown.cents_per_visit,
        ),
        (
            vec!["fall_protection", "cents_per_visit"],
            book.fall_protection.cents_per_visit,
        ),
        (
            vec!["openings", "cents_per_visit"],
            book.openings.cents_per_visit,
        ),
        (vec!["lift", "cents_per_visit"], book.lift.cents_per_visit),
        (vec!["water", "cleaner_cents"], book.water.cleaner_cents),
        (
            vec!["filters", "unlisted_cents"],
            book.filters.unlisted_cents,
        ),
        (vec!["belts", "unlisted_cents"], book.belts.unlisted_cents),
    ]
}
