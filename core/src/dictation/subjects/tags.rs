//! The numbers of tags: one, a list, a range, and when a number is none of these.

use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Field, Role};
use crate::dictation::numbers::counts::run;
use crate::dictation::numbers::{Number, Stream, joined};
use crate::dictation::sentence::{Break, Sentence, says_any};
use crate::dictation::tokens::Gap;

/// "2A": a letter glued to the number of a tag.
pub(super) fn suffix(s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> Option<char> {
    let item = s
        .get(at)
        .filter(|i| i.gap == Gap::Glued && i.last - i.first == 1)?;
    stream
        .lexicon
        .worth(item.word)
        .letter
        .map(char::from)
        .filter(|c| ('A'..='F').contains(c))
}

pub(super) fn plain_numbers(s: &Sentence<'_>, at: usize) -> Option<(Vec<u32>, usize)> {
    let n = s.get(at)?.number?;
    let fits = n.value.fract() == 0.0 && (1.0..=999.0).contains(&n.value);
    fits.then(|| (vec![n.value as u32], at + 1))
}

/// Whether the number at `at` measures or sizes something, so that it is no tag number.
pub(super) fn taken(s: &Sentence<'_>, at: usize, next: usize) -> bool {
    // "460 three phase" is a voltage, "RTU 2 three phase" is not.
    let large = s
        .get(at)
        .and_then(|i| i.number)
        .is_none_or(|n| n.value >= 100.0 || next > at + 1);
    // "RTU 2 year 2008".
    let labels =
        |i: &Item| i.meaning.label.is_some() && s.get(next + 1).is_some_and(|n| n.number.is_some());
    let glued_amp = |i: &Item| {
        i.gap < Gap::Comma
            && !labels(i)
            && i.meaning.measure.is_some()
            && (!i.any(&[Role::A, Role::Times]) || i.gap <= Gap::Hyphen)
    };
    s.get(next).is_some_and(|i| {
        glued_amp(i)
            || i.is(Role::Times) && s.get(next + 1).is_some_and(|n| n.number.is_some())
            || large && tells_phase(i)
    }) || s
        .get(at)
        .is_some_and(|i| i.number.is_some_and(|n| n.plural))
}

fn tells_phase(item: &Item) -> bool {
    item.meaning
        .value
        .is_some_and(|(field, _)| field == Field::Phase)
}

/// The numbers of a tag or a list of tags from `at`. `named` says that a unit word stands
/// before, so that a sound-alike ("to") may count.
pub(super) fn numbers(
    s: &Sentence<'_>,
    stream: Stream<'_>,
    at: usize,
    named: bool,
) -> Option<(Vec<u32>, usize)> {
    let (first, mut next) = one_number(s, stream, at, named)?;
    let mut out = vec![first];
    loop {
        let mut from = next;
        let comma = s.get(from).is_some_and(|i| i.gap == Gap::Comma);
        let through = s.role(from, Role::Through) && !comma;
        let and = s.role(from, Role::And);
        // "condensing units fourteen fifteen and sixteen".
        let number = |i: usize| s.get(i).is_some_and(|x| x.number.is_some());
        let run = number(from) && s.role(from + 1, Role::And) && number(from + 2);
        if through || and {
            from += 1;
        } else if !run
            && !comma
            && !s
                .get(from)
                .is_some_and(|i| i.gap == Gap::Hyphen && i.number.is_some())
        {
            break;
        }
        while s.any(from, &[Role::Unit]) || s.role(from, Role::And) && comma {
            from += 1;
        }
        let only = ["tree", "ate", "won", "fore", "mine", "sicks", "tin"];
        let heard = s.get(from).is_some_and(|i| says_any(stream, i, &only));
        let both = and && (heard || s.role(from + 1, Role::Both));
        let Some((number, after)) = one_number(s, stream, from, both) else {
            break;
        };
        // After a comma a bare number is a count of something more often than a tag.
        let listed = s.get(after).is_none_or(|i| {
            i.gap >= Gap::Comma || i.any(&[Role::And, Role::Is, Role::ItIs, Role::There])
        });
        let counts = comma && !and && !listed
            || s.get(after).is_some_and(|i| {
                i.meaning.part.is_some() && i.gap < Gap::Comma
                    || i.number.is_some() && i.gap <= Gap::Space
            });
        if taken(s, from, after) || (counts && !and) || number > 99 {
            break;
        }
        let hyphen = s.get(from).is_some_and(|i| i.gap == Gap::Hyphen);
        if through || (hyphen && number > first) {
            let last = out.last().copied().unwrap_or(first);
            if number <= last || number - last > 40 {
                break;
            }
            out.extend(last + 1..=number);
        } else {
            out.push(number);
        }
        next = after;
    }
    Some((out, next))
}

pub(super) fn one_number(
    s: &Sentence<'_>,
    stream: Stream<'_>,
    at: usize,
    named: bool,
) -> Option<(u32, usize)> {
    let item = s.get(at).filter(|i| i.gap <= Gap::Comma || !named)?;
    if let Some(number) = item.number {
        if number.value.fract() != 0.0 || number.value > 999.0 || number.plural {
            return None;
        }
        // "one oh one": a zero or a glued piece goes on.
        let mut pieces: Vec<Number> = vec![number];
        let mut next = at + 1;
        while let Some(more) = s
            .get(next)
            .filter(|i| i.gap <= Gap::Space)
            .and_then(|i| i.number)
        {
            let zero = pieces.last().is_some_and(|p| p.value == 0.0) || more.value == 0.0;
            let volts = s.get(next + 1).is_some_and(tells_phase);
            if !(zero && named && pieces.len() < 3) || volts || taken(s, next, next + 1) {
                break;
            }
            pieces.push(more);
            next += 1;
        }
        let value = joined(&pieces).filter(|v| (1.0..=999.0).contains(v))?;
        let single = next == at + 1;
        // "five ton unit, 2 40 volt".
        let apart = item.gap == Gap::Comma
            && s.get(next)
                .is_some_and(|i| i.number.is_some() && taken(s, next, next + 1));
        if apart {
            return None;
        }
        return (!(single && taken(s, at, next))).then_some((value as u32, next));
    }
    let sound = stream
        .lexicon
        .worth(item.word)
        .sound
        .filter(|_| named && item.last - item.first == 1)?;
    let then = s.get(at + 1);
    // "condensing unit tree for the meat locker": no other reading; "exhaust fan too deli hood"
    // where the unit begins the sentence; "make up air to at the booth".
    let word = |words: &[&str]| says_any(stream, item, words);
    let opens = || {
        (0..at).all(|i| {
            s.get(i)
                .is_some_and(|x| x.meaning.kind.is_some() || x.idle())
        })
    };
    let only = word(&["tree", "won", "ate", "mine", "tin", "sicks"])
        || word(&["too", "fore"]) && opens()
        || word(&["to", "too", "for"]) && then.is_some_and(|i| i.is(Role::At) && !i.is(Role::A));
    let goes_on = only
        || then.is_none_or(|i| {
            i.gap >= Gap::Comma
                || i.meaning.part.is_some()
                || i.any(&[
                    Role::Is,
                    Role::ItIs,
                    Role::It,
                    Role::There,
                    Role::And,
                    Role::Hedge,
                    Role::SameWord,
                    Role::Both,
                    Role::All,
                ])
                || says_any(stream, i, &["um", "uh", "i"])
                || i.meaning.label.is_some()
                || i.meaning.fault.is_some()
                || i.is(Role::A) && s.part(at + 2).is_some()
                || i.number.is_some() && rated(s, at + 1)
        });
    (goes_on && s.cut(at) == Break::None && item.gap == Gap::Space)
        .then_some((u32::from(sound), at + 1))
}

/// "chiller too four sixty volt": the numbers from `at` are a value of their own.
pub(super) fn rated(s: &Sentence<'_>, at: usize) -> bool {
    let end = run(s.items, at);
    let pieces: Vec<Number> = (at..end).filter_map(|i| s.get(i)?.number).collect();
    joined(&pieces).is_some_and(|value| value > 99.0) && taken(s, at, end)
}

/// Whether the letters of a unit's name go on as letters, so that they spell something else:
/// "B H P 3 6" names no heat pump.
pub(super) fn spelled_through(s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> bool {
    let Some(item) = s.get(at) else { return false };
    let letter = |index: usize| {
        stream.get(index).is_some_and(|t| {
            t.end - t.start == 1
                && t.literal().is_none()
                && !stream.is(index, "a")
                && !stream.is(index, "i")
        })
    };
    let first = item.first as usize;
    let letters = (first..item.last as usize).all(letter);
    letters
        && first > 0
        && stream.joins(first)
        && letter(first - 1)
        && s.get(at.wrapping_sub(1))
            .is_some_and(|b| b.meaning.measure.is_none())
}
