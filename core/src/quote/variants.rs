//! What else it could cost: alternatives priced apart, and the inputs that move the price most.

use super::money::Cents;
use super::price::{self, Quantities, TENTH};
use super::ratebook::RateBook;
use super::times::{Group, Range};
use super::types::{MaterialLine, OptionLine, Sensitivity};
use super::work::{Terms, UNLISTED};
use std::collections::BTreeMap;

/// How many inputs are named.
const NAMED: usize = 5;

/// The alternatives worth pricing: each part of the scope the other way round, other visits.
pub(crate) fn alternatives(
    book: &RateBook,
    terms: Terms,
    visits: u32,
) -> Vec<(String, String, Terms)> {
    let mut list = Vec::new();
    let mut part = |code: &str, words: &str, inside: bool, flip: fn(&mut Terms)| {
        let mut other = terms;
        flip(&mut other);
        let with = if inside { "without" } else { "with" };
        list.push((format!("{with}_{code}"), format!("{with} {words}"), other));
    };
    part(
        "coil_cleaning",
        "washing of condenser coils",
        terms.scope.coil_cleaning,
        |terms| terms.scope.coil_cleaning = !terms.scope.coil_cleaning,
    );
    part(
        "belts",
        "new belts and fitting them",
        terms.scope.belts,
        |terms| {
            terms.scope.belts = !terms.scope.belts;
        },
    );
    part(
        "filters",
        "new filters; changing them stays in",
        terms.scope.filters,
        |terms| terms.scope.filters = !terms.scope.filters,
    );
    for other in &book.options.visits_per_year {
        if *other != visits {
            let fewer = if *other < visits {
                "; tasks due more often are held to it, which departs from the programme"
            } else {
                ""
            };
            list.push((
                format!("visits_{other}"),
                format!("{other} visits a year instead of {visits}{fewer}"),
                Terms {
                    visits: Some(*other),
                    ..terms
                },
            ));
        }
    }
    list
}

/// One alternative against the price.
pub(crate) fn option_line(
    code: String,
    words: String,
    price: Range<Cents>,
    base: Range<Cents>,
) -> OptionLine {
    OptionLine {
        option: code,
        words,
        price_cents_per_year: price,
        adds_cents_per_year: price.likely - base.likely,
    }
}

/// The inputs that move the expected price most, each moved alone: times from the low to the
/// high end of their entries, money by a tenth down and up.
pub(crate) fn sensitivities(
    book: &RateBook,
    quantities: &Quantities,
    materials: &[MaterialLine],
) -> Vec<Sensitivity> {
    let labour = price::labour(book, quantities.people);
    let minutes = quantities.minutes(book).likely;
    let at = |labour: Cents, materials: Cents, hire: Cents| {
        price::ladder(book, labour, materials, hire).price_cents
    };
    let with_labour = |labour| at(labour, quantities.materials, quantities.hire);
    let mut all = Vec::new();
    let mut push = |input: String, low: Cents, high: Cents| {
        all.push(Sensitivity {
            input,
            price_cents_at_low: low,
            price_cents_at_high: high,
            swing_cents: high - low,
        });
    };
    let tenth = labour.percent(TENTH);
    push(
        "hourly cost of labour, a tenth down and up".to_owned(),
        with_labour(labour - tenth),
        with_labour(labour + tenth),
    );
    for (name, group) in by_name(quantities) {
        let moved = |end: u64| labour.part((minutes - group.mean).saturating_add(end), minutes);
        push(
            format!("minutes of {name}, low to high"),
            with_labour(moved(group.low)),
            with_labour(moved(group.high)),
        );
    }
    for prefix in ["filter ", "belt "] {
        let lines = materials
            .iter()
            .filter(|line| line.item.starts_with(prefix));
        let cost: Cents = lines.map(|line| line.cost_cents_per_year).sum();
        let tenth = cost.percent(TENTH);
        let with = |materials| at(labour, materials, quantities.hire);
        push(
            format!("{}prices, a tenth down and up", prefix),
            with(quantities.materials - tenth),
            with(quantities.materials + tenth),
        );
    }
    let tenth = quantities.hire.percent(TENTH);
    let with = |hire| at(labour, quantities.materials, hire);
    push(
        "vehicle, gear and hire, a tenth down and up".to_owned(),
        with(quantities.hire - tenth),
        with(quantities.hire + tenth),
    );
    all.retain(|line| line.swing_cents > Cents::ZERO);
    all.sort_by(|a, b| {
        b.swing_cents
            .cmp(&a.swing_cents)
            .then_with(|| a.input.cmp(&b.input))
    });
    all.truncate(NAMED);
    all
}

/// Minutes gathered by task, whatever the size of the unit.
fn by_name(quantities: &Quantities) -> BTreeMap<String, Group> {
    let mut named: BTreeMap<String, Group> = BTreeMap::new();
    for (entry, group) in quantities.spread.groups() {
        let name = if entry == UNLISTED {
            "tasks that the rate book does not list".to_owned()
        } else if entry.starts_with("minutes ") {
            entry.rsplit(' ').next().unwrap_or(entry).replace('_', " ")
        } else {
            entry.replace('_', " ")
        };
        let sum = named.entry(name).or_default();
        sum.low += group.low;
        sum.mean += group.mean;
        sum.high += group.high;
    }
    named
}
