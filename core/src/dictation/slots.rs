//! Words of the trade that a recogniser heard as others, by the place they stand in: "the curb is
//! crack", "the bet is frayed", "the pen ill is loose".
//!
//! The place must ask for the word: a condition that the part before can be in, a part that can
//! be in the condition behind, a measure behind a number. Called by `items`.

use super::items::Item;
use super::lexicon::meaning::{Meaning, Part, Role};
use super::numbers::Stream;
use super::tokens::Gap;
use crate::survey::codes::Condition;

/// Trust left in a word that only its place and its sound made out.
const GUESSED: f32 = 0.7;

/// Furthest back that the part of a condition is looked for, in items.
const PART: usize = 8;

/// Gives such words the meaning that their place asks for; two words that were one become one.
pub(super) fn mend(items: &mut Vec<Item>, stream: Stream<'_>) {
    let mut joined = false;
    for at in 0..items.len() {
        let one = single(items, at, stream).map(|m| (m, 1));
        let found = one.or_else(|| pair(items, at, stream).map(|m| (m, 2)));
        let Some((meaning, length)) = found else {
            continue;
        };
        let last = items.get(at + length - 1).map_or(0, |i| i.last);
        if let Some(item) = items.get_mut(at) {
            item.meaning = meaning.as_garbled();
            item.trust *= GUESSED;
            item.last = last;
        }
        if length > 1
            && let Some(tail) = items.get_mut(at + 1)
        {
            tail.first = tail.last;
            joined = true;
        }
    }
    if joined {
        items.retain(|i| i.first < i.last);
    }
}

/// Whether an item is one word, and no number or code.
fn word(item: &Item) -> bool {
    item.last - item.first == 1 && item.number.is_none() && !item.code
}

/// Whether an item is one word, that means nothing of the trade.
fn free(item: &Item) -> bool {
    word(item) && !item.meaning.of_trade()
}

/// What a single word without a meaning of its own was heard for.
fn single(items: &[Item], at: usize, stream: Stream<'_>) -> Option<Meaning> {
    let item = items.get(at).filter(|i| free(i))?;
    let place = Place {
        items,
        from: at,
        to: at + 1,
        stream,
    };
    // "the coil is could": a word of grammar is none where it ends a clause.
    let small = item.meaning.of_grammar();
    if small && !place.ends() {
        return None;
    }
    let token = stream.get(item.first as usize)?;
    let word = stream.raw(token);
    let written = word.len() > 2 && word.bytes().all(|b| b.is_ascii_alphabetic());
    // A common word is only what it may have been heard for.
    let strange = written && !small && !item.is(Role::Common);
    let near = match strange {
        true => stream.lexicon.alike(word),
        false => Vec::new(),
    };
    let near = near.into_iter().find(|m| place.says_fault(m));
    let sounds = stream.lexicon.meant(token.word).iter();
    let mut sounds = sounds.filter_map(|word| stream.lexicon.alone(*word));
    near.or_else(|| sounds.find(|m| place.asks(m)))
}

/// What two words were heard for, one of which at least holds no sentence together.
fn pair(items: &[Item], at: usize, stream: Stream<'_>) -> Option<Meaning> {
    let [one, two] = items.get(at..at + 2)? else {
        return None;
    };
    // "bare ring": one of them may mean something.
    let stray = |i: &Item| free(i) && !i.meaning.of_grammar();
    // "rated a hundred amps".
    let article = two.is(Role::A);
    let torn = word(one) && word(two) && !article && (stray(one) || stray(two));
    if !(torn && two.gap == Gap::Space) {
        return None;
    }
    let place = Place {
        items,
        from: at,
        to: at + 2,
        stream,
    };
    if !place.open() {
        return None;
    }
    let raw = |i: &Item| stream.get(i.first as usize).map(|t| stream.raw(t));
    let words = [raw(one)?, raw(two)?];
    stream
        .lexicon
        .torn(words)
        .into_iter()
        .find(|m| place.says_fault(m) || place.says_part(m))
}

/// The place of one or two words among the others.
struct Place<'a> {
    items: &'a [Item],
    from: usize,
    to: usize,
    stream: Stream<'a>,
}

