//! Filter sizes with their counts and belt designations, from items.
//!
//! "four twenty by twenty five by twos", "(2) 16x20x2", "20 by 25 by 2, four of them"; "two b x
//! fifty fours", "A-42", "4L460". A count that was not said is one, and said so.

use super::{Number, Stream, joined, spelled};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Measure, Part, Role};
use crate::dictation::tokens::Gap;
use crate::survey::codes::Component;

/// A filter set as spoken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct FilterSet {
    pub(crate) width: f64,
    pub(crate) height: f64,
    pub(crate) depth: f64,
    pub(crate) quantity: Option<u32>,
    /// Item range.
    pub(crate) first: usize,
    pub(crate) next: usize,
    /// The number was cut from digits run together.
    pub(crate) cut: bool,
}

/// A belt set as spoken.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BeltSet {
    pub(crate) designation: String,
    pub(crate) quantity: Option<u32>,
    pub(crate) first: usize,
    pub(crate) next: usize,
}

fn number(items: &[Item], at: usize) -> Option<Number> {
    items.get(at)?.number
}

fn times(items: &[Item], at: usize) -> bool {
    items
        .get(at)
        .is_some_and(|i| i.is(Role::Times) && i.gap <= Gap::Space)
}

/// The run of numbers from `at` that are said in one breath.
pub(crate) fn run(items: &[Item], at: usize) -> usize {
    let mut end = at;
    // "mca fifteen | two's insulation": the second names a unit.
    let owner = |at: usize| {
        let tens = number(items, at - 1).is_some_and(|n| n.value >= 20.0 && n.value % 10.0 == 0.0);
        items.get(at).is_some_and(|i| i.apostrophe) && !tens
    };
    while number(items, end).is_some()
        && (end == at || items.get(end).is_some_and(|i| i.gap == Gap::Space) && !owner(end))
    {
        end += 1;
    }
    end
}

fn side(value: f64) -> bool {
    (6.0..=60.0).contains(&value)
}

/// Reads the filter set whose first number is item `at`; `near` says that filters are the talk,
/// and nothing before `floor` is free to be a count.
pub(crate) fn filter(
    items: &[Item],
    stream: Stream<'_>,
    at: usize,
    near: bool,
    floor: usize,
) -> Option<FilterSet> {
    let end = run(items, at);
    if end == at {
        return None;
    }
    let values: Vec<Number> = items
        .get(at..end)?
        .iter()
        .filter_map(|i| i.number)
        .collect();
    if !times(items, end) {
        return bare(items, at, end, &values, near, floor);
    }
    let (mut quantity, width, cut) = leading(&values)?;
    let (height, mut next) = dimension(items, stream, end + 1)?;
    let depth = if times(items, next) {
        let (depth, after) = depth(items, stream, next + 1, near)?;
        next = after;
        depth
    } else {
        let (depth, after) = inches(items, at, next)?;
        next = next.max(after);
        depth
    };
    if !(side(width) && side(height) && (0.5..=16.0).contains(&depth)) {
        return None;
    }
    if items
        .get(next)
        .is_some_and(|i| i.meaning.measure == Some(Measure::Inch))
    {
        next += 1;
    }
    let mut first = at;
    if quantity.is_none()
        && let Some((count, from)) = count_before(items, at, Component::Filter, floor)
    {
        quantity = Some(count);
        first = from;
    }
    if quantity.is_none()
        && let Some((count, after)) = count_after(items, next)
    {
        quantity = Some(count);
        next = after;
    }
    Some(FilterSet {
        width,
        height,
        depth,
        quantity,
        first,
        next,
        cut,
    })
}

/// "sixteen twenty two": three sizes without a "by", where filters are the talk.
fn bare(
    items: &[Item],
    at: usize,
    end: usize,
    values: &[Number],
    near: bool,
    floor: usize,
) -> Option<FilterSet> {
    if let [.., width, height] = values
        && height.plural
        && near
        && let Some((depth, after)) = inches(items, at, end)
    {
        let fits = side(width.value) && side(height.value);
        let next = end.max(after);
        let before = count_before(items, at, Component::Filter, floor);
        let later = count_after(items, next);
        return fits.then_some(FilterSet {
            width: width.value,
            height: height.value,
            depth,
            quantity: before.or(later).map(|(n, _)| n),
            first: before.map_or(at, |(_, first)| first),
            next: if before.is_none() {
                later.map_or(next, |(_, n)| n)
            } else {
                next
            },
            cut: true,
        });
    }
    let [.., width, height, depth] = values else {
        return None;
    };
    let fits =
        near && end - at <= 4 && depth.value <= 6.0 && width.value >= 10.0 && height.value >= 10.0;
    let quantity = (values.len() == 4)
        .then(|| values.first().map(|n| n.value as u32))
        .flatten();
    (fits && side(width.value) && side(height.value)).then_some(FilterSet {
        width: width.value,
        height: height.value,
        depth: depth.value,
        quantity: quantity.or_else(|| Some(count_before(items, at, Component::Filter, floor)?.0)),
        first: at,
        next: end,
        cut: true,
    })
}

