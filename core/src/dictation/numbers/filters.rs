//! Filter sizes with their counts: "four twenty by twenty five by twos", "(2) 16x20x2",
//! "20 by 25 by 2, four of them". A count that was not said is one, and said so by the caller.

use super::counts::{count_after, count_before, count_sounded, number, numbers_in, run, times};
use super::{Number, Stream, joined};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Measure, Part, Role};
use crate::dictation::sentence::{says, says_any};
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
    let values = numbers_in(items, at..end);
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
    // "filters are fore twenty by twenty".
    let before = at.checked_sub(1).and_then(|b| items.get(b));
    let heard = before.is_some_and(|i| {
        let words = ["for", "fore", "too", "tree", "free", "ate", "sicks", "tin"];
        says_any(stream, i, &words)
    });
    if quantity.is_none()
        && near
        && heard
        && at > floor
        && let Some(sound) = before.and_then(|i| stream.lexicon.worth(i.word).sound)
    {
        quantity = Some(u32::from(sound));
        first = at - 1;
    }
    // "ate of twenty by twenty", "ate of them twenty by twenty".
    let of = |i: &Item| says(stream, i, "of") || i.is(Role::Quantity);
    if quantity.is_none()
        && at >= floor + 2
        && items.get(at - 1).is_some_and(of)
        && let Some((count, from)) = count_sounded(items, stream, at - 2)
    {
        quantity = Some(count);
        first = from;
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
    // "20 25 2 filters, four each".
    let part = items
        .get(end)
        .is_some_and(|i| i.meaning.part == Some(Part::Known(Component::Filter)));
    let later = count_after(items, end + usize::from(part));
    let quantity = (values.len() == 4)
        .then(|| values.first().map(|n| n.value as u32))
        .flatten();
    (fits && side(width.value) && side(height.value)).then_some(FilterSet {
        width: width.value,
        height: height.value,
        depth: depth.value,
        quantity: quantity
            .or_else(|| Some(count_before(items, at, Component::Filter, floor)?.0))
            .or(later.map(|(n, _)| n)),
        first: at,
        next: later.map_or(end, |(_, next)| next),
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
