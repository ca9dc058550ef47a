//! The main rates as a form: what is shown of a rate book, and how what was typed goes back in.

use scupper_core::quote::{Cents, Percent, RateBook, ThreePoint};
use scupper_core::survey::InputError;

/// What a rate is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::page) enum Figure {
    /// An amount of money.
    Money(Cents),
    /// A percentage.
    Share(Percent),
    /// A number of something.
    Count(Option<u32>),
    /// Whether something is in the price.
    Yes(bool),
}

/// One rate of the form.
pub(in crate::page) struct Rate {
    /// Name of the input.
    pub(in crate::page) name: &'static str,
    /// What it is.
    pub(in crate::page) label: &'static str,
    /// What it is counted in.
    pub(in crate::page) unit: &'static str,
    /// Where it stands in a rate book.
    place: &'static str,
    get: fn(&RateBook) -> Figure,
    set: fn(&mut RateBook, Figure) -> Option<()>,
}

macro_rules! rate {
    ($kind:ident, $name:literal, $label:literal, $unit:literal, $table:ident $(.$key:ident)*) => {
        Rate {
            name: $name,
            label: $label,
            unit: $unit,
            place: concat!(stringify!($table) $(, ".", stringify!($key))*),
            get: |book| Figure::$kind(book.$table $(.$key)*),
            set: |book, figure| match figure {
                Figure::$kind(figure) => {
                    book.$table $(.$key)* = figure;
                    Some(())
                }
                _ => None,
            },
        }
    };
}

macro_rules! minutes {
    ($name:literal, $label:literal, $which:ident) => {
        Rate {
            name: $name,
            label: $label,
            unit: "min",
            place: "travel.minutes",
            get: |book| Figure::Count(Some(book.travel.minutes.$which)),
            set: |book, figure| match figure {
                Figure::Count(Some(minutes)) => {
                    book.travel.minutes.$which = minutes;
                    Some(())
                }
                _ => None,
            },
        }
    };
}

/// The rates, by heading.
pub(in crate::page) const RATES: &[(&str, &[Rate])] = &[
    (
        "Labour and the way there",
        &[
            rate!(
                Money,
                "technician",
                "Technician, an hour",
                "",
                labour.technician_cents_per_hour
            ),
            rate!(
                Money,
                "second",
                "Second person, an hour",
                "",
                labour.second_person_cents_per_hour
            ),
            rate!(
                Money,
                "vehicle",
                "Vehicle, a visit",
                "",
                travel.vehicle_cents_per_visit
            ),
            minutes!("travel-low", "Travel a visit, at best", low),
            minutes!("travel-likely", "Travel a visit, most often", likely),
            minutes!("travel-high", "Travel a visit, at worst", high),
        ],
    ),
    (
        "On top of cost",
        &[
            rate!(
                Share,
                "on-labour",
                "Mark-up on labour",
                "%",
                markup.labour_percent
            ),
            rate!(
                Share,
                "on-materials",
                "Mark-up on materials",
                "%",
                markup.materials_percent
            ),
            rate!(
                Share,
                "on-hire",
                "Mark-up on vehicle and hire",
                "%",
                markup.hire_percent
            ),
            rate!(
                Share,
                "contingency",
                "For the unforeseen",
                "%",
                contingency_percent
            ),
            rate!(Share, "tax", "Sales tax", "%", tax.percent),
        ],
    ),
    (
        "What is agreed",
        &[
            rate!(
                Count,
                "visits",
                "Visits a year, if agreed",
                "",
                visits_per_year
            ),
            rate!(
                Yes,
                "coils",
                "Coil cleaning in the price",
                "",
                scope.coil_cleaning
            ),
            rate!(Yes, "filters", "Filters in the price", "", scope.filters),
            rate!(Yes, "belts", "Belts in the price", "", scope.belts),
        ],
    ),
];

/// Every rate of the form.
pub(in crate::page) fn every() -> impl Iterator<Item = &'static Rate> {
    RATES.iter().flat_map(|(_, rates)| *rates)
}

impl Figure {
    /// As it is typed and shown.
    pub(in crate::page) fn text(self) -> String {
        match self {
            Self::Money(cents) => cents.to_string(),
            Self::Share(percent) => percent.to_string(),
            Self::Count(Some(n)) => n.to_string(),
            Self::Count(None) => String::new(),
            Self::Yes(yes) => if yes { "yes" } else { "no" }.to_owned(),
        }
    }
}

impl Rate {
    /// What a book says.
    pub(in crate::page) fn of(&self, book: &RateBook) -> Figure {
        (self.get)(book)
    }

