//! Values that take back what was said, and those that are only to come.

use super::{RECALLED, Reader};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::sentence::{says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::Component;

impl Reader<'_, '_> {
    /// "thirty amp, no, sixty amp".
    pub(super) fn plain_no(&self, at: usize) -> bool {
        let number = |i: usize| self.s.get(i).is_some_and(|x| x.number.is_some());
        self.s
            .get(at)
            .is_some_and(|i| says_any(self.stream, i, &["no", "know"]))
            && (number(at + 1)
                || self.letter(at + 1) && number(at + 2)
                || (self.s.role(at + 1, Role::A) || self.s.any(at + 1, &[Role::ItIs]))
                    && number(at + 2))
            && (!self.out.is_empty()
                || at == 0
                    && self.set.is_some()
                    && (self.s.role(at + 2, Role::Quantity) || self.s.items.len() == 2))
    }

    /// "forty, no, glare's killing me, forty five": a few words, and the number anew.
    pub(super) fn no_but(&self, at: usize) -> bool {
        let pause = |i: usize| self.s.get(i).is_none_or(|x| x.gap >= Gap::Comma);
        let plain = |i: usize| {
            self.s.get(i).is_some_and(|x| {
                x.meaning.label.is_none() && x.meaning.part.is_none() && x.meaning.measure.is_none()
            })
        };
        let anew = (at + 2..at + 7)
            .take_while(|i| plain(*i))
            .find(|i| self.s.get(*i).is_some_and(|x| x.number.is_some()));
        self.s.get(at).is_some_and(|i| says(self.stream, i, "no"))
            && pause(at)
            && pause(at + 1)
            && (!self.out.is_empty() || at == 0 && self.last.is_some())
            && anew.is_some_and(|i| pause(i) && pause(i + 1))
    }

    /// "480. No, plate says 460.": at the head of a sentence.
    pub(super) fn no_plate(&self, at: usize) -> bool {
        let read = |i: usize| {
            self.s.known_part(i) == Some(Component::Nameplate) && self.s.role(i + 1, Role::Is)
        };
        let no = self.s.get(at).is_some_and(|i| says(self.stream, i, "no"));
        let number = |i: usize| self.s.get(i).is_some_and(|x| x.number.is_some());
        let behind = (at + 1..at + 3).find(|i| read(*i));
        no && self.last.is_some() && behind.is_some_and(|i| number(i + 2))
    }

    /// A number that nothing was made of, right beside a value: one of the two was misheard.
    pub(super) fn doubt_beside(&mut self) {
        let loose = |i: usize, s: &crate::dictation::sentence::Sentence<'_>| {
            let number = s.get(i).is_some_and(|x| x.number.is_some() || x.code);
            number && !s.is_used(i) && !s.is_muted(i)
        };
        for draft in &mut self.out {
            let near = |i: usize| self.s.get(i).is_some_and(|x| x.gap <= Gap::Space);
            // What stands before a code or a word is none of its own.
            let word = draft.value.is_string();
            let before = draft.first.checked_sub(1);
            let before = before.filter(|_| near(draft.first) && !word);
            let beside = near(draft.next) && loose(draft.next, self.s)
                || before.is_some_and(|i| loose(i, self.s));
            if beside && !draft.field.of_site() {
                draft.confidence = draft.confidence.min(RECALLED);
                draft.why = draft.why.or(Some("a number beside it was not understood"));
            }
        }
    }

    /// One of these numbers is a word that only sounds like one: "one ate oh".
    pub(super) fn by_sound(&self, first: usize, next: usize) -> bool {
        let items = self.s.items.get(first..next).unwrap_or_default();
        items.iter().flat_map(|i| i.first..i.last).any(|token| {
            let token = self.stream.get(token as usize);
            token.is_some_and(|t| {
                let worth = self.stream.lexicon.worth(t.word);
                t.literal().is_none() && worth.numeral.is_none() && worth.sound.is_some()
            })
        })
    }

    /// A single letter: "B 53".
    pub(super) fn letter(&self, at: usize) -> bool {
        self.s.get(at).is_some_and(|i| {
            i.last - i.first == 1 && self.stream.lexicon.worth(i.word).letter.is_some()
        })
    }

    /// "MCA fifteen. Not fifteen, fifty."
    pub(super) fn not_that(&self, at: usize, item: &Item) -> bool {
        let number = |i: usize| self.s.get(i)?.number.map(|n| n.value);
        let last = self.out.last().and_then(|d| d.value.as_f64());
        let before = match last {
            Some(last) => number(at + 1) == Some(last),
            None => at == 0 && self.last.is_some() && number(at + 1).is_some(),
        };
        says(self.stream, item, "not")
            && before
            && number(at + 2).is_some()
            && self.s.get(at + 2).is_some_and(|i| i.gap == Gap::Comma)
    }

    /// "replace it with a sixty": what is to come, not what is there.
    pub(super) fn to_come(&self, at: usize) -> bool {
        let wanted = (at.saturating_sub(16)..at)
            .rev()
            .take_while(|i| !self.s.role(i + 1, Role::But))
            .any(|i| {
                self.s
                    .get(i)
                    .is_some_and(|x| says_any(self.stream, x, &["wed", "theyll"]))
            });
        if wanted {
            return true;
        }
        let with = (at.saturating_sub(3)..at)
            .rev()
            .find(|i| self.s.get(*i).is_some_and(|x| says(self.stream, x, "with")));
        with.is_some_and(|with| {
            (with.saturating_sub(5)..with)
                .any(|i| self.s.get(i).is_some_and(|x| x.meaning.say.is_some()))
        })
    }
}
