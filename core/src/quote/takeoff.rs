//! Filters and belts over all units, joined by what one would order.

use super::money::Cents;
use super::programme::Part;
use super::ratebook::RateBook;
use super::types::{MaterialLine, TaskLine};
use super::view::{View, tag_order};
use super::work::Terms;
use crate::survey::Filter;
use crate::trade::belts::Designation;
use std::collections::{BTreeMap, BTreeSet};

/// Pieces of one set are held to this many, against slips of the tongue.
const MOST_PIECES: u32 = 1000;

#[derive(Default)]
struct Joined {
    per_round: u64,
    per_year: u64,
    refs: BTreeSet<(String, u64, String)>,
    names: BTreeSet<String>,
    notes: BTreeSet<String>,
}

/// The order list of a year.
pub(crate) fn materials(
    view: &View<'_>,
    book: &RateBook,
    terms: Terms,
    tasks: &[TaskLine],
) -> Vec<MaterialLine> {
    let mut filters: BTreeMap<String, Joined> = BTreeMap::new();
    let mut belts: BTreeMap<String, Joined> = BTreeMap::new();
    let mut cleaner = Joined::default();
    let mut rounds: BTreeMap<(&str, &str), u64> = BTreeMap::new();
    for line in tasks {
        let times = rounds.entry((&line.tag, &line.task)).or_default();
        *times = (*times).max(u64::from(line.per_year));
    }
    for unit in &view.units {
        let times = |task: &str| rounds.get(&(unit.tag.as_str(), task)).copied().unwrap_or(0);
        let tag = tag_order(&unit.tag);
        for set in &unit.filters {
            let times = times("replace_filters");
            if times > 0 && terms.scope.filters {
                let (size, note) = nominal(set);
                let line = filters.entry(size).or_default();
                line.add(set.quantity, times, &tag);
                line.notes.extend(note);
            }
        }
        for set in &unit.belts {
            let times = times("replace_belts");
            if times > 0 && terms.includes(Part::Belts) {
                let name = belt_name(&set.designation);
                let line = belts.entry(drive(&name)).or_default();
                line.add(set.quantity, times, &tag);
                line.names.insert(name);
            }
        }
        let washes = times("clean_condenser_coil");
        if washes > 0 {
            cleaner.add(1, washes, &tag);
        }
    }
    let mut lines = Vec::new();
    for (size, joined) in filters {
        let (price, note) = filter_price(book, &size);
        lines.push(joined.line(format!("filter {size}"), price, note));
    }
    for (classical, mut joined) in belts {
        let name = match joined.names.first() {
            Some(only) if joined.names.len() == 1 => only.clone(),
            _ => classical,
        };
        for other in joined.names.iter().filter(|other| **other != name) {
            joined.notes.insert(format!(
                "also recorded as {other}: same groove and outside length, but a light-duty belt \
                 is for fractional horsepower; read the drive before ordering"
            ));
        }
        let (price, note) = belt_price(book, &name);
        lines.push(joined.line(format!("belt {name}"), price, note));
    }
    if cleaner.per_year > 0 {
        lines.push(cleaner.line("coil cleaner".to_owned(), book.water.cleaner_cents, None));
    }
    lines
}

impl Joined {
    fn add(&mut self, quantity: u32, times: u64, tag: &(String, u64, String)) {
        let quantity = u64::from(quantity.min(MOST_PIECES));
        self.per_round += quantity;
        self.per_year += quantity * times;
        self.refs.insert(tag.clone());
    }

    fn line(self, item: String, price: Cents, note: Option<String>) -> MaterialLine {
        MaterialLine {
            item,
            per_round: self.per_round,
            per_year: self.per_year,
            unit_cost_cents: price,
            cost_cents_per_year: price.times(self.per_year),
            refs: self.refs.into_iter().map(|(_, _, tag)| tag).collect(),
            notes: self.notes.into_iter().chain(note).collect(),
        }
    }
}

/// The nominal size to order, smaller face side first, and a note when it was rounded.
///
/// A filter measures 1/4 to 1/2 in less than its nominal size (common practice, no source), so
/// a size that is not whole inches is taken up to the next.
pub(crate) fn nominal(filter: &Filter) -> (String, Option<String>) {
    let sides = [filter.width_in, filter.height_in, filter.depth_in].map(|side| side.get());
    let mut face = [sides[0].ceil(), sides[1].ceil()];
    face.sort_by(f64::total_cmp);
    let size = format!("{}x{}x{}", face[0], face[1], sides[2].ceil());
    let rounded = sides.iter().any(|side| side.fract() != 0.0);
    let note = rounded.then(|| {
        format!(
            "recorded as {}x{}x{}; taken up to the nominal size, measure the rack before ordering",
            sides[0], sides[1], sides[2]
        )
    });
    (size, note)
}

/// A size as written in a rate book, brought to its canonical form; `None` when it is no size.
pub(crate) fn filter_key(size: &str) -> Option<String> {
    let mut sides = Vec::new();
    for side in size.split('x') {
        let inches: u32 = side.parse().ok()?;
        if inches == 0 {
            return None;
        }
        sides.push(inches);
    }
    match sides.as_slice() {
        [a, b, depth] => Some(format!("{}x{}x{depth}", a.min(b), a.max(b))),
        _ => None,
    }
}

/// A designation as it is usually written: `a-42` is A42.
fn belt_name(designation: &str) -> String {
    match Designation::read(designation) {
        Some(belt) => belt.to_string(),
        None => designation.trim().to_uppercase(),
    }
}

/// What fits the same drive: the classical designation of a light-duty belt, else its own.
fn drive(name: &str) -> String {
    let belt = Designation::read(name).filter(|belt| belt.section.light_duty());
    belt.and_then(Designation::cross)
        .map_or_else(|| name.to_owned(), |classical| classical.to_string())
}

pub(crate) fn filter_price(book: &RateBook, size: &str) -> (Cents, Option<String>) {
    if let Some(price) = book.filters.cents.get(size) {
        return (*price, None);
    }
    let depth = size.rsplit('x').next().unwrap_or_default();
    match book.filters.unlisted_by_depth_cents.get(depth) {
        Some(price) => (
            *price,
            Some(format!(
                "size not in the rate book; priced as any {depth} in deep filter"
            )),
        ),
        None => (
            book.filters.unlisted_cents,
            Some("size not in the rate book; priced as any unlisted filter".to_owned()),
        ),
    }
}

pub(crate) fn belt_price(book: &RateBook, designation: &str) -> (Cents, Option<String>) {
    let listed = book
        .belts
        .cents
        .iter()
        .find(|(name, _)| belt_name(name) == designation);
    match listed {
        Some((_, price)) => (*price, None),
        None => (
            book.belts.unlisted_cents,
            Some("designation not in the rate book; priced as any unlisted belt".to_owned()),
        ),
    }
}
