//! Filters and belts: sizes with their counts, and counts put right afterwards.

use super::Reader;
use crate::dictation::lexicon::meaning::{Field, Measure, Part, Role};
use crate::dictation::numbers::{belts, counts::as_count, filters};
use crate::dictation::sentence::says;
use crate::dictation::tokens::Gap;
use crate::survey::codes::Component;
use serde_json::{Value, json};

/// Filters or belts with another count.
fn counting(mut set: Value, count: u32) -> Option<Value> {
    *set.get_mut("quantity")? = json!(count);
    Some(set)
}

impl Reader<'_, '_> {
    pub(super) fn belt(&mut self, at: usize) -> Option<usize> {
        let near = self.talk_of(at, Component::Belt, Field::Belts)
            || self
                .out
                .iter()
                .rev()
                .take(12)
                .any(|f| f.field == Field::Belts);
        let belt = belts::belt(self.s.items, self.stream, at, near, self.floor(at))?;
        if self.s.is_used(belt.first) {
            return None;
        }
        // "minimum circuit D 34": the number answers the label.
        if !near && self.label.is_some_and(|(_, label)| at - label.min(at) <= 4) {
            return None;
        }
        let mut belt = belt;
        belt.quantity = belt.quantity.or_else(|| self.count_stands(Field::Belts));
        let why = belt
            .quantity
            .is_none()
            .then_some("no count of belts was said; one is assumed");
        let misheard = self.s.get(belt.first).is_some_and(|i| {
            belt.first < at
                && i.number.is_none()
                && self.stream.lexicon.worth(i.word).sound.is_some()
        });
        let why = why.or(misheard.then_some("the count was guessed from its sound"));
        let sure = match (belt.quantity.is_some() && !misheard, near) {
            (true, true) => 0.9,
            (_, true) => 0.75,
            _ => 0.65,
        };
        let value =
            json!({"designation": belt.designation, "quantity": belt.quantity.unwrap_or(1)});
        self.push(Field::Belts, value, (belt.first, belt.next), sure, why);
        Some(belt.next)
    }

    /// "one belt A 68, no, A 66": the count of a size that is put right.
    fn count_stands(&self, field: Field) -> Option<u32> {
        let (of, old) = self.set.as_ref().filter(|_| self.correcting > 0)?;
        let count = old.get("quantity").filter(|_| *of == field)?.as_u64()?;
        Some(count as u32)
    }

    /// First item before `at` that nothing was made of yet.
    fn floor(&self, at: usize) -> usize {
        (at.saturating_sub(8)..at)
            .rev()
            .find(|i| self.s.is_used(*i))
            .map_or(0, |i| i + 1)
    }

    fn about_set(&self, at: usize, part: Component, field: Field) -> bool {
        self.s.known_part(at) == Some(part)
            || self
                .s
                .get(at)
                .is_some_and(|x| x.meaning.label == Some(field))
    }

    fn talk_of(&self, at: usize, part: Component, field: Field) -> bool {
        (at.saturating_sub(10)..at + 9).any(|i| self.about_set(i, part, field))
            || at < 6 && self.sets == Some(part)
    }

    /// The last of belts and filters that the sentence spoke of.
    pub(super) fn set_talk(&self) -> Option<Component> {
        let from = self.s.items.len().saturating_sub(24);
        (from..self.s.items.len()).rev().find_map(|i| {
            [
                (Component::Belt, Field::Belts),
                (Component::Filter, Field::Filters),
            ]
            .into_iter()
            .find(|(part, field)| self.about_set(i, *part, *field))
            .map(|(part, _)| part)
        })
    }

    /// "six filters in it, and they go ...": a count that waits for its size.
    pub(super) fn counted_part(&mut self, at: usize, part: Part) {
        let before = at
            .checked_sub(1)
            .filter(|_| part == Part::Known(Component::Filter));
        let Some(before) = before else { return };
        // "there's for filters in it, ...", "fore filters, ...".
        let opens =
            before == 0 || self.s.any(before - 1, &[Role::There]) || self.s.is_name(before - 1);
        let heard = || self.by_ear(before).filter(|_| opens);
        // "unit eleven's filters".
        let counts = !self.s.is_name(before);
        let said = self.s.get(before).filter(|_| counts);
        let said = said.and_then(|i| as_count(i.number?.value));
        self.count = said.or(self.count).or_else(heard);
    }

    /// A count by its sound: "for", "ate".
    fn by_ear(&self, at: usize) -> Option<u32> {
        let item = self.s.get(at).filter(|i| i.number.is_none())?;
        let words = [
            "for", "fore", "too", "to", "tree", "free", "ate", "sicks", "tin", "won",
        ];
        let heard = words.iter().any(|word| says(self.stream, item, word));
        let sound = self.stream.lexicon.worth(item.word).sound;
        sound.filter(|_| heard).map(u32::from)
    }

    /// The count that a sentence about filters ends on, or that still waits.
    pub(super) fn last_count(&self) -> Option<u32> {
        if self.count.is_some() && !self.out.iter().any(|d| d.field == Field::Filters) {
            return self.count;
        }
        let last = self.s.items.len().checked_sub(1)?;
        let count = as_count(self.s.get(last)?.number?.value);
        // "Filters then. Twelve."
        let alone = last == 0 && self.sets == Some(Component::Filter);
        let filters = alone
            || (last.saturating_sub(3)..last)
                .any(|i| self.about_set(i, Component::Filter, Field::Filters));
        count.filter(|_| filters && !self.s.is_used(last))
    }

