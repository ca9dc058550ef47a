//! Counts beside sizes: "four of them", "pair of", "quantity four", before or behind filters and
//! belts; and runs of numbers said in one breath.

use super::{Number, Stream};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Measure, Part, Role};
use crate::dictation::tokens::Gap;
use crate::survey::codes::Component;
use std::ops::Range;

pub(super) fn number(items: &[Item], at: usize) -> Option<Number> {
    items.get(at)?.number
}

pub(super) fn times(items: &[Item], at: usize) -> bool {
    items
        .get(at)
        .is_some_and(|i| i.is(Role::Times) && i.gap <= Gap::Space)
}

/// A number as a count of filters or belts, if it can be one.
pub(crate) fn as_count(n: f64) -> Option<u32> {
    (n.fract() == 0.0 && (1.0..=60.0).contains(&n)).then_some(n as u32)
}

/// The run of numbers from `at` that are said in one breath.
pub(crate) fn run(items: &[Item], at: usize) -> usize {
    let mut end = at;
    // "mca fifteen | two's insulation": the second names a unit.
    let owner = |at: usize| {
        let tens = number(items, at - 1).is_some_and(|n| n.value >= 20.0 && n.value % 10.0 == 0.0);
        items.get(at).is_some_and(|i| i.apostrophe) && !tens
    };
    // "four-sixty" is written with a hyphen; "208-230" is two voltages.
    let word = |at: usize| number(items, at).is_some_and(|n| !n.literal);
    let joins = |at: usize| {
        items.get(at).is_some_and(|i| {
            i.gap == Gap::Space || i.gap == Gap::Hyphen && word(at) && at > 0 && word(at - 1)
        })
    };
    while number(items, end).is_some() && (end == at || joins(end) && !owner(end)) {
        end += 1;
    }
    end
}

/// The numbers among some items.
pub(crate) fn numbers_in(items: &[Item], range: Range<usize>) -> Vec<Number> {
    let items = items.get(range).unwrap_or_default();
    items.iter().filter_map(|i| i.number).collect()
}

/// "four of them", "pair of", "four filters," before the size.
pub(crate) fn count_before(
    items: &[Item],
    at: usize,
    part: Component,
    floor: usize,
) -> Option<(u32, usize)> {
    let mut back = at;
    let mut seen = false;
    for _ in 0..7 {
        back = back.checked_sub(1).filter(|b| *b >= floor)?;
        let item = items.get(back)?;
        if item.any(&[Role::Pair, Role::Both]) {
            return Some((2, back));
        }
        let depth = items
            .get(back + 1)
            .is_some_and(|i| i.meaning.measure == Some(Measure::Inch));
        if let Some(n) = item.number.filter(|_| !depth) {
            let counted = items.get(back + 1).is_some_and(|i| i.is(Role::Quantity));
            let measured = items
                .get(back + 1)
                .is_some_and(|i| i.meaning.measure.is_some() && !i.is(Role::A));
            // "six of 20 by 24 by 2".
            let of = back + 2 == at && items.get(back + 1).is_some_and(|i| i.is(Role::At));
            // "filter count's ten, each one 18 by 25", "four, they're 20 by 30".
            let each = items
                .get(back + 1)
                .is_some_and(|i| i.any(&[Role::All, Role::ItIs]) && back + 2 == at);
            let lone = back + 1 == at || of || each;
            // "filters four of", "filters, two at".
            let after_part = back > 0
                && items.get(back - 1).is_some_and(|i| {
                    i.meaning.part == Some(Part::Known(part))
                        || i.any(&[Role::Is, Role::ItIs, Role::There])
                });
            let count = as_count(n.value).filter(|_| !measured);
            let named = back > 0
                && items
                    .get(back - 1)
                    .is_some_and(|i| i.meaning.kind.is_some() || i.is(Role::Unit));
            return count
                .filter(|_| !named && (seen || counted || lone || after_part))
                .map(|count| (count, back));
        }
        let is_part = item.meaning.part == Some(Part::Known(part));
        seen |= is_part;
        let pass = is_part
            || item.is(Role::Quantity)
            || item.idle()
            || item.any(&[
                Role::Is,
                Role::ItIs,
                Role::There,
                Role::At,
                Role::And,
                Role::All,
            ])
            || item.meaning.measure == Some(Measure::Inch)
            || depth;
        if !pass || item.gap >= Gap::Stop {
            return None;
        }
    }
    None
}