    fn read(&self, text: &str, now: Figure) -> Result<Figure, String> {
        let plain: String = text
            .chars()
            .filter(|c| !matches!(c, ',' | ' ' | '%'))
            .collect();
        let hundredths = || {
            hundredths(&plain)
                .ok_or_else(|| format!("\"{text}\" is not a number with at most two decimals"))
        };
        Ok(match now {
            Figure::Yes(_) => Figure::Yes(text == "yes"),
            Figure::Count(_) if plain.is_empty() && self.name == "visits" => Figure::Count(None),
            Figure::Count(_) => {
                let n = plain
                    .parse()
                    .map_err(|_| format!("\"{text}\" is not a whole number"))?;
                Figure::Count(Some(n))
            }
            Figure::Money(_) => Figure::Money(Cents::new(i64::from(hundredths()?))),
            Figure::Share(_) => Figure::Share(Percent::new(hundredths()?)?),
        })
    }
}

/// `52.5` as 5250.
fn hundredths(text: &str) -> Option<u32> {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits = |text: &str| text.chars().all(|c| c.is_ascii_digit());
    if whole.is_empty() || part.len() > 2 || !digits(whole) || !digits(part) {
        return None;
    }
    let whole: u32 = whole.parse().ok()?;
    let part: u32 = format!("{part:0<2}").parse().ok()?;
    whole.checked_mul(100)?.checked_add(part)
}

/// The book with what a form says put in. A form that was not sent whole changes only what it
/// names; a box that is not ticked is not sent, so the form says with `boxes` that it had them.
///
/// # Errors
/// [`InputError`] with the rate's name as its place, or the book's own.
pub fn rates(book: &RateBook, form: &[(String, String)]) -> Result<RateBook, InputError> {
    let mut book = book.clone();
    let sent = |name: &str| {
        form.iter()
            .find(|(key, _)| key == name)
            .map(|(_, text)| text.trim())
    };
    let boxes = sent("boxes").is_some();
    for rate in every() {
        let now = rate.of(&book);
        let text = match (now, sent(rate.name)) {
            (Figure::Yes(_), None) if boxes => "no",
            (_, None) => continue,
            (_, Some(text)) => text,
        };
        let figure = rate
            .read(text, now)
            .map_err(|problem| InputError::at(rate.label, problem))?;
        (rate.set)(&mut book, figure);
    }
    let way = book.travel.minutes;
    ThreePoint::new(way.low, way.likely, way.high)
        .map_err(|problem| InputError::at("Travel a visit", problem))?;
    let text = book
        .to_toml()
        .map_err(|problem| InputError::at("rates", problem))?;
    // The book checks itself as it is read; its lines are of a text that nobody saw.
    RateBook::with_programme(&text, book.programme)
        .map_err(|error| InputError::at(label(&error.place), error.problem))
}

/// What a person sees at a place of the book, such as `line 7 (tax.on)`: the rate itself, or else
/// the first of the form in the same table.
fn label(place: &str) -> &str {
    let keys = place.split_once('(').map_or(place, |(_, keys)| keys);
    let keys = keys.trim_end_matches(')');
    let table = |keys: &str| keys.split('.').next().unwrap_or_default().to_owned();
    every()
        .find(|rate| rate.place == keys)
        .or_else(|| every().find(|rate| table(rate.place) == table(keys)))
        .map_or(keys, |rate| rate.label)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::tests::form;
    use super::*;
    use scupper_core::quote::Tax;

    #[test]
    fn what_is_shown_can_be_sent_back_and_what_is_typed_goes_in() {
        let book = RateBook::builtin_example();
        let mut shown: Vec<(String, String)> = every()
            .map(|rate| (rate.name.to_owned(), rate.of(&book).text()))
            .collect();
        assert_eq!(rates(&book, &shown).unwrap(), book);
        shown.retain(|(name, _)| !matches!(name.as_str(), "technician" | "visits" | "belts"));
        shown.extend(form(&[
            ("technician", "1,061.5"),
            ("visits", ""),
            ("boxes", "1"),
        ]));
        let typed = rates(&book, &shown).unwrap();
        assert_eq!(typed.labour.technician_cents_per_hour, Cents::new(106_150));
        assert_eq!(typed.visits_per_year, None);
        assert!(!typed.scope.belts && typed.scope.filters == book.scope.filters);
    }

    #[test]
    fn a_rate_that_makes_no_sense_is_named() {
        let book = RateBook::builtin_example();
        for (name, text, place) in [
            ("technician", "plenty", "Technician, an hour"),
            ("technician", "-4", "Technician, an hour"),
            ("on-labour", "12.345", "Mark-up on labour"),
            ("visits", "four", "Visits a year, if agreed"),
            ("travel-low", "500", "Travel a visit"),
            ("technician", "0", "Technician, an hour"),
            ("vehicle", "20000000", "Vehicle, a visit"),
            ("visits", "900", "Visits a year, if agreed"),
            ("on-hire", "20000", "Mark-up on vehicle and hire"),
            ("contingency", "10000.01", "For the unforeseen"),
        ] {
            assert_eq!(
                rates(&book, &form(&[(name, text)])).unwrap_err().place,
                place,
                "{text}"
            );
        }
        let untaxed = RateBook {
            tax: Tax::default(),
            ..book
        };
        let error = rates(&untaxed, &form(&[("tax", "7")])).unwrap_err();
        assert_eq!(error.place, "Sales tax", "{error}");
    }
}
