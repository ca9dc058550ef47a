//! One sentence under the grammar: its items, where it may be cut, and what must not count.
//!
//! Hearsay, conditionals, questions, past repairs and talk of other places mute the words in
//! their reach; hedges mark them. Reach is bounded, so that speech without any punctuation
//! stays linear and one stray word cannot silence a whole note.

use super::aside::{self, Aside, Told};
use super::cuts;
use super::items::Item;
use super::lexicon::meaning::{Field, Part, Role};
use super::numbers::Stream;
use super::tokens::Gap;
use crate::survey::codes::{Component, EquipmentKind};
use std::collections::BTreeMap;

/// How strongly speech may be cut before an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Break {
    None,
    /// A comma, "and", "or".
    Soft,
    /// "but", a new unit, "there's".
    Hard,
}

/// Furthest that a guard reaches, in items.
const REACH: usize = 18;

/// Furthest that one's own things are spoken of, in items.
const OWN: usize = 6;

/// Words before a place that a unit stands at or serves: "over the elevator", "feeds the ice machine".
const LANDMARK: [&str; 13] = [
    "behind", "by", "beside", "past", "near", "over", "above", "facing", "toward", "towards",
    "feeds", "serves", "serving",
];

/// A sentence being read.
#[derive(Debug)]
pub(crate) struct Sentence<'a> {
    pub(crate) items: &'a [Item],
    pub(crate) breaks: Vec<Break>,
    pub(crate) muted: Vec<bool>,
    pub(crate) hedged: Vec<bool>,
    /// Index into the sentence's subjects, per item.
    pub(crate) who: Vec<usize>,
    /// Something was made of the item.
    pub(crate) used: Vec<bool>,
    /// The item names a unit.
    pub(crate) names: Vec<bool>,
    /// The item names a unit that something is near, which is this subject of the sentence.
    pub(crate) beside: Vec<Option<usize>>,
    /// Parts that were told by a size or rating, by its last item, with its first.
    pub(crate) told: BTreeMap<usize, (Component, usize)>,
    /// The whole sentence is about somewhere else.
    pub(crate) elsewhere: Told,
    /// A paper is being read aloud.
    reading: bool,
    /// The speaker looks again: "what I see".
    seen: bool,
}

impl<'a> Sentence<'a> {
    /// Reads breaks and guards. `asked` says that a question mark ends it; `before` what the
    /// sentences before were about.
    pub(crate) fn new(items: &'a [Item], stream: Stream<'_>, asked: bool, before: Aside) -> Self {
        let n = items.len();
        let mut made = Self {
            items,
            breaks: cuts::breaks(items),
            muted: vec![asked; n],
            hedged: vec![false; n],
            who: vec![0; n],
            used: vec![false; n],
            names: vec![false; n],
            beside: vec![None; n],
            told: BTreeMap::new(),
            elsewhere: Told::No,
            reading: false,
            seen: items.iter().any(|i| i.is(Role::Seen)),
        };
        if before.away > 0 && aside::stays(items, stream) {
            made.elsewhere = Told::GoesOn;
            made.muted.fill(true);
        }
        if before.paper > 0 {
            // "quote, ..., end quote": up to there.
            let end = items.iter().position(|i| i.is(Role::Seen)).unwrap_or(n);
            made.fill(0, end);
        }
        for at in 0..n {
            made.guard(at, stream);
        }
        made
    }

    /// What the next sentence is to know of this one, which came after `before`.
    pub(crate) fn aside(&self, before: Aside) -> Aside {
        before.after(self.elsewhere, self.reading, self.seen)
    }

