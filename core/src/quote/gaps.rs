//! What the survey does not say, and what knowing it could move the price by.
//!
//! Each gap is priced by itself against the quote as it stands; two gaps together need not add.

use super::money::{Cents, Percent};
use super::price::{self, Quantities};
use super::programme::Needs;
use super::ratebook::{Per, RateBook};
use super::times::ThreePoint;
use super::types::{Gap, TaskLine};
use super::view::{Nearness, View, tag_order};
use super::work::{self, BRING_WATER, Terms};
use crate::survey::{Equipment, SITE};
use std::collections::BTreeMap;

/// What a gap would change.
#[derive(Default)]
struct Change {
    technician: i128,
    second: i128,
    materials: Cents,
    hire: Cents,
}

impl Change {
    /// Minutes at a unit, for as many people as are paid there.
    fn minutes(minutes: i128, lines: &[&TaskLine]) -> Self {
        let people = lines.iter().map(|line| line.people).max().unwrap_or(1);
        Self {
            technician: minutes,
            second: minutes * i128::from(people - 1),
            ..Self::default()
        }
    }
}

struct Gaps<'a> {
    book: &'a RateBook,
    quantities: &'a Quantities,
    base: Cents,
    terms: Terms,
    visits: u32,
    list: Vec<Gap>,
}

/// Every gap, what could move the price most coming first.
pub(crate) fn gaps(
    view: &View<'_>,
    book: &RateBook,
    terms: Terms,
    quantities: &Quantities,
    tasks: &[TaskLine],
    (visits, crew): (u32, u32),
) -> Vec<Gap> {
    let labour = price::labour(book, quantities.people);
    let mut gaps = Gaps {
        book,
        quantities,
        base: price::ladder(book, labour, quantities.materials, quantities.hire).price_cents,
        terms,
        visits,
        list: Vec::new(),
    };
    if view.units.is_empty() {
        return gaps.list;
    }
    let mut at: Vec<Vec<&TaskLine>> = vec![Vec::new(); view.units.len()];
    for line in tasks {
        if let Some(lines) = at.get_mut(line.unit) {
            lines.push(line);
        }
    }
    for (unit, lines) in view.units.iter().zip(&at) {
        gaps.filters(unit, lines);
        gaps.belts(unit, lines);
        gaps.capacity(unit, lines);
        gaps.gas(unit, lines);
        gaps.edge(view, unit, lines);
        gaps.water(view, unit, lines);
    }
    gaps.twice(view, &at);
    gaps.way_up(view, crew);
    gaps.list.sort_by_cached_key(|gap| {
        (
            std::cmp::Reverse(gap.could_move_price_by_cents.get().unsigned_abs()),
            tag_order(&gap.about),
            gap.field.clone(),
        )
    });
    gaps.list
}