/// Splits the numbers before the first "by" into a count and a width.
fn leading(values: &[Number]) -> Option<(Option<u32>, f64, bool)> {
    let (last, before) = values.split_last()?;
    let small = before
        .last()
        .is_some_and(|b| b.value % 10.0 == 0.0 && b.value >= 20.0 && b.literal)
        && last.value < 10.0;
    let (width, before) = if small {
        (
            joined(values.get(values.len() - 2..)?)?,
            values.get(..values.len() - 2)?,
        )
    } else {
        (last.value, before)
    };
    if width > 60.0 {
        // "420 by 25": a recogniser ran the count into the width.
        let (count, rest) = ((width / 100.0).floor(), width % 100.0);
        return side(rest).then_some((Some(count as u32), rest, true));
    }
    let count = if before.is_empty() {
        None
    } else {
        joined(before)
    };
    match count {
        Some(count) if (1.0..=60.0).contains(&count) => Some((Some(count as u32), width, false)),
        Some(_) => Some((None, width, true)),
        None => Some((None, width, false)),
    }
}

fn dimension(items: &[Item], stream: Stream<'_>, at: usize) -> Option<(f64, usize)> {
    let value = number(items, at)?.value;
    let tens = value >= 20.0 && value % 10.0 == 0.0 && value < 100.0;
    let unit = number(items, at + 1).filter(|n| n.literal && n.value < 10.0);
    // "twenty for by two".
    let sound = items
        .get(at + 1)
        .filter(|_| tens && times(items, at + 2))
        .and_then(|i| stream.lexicon.worth(i.word).sound);
    if let Some(sound) = sound.filter(|n| *n < 10) {
        return Some((value + f64::from(sound), at + 2));
    }
    match unit {
        Some(unit) if tens && times(items, at + 2) => Some((value + unit.value, at + 2)),
        _ => Some((value, at + 1)),
    }
}

/// The third number, or what a recogniser made of "two" and "four" there.
fn depth(items: &[Item], stream: Stream<'_>, at: usize, near: bool) -> Option<(f64, usize)> {
    if let Some(number) = number(items, at) {
        return Some((number.value, at + 1));
    }
    let sound = stream.lexicon.worth(items.get(at)?.word).sound?;
    (near && [1, 2, 4].contains(&sound)).then_some((f64::from(sound), at + 1))
}

/// "two inch" near the size: before it, or behind it.
fn inches(items: &[Item], at: usize, next: usize) -> Option<(f64, usize)> {
    let inch = |at: usize| {
        let value = number(items, at)?.value;
        let unit = items.get(at + 1)?.meaning.measure == Some(Measure::Inch);
        (unit && value <= 12.0).then_some(value)
    };
    let after = (next..next + 3).find_map(|i| Some((inch(i)?, i + 2)));
    after.or_else(|| {
        (at.saturating_sub(5)..at)
            .rev()
            .find_map(|i| Some((inch(i)?, next)))
    })
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
            let lone = back + 1 == at;
            // "filters four of", "filters, two at".
            let after_part = back > 0
                && items.get(back - 1).is_some_and(|i| {
                    i.meaning.part == Some(Part::Known(part))
                        || i.any(&[Role::Is, Role::ItIs, Role::There])
                });
            let fits = n.value.fract() == 0.0 && (1.0..=60.0).contains(&n.value) && !measured;
            let named = back > 0
                && items
                    .get(back - 1)
                    .is_some_and(|i| i.meaning.kind.is_some() || i.is(Role::Unit));
            return (fits && !named && (seen || counted || lone || after_part))
                .then_some((n.value as u32, back));
        }
        let is_part = item.meaning.part == Some(Part::Known(part));
        seen |= is_part;
        let pass = is_part
            || item.is(Role::Quantity)
            || item.idle()
            || item.any(&[Role::Is, Role::ItIs, Role::There, Role::At, Role::And])
            || item.meaning.measure == Some(Measure::Inch)
            || depth;
        if !pass || item.gap >= Gap::Stop {
            return None;
        }
    }
    None
}

/// "to belts": the count before a part in the plural, misheard.
fn count_misheard(
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
    let sound = stream.lexicon.worth(items.get(before)?.word).sound?;
    let starts = before == 0
        || items
            .get(before)
            .is_some_and(|i| i.gap >= Gap::Comma || stream.paused(i.first as usize))
        || items
            .get(before - 1)
            .is_some_and(|i| i.any(&[Role::There, Role::ItIs]));
    (plural && starts && (2..=8).contains(&sound)).then_some((u32::from(sound), before))
}

/// "four of them", "quantity four", "x 4" behind the size.
pub(crate) fn count_after(items: &[Item], next: usize) -> Option<(u32, usize)> {
    let count = |at: usize| {
        let n = number(items, at)?.value;
        (n.fract() == 0.0 && (1.0..=60.0).contains(&n)).then_some(n as u32)
    };
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
            let ends = items.get(at + 1).is_none_or(|i| i.gap >= Gap::Stop);
            return ((counted || (ends && at > next)) && !more).then_some((n, at + 2));
        }
        let filter = item.meaning.part == Some(Part::Known(Component::Filter))
            || item.meaning.part == Some(Part::Known(Component::Belt));
        let small = [Role::And, Role::Is, Role::ItIs, Role::There, Role::It, Role::But];
        if !(filter || item.idle() || item.any(&small)) {
            return None;
        }
    }
    None
}