    pub(crate) fn get(&self, at: usize) -> Option<&'a Item> {
        self.items.get(at)
    }

    pub(crate) fn role(&self, at: usize, role: Role) -> bool {
        self.get(at).is_some_and(|item| item.is(role))
    }

    pub(crate) fn any(&self, at: usize, roles: &[Role]) -> bool {
        self.get(at).is_some_and(|item| item.any(roles))
    }

    pub(crate) fn cut(&self, at: usize) -> Break {
        self.breaks.get(at).copied().unwrap_or(Break::Hard)
    }

    pub(crate) fn is_muted(&self, at: usize) -> bool {
        self.muted.get(at).copied().unwrap_or(true)
    }

    pub(crate) fn is_used(&self, at: usize) -> bool {
        self.used.get(at).copied().unwrap_or(true)
    }

    pub(crate) fn is_name(&self, at: usize) -> bool {
        self.names.get(at).copied().unwrap_or(false)
    }

    pub(crate) fn part(&self, at: usize) -> Option<Part> {
        let told = || self.told.get(&at).map(|(part, _)| Part::Known(*part));
        self.get(at)?.meaning.part.or_else(told)
    }

    pub(crate) fn known_part(&self, at: usize) -> Option<Component> {
        match self.part(at)? {
            Part::Known(component) => Some(component),
            Part::Head(_) => None,
        }
    }

    pub(crate) fn use_up(&mut self, from: usize, to: usize) {
        for at in from..to {
            if let Some(used) = self.used.get_mut(at) {
                *used = true;
            }
        }
    }

    /// First item of the clause that `at` is in: back to a break at least this strong.
    pub(crate) fn clause_start(&self, at: usize, strength: Break) -> usize {
        let mut from = at;
        while from > 0 && self.cut(from) < strength && at - from < REACH {
            from -= 1;
        }
        from
    }

    /// One past the last item of the clause that `at` is in.
    pub(crate) fn clause_end(&self, at: usize, strength: Break) -> usize {
        let mut to = at + 1;
        while to < self.items.len() && self.cut(to) < strength && to - at < REACH {
            to += 1;
        }
        to
    }

    fn fill(&mut self, from: usize, to: usize) {
        for at in from..to.min(self.items.len()) {
            if let Some(muted) = self.muted.get_mut(at) {
                *muted = true;
            }
        }
    }

    fn has_fault(&self, from: usize, to: usize) -> bool {
        self.items
            .get(from..to)
            .unwrap_or_default()
            .iter()
            .any(|i| i.meaning.fault.is_some())
    }

    fn guard(&mut self, at: usize, stream: Stream<'_>) {
        let Some(item) = self.get(at) else { return };
        if item.meaning.roles == Default::default() && item.meaning.done.is_none() {
            return;
        }
        if item.is(Role::If) {
            // "when the fan starts, ..." speaks of what is; only its own few words are put aside.
            let when = says(stream, item, "when") || stream.is(item.first as usize, "when");
            let end = self.reach(at, |s, i| {
                let paused = s.get(i).is_some_and(|x| stream.paused(x.first as usize));
                let anew = s.role(i, Role::And)
                    && s.get(i).is_some_and(|x| x.gap >= Gap::Comma)
                    && s.role(i + 1, Role::ItIs);
                let then = s.get(i).is_some_and(|x| says(stream, x, "then"));
                s.role(i, Role::But) && s.cut(i) == Break::Hard && !then
                    || when && i > at + 4
                    || paused
                    || anew
            });
            self.fill(at, end);
        }
        // "reckon it's bent" is one's own doubt, "he reckons" is not.
        let own = stream
            .get(item.first as usize)
            .is_some_and(|t| stream.raw(t).eq_ignore_ascii_case("reckon"));
        if own && !self.role(at.wrapping_sub(1), Role::Person) {
            self.hedge(at);
        } else if item.is(Role::Hearsay) {
            // It reaches over the unit that it names, up to what it says of it.
            let end = self.reach(at, |s, i| {
                s.role(i, Role::Seen)
                    || s.cut(i) == Break::Hard && (s.role(i, Role::But) || s.has_fault(at + 1, i))
                    || s.cut(i) >= Break::Soft
                        && s.has_fault(at + 1, i)
                        && s.get(i).is_some_and(|x| x.gap >= Gap::Comma)
            });
            if self.has_fault(at + 1, end)
                || self.items.get(at + 1..end).unwrap_or_default().len() > 3
            {
                self.fill(at, end);
            } else {
                let from = self.clause_start(at, Break::Hard);
                self.fill(from, end);
            }
        }
        // "the night manager was telling me": somebody else's words, whoever they are.
        let told = item.is(Role::Tells)
            && ((at.saturating_sub(3)..at)
                .any(|i| self.role(i, Role::Person) && self.cut(i + 1) == Break::None)
                || self.stranger(at, stream));
        if told {
            let end = self.reach(at, |s, i| {
                s.cut(i) == Break::Hard
                    && (s.get(i).is_some_and(|x| x.gap >= Gap::Comma)
                        || s.role(i, Role::But) && s.arrives(i))
            });
            let from = self.clause_start(at, Break::Soft);
            self.fill(from, end);
        }
        if item.is(Role::Mine) {
            // "the light on my hat is broken", "my tape is rusted".
            let on = self.any(at.wrapping_sub(1), &[Role::At]);
            // "tripped on my own feet".
            let danger = |i: &Item| i.meaning.danger.is_some();
            let from = if self.get(at.wrapping_sub(1)).is_some_and(danger) {
                at - 1
            } else if on {
                self.clause_start(at, Break::Soft)
            } else {
                at
            };
            // "got my mirror in there, it's cracked": what it is held to.
            let anew = |s: &Self, i: usize| {
                let comma = s.get(i).is_some_and(|x| x.gap >= Gap::Comma);
                comma && s.any(i, &[Role::ItIs, Role::It, Role::This])
            };
            let end = self.reach(at, |s, i| {
                s.cut(i) == Break::Hard || i > at + OWN || anew(s, i)
            });
            self.fill(from, end);
        }
        // "the old disconnect was broken".
        let old = says(stream, item, "old") && self.was(at + 1, at + 8, stream);
        if old {
            let end = self.clause_end(at, Break::Soft);
            self.fill(at, end);
        }
        // "the drain was clogged, I blew it out": what was is told, not seen.
        let start = self.clause_start(at, Break::Soft);
        // "I noticed the guard was bent" is seen.
        let noticed = |i: &Item| (i.first..i.last).any(|t| self::noticed(stream, t as usize));
        let seen = (start..at).any(|i| self.get(i).is_some_and(noticed));
        if says_any(stream, item, &["was", "were", "had"]) && self.told_of(at) && !seen {
            let said_of = (start.max(at.saturating_sub(5))..at)
                .rev()
                .find(|i| self.part(*i).is_some() || self.role(*i, Role::It));
            let end = self.clause_end(at, Break::Soft);
            self.fill(said_of.unwrap_or(start), end);
        }
        if item.is(Role::Paper) {
            self.reading = true;
            self.fill(at, self.items.len());
        }
        // "behind the billboard": only where something stands.
        let before = at.wrapping_sub(1 + usize::from(self.role(at.wrapping_sub(1), Role::A)));
        let landmark = self.role(before, Role::Near)
            || self
                .get(before)
                .is_some_and(|b| says_any(stream, b, &LANDMARK))
            || self
                .get(before)
                .is_some_and(|b| says_any(stream, b, &["from", "at"]))
                && (before.saturating_sub(5)..before).any(|i| {
                    self.get(i)
                        .is_some_and(|x| says_any(stream, x, &["hear", "see", "smell", "heard"]))
                });
        let placed = ["at", "in", "on", "across"]
            .iter()
            .any(|w| stream.is(item.first as usize, w));
        // "SF 4 next door": a unit of this roof.
        let of_unit = stream.is(item.first as usize, "next")
            && at > 1
            && self.get(at - 1).is_some_and(|b| b.number.is_some())
            && self.unit_at(at - 2).is_some();
        if item.is(Role::Elsewhere) && (!landmark || placed) && !of_unit {
            self.elsewhere = Told::Begun;
            let from = at.saturating_sub(REACH);
            let end = self.reach(at, |s, i| {
                s.role(i, Role::But)
                    && s.cut(i) == Break::Hard
                    && (s.get(i).is_some_and(|x| x.gap >= Gap::Comma) || s.arrives(i))
                    || s.get(i).is_some_and(|x| says(stream, x, "here"))
            });
            self.fill(from, end.max(at + 1));
        }
        if item.is(Role::Question) && at <= 1 {
            let end = self.reach(at, |s, i| s.cut(i) == Break::Hard);
            self.fill(at, end);
        }
        // "... and is the disconnect a sixty or a hundred".
        let asks = self.role(at.wrapping_sub(1), Role::And)
            && says_any(stream, item, &["is", "are", "was"])
            && self.role(at + 1, Role::A)
            && (self.part(at + 2).is_some()
                || self.get(at + 2).is_some_and(|x| x.meaning.label.is_some()));
        if asks {
            let end = self.reach(at, |s, i| s.cut(i) == Break::Hard);
            self.fill(at, end);
        }
        let done = item.meaning.done.is_some() && !self.asked_for(at) && !self.undone(at);
        // "built in May of 2013" is a date on a plate.
        let dated = (at.saturating_sub(4)..at).any(|i| {
            self.get(i)
                .is_some_and(|x| x.meaning.label == Some(Field::Year))
        });
        if item.is(Role::Past) && !dated || done {
            let mut from = self.clause_start(at, Break::Soft);
            let end = self.clause_end(at, Break::Soft);
            // A pause ends what is told of the past.
            let paused = |i: &usize| {
                self.get(*i)
                    .is_some_and(|x| stream.paused(x.first as usize))
            };
            let end = (at + 1..end).find(paused).unwrap_or(end);
            from = (from + 1..=at).rev().find(paused).unwrap_or(from);
            // "the filters are not dirty somebody changed them": no further than who did it.
            let by = (at.saturating_sub(4).max(from)..at)
                .rev()
                .find(|i| self.role(*i, Role::Person));
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
        if item.is(Role::Hedge) && !self.amount(at) {
            self.hedge(at);
        }
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

    /// The kind of unit named by its number at `at`: "exhaust fan two".
    pub(crate) fn unit_at(&self, at: usize) -> Option<EquipmentKind> {
        let kind = self.get(at)?.meaning.kind;
        kind.filter(|_| self.get(at + 1).is_some_and(|x| x.number.is_some()))
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

    /// "was never strapped", "neither one is secured": work that was not done.
    pub(crate) fn undone(&self, at: usize) -> bool {
        (at.saturating_sub(3)..at)
            .rev()
            .take_while(|i| self.cut(i + 1) == Break::None)
            .any(|i| self.role(i, Role::No))
    }

    /// Whether "needs", "should be" and the like stand shortly before.
    pub(crate) fn asked_for(&self, at: usize) -> bool {
        (at.saturating_sub(5)..at)
            .rev()
            .take_while(|i| self.cut(i + 1) < Break::Hard)
            .any(|i| self.role(i, Role::Need))
    }
}

/// Whether an item is one of several single words.
pub(crate) fn says_any(stream: Stream<'_>, item: &Item, words: &[&str]) -> bool {
    words.iter().any(|word| says(stream, item, word))
}

/// The text of one item, for the few words that the grammar needs by name.
pub(crate) fn says(stream: Stream<'_>, item: &Item, word: &str) -> bool {
    item.last - item.first == 1 && stream.is(item.first as usize, word)
}

/// A word for seeing something oneself, just now.
fn noticed(stream: Stream<'_>, token: usize) -> bool {
    ["noticed", "spotted", "saw"]
        .iter()
        .any(|word| stream.is(token, word))
}
