//! What must not count in a sentence: hearsay, conditionals, questions, past repairs, talk of other
//! places; and what is only supposed.
//!
//! Each guard mutes (or hedges) the words in its reach. Reach is bounded, so that speech without
//! any punctuation stays linear and one stray word cannot silence a whole note.

use super::aside::Told;
use super::items::Item;
use super::lexicon::meaning::{Field, Role};
use super::numbers::Stream;
use super::sentence::{Break, REACH, Sentence, begins_in, ends_in, says, says_any};
use super::tokens::Gap;

/// Furthest that "like a ..." goes, in items.
const SIMILE: usize = 4;

/// Furthest that one's own things are spoken of, in items.
const OWN: usize = 6;

/// Words before a place that a unit stands at or serves: "over the elevator", "feeds the ice machine".
const LANDMARK: [&str; 14] = [
    "off", "behind", "by", "beside", "past", "near", "over", "above", "facing", "toward",
    "towards", "feeds", "serves", "serving",
];

impl Sentence<'_> {
    /// Lets the word at `at` mute or hedge what is in its reach.
    pub(super) fn guard(&mut self, at: usize, stream: Stream<'_>) {
        let Some(item) = self.get(at) else { return };
        if item.meaning.roles == Default::default() && item.meaning.done.is_none() {
            return;
        }
        if item.is(Role::If) {
            self.supposed(at, item, stream);
        }
        self.hearsay(at, item, stream);
        if item.is(Role::Tells) {
            self.told(at, stream);
        }
        if item.is(Role::Mine) {
            self.mine(at);
        }
        self.was_so(at, item, stream);
        // "let me read you the plate": that is seen.
        let named = |x: &Item| ends_in(stream, x, &["plate", "nameplate"]);
        let plate = || (at..at + 6).any(|i| self.get(i).is_some_and(named));
        if item.is(Role::Paper) && !plate() {
            self.reading = true;
            self.fill(at, self.items.len());
        }
        if item.is(Role::Elsewhere) {
            self.other_place(at, item, stream);
        }
        if item.is(Role::Question) && at <= 1 || self.asks(at, item, stream) {
            let end = self.reach(at, |s, i| s.cut(i) == Break::Hard);
            self.fill(at, end);
        }
        self.past(at, item, stream);
        if item.is(Role::Hedge) && !self.amount(at) {
            self.hedge(at);
        }
    }

    /// The item stands behind a comma or more.
    fn apart(&self, at: usize) -> bool {
        self.get(at).is_some_and(|x| x.gap >= Gap::Comma)
    }

    fn paused(&self, at: usize, stream: Stream<'_>) -> bool {
        self.get(at)
            .is_some_and(|x| stream.paused(x.first as usize))
    }

    /// "if the fan starts, ..."; "when it starts" speaks of what is, and only its own few words
    /// are put aside.
    fn supposed(&mut self, at: usize, item: &Item, stream: Stream<'_>) {
        // "like a foot long": how much.
        let much = |i: usize| {
            let measured = |x: &Item| x.meaning.measure.is_some() || x.number.is_some();
            self.get(i).is_some_and(measured)
        };
        if stream.is(item.first as usize, "like") && much(at + 1) {
            return;
        }
        // "where it can be reached", misheard: in the middle of a clause nothing is supposed.
        let inside = self
            .get(at.wrapping_sub(1))
            .is_some_and(|b| !b.any(&[Role::And, Role::But]));
        if stream.is(item.first as usize, "were") && inside && item.gap < Gap::Comma {
            return;
        }
        // "MCA would be 24".
        let label = |b: usize| self.get(b).is_some_and(|x| x.meaning.label.is_some());
        if stream.is(item.first as usize, "would") && at > 0 && label(at - 1) && much(at + 1) {
            return;
        }
        let starts = |word: &str| stream.is(item.first as usize, word);
        // "glazed like a doughnut, swap it out": what it looks like, and no more.
        let simile = starts("like") || starts("as");
        let when = starts("when") && !ends_in(stream, item, &["a", "an"]);
        let end = self.reach(at, |s, i| {
            let anew = s.role(i, Role::And) && s.apart(i) && s.role(i + 1, Role::ItIs);
            let then = s.get(i).is_some_and(|x| says(stream, x, "then"));
            s.role(i, Role::But) && s.cut(i) == Break::Hard && !then
                || when && i > at + 4
                || simile && (i > at + SIMILE || i > at && s.apart(i))
                || s.paused(i, stream)
                || anew
        });
        self.fill(at, end);
    }

    /// "supposedly ...", "they told me ...": over the unit that it names, up to what it says of it.
    fn hearsay(&mut self, at: usize, item: &Item, stream: Stream<'_>) {
        // "reckon it's bent" is one's own doubt, "he reckons" is not.
        let own = stream
            .get(item.first as usize)
            .is_some_and(|t| stream.raw(t).eq_ignore_ascii_case("reckon"));
        if own && !self.role(at.wrapping_sub(1), Role::Person) {
            self.hedge(at);
            return;
        }
        if !item.is(Role::Hearsay) {
            return;
        }
        let end = self.reach(at, |s, i| {
            let said = s.has_fault(at + 1, i);
            s.role(i, Role::Seen)
                || s.cut(i) == Break::Hard && (s.role(i, Role::But) || said)
                || s.cut(i) >= Break::Soft && said && s.apart(i)
        });
        let long = end > at + 4;
        let from = if self.has_fault(at + 1, end) || long {
            at
        } else {
            self.clause_start(at, Break::Hard)
        };
        self.fill(from, end);
    }

    /// "the night manager was telling me": somebody else's words, whoever they are.
    fn told(&mut self, at: usize, stream: Stream<'_>) {
        let person = (at.saturating_sub(3)..at)
            .any(|i| self.role(i, Role::Person) && self.cut(i + 1) == Break::None);
        if !(person || self.stranger(at, stream)) {
            return;
        }
        let end = self.reach(at, |s, i| {
            s.cut(i) == Break::Hard && (s.apart(i) || s.role(i, Role::But) && s.arrives(i))
        });
        let from = self.clause_start(at, Break::Soft);
        self.fill(from, end);
    }

    /// "the light on my hat is broken", "my tape is rusted", "tripped on my own feet".
    fn mine(&mut self, at: usize) {
        // "access is my roof hatch": "by", misheard.
        if (at.saturating_sub(2)..at).any(|i| self.role(i, Role::Access)) {
            return;
        }
        let before = at.wrapping_sub(1);
        let danger = |i: &Item| i.meaning.danger.is_some();
        let from = if self.get(before).is_some_and(danger) {
            before
        } else if self.role(before, Role::At) {
            self.clause_start(at, Break::Soft)
        } else {
            at
        };
        // "got my mirror in there, it's cracked": what it is held to.
        let end = self.reach(at, |s, i| {
            let anew = s.apart(i) && s.any(i, &[Role::ItIs, Role::It, Role::This]);
            s.cut(i) == Break::Hard || i > at + OWN || anew
        });
        self.fill(from, end);
    }

    /// "the drain was clogged, I blew it out": what was is told, not seen.
    fn was_so(&mut self, at: usize, item: &Item, stream: Stream<'_>) {
        let end = self.clause_end(at, Break::Soft);
        // "the old disconnect was broken".
        if says(stream, item, "old") && self.was(at + 1, at + 8, stream) {
            self.fill(at, end);
        }
        let start = self.clause_start(at, Break::Soft);
        // "I noticed the guard was bent" is seen.
        let noticed = |i: &Item| (i.first..i.last).any(|t| noticed(stream, t as usize));
        // "was frosted when I opened it".
        let opened = |i: usize| {
            let i_did = |x: &Item| stream.is(x.first as usize, "i");
            self.get(i).is_some_and(|x| says(stream, x, "when"))
                && self.get(i + 1).is_some_and(i_did)
        };
        let seen = || {
            (at + 1..end + 4).any(opened) || (start..at).any(|i| self.get(i).is_some_and(noticed))
        };
        if says_any(stream, item, &["was", "were", "had"]) && self.told_of(at) && !seen() {
            let said_of = (start.max(at.saturating_sub(5))..at)
                .rev()
                .find(|i| self.part(*i).is_some() || self.role(*i, Role::It));
            self.fill(said_of.unwrap_or(start), end);
        }
    }

    /// "at the shop", "next door"; "behind the billboard" is only where something stands.
    fn other_place(&mut self, at: usize, item: &Item, stream: Stream<'_>) {
        let before = at.wrapping_sub(1 + usize::from(self.role(at.wrapping_sub(1), Role::A)));
        let said =
            |i: usize, words: &[&str]| self.get(i).is_some_and(|x| says_any(stream, x, words));
        let sensed = ["hear", "see", "smell", "heard"];
        let landmark = self.role(before, Role::Near)
            || said(before, &LANDMARK)
            || said(before, &["from", "at"])
                && (before.saturating_sub(5)..before).any(|i| said(i, &sensed));
        let placed = begins_in(stream, item, &["at", "in", "on", "across"]);
        // "SF 4 next door": a unit of this roof.
        let of_unit = stream.is(item.first as usize, "next")
            && at > 1
            && self.get(at - 1).is_some_and(|b| b.number.is_some())
            && (self.unit_at(at - 2).is_some() || self.role(at - 2, Role::Unit));
        if landmark && !placed || of_unit {
            return;
        }
        self.elsewhere = Told::Begun;
        let from = at.saturating_sub(REACH);
        let end = self.reach(at, |s, i| {
            let but = s.role(i, Role::But) && s.cut(i) == Break::Hard;
            but && (s.apart(i) || s.arrives(i)) || s.get(i).is_some_and(|x| says(stream, x, "here"))
        });
        self.fill(from, end.max(at + 1));
    }

    /// "... and is the disconnect a sixty or a hundred".
    fn asks(&self, at: usize, item: &Item, stream: Stream<'_>) -> bool {
        let of = |i: usize| {
            let label = self.get(i).is_some_and(|x| x.meaning.label.is_some());
            self.part(i).is_some() || label
        };
        self.role(at.wrapping_sub(1), Role::And)
            && says_any(stream, item, &["is", "are", "was"])
            && self.role(at + 1, Role::A)
            && of(at + 2)
    }

    /// "last year the belt broke", "somebody fixed it".
    fn past(&mut self, at: usize, item: &Item, stream: Stream<'_>) {
        let done = item.meaning.done.is_some() && !self.asked_for(at) && !self.undone(at);
        // "built in May of 2013" is a date on a plate.
        let dated = (at.saturating_sub(4)..at).any(|i| {
            self.get(i)
                .is_some_and(|x| x.meaning.label == Some(Field::Year))
        });
        if !(item.is(Role::Past) && !dated || done) {
            return;
        }
        let mut from = self.clause_start(at, Break::Soft);
        let end = self.clause_end(at, Break::Soft);
        // A pause ends what is told of the past.
        let paused = |i: &usize| self.paused(*i, stream);
        let end = (at + 1..end).find(paused).unwrap_or(end);
        from = (from + 1..=at).rev().find(paused).unwrap_or(from);
        // "the filters are not dirty somebody changed them": no further than who did it.
        // "a hole in the deck where a unit was removed": the hole is there.
        let place = |i: usize| self.get(i).is_some_and(|x| says(stream, x, "where"));
        let by = (at.saturating_sub(4).max(from)..at)
            .rev()
            .find(|i| self.role(*i, Role::Person) || place(*i));
        from = by.unwrap_or(from);
        // "coil dirty, cleaned the same day": what was found is dealt with.
        if done && from == at && at > 0 && item.gap == Gap::Comma {
            let before = self.clause_start(at - 1, Break::Soft);
            if self.has_fault(before, at) {
                from = before;
            }
        }
        // "it was leaking, and the other company fixed it".
        if from > 0 && self.cut(from) == Break::Soft {
            let before = self.clause_start(from - 1, Break::Soft);
            if self.was(before, from, stream) {
                from = before;
            }
        }
        self.fill(from, end);
    }

    /// "Vic says the bearing is shot": a name that nobody knows, and what it says.
    fn stranger(&self, at: usize, stream: Stream<'_>) -> bool {
        let name = at.checked_sub(1).and_then(|before| self.get(before));
        let says = self.get(at).is_some_and(|i| {
            let words = [
                "says", "said", "reckons", "claims", "swears", "thinks", "figures",
            ];
            says_any(stream, i, &words)
        });
        let capital = |i: &Item| {
            let token = stream.get(i.first as usize).map(|t| stream.raw(t));
            token.is_some_and(|w| w.starts_with(|c: char| c.is_ascii_uppercase()))
        };
        says && name.is_some_and(|i| {
            let unknown = i.meaning == Default::default() && i.number.is_none() && !i.code;
            unknown && i.last - i.first == 1 && capital(i)
        })
    }

    /// "... and then we get to exhaust fan two": a unit by its number soon after.
    fn arrives(&self, at: usize) -> bool {
        (at + 1..at + 8).any(|i| self.unit_at(i).is_some())
    }

    /// A condition right behind "was".
    fn told_of(&self, at: usize) -> bool {
        (at + 1..at + 4)
            .take_while(|i| self.cut(*i) == Break::None)
            .filter_map(|i| self.get(i))
            .find(|i| !i.idle())
            .is_some_and(|i| i.meaning.fault.is_some())
    }

    /// "was", "were" or "had" is among these items.
    fn was(&self, from: usize, to: usize, stream: Stream<'_>) -> bool {
        (from..to).any(|i| {
            self.get(i)
                .is_some_and(|x| says_any(stream, x, &["was", "were", "had"]))
        })
    }

    /// "maybe thirty feet across": the doubt is about a number.
    fn amount(&self, at: usize) -> bool {
        let number = |i: usize| self.get(i).is_some_and(|x| x.number.is_some());
        number(at + 1) || (number(at + 2) && self.any(at + 1, &[Role::A, Role::Filler]))
    }

    /// A hedge covers its own clause: what follows up to the condition, or, at the clause's end,
    /// what stands before it.
    fn hedge(&mut self, at: usize) {
        let item_fault = self.has_fault(at, at + 1);
        let end = self.clause_end(at, Break::Hard);
        let doubted = if item_fault {
            Some(at)
        } else {
            (at + 1..end).find(|i| {
                self.has_fault(*i, i + 1)
                    || self.get(*i).is_some_and(|x| x.meaning.danger.is_some())
            })
        };
        let end = doubted.map_or(end, |fault| self.doubts_on(fault, end));
        let closes = self
            .get(at + 1)
            .is_none_or(|next| next.gap >= Gap::Comma || self.cut(at + 1) > Break::None);
        let from = if item_fault || self.has_fault(at + 1, end) {
            at
        } else if closes && at > 0 && self.cut(at) == Break::Soft {
            // "it sounds noisy, maybe, ...".
            self.clause_start(at - 1, Break::Soft)
        } else if closes {
            self.clause_start(at, Break::Soft)
        } else {
            return;
        };
        for i in from..end {
            if let Some(hedged) = self.hedged.get_mut(i) {
                *hedged = true;
            }
        }
    }

    /// One past the last condition that a doubt about the one at `fault` also covers.
    fn doubts_on(&self, fault: usize, end: usize) -> usize {
        let mut last = fault;
        for at in fault + 1..end {
            if self.cut(at) == Break::Soft && self.joins_faults(at) {
                continue;
            }
            let joined = (last + 1..at + 1).any(|i| self.cut(i) == Break::Soft);
            match self.get(at) {
                Some(item) if item.meaning.fault.is_some() && joined => last = at,
                Some(item) if item.idle() || item.any(&[Role::And, Role::Or]) => {}
                _ => break,
            }
        }
        last + 1
    }

    /// "cracked or glazed", "leaking and dirty": the break joins two conditions of one part.
    fn joins_faults(&self, at: usize) -> bool {
        (at..at + 3)
            .filter_map(|i| self.get(i))
            .find(|i| !i.idle() && !i.any(&[Role::And, Role::Or]))
            .is_some_and(|i| i.meaning.fault.is_some())
    }

    fn reach(&self, at: usize, stop: impl Fn(&Self, usize) -> bool) -> usize {
        let end = (at + 1 + REACH).min(self.items.len());
        (at + 1..end).find(|i| stop(self, *i)).unwrap_or(end)
    }
}

/// A word for seeing something oneself, just now.
fn noticed(stream: Stream<'_>, token: usize) -> bool {
    stream.is_any(token, &["noticed", "spotted", "saw"])
}
