//! What the survey does not say, and what knowing it could move the price by.
//!
//! Each gap is priced by itself against the quote as it stands; two gaps together need not add.

use super::money::{Cents, Percent};
use super::price::{self, Quantities};
use super::programme::Needs;
use super::ratebook::{Per, RateBook};
use super::takeoff;
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
    visits: u32,
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
    let mut at: BTreeMap<&str, Vec<&TaskLine>> = BTreeMap::new();
    for line in tasks {
        at.entry(&line.tag).or_default().push(line);
    }
    for unit in &view.units {
        let lines = at.get(unit.tag.as_str()).map_or(&[][..], Vec::as_slice);
        gaps.filters(unit, lines);
        gaps.belts(unit);
        gaps.capacity(unit, lines);
        gaps.gas(unit);
        gaps.edge(view, unit, lines);
        gaps.water(view, unit, lines);
    }
    gaps.way_up(view);
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

    fn minutes(&self, task: &str, unit: &Equipment, count: u32) -> u64 {
        let time = work::timed(self.book, task, unit, work::tons(unit));
        let count = if time.per == Per::Unit {
            1
        } else {
            count.max(1)
        };
        time.minutes.scaled(count, Percent::default()).mean()
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
        let minutes = self.minutes("replace_filters", unit, count);
        let more = i128::from(minutes.saturating_sub(line.minutes)) * i128::from(times);
        let (price, _) = takeoff::filter_price(self.book, "unlisted");
        let pieces = if self.terms.scope.filters {
            u64::from(count) * times
        } else {
            0
        };
        let change = Change {
            technician: more,
            second: more * i128::from(line.people - 1),
            materials: price.times(pieces),
            ..Change::default()
        };
        let why = format!(
            "no filters are in the price; reckoned with {count} of an unlisted size at {price} each"
        );
        self.push(&unit.tag, "filters", why, &change);
    }

    fn belts(&mut self, unit: &Equipment) {
        let count = self.book.unknown.belts_per_unit;
        let Some(looks) = self.times("inspect_belts", unit) else {
            return;
        };
        if !unit.belts.is_empty() || count == 0 {
            return;
        }
        let fits = self.times("replace_belts", unit).unwrap_or(0);
        let looked = self.minutes("inspect_belts", unit, count) * looks;
        let fitted = self.minutes("replace_belts", unit, count) * fits;
        let price = self.book.belts.unlisted_cents;
        let change = Change {
            technician: i128::from(looked + fitted),
            materials: price.times(u64::from(count) * fits),
            ..Change::default()
        };
        let why = format!(
            "no belt work is in the price; reckoned with {count} belt of an unlisted size at {price} each, \
             nothing when the drive is direct"
        );
        self.push(&unit.tag, "belts", why, &change);
    }

    fn capacity(&mut self, unit: &Equipment, lines: &[&TaskLine]) {
        if unit.nameplate.capacity_tons.is_some() {
            return;
        }
        let mut change = Change::default();
        for line in lines {
            let small = work::timed(self.book, &line.task, unit, Some(0.0));
            if small.entry == line.entry || line.task == BRING_WATER || small.per != Per::Unit {
                continue;
            }
            let less = i128::from(small.minutes.mean()) - i128::from(line.minutes);
            change.technician += less * i128::from(line.per_year);
            change.second += less * i128::from(line.per_year) * i128::from(line.people - 1);
        }
        if change.technician != 0 {
            let why = "priced as the largest size in the rate book; held against the smallest";
            self.push(
                &unit.tag,
                "nameplate.capacity_tons",
                why.to_owned(),
                &change,
            );
        }
    }

    fn gas(&mut self, unit: &Equipment) {
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
                self.minutes(&task.task, unit, 1) * times
            })
            .sum();
        if minutes > 0 {
            let change = Change {
                technician: i128::from(minutes),
                ..Change::default()
            };
            let why = "no gas heat is in the price; held against a unit that has it";
            self.push(
                &unit.tag,
                "nameplate.gas_input_btuh",
                why.to_owned(),
                &change,
            );
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
        let times = i128::from(line.per_year);
        let change = Change {
            technician: less * times,
            second: less * times * i128::from(line.people - 1),
            ..Change::default()
        };
        let why = "priced with water carried; held against a hose that reaches";
        self.push(&unit.tag, "water_sources", why.to_owned(), &change);
    }

    fn way_up(&mut self, view: &View<'_>) {
        if view.survey.site.roofs().any(|roof| roof.access.is_some()) {
            return;
        }
        let (now, stair) = (self.book.access.unknown, self.book.access.stair);
        let visits = u64::from(self.visits);
        let less = (i128::from(stair.minutes.mean()) - i128::from(now.minutes.mean()))
            * i128::from(visits);
        let two = self.quantities.people.second_person > 0;
        let change = Change {
            technician: less,
            second: if two { less } else { 0 },
            materials: Cents::ZERO,
            hire: stair.cents_per_visit.times(visits) - now.cents_per_visit.times(visits),
        };
        let why = "priced as an unknown way up; held against a stair with the same crew";
        self.push(SITE, "site.access", why.to_owned(), &change);
    }
}
