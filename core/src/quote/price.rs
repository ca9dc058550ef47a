//! From minutes and money to a price, step by step. Every step rounds once, to the cent.

use super::money::{Cents, Percent};
use super::ratebook::{RateBook, TaxOn};
use super::times::{Range, Spread, ThreePoint};
use super::types::{AccessLine, BuildUp, Crew, MaterialLine, People, TaskLine};

/// Everything a price is made of, before any rate is applied.
#[derive(Debug, Clone, Default)]
pub(crate) struct Quantities {
    pub(crate) spread: Spread,
    pub(crate) people: People,
    pub(crate) materials: Cents,
    pub(crate) hire: Cents,
}

impl Quantities {
    pub(crate) fn new<'a>(
        tasks: impl Iterator<Item = (&'a TaskLine, u32)>,
        materials: &[MaterialLine],
        visit: impl Iterator<Item = &'a AccessLine>,
        crew: &Crew,
        visits: u32,
    ) -> Self {
        let mut all = Self::default();
        for (line, per_year) in tasks {
            all.add_work(
                &line.entry,
                line.three_point,
                u64::from(per_year),
                line.people,
            );
        }
        for line in visit {
            let times = u64::from(visits) * u64::from(line.times);
            all.add_work(&line.item, line.three_point, times, crew.size);
            all.hire = all.hire + line.cents.times(times);
        }
        all.materials = materials.iter().map(|line| line.cost_cents_per_year).sum();
        all
    }

    /// Adds a time spent `times` a year by one or two people.
    pub(crate) fn add_work(&mut self, entry: &str, time: ThreePoint, times: u64, people: u32) {
        let people = u64::from(people);
        self.spread.add(entry, time, times * people);
        self.people.technician += time.mean() * times;
        self.people.second_person += time.mean() * times * people.saturating_sub(1);
    }

    /// Minutes a year of all people.
    pub(crate) fn minutes(&self, book: &RateBook) -> Range<u64> {
        self.spread
            .range(book.range.correlation_percent, book.range.sigmas)
    }
}

/// Labour at cost, as expected.
pub(crate) fn labour(book: &RateBook, people: People) -> Cents {
    book.labour
        .technician_cents_per_hour
        .part(people.technician, 60)
        + book
            .labour
            .second_person_cents_per_hour
            .part(people.second_person, 60)
}

/// The price of quantities at the low, likely and high end of the hours.
pub(crate) fn build_up(book: &RateBook, quantities: &Quantities) -> Range<BuildUp> {
    let minutes = quantities.minutes(book);
    let labour = labour(book, quantities.people);
    minutes.map(|at| {
        let labour = labour.part(at, minutes.likely);
        ladder(book, labour, quantities.materials, quantities.hire)
    })
}

/// Cost, mark-up, contingency, tax.
pub(crate) fn ladder(book: &RateBook, labour: Cents, materials: Cents, hire: Cents) -> BuildUp {
    let labour_markup = labour.percent(book.markup.labour_percent);
    let materials_markup = materials.percent(book.markup.materials_percent);
    let hire_markup = hire.percent(book.markup.hire_percent);
    let subtotal = labour + labour_markup + materials + materials_markup + hire + hire_markup;
    let contingency = subtotal.percent(book.contingency_percent);
    let taxed = match book.tax.on {
        TaxOn::Nothing => Cents::ZERO,
        TaxOn::Materials => materials + materials_markup,
        TaxOn::Everything => subtotal + contingency,
    };
    let tax = taxed.percent(book.tax.percent);
    BuildUp {
        labour_cents: labour,
        labour_markup_cents: labour_markup,
        materials_cents: materials,
        materials_markup_cents: materials_markup,
        hire_cents: hire,
        hire_markup_cents: hire_markup,
        contingency_cents: contingency,
        tax_cents: tax,
        price_cents: subtotal + contingency + tax,
    }
}

/// A tenth more or less of an amount.
pub(crate) const TENTH: Percent = Percent::from_hundredths(1000);
