//! One sentence under the grammar: its items, where it may be cut, and what of it is muted or in
//! doubt.
//!
//! What mutes and what hedges is said in `guards`; everything that drafts asks here first.

use super::aside::{self, Aside, Told};
use super::cuts;
use super::items::Item;
use super::lexicon::meaning::{Part, Role};
use super::numbers::Stream;
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
pub(super) const REACH: usize = 18;

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
    pub(super) reading: bool,
    /// The speaker looks again: "what I see".
    pub(super) seen: bool,
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

    /// Of these items nothing was made after all.
    pub(crate) fn leave(&mut self, from: usize, to: usize) {
        for at in from..to {
            if let Some(used) = self.used.get_mut(at) {
                *used = false;
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

    pub(super) fn fill(&mut self, from: usize, to: usize) {
        for at in from..to.min(self.items.len()) {
            if let Some(muted) = self.muted.get_mut(at) {
                *muted = true;
            }
        }
    }

    /// Whether one of these items tells a condition.
    pub(crate) fn has_fault(&self, from: usize, to: usize) -> bool {
        (from..to).any(|i| self.get(i).is_some_and(|x| x.meaning.fault.is_some()))
    }

    /// The kind of unit named by its number at `at`: "exhaust fan two".
    pub(crate) fn unit_at(&self, at: usize) -> Option<EquipmentKind> {
        let kind = self.get(at)?.meaning.kind;
        kind.filter(|_| self.get(at + 1).is_some_and(|x| x.number.is_some()))
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

/// Words that take back what they name.
pub(crate) const FORGET: [&str; 9] = [
    "forget",
    "scratch",
    "strike",
    "drop",
    "delete",
    "erase",
    "cancel",
    "disregard",
    "ignore",
];

/// Whether an item is one of several single words.
pub(crate) fn says_any(stream: Stream<'_>, item: &Item, words: &[&str]) -> bool {
    words.iter().any(|word| says(stream, item, word))
}

/// Whether the first word of an item is one of these.
pub(crate) fn begins_in(stream: Stream<'_>, item: &Item, words: &[&str]) -> bool {
    stream.is_any(item.first as usize, words)
}

/// Whether the last word of an item is one of these.
pub(crate) fn ends_in(stream: Stream<'_>, item: &Item, words: &[&str]) -> bool {
    stream.is_any(item.last as usize - 1, words)
}

/// The text of one item, for the few words that the grammar needs by name.
pub(crate) fn says(stream: Stream<'_>, item: &Item, word: &str) -> bool {
    item.last - item.first == 1 && stream.is(item.first as usize, word)
}