/// "to belts": the count before a part in the plural, misheard.
pub(super) fn count_misheard(
    items: &[Item],
    stream: Stream<'_>,
    at: usize,
    part: Component,
    floor: usize,
) -> Option<(u32, usize)> {
    let named = (floor.max(at.saturating_sub(3))..at).rev().find(|i| {
        items
            .get(*i)
            .is_some_and(|x| x.meaning.part == Some(Part::Known(part)))
    })?;
    let plural = stream
        .get(items.get(named)?.last as usize - 1)
        .is_some_and(|t| stream.raw(t).ends_with('s') && !t.apostrophe);
    let before = named.checked_sub(1).filter(|b| *b >= floor)?;
    let count = count_sounded(items, stream, before);
    let starts = before == 0
        || items
            .get(before)
            .is_some_and(|i| i.gap >= Gap::Comma || stream.paused(i.first as usize))
        || items
            .get(before - 1)
            .is_some_and(|i| i.any(&[Role::There, Role::ItIs]));
    count.filter(|_| plural && starts)
}

/// "to", "for": a count by its sound alone, and where it stands.
pub(super) fn count_sounded(items: &[Item], stream: Stream<'_>, at: usize) -> Option<(u32, usize)> {
    let sound = stream.lexicon.worth(items.get(at)?.word).sound?;
    (2..=8).contains(&sound).then_some((u32::from(sound), at))
}

/// "four of them", "quantity four", "x 4" behind the size.
pub(crate) fn count_after(items: &[Item], next: usize) -> Option<(u32, usize)> {
    let count = |at: usize| as_count(number(items, at)?.value);
    for at in next..next + 4 {
        let item = items.get(at)?;
        if item.gap >= Gap::Stop && at > next {
            return None;
        }
        if item.any(&[Role::Pair, Role::Both]) {
            return Some((2, at + 1));
        }
        if item.is(Role::Quantity) || (item.is(Role::Times) && at == next) {
            let skip = usize::from(
                items
                    .get(at + 1)
                    .is_some_and(|i| i.is(Role::Is) || i.is(Role::Quantity)),
            );
            if let Some(n) = count(at + 1 + skip) {
                let more = items.get(at + 2 + skip).is_some_and(|i| i.is(Role::Times));
                return (!more).then_some((n, at + 2 + skip));
            }
        }
        if let Some(n) = count(at) {
            let counted = (at + 1..at + 3).any(|i| {
                items
                    .get(i)
                    .is_some_and(|i| i.is(Role::Quantity) && i.gap < Gap::Stop)
            });
            let more = items
                .get(at + 1)
                .is_some_and(|i| i.is(Role::Times) || i.number.is_some());
            let ends = |gap| items.get(at + 1).is_none_or(|i| i.gap >= gap);
            // "BX46, 1, good".
            let apart = item.gap == Gap::Comma && ends(Gap::Comma);
            // "by two six and they're dirty", "by one six them dirty".
            let role = |at: usize, roles: &[Role]| items.get(at).is_some_and(|i| i.any(roles));
            let goes_on = role(at + 1, &[Role::It])
                || role(at + 1, &[Role::And]) && role(at + 2, &[Role::ItIs, Role::There])
                || items.get(at + 1).is_some_and(|i| i.meaning.fault.is_some());
            let behind = at == next && goes_on;
            let told = counted || apart || behind || ends(Gap::Stop) && at > next;
            let taken = at + 1 + usize::from(counted);
            return (told && !more).then_some((n, taken));
        }
        let filter = item.meaning.part == Some(Part::Known(Component::Filter))
            || item.meaning.part == Some(Part::Known(Component::Belt));
        let small = [
            Role::And,
            Role::Is,
            Role::ItIs,
            Role::There,
            Role::It,
            Role::But,
        ];
        if !(filter || item.idle() || item.any(&small)) {
            return None;
        }
    }
    None
}
