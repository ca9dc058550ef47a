//! Reading a rate book: TOML in, a checked [`RateBook`] or an error that names line and mend.
//!
//! What one value cannot know of itself is checked here, among them the safety floor: fall
//! protection that takes no time would price a person unprotected at an edge.

use super::money::Cents;
use super::ratebook::{RateBook, TaxOn};
use super::takeoff;
use crate::survey::InputError;
use serde::de::DeserializeOwned;

/// The example shipped with Scupper. Its figures are invented.
pub const EXAMPLE: &str = include_str!("../../programme/example-rates.toml");

/// No single price in a rate book is above this: ten million.
const DEAREST: Cents = Cents::new(1_000_000_000);

impl RateBook {
    /// Reads and checks a rate book. The error's place is a line of the text.
    pub fn from_toml(text: &str) -> Result<Self, InputError> {
        let book: Self = from_toml(text)?;
        check(&book).map_err(|(key, problem)| InputError::at(line_of_key(text, &key), problem))?;
        Ok(book)
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

/// Reads TOML; a wrong shape is an error that names the line.
pub(super) fn from_toml<T: DeserializeOwned>(text: &str) -> Result<T, InputError> {
    toml::from_str(text).map_err(|error| {
        let place = match error.span() {
            Some(span) => format!("line {}", line_at(text, span.start)),
            None => "the file".to_owned(),
        };
        InputError::at(place, error.message())
    })
}

fn line_at(text: &str, byte: usize) -> usize {
    text.bytes().take(byte).filter(|b| *b == b'\n').count() + 1
}

/// The line where a dotted key is written, as `[table]` and `key =` or `table.key =`; the last
/// part alone when the book is written some other way.
fn line_of_key(text: &str, key: &str) -> String {
    // `minutes[3].task`: the fourth `[[minutes]]` of the text, and `task =` below it.
    if let Some((list, rest)) = key.split_once('[') {
        let (nth, last) = rest.split_once("].").unwrap_or((rest, ""));
        let header = format!("[[{list}]]");
        let mut headers = text
            .lines()
            .enumerate()
            .filter(|(_, line)| line.trim() == header);
        let at = nth
            .parse()
            .ok()
            .and_then(|n| headers.nth(n))
            .map(|(index, _)| index);
        let Some(at) = at else {
            return key.to_owned();
        };
        let below = text
            .lines()
            .skip(at + 1)
            .take_while(|line| !line.starts_with('['));
        let within = below.map(|line| line.split('=').next().unwrap_or_default().trim());
        let down = within
            .clone()
            .position(|name| name == last)
            .map_or(0, |n| n + 1);
        return format!("line {} ({key})", at + 1 + down);
    }
    let (table, last) = key.rsplit_once('.').unwrap_or(("", key));
    let mut within = "";
    let mut found = None;
    for (index, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.starts_with('[') {
            within = line.trim_matches(|c| c == '[' || c == ']').trim();
            if within == key {
                found = Some(index);
            }
        } else if let Some((written, _)) = line.split_once('=') {
            let written = written.trim().replace('"', "");
            if (within == table && written == last)
                || written == key
                || format!("{within}.{written}") == key
            {
                found = Some(index);
            }
        }
    }
    match found {
        Some(index) => format!("line {} ({key})", index + 1),
        None => key.to_owned(),
    }
}

type Problem = (String, String);

fn problem<T>(key: impl Into<String>, mend: impl Into<String>) -> Result<T, Problem> {
    Err((key.into(), mend.into()))
}

fn check(book: &RateBook) -> Result<(), Problem> {
    for (key, text) in [("name", &book.name), ("currency", &book.currency)] {
        if text.trim().is_empty() {
            return problem(key, "is empty; give it a value");
        }
    }
    for (key, cents) in prices(book) {
        if cents < Cents::ZERO || cents > DEAREST {
            return problem(
                key,
                format!("{} cents: give 0 to {}", cents.get(), DEAREST.get()),
            );
        }
    }
    if book.labour.technician_cents_per_hour == Cents::ZERO {
        return problem(
            "labour.technician_cents_per_hour",
            "is 0; an hour of work costs something",
        );
    }
    let correlation = book.range.correlation_percent.hundredths();
    if correlation > 10_000 {
        return problem("range.correlation_percent", "give 0 to 100");
    }
    if book.range.sigmas.hundredths() > 200 {
        return problem("range.sigmas", "give 0 to 2, such as 1.28");
    }
    if !(100..=20_000).contains(&book.range.trials) {
        return problem("range.trials", "give 100 to 20000");
    }
    if book.fall_protection.minutes.low == 0 {
        return problem(
            "fall_protection.minutes",
            "low is 0; setting up fall protection takes time, and no price may assume that \
             a person works unprotected at an edge",
        );
    }
    if !(1..=2).contains(&book.crew.usual) {
        return problem("crew.usual", "give 1 or 2");
    }
    for (key, visits) in book
        .visits_per_year
        .iter()
        .map(|v| ("visits_per_year", v))
        .chain(
            book.options
                .visits_per_year
                .iter()
                .map(|v| ("options.visits_per_year", v)),
        )
    {
        if !(1..=366).contains(visits) {
            return problem(key, format!("{visits} visits a year: give 1 to 366"));
        }
    }
    if book.tax.percent.hundredths() > 0 && book.tax.on == TaxOn::Nothing {
        return problem(
            "tax.on",
            "say what the tax is levied on: materials or everything",
        );
    }
    for (key, limit) in [
        ("unknown.filters_per_unit", book.unknown.filters_per_unit),
        ("unknown.belts_per_unit", book.unknown.belts_per_unit),
    ] {
        if limit > 1000 {
            return problem(key, "give 0 to 1000");
        }
    }
    for size in book.filters.cents.keys() {
        if takeoff::filter_key(size).as_deref() != Some(size) {
            return problem(
                format!("filters.cents.{size}"),
                "write a nominal size with the smaller face side first, such as \"20x25x2\"",
            );
        }
    }
    for (index, entry) in book.minutes.iter().enumerate() {
        if !book
            .programme
            .tasks
            .iter()
            .any(|task| task.task == entry.task)
        {
            return problem(
                format!("minutes[{index}].task"),
                format!(
                    "`{}` is no task of the maintenance programme; known are {}",
                    entry.task,
                    book.programme.task_names().join(", ")
                ),
            );
        }
    }
    Ok(())
}

fn prices(book: &RateBook) -> Vec<(String, Cents)> {
    let mut prices: Vec<(String, Cents)> = [
        (
            "labour.technician_cents_per_hour",
            book.labour.technician_cents_per_hour,
        ),
        (
            "labour.second_person_cents_per_hour",
            book.labour.second_person_cents_per_hour,
        ),
        (
            "travel.vehicle_cents_per_visit",
            book.travel.vehicle_cents_per_visit,
        ),
        (
            "access.portable_ladder",
            book.access.portable_ladder.cents_per_visit,
        ),
        (
            "access.fixed_ladder",
            book.access.fixed_ladder.cents_per_visit,
        ),
        ("access.hatch", book.access.hatch.cents_per_visit),
        ("access.stair", book.access.stair.cents_per_visit),
        ("access.unknown", book.access.unknown.cents_per_visit),
        (
            "fall_protection.cents_per_visit",
            book.fall_protection.cents_per_visit,
        ),
        ("openings.cents_per_visit", book.openings.cents_per_visit),
        ("lift.cents_per_visit", book.lift.cents_per_visit),
        ("water.cleaner_cents", book.water.cleaner_cents),
        ("filters.unlisted_cents", book.filters.unlisted_cents),
        ("belts.unlisted_cents", book.belts.unlisted_cents),
    ]
    .map(|(key, cents)| (key.to_owned(), cents))
    .into();
    let named = [
        ("filters.cents", &book.filters.cents),
        (
            "filters.unlisted_by_depth_cents",
            &book.filters.unlisted_by_depth_cents,
        ),
        ("belts.cents", &book.belts.cents),
    ];
    for (table, list) in named {
        prices.extend(
            list.iter()
                .map(|(name, cents)| (format!("{table}.{name}"), *cents)),
        );
    }
    prices.extend(
        book.repairs
            .iter()
            .enumerate()
            .map(|(i, repair)| (format!("repairs[{i}].parts_cents"), repair.parts_cents)),
    );
    prices
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::{Cents, Programme};
    use super::*;

    #[track_caller]
    fn refused(from: &str, to: &str, place: &str, mend: &str) {
        assert!(EXAMPLE.contains(from), "the example has no {from:?}");
        let text = EXAMPLE.replacen(from, to, 1);
        let error = RateBook::from_toml(&text).unwrap_err();
        let line = text.lines().position(|line| line.contains(to)).unwrap() + 1;
        assert!(
            error.place.starts_with(&format!("line {line}")),
            "{error}, not line {line}"
        );
        assert!(error.place.contains(place), "{error}");
        assert!(error.problem.contains(mend), "{error}");
    }

    #[test]
    fn the_example_reads() {
        let book = RateBook::from_toml(EXAMPLE).unwrap();
        assert_eq!(book.filters.cents["20x25x2"], Cents::new(900));
        assert_eq!(book.tax.percent.hundredths(), 825);
        assert!(EXAMPLE.contains("INVENTED"));
        assert!(!Programme::builtin().tasks.is_empty());
    }

    #[test]
    fn errors_name_line_and_mend() {
        refused("percent = 8.25", "percent = 8.255", "", "two decimals");
        refused(
            "technician_cents_per_hour = 5200",
            "technician_cents_per_hour = 52.5",
            "",
            "invalid type: floating point",
        );
        refused("hatch]", "hatchway]", "", "unknown field `hatchway`");
        refused(
            "minutes = { low = 30, likely = 40, high = 70 }",
            "minutes = { low = 50, likely = 40, high = 70 }",
            "",
            "give low <= likely <= high",
        );
        refused(
            "minutes = { low = 15, likely = 25, high = 45 }",
            "minutes = { low = 0, likely = 25, high = 45 }",
            "fall_protection.minutes",
            "unprotected at an edge",
        );
        refused(
            "unlisted_cents = 2400",
            "unlisted_cents = -1",
            "belts.unlisted_cents",
            "give 0 to",
        );
        refused(
            "task = \"look_over\"",
            "task = \"look_around\"",
            "minutes[0]",
            "no task",
        );
        refused(
            "\"20x25x2\" = 900",
            "\"25x20x2\" = 900",
            "filters.cents.25x20x2",
            "smaller face",
        );
        refused("usual = 1", "usual = 0", "crew.usual", "give 1 or 2");
    }
}
