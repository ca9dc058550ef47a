//! Units by a preposition and their number: "on two", "back on three", "the filter rack in ten".

use super::tags::numbers;
use super::{GUESSED_KIND, Subject, Subjects};
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::{Sentence, ends_in, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::spoken::Mention;

/// What stands before the number of a unit.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    /// "back on": the talk returns.
    back: bool,
    /// "on", and no other word.
    on: bool,
    /// It begins what comes.
    begins: bool,
    /// A part is named right before.
    of_part: bool,
    /// "around", "near": only where something stands.
    pub(super) round: bool,
}

impl Place {
    /// The preposition at item `at`, if a unit may follow it; "fused at two" and "by two" are none.
    pub(super) fn at(s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> Option<Self> {
        let item = s.get(at)?;
        let placed = |words: &[&str]| item.is(Role::At) && ends_in(stream, item, words);
        let of_part = at > 0 && s.get(at - 1).is_some_and(|b| b.meaning.part.is_some());
        // "the filter rack in ten", "plate of four"; "broke in two" is none.
        let within = placed(&["in", "for", "to", "of"]) && of_part;
        let heading = at == 0 && placed(&["for", "in"]);
        let begins = at == 0 || item.gap >= Gap::Stop || stream.paused(item.first as usize);
        // "Going to two, ...", "over to four, ...".
        let apart = s.get(at + 2).is_some_and(|i| i.gap >= Gap::Comma);
        let turning = begins && apart && ends_in(stream, item, &["to", "onto"]);
        let place = Self {
            back: item.is(Role::Back),
            on: placed(&["on"]),
            begins,
            of_part,
            round: placed(&["around", "near"]),
        };
        let any = place.back || place.on || place.round || within || heading || turning;
        any.then_some(place)
    }
}

impl Subjects {
    /// The units whose numbers follow the preposition at item `at`, and the item behind them.
    pub(super) fn placed(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
        place: Place,
    ) -> Option<(Subject, usize)> {
        let from = at + 1;
        let known = |n: &u32| self.known.iter().any(|m| m.number == Some(*n));
        let (mut numbers, mut next) =
            numbers(s, stream, from, place.back).or_else(|| self.heard_as(s, stream, from))?;
        // "fifty on three and forty on four": the second is a value.
        if numbers.len() == 2
            && s.role(from + 1, Role::And)
            && s.role(next, Role::At)
            && let [first, value] = numbers[..]
            && known(&first)
            && !known(&value)
        {
            numbers.truncate(1);
            next = from + 1;
        }
        let all_known = numbers.iter().all(known);
        if !all_known && self.is_further(s, (at, next), place, &numbers) {
            let kind = self.current.kind?;
            return Some((self.named(kind, &numbers, Some(GUESSED_KIND)), next));
        }
        let ends = s.get(next).is_none_or(|i| {
            i.gap >= Gap::Comma
                || i.meaning.part.is_some()
                || i.meaning.say.is_some()
                || i.meaning.fault.is_some()
                || place.round && i.is(Role::At)
                || says(stream, i, "only")
                || i.any(&[
                    Role::A,
                    Role::And,
                    Role::But,
                    Role::Is,
                    Role::There,
                    Role::ItIs,
                ])
        });
        // "back to three for a second".
        let back = place.back && all_known;
        let counts = s.get(next).is_some_and(|i| {
            i.gap <= Gap::Space && (i.number.is_some() || i.meaning.measure.is_some())
        });
        let meant = place.back || all_known && !self.known.is_empty();
        ((ends || back && !counts) && meant).then(|| (self.numbered(&numbers, true), next))
    }

    /// Whether units that nobody named before are like the one being talked about.
    fn is_further(
        &self,
        s: &Sentence<'_>,
        (at, next): (usize, usize),
        place: Place,
        numbers: &[u32],
    ) -> bool {
        if self.current.kind.is_none() {
            return false;
        }
        // "same disconnect on two and three".
        let same = [Role::SameWord, Role::Same];
        let alike = !place.back && (at.saturating_sub(8)..at).any(|i| s.any(i, &same));
        // "Plate on eight": the next one.
        let last = self.current.tags.last();
        let last = last.and_then(|tag| self.called(tag)?.number);
        let follows = place.on && place.of_part && last.is_some_and(|n| numbers == [n + 1]);
        // "On five the belt is gone".
        let of_it =
            s.role(next, Role::A) && s.get(next + 1).is_some_and(|i| i.meaning.part.is_some());
        let anew = place.on && place.begins && of_it && last.is_some();
        alike || follows || anew && numbers.iter().all(|n| *n > 1)
    }

    /// "on for the coil is dented": the number of a unit that the note spoke of, by its sound.
    fn heard_as(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
    ) -> Option<(Vec<u32>, usize)> {
        let sounds = ["for", "fore", "ate", "won", "tree", "sicks", "tin", "too"];
        let item = s.get(at).filter(|i| says_any(stream, i, &sounds))?;
        let number = u32::from(stream.lexicon.worth(item.word).sound?);
        let spoken = |m: &Mention| m.number == Some(number) && self.spoken.contains(&m.tag);
        let part = |i: usize| s.part(i).is_some();
        let of_it =
            part(at + 1) || s.role(at + 1, Role::A) && part(at + 2) || s.role(at + 1, Role::Is);
        (of_it && self.known.iter().any(spoken)).then(|| (vec![number], at + 1))
    }
}