impl<'a> Place<'a> {
    /// The items before, nearest first, up to a comma.
    fn before(&self) -> impl Iterator<Item = &'a Item> + use<'a> {
        let own = self.items.get(self.from);
        let open = own.is_some_and(|i| i.gap < Gap::Comma);
        let all = self.items.get(..self.from).unwrap_or_default();
        let mut more = open;
        all.iter().rev().take_while(move |i| {
            let take = more;
            more = i.gap < Gap::Comma;
            take
        })
    }

    /// The items behind, up to a comma.
    fn behind(&self) -> impl Iterator<Item = &'a Item> + use<'a> {
        let all = self.items.get(self.to..).unwrap_or_default();
        all.iter().take_while(|i| i.gap < Gap::Comma)
    }

    /// Nothing joins on to the word, or "and" does.
    fn ends(&self) -> bool {
        self.behind().next().is_none_or(|next| {
            next.any(&[Role::And, Role::Or, Role::But]) || next.meaning.kind.is_some()
        })
    }

    /// Nothing stands before the word in its clause.
    fn begins(&self) -> bool {
        self.before().next().is_none_or(|before| {
            before.any(&[Role::And, Role::Or, Role::But, Role::A]) || before.meaning.part.is_some()
        })
    }

    /// A verb or a part stands beside: worth looking for.
    fn open(&self) -> bool {
        let verb = |i: &Item| i.any(&[Role::Is, Role::ItIs]);
        self.before().take(3).any(verb) || self.behind().take(2).any(verb)
    }

    fn can_be(&self, part: Option<Part>, fault: Option<Condition>) -> bool {
        let known = match part {
            Some(Part::Known(part)) => Some(part),
            Some(head) => self.stream.lexicon.head(head).map(|h| h.default),
            None => None,
        };
        known
            .zip(fault)
            .is_some_and(|(p, f)| self.stream.lexicon.sense(p, f).is_some())
    }

    fn asks(&self, m: &Meaning) -> bool {
        self.says_fault(m) || self.ends_fault(m) || self.says_part(m) || self.counts(m)
    }

    /// The item is a part alone, and can be in this condition.
    fn of(&self, part: &Item, m: &Meaning) -> bool {
        let alone = m.part.is_none() && part.meaning.fault.is_none();
        alone && self.can_be(part.meaning.part, m.fault)
    }

    /// "the curb is crack".
    fn says_fault(&self, m: &Meaning) -> bool {
        let mut before = self.before().take(5).filter(|i| telling(i));
        let verb = before
            .next()
            .is_some_and(|i| i.is(Role::Is) && !i.is(Role::A));
        verb && before.next().is_some_and(|part| self.of(part, m))
    }

    /// "belt tract", "it's tract", "cracked and lou": the end of a clause.
    fn ends_fault(&self, m: &Meaning) -> bool {
        let mut before = self.before();
        let Some(next) = before.next().filter(|_| self.ends()) else {
            return false;
        };
        let listed = next.is(Role::And) && before.next().is_some_and(|i| i.meaning.fault.is_some());
        let recent = || {
            let all = self.items.get(..self.from).unwrap_or_default();
            all.iter().rev().take(PART).any(|i| self.of(i, m))
        };
        // "coil cleaner" is nothing good.
        let direct = m.fault != Some(Condition::Good) && self.of(next, m);
        direct || (next.is(Role::ItIs) || listed) && recent()
    }

    /// "the bet is cracked".
    fn says_part(&self, m: &Meaning) -> bool {
        let mut behind = self.behind().take(5).filter(|i| telling(i));
        let said = m.part.is_some() && m.fault.is_none() && self.begins();
        said && behind.next().is_some_and(|verb| verb.is(Role::Is))
            && behind
                .next()
                .is_some_and(|i| i.meaning.part.is_none() && self.can_be(m.part, i.meaning.fault))
    }

    /// "forty ramps".
    fn counts(&self, m: &Meaning) -> bool {
        // "unit eight feeds the walk-in" measures nothing.
        let verb = self.behind().next().is_some_and(|i| i.is(Role::A));
        let number = self.before().next().is_some_and(|i| i.number.is_some());
        m.measure.is_some() && number && !verb
    }
}

/// Says something: no filler, denial or doubt.
fn telling(item: &Item) -> bool {
    !(item.idle() || item.any(&[Role::No, Role::Hedge]))
}
