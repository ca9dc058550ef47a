//! Filters and belts over all units, joined by what one would order.

use super::money::Cents;
use super::programme::Part;
use super::ratebook::RateBook;
use super::types::MaterialLine;
use super::view::View;
use super::work::{BRING_WATER, Job, Terms};
use crate::survey::Filter;
use crate::trade::belts::Designation;
use std::collections::{BTreeMap, BTreeSet};

/// Pieces of one set are held to this many, against slips of the tongue.
const MOST_PIECES: u32 = 1000;

/// Filters or belts of one unit, named as one would order them.
struct Set {
    /// Index of the unit.
    unit: usize,
    name: String,
    /// Under what it joins with others.
    joins: String,
    quantity: u64,
    note: Option<String>,
}

/// Filters and belts of all units, whatever is in the price.
pub(crate) struct Sets {
    filters: Vec<Set>,
    belts: Vec<Set>,
}

impl Sets {
    pub(crate) fn of(view: &View<'_>) -> Self {
        let (mut filters, mut belts) = (Vec::new(), Vec::new());
        let quantity = |pieces: u32| u64::from(pieces.min(MOST_PIECES));
        for (index, unit) in view.units.iter().enumerate() {
            filters.extend(unit.filters.iter().map(|set| {
                let (name, note) = nominal(set);
                Set {
                    unit: index,
                    joins: name.clone(),
                    name,
                    quantity: quantity(set.quantity),
                    note,
                }
            }));
            belts.extend(unit.belts.iter().map(|set| {
                let name = belt_name(&set.designation);
                Set {
                    unit: index,
                    joins: drive(&name),
                    name,
                    quantity: quantity(set.quantity),
                    note: None,
                }
            }));
        }
        Self { filters, belts }
    }
}

/// How often a year something is renewed at one unit.
#[derive(Clone, Copy, Default)]
struct Rounds {
    filters: u64,
    belts: u64,
    washes: u64,
}

/// Pieces that are ordered together.
#[derive(Default)]
struct Joined<'a> {
    per_round: u64,
    per_year: u64,
    /// Indices of the units, in order.
    units: BTreeSet<usize>,
    names: BTreeSet<&'a str>,
    notes: BTreeSet<String>,
}

/// The order list of a year.
pub(crate) fn materials(
    view: &View<'_>,
    book: &RateBook,
    terms: Terms,
    jobs: &[Job],
    sets: &Sets,
) -> Vec<MaterialLine> {
    let mut rounds = vec![Rounds::default(); view.units.len()];
    for job in jobs {
        let Some((line, times)) = job.on(terms) else {
            continue;
        };
        if let Some(at) = rounds.get_mut(line.unit) {
            match (line.task.as_str(), job.part) {
                (BRING_WATER, _) => {}
                (_, Part::CoilCleaning) => at.washes += u64::from(times),
                ("replace_filters", _) if terms.scope.filters => at.filters = u64::from(times),
                ("replace_belts", _) => at.belts = u64::from(times),
                _ => {}
            }
        }
    }
    let filters = joined(&sets.filters, &rounds, |at| at.filters);
    let mut lines: Vec<MaterialLine> = Vec::new();
    for (size, joined) in filters {
        let (price, note) = filter_price(book, size);
        lines.push(joined.line(view, format!("filter {size}"), price, note));
    }
    for (classical, mut joined) in joined(&sets.belts, &rounds, |at| at.belts) {
        let name = match joined.names.first() {
            Some(only) if joined.names.len() == 1 => *only,
            _ => classical,
        };
        for other in joined.names.iter().filter(|other| **other != name) {
            joined.notes.insert(format!(
                "also recorded as {other}: same groove and outside length, but a light-duty belt \
                 is for fractional horsepower; read the drive before ordering"
            ));
        }
        let (price, note) = belt_price(book, name);
        lines.push(joined.line(view, format!("belt {name}"), price, note));
    }
    let mut cleaner = Joined::default();
    for (unit, at) in rounds.iter().enumerate().filter(|(_, at)| at.washes > 0) {
        cleaner.add(unit, 1, at.washes);
    }
    if cleaner.per_year > 0 {
        lines.push(cleaner.line(
            view,
            "coil cleaner".to_owned(),
            book.water.cleaner_cents,
            None,
        ));
    }
    lines
}

/// The sets that are renewed, joined by what one would order.
fn joined<'a>(
    sets: &'a [Set],
    rounds: &[Rounds],
    times: fn(&Rounds) -> u64,
) -> BTreeMap<&'a str, Joined<'a>> {
    let mut all: BTreeMap<&str, Joined<'_>> = BTreeMap::new();
    for set in sets {
        let times = rounds.get(set.unit).map_or(0, times);
        if times > 0 {
            let line = all.entry(&set.joins).or_default();
            line.add(set.unit, set.quantity, times);
            line.names.insert(&set.name);
            line.notes.extend(set.note.clone());
        }
    }
    all
}

impl Joined<'_> {
    fn add(&mut self, unit: usize, quantity: u64, times: u64) {
        self.per_round += quantity;
        self.per_year += quantity * times;
        self.units.insert(unit);
    }

    fn line(
        self,
        view: &View<'_>,
        item: String,
        price: Cents,
        note: Option<String>,
    ) -> MaterialLine {
        let units = self.units.iter().filter_map(|unit| view.units.get(*unit));
        let mut refs: Vec<String> = units.map(|unit| unit.tag.clone()).collect();
        refs.dedup();
        MaterialLine {
            item,
            per_round: self.per_round,
            per_year: self.per_year,
            unit_cost_cents: price,
            cost_cents_per_year: price.times(self.per_year),
            refs,
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
pub(super) fn belt_name(designation: &str) -> String {
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