/// Reads the belt set whose designation begins at item `at`; `near` says that belts are the talk.
pub(crate) fn belt(
    items: &[Item],
    stream: Stream<'_>,
    at: usize,
    near: bool,
    floor: usize,
) -> Option<BeltSet> {
    let head = items.get(at)?;
    let letter = |at: usize| {
        let item = items.get(at)?;
        (item.last - item.first == 1).then_some(())?;
        let worth = stream.lexicon.worth(item.word);
        worth
            .letter
            .or(if near { worth.letter_sound } else { None })
            .map(char::from)
    };
    let mut designation = String::new();
    let mut next = at;
    let mut quantity_in_run = None;
    let mut first = at;
    if head.number.is_some() {
        // "4 L 460", "two four L four sixties", "5 V X 900".
        let end = run(items, at);
        let section = number(items, end - 1)?.value;
        let light = letter(end).filter(|l| {
            (*l == 'L' && (3.0..=5.0).contains(&section))
                || (*l == 'V' && [3.0, 5.0, 8.0].contains(&section))
        })?;
        if end - 1 > at {
            quantity_in_run = items
                .get(at..end - 1)?
                .iter()
                .filter_map(|i| i.number)
                .next()
                .map(|n| n.value as u32);
        }
        designation.push_str(&format!("{section}{light}"));
        next = end + 1;
        if letter(next) == Some('X') {
            designation.push('X');
            next += 1;
        }
    } else {
        let pair = ["ax", "bx", "cx"]
            .into_iter()
            .find(|w| head.word != 0 && head.word == stream.lexicon.word(w));
        if let Some(pair) = pair {
            designation.push_str(&pair.to_ascii_uppercase());
            next += 1;
        } else {
            // "the size is a 42": the letter was taken for an article.
            let article = near
                && head.is(Role::Is)
                && head.last - head.first > 1
                && stream.is(head.last as usize - 1, "a");
            let section = letter(at)
                .or(article.then_some('A'))
                .filter(|l| ('A'..='D').contains(l))?;
            first += usize::from(article);
            designation.push(section);
            next += 1;
            // "B as in boy sixty two".
            let heard = items.get(next - 1)?.last as usize;
            let spelt = heard + spelled::spelling_tail(stream, heard, section as u8);
            while items.get(next).is_some_and(|i| (i.first as usize) < spelt) {
                next += 1;
            }
            if letter(next) == Some('X') && number(items, next + 1).is_some() {
                designation.push('X');
                next += 1;
            }
        }
    }
    let value = number(items, next)?;
    let glued = items.get(next).is_some_and(|i| i.gap <= Gap::Hyphen);
    let counted = at
        .checked_sub(1)
        .and_then(|b| items.get(b))
        .is_some_and(|b| b.number.is_some());
    let sure = glued || head.number.is_some() || designation.len() > 1 || value.plural || counted;
    if !(near || sure) {
        return None;
    }
    let end = run(items, next);
    let pieces: Vec<Number> = items
        .get(next..end)?
        .iter()
        .filter_map(|i| i.number)
        .collect();
    // "disconnect's a thirty amp".
    let measured = items.get(end).is_some_and(|i| {
        i.gap <= Gap::Space && i.meaning.measure.is_some() && !i.any(&[Role::A, Role::Times])
    });
    if measured {
        return None;
    }
    let light = head.number.is_some();
    let limit = if light { 100.0..=2000.0 } else { 16.0..=360.0 };
    // The shortest run of pieces that is a length: "B fifty six two of them" is B56.
    let (length, used) = (1..=pieces.len().min(3))
        .filter_map(|n| Some((joined(pieces.get(..n)?)?, n)))
        .find(|(length, _)| limit.contains(length))?;
    designation.push_str(&format!("{length}"));
    next += used;
    let plural = pieces.get(used - 1).is_some_and(|n| n.plural) || value.plural;
    let before = if head.number.is_some() {
        quantity_in_run
    } else {
        None
    };
    let before = before.or_else(|| {
        let (count, from) = count_before(items, at, Component::Belt, floor)
            .or_else(|| count_misheard(items, stream, at, Component::Belt, floor))
            .or_else(|| {
                let named = items.get(next)?.meaning.part == Some(Part::Known(Component::Belt));
                let before = at.checked_sub(1).filter(|b| named && *b >= floor)?;
                let sound = stream.lexicon.worth(items.get(before)?.word).sound?;
                (2..=8).contains(&sound).then_some((u32::from(sound), before))
            })?;
        first = from;
        Some(count)
    });
    let after = if before.is_none() {
        count_after(items, next)
    } else {
        None
    };
    if let Some((_, end)) = after {
        next = end;
    }
    let quantity = before
        .or(after.map(|(n, _)| n))
        .or(if plural { Some(2) } else { None });
    Some(BeltSet {
        designation,
        quantity,
        first,
        next,
    })
}
