//! Belt designations with their counts: "two b x fifty fours", "A-42", "4L460", "B as in boy
//! sixty two".

use super::counts::{
    count_after, count_before, count_misheard, count_sounded, number, numbers_in, run,
};
use super::{Number, Stream, joined, spelled};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Part, Role};
use crate::dictation::sentence::{ends_in, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::Component;

/// A belt set as spoken.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BeltSet {
    pub(crate) designation: String,
    pub(crate) quantity: Option<u32>,
    pub(crate) first: usize,
    pub(crate) next: usize,
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
    // "it is a for l four eighty".
    let sounded = || {
        let sound = stream.lexicon.worth(head.word).sound?;
        let light = letter(at + 1).filter(|l| match l {
            'L' => (3..=5).contains(&sound),
            'V' => [3, 5, 8].contains(&sound),
            _ => false,
        })?;
        let wide = usize::from(letter(at + 2) == Some('X') && light == 'V');
        let length = number(items, at + 2 + wide)?;
        // Where belts are not the talk, the length must be one.
        let said = run(items, at + 2 + wide) > at + 3 + wide || length.value >= 100.0;
        (near || said).then_some(())?;
        let width = ["", "X"].get(wide)?;
        Some((format!("{sound}{light}{width}"), at + 2 + wide))
    };
    if let (None, Some((section, after))) = (head.number, sounded()) {
        designation.push_str(&section);
        next = after;
    } else if head.number.is_some() {
        // "4 L 460", "two four L four sixties", "5 V X 900".
        let end = run(items, at);
        let section = number(items, end - 1)?.value;
        // "5VX900": two letters as one word.
        let vx = stream.lexicon.word("vx");
        let both = items.get(end).is_some_and(|i| i.word == vx);
        let light = letter(end).or(both.then_some('V')).filter(|l| {
            (*l == 'L' && (3.0..=5.0).contains(&section))
                || (*l == 'V' && [3.0, 5.0, 8.0].contains(&section))
        })?;
        if end - 1 > at {
            quantity_in_run = head.number.map(|n| n.value as u32);
        }
        designation.push_str(&format!("{section}{light}"));
        next = end + 1;
        if both || letter(next) == Some('X') {
            designation.push('X');
            next += usize::from(!both);
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
                && ends_in(stream, head, &["a"]);
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
            // "B a hundred and twelve".
            let hundreds = number(items, next + 1).is_some_and(|n| n.value >= 100.0);
            let article = items
                .get(next)
                .is_some_and(|i| ends_in(stream, i, &["a"]) && i.gap == Gap::Space);
            next += usize::from(article && hundreds);
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
    let mut pieces = numbers_in(items, next..end);
    // "b x fifty to its cracked": the last digit, by its sound.
    let heard = pieces
        .last()
        .copied()
        .and_then(|last| unit_heard(items, stream, end, last));
    pieces.extend(heard);
    let end = end + usize::from(heard.is_some());
    // "disconnect's a thirty amp".
    let measured = items.get(end).is_some_and(|i| {
        i.gap <= Gap::Space && i.meaning.measure.is_some() && !i.any(&[Role::A, Role::Times])
    });
    if measured {
        return None;
    }
    let light = head.number.is_some() || designation.ends_with('L');
    let limit = if light { 100.0..=2000.0 } else { 16.0..=360.0 };
    // The shortest run of pieces that is a length: "B fifty six two of them" is B56.
    let (length, used) = (1..=pieces.len().min(3))
        .filter_map(|n| Some((joined(pieces.get(..n)?)?, n)))
        .find(|(length, _)| limit.contains(length))?;
    // "three L two ninety one each": narrow belts come in tens, so the rest counts them.
    let belt = Some(Part::Known(Component::Belt));
    let each = items
        .get(next + used)
        .is_some_and(|i| i.is(Role::Quantity) || i.meaning.part == belt);
    let (length, ones) = match length % 10.0 {
        ones if light && each && ones > 0.0 => (length - ones, Some(ones as u32)),
        _ => (length, None),
    };
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
                count_sounded(items, stream, before)
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
    let quantity =
        ones.or(before)
            .or(after.map(|(n, _)| n))
            .or(if plural { Some(2) } else { None });
    Some(BeltSet {
        designation,
        quantity,
        first,
        next,
    })
}

/// "forty for and there is just one", "fifty to, it's cracked": ones that were heard as a word, where
/// no word can stand.
fn unit_heard(items: &[Item], stream: Stream<'_>, at: usize, tens: Number) -> Option<Number> {
    let round = !tens.literal && !tens.plural && (20.0..100.0).contains(&tens.value);
    let item = items.get(at).filter(|i| {
        round && tens.value % 10.0 == 0.0 && i.number.is_none() && i.gap == Gap::Space
    })?;
    let sound = stream
        .lexicon
        .worth(item.word)
        .sound
        .filter(|n| (1..10).contains(n))?;
    let ends = items.get(at + 1).is_none_or(|next| {
        next.gap >= Gap::Comma
            || next.any(&[Role::ItIs, Role::And, Role::Is])
            || says_any(stream, next, &["just", "single"])
            || next.meaning.fault.is_some()
            || stream.paused(next.first as usize)
    });
    ends.then_some(Number {
        value: f64::from(sound),
        plural: false,
        literal: false,
    })
}