impl Gaps<'_> {
    fn push(&mut self, about: &str, field: &str, why: String, change: &Change) {
        let people = self.quantities.people;
        let moved =
            |now: u64, by: i128| u64::try_from((i128::from(now) + by).max(0)).unwrap_or(u64::MAX);
        let people = super::types::People {
            technician: moved(people.technician, change.technician),
            second_person: moved(people.second_person, change.second),
        };
        let price = price::ladder(
            self.book,
            price::labour(self.book, people),
            self.quantities.materials + change.materials,
            self.quantities.hire + change.hire,
        );
        self.list.push(Gap {
            about: about.to_owned(),
            field: field.to_owned(),
            why,
            could_move_price_by_cents: price.price_cents - self.base,
        });
    }

    /// How often a programme task would be done at a unit.
    fn times(&self, task: &str, unit: &Equipment) -> Option<u64> {
        let found = self
            .book
            .programme
            .tasks
            .iter()
            .find(|candidate| candidate.task == task && candidate.kinds.contains(&unit.kind))?;
        if !self.terms.includes(found.part) {
            return None;
        }
        let cap = self.terms.visits.unwrap_or(u32::MAX);
        Some(u64::from(found.per_year.min(cap)))
    }

    /// Minutes of a task at a unit with so many filters or belts.
    fn minutes(&self, task: &str, unit: &Equipment, count: u32, added: Percent) -> u64 {
        let time = work::timed(self.book, task, unit, work::tons(unit));
        let count = if time.per == Per::Unit {
            1
        } else {
            count.max(1)
        };
        time.minutes.scaled(count, added).mean()
    }

    fn filters(&mut self, unit: &Equipment, lines: &[&TaskLine]) {
        let Some(line) = lines.iter().find(|line| line.task == "replace_filters") else {
            return;
        };
        if !unit.filters.is_empty() {
            return;
        }
        let count = self.book.unknown.filters_per_unit;
        let times = u64::from(line.per_year);
        let minutes = self.minutes("replace_filters", unit, count, line.added);
        let more = (i128::from(minutes) - i128::from(line.minutes)) * i128::from(times);
        let price = self.book.filters.unlisted_cents;
        let pieces = if self.terms.scope.filters {
            u64::from(count) * times
        } else {
            0
        };
        let change = Change {
            materials: price.times(pieces),
            ..Change::minutes(more, lines)
        };
        let why = format!(
            "no filters are in the price; reckoned with {count} of an unlisted size at {price} each"
        );
        self.push(&unit.tag, "filters", why, &change);
    }

    fn belts(&mut self, unit: &Equipment, lines: &[&TaskLine]) {
        let count = self.book.unknown.belts_per_unit;
        let Some(looks) = self.times("inspect_belts", unit) else {
            return;
        };
        if !unit.belts.is_empty() || count == 0 {
            return;
        }
        let fits = self.times("replace_belts", unit).unwrap_or(0);
        let minutes = |task: &str| self.minutes(task, unit, count, Percent::default());
        let more = minutes("inspect_belts") * looks + minutes("replace_belts") * fits;
        let price = self.book.belts.unlisted_cents;
        let change = Change {
            materials: price.times(u64::from(count) * fits),
            ..Change::minutes(i128::from(more), lines)
        };
        let belts = if count == 1 { "belt" } else { "belts" };
        let why = format!(
            "no belt work is in the price; reckoned with {count} {belts} of an unlisted size at {price} each, \
             nothing when the drive is direct"
        );
        self.push(&unit.tag, "belts", why, &change);
    }

    fn capacity(&mut self, unit: &Equipment, lines: &[&TaskLine]) {
        if unit.nameplate.capacity_tons.is_some() {
            return;
        }
        let sized = lines.iter().filter_map(|line| {
            let small = work::timed(self.book, &line.task, unit, Some(0.0));
            let large = work::timed(self.book, &line.task, unit, None);
            let differs = small.entry != large.entry && small.per == Per::Unit;
            (differs && line.task != BRING_WATER).then(|| {
                let small = small.minutes.scaled(1, line.added).mean();
                (i128::from(small) - i128::from(line.minutes)) * i128::from(line.per_year)
            })
        });
        let change = Change::minutes(sized.sum(), lines);
        if change.technician != 0 {
            let why = "priced as the largest size in the rate book; held against the smallest";
            let field = "nameplate.capacity_tons";
            self.push(&unit.tag, field, why.to_owned(), &change);
        }
    }

    fn gas(&mut self, unit: &Equipment, lines: &[&TaskLine]) {
        if unit.nameplate.gas_input_btuh.is_some() {
            return;
        }
        let tasks = &self.book.programme.tasks;
        let gas = tasks
            .iter()
            .filter(|task| task.needs == Needs::Gas && task.kinds.contains(&unit.kind));
        let minutes: u64 = gas
            .map(|task| {
                let times = self.times(&task.task, unit).unwrap_or(0);
                self.minutes(&task.task, unit, 1, Percent::default()) * times
            })
            .sum();
        if minutes > 0 {
            let change = Change::minutes(i128::from(minutes), lines);
            let why = "no gas heat is in the price; held against a unit that has it";
            let field = "nameplate.gas_input_btuh";
            self.push(&unit.tag, field, why.to_owned(), &change);
        }
    }

    fn edge(&mut self, view: &View<'_>, unit: &Equipment, lines: &[&TaskLine]) {
        if view.nearness(unit) != Nearness::Unknown {
            return;
        }
        let second = lines.iter().filter(|line| line.people < 2);
        let change = Change {
            second: second
                .map(|line| i128::from(line.minutes) * i128::from(line.per_year))
                .sum(),
            ..Change::default()
        };
        let why = "fall protection is in the price, a person standing by at this unit is not; \
                   held against a place under 15 ft from an unprotected edge";
        self.push(&unit.tag, "at_ft", why.to_owned(), &change);
    }

    fn water(&mut self, view: &View<'_>, unit: &Equipment, lines: &[&TaskLine]) {
        let Some(line) = lines.iter().find(|line| line.task == BRING_WATER) else {
            return;
        };
        let known = view.verdict("hose-reach", &unit.tag);
        if !matches!(known, None | Some(crate::trade::Verdict::Unknown)) {
            return;
        }
        let hose: ThreePoint = self.book.water.hose_minutes;
        let less = i128::from(hose.mean()) - i128::from(line.minutes);
        let change = Change::minutes(less * i128::from(line.per_year), lines);
        let why = "priced with water carried; held against a hose that reaches";
        self.push(&unit.tag, "water_sources", why.to_owned(), &change);
    }

    /// A tag entered more than once, by two people perhaps, for what may be one unit.
    fn twice(&mut self, view: &View<'_>, at: &[Vec<&TaskLine>]) {
        let mut same: BTreeMap<&str, Vec<Change>> = BTreeMap::new();
        for (unit, lines) in view.units.iter().zip(at) {
            let minutes = |line: &&TaskLine| i128::from(line.minutes) * i128::from(line.per_year);
            let all = lines.iter().map(minutes).sum();
            same.entry(&unit.tag)
                .or_default()
                .push(Change::minutes(all, lines));
        }
        for (tag, units) in same {
            let times = units.len();
            let least = units.into_iter().min_by_key(|c| (c.technician, c.second));
            if let Some(least) = least.filter(|_| times > 1) {
                let less = Change {
                    technician: -least.technician,
                    second: -least.second,
                    ..Change::default()
                };
                let why = format!(
                    "entered {times} times and priced as {times} units; held against one unit less, by its work"
                );
                self.push(tag, "tag", why, &less);
            }
        }
    }

    fn way_up(&mut self, view: &View<'_>, crew: u32) {
        if view.survey.site.roofs().any(|roof| roof.access.is_some()) {
            return;
        }
        let (now, stair) = (self.book.access.unknown, self.book.access.stair);
        let visits = u64::from(self.visits);
        let less = (i128::from(stair.minutes.mean()) - i128::from(now.minutes.mean()))
            * i128::from(visits);
        let change = Change {
            technician: less,
            second: less * i128::from(crew - 1),
            materials: Cents::ZERO,
            hire: stair.cents_per_visit.times(visits) - now.cents_per_visit.times(visits),
        };
        let why = "priced as an unknown way up; held against a stair with the same crew";
        self.push(SITE, "site.access", why.to_owned(), &change);
    }
}