    pub(super) fn filter(&mut self, at: usize) -> Option<usize> {
        let near = self.talk_of(at, Component::Filter, Field::Filters);
        let mut set = filters::filter(self.s.items, self.stream, at, near, self.floor(at))?;
        // "..., quantity for", "... for each".
        let counted = |i: usize| self.s.role(i, Role::Quantity);
        let behind = (set.next..set.next + 2).find_map(|i| match (counted(i), counted(i + 1)) {
            (true, _) => self.by_ear(i + 1),
            (_, true) => self.by_ear(i),
            _ => None,
        });
        set.quantity = set.quantity.or(behind);
        set.cut |= behind.is_some();
        let waited = self.count.take();
        let stands = || self.count_stands(Field::Filters);
        set.quantity = set.quantity.or(waited).or_else(stands);
        let (sure, why) = match (set.quantity, set.cut) {
            (Some(_), false) => (0.92, None),
            (Some(_), true) => (0.7, Some("the size was run together")),
            (None, _) => (0.75, Some("no count of filters was said; one is assumed")),
        };
        let value = json!({
            "width_in": set.width, "height_in": set.height, "depth_in": set.depth,
            "quantity": set.quantity.unwrap_or(1),
        });
        self.push(Field::Filters, value, (set.first, set.next), sure, why);
        Some(set.next)
    }

    /// "same filters, six of them": the size that was said of another unit.
    pub(super) fn same_set(&mut self, at: usize) -> Option<usize> {
        let (field, value) = self.set.clone()?;
        let part = match field {
            Field::Filters => Component::Filter,
            _ => Component::Belt,
        };
        let count = as_count(self.s.get(at)?.number?.value)?;
        // "six of the same".
        let of_same = (at + 1..at + 4).find(|i| self.s.role(*i, Role::SameWord));
        let of = self.s.any(at + 1, &[Role::Quantity, Role::At]);
        let value = counting(value, count)?;
        if let Some(end) = of_same.filter(|_| of) {
            self.push(field, value, (at, end + 1), 0.8, None);
            return Some(end + 1);
        }
        let named = (at.saturating_sub(3)..at)
            .rev()
            .find(|i| self.s.known_part(*i) == Some(part))?;
        let same = (named.saturating_sub(2)..named).any(|i| self.s.role(i, Role::SameWord));
        let counted = (at + 1..at + 3).any(|i| self.s.role(i, Role::Quantity));
        if !same || !counted {
            return None;
        }
        self.push(field, value, (named, at + 1), 0.8, None);
        Some(at + 1)
    }

    /// "no, make that three", "there's four of them" after filters or belts: their count.
    pub(super) fn recount(&mut self, at: usize) -> Option<usize> {
        let (field, value) = self.set.as_ref()?;
        if self.last != Some(*field) || self.waiting(at).is_some() {
            return None;
        }
        // "no nine nine of them": said twice.
        let said = |i: usize| self.s.get(i)?.number.map(|n| n.value);
        if self.correcting > 0 && said(at).is_some() && said(at) == said(at + 1) {
            return Some(at + 1);
        }
        let pair = self.s.role(at, Role::Pair);
        let n = match self.s.get(at)?.number {
            Some(number) if number.plural => return None,
            Some(number) => as_count(number.value)?,
            None => pair.then_some(2)?,
        };
        let counted = (at + 1..at + 3).any(|i| {
            self.s.get(i).is_some_and(|x| {
                x.gap < Gap::Stop
                    && (x.is(Role::Quantity)
                        || self.s.known_part(i) == self.sets && self.sets.is_some())
            })
        });
        let measured = self.s.get(at + 1).is_some_and(|i| {
            i.gap <= Gap::Space
                && (i.number.is_some()
                    || i.is(Role::Times)
                    || i.meaning.measure.is_some_and(|m| m != Measure::Other) && !i.is(Role::A)
                    || i.meaning.value.is_some()
                    || i.meaning.label.is_some())
        });
        // "one end of the filter rack", "two of the four are split": not how many there are.
        let other = counted
            && !self.s.role(at + 1, Role::Quantity)
            && self
                .s
                .get(at + 1)
                .is_some_and(|i| self.s.part(at + 1).is_none() && !i.idle());
        // "belts are C ninety, there are two, both glazed".
        let there = at > 0
            && self.s.role(at - 1, Role::There)
            && (self.s.role(at + 1, Role::Both)
                || self.s.get(at + 1).is_none_or(|i| i.gap >= Gap::Stop));
        let plain = (counted || pair) && self.only_count(at);
        if measured || other || !(plain || there || self.correcting > 0) {
            return None;
        }
        let (field, value) = (*field, counting(value.clone(), n)?);
        let end = if counted && !pair { at + 2 } else { at + 1 };
        self.correcting = self.correcting.max(1);
        self.push(field, value, (at, end), 0.85, None);
        Some(end)
    }

    /// Whether nothing but small words stands between the sentence's start and the count.
    fn only_count(&self, at: usize) -> bool {
        at <= 4
            && (0..at).all(|i| {
                self.s.get(i).is_some_and(|x| {
                    x.idle() || x.any(&[Role::There, Role::And, Role::It, Role::ItIs, Role::Is])
                })
            })
    }
}
