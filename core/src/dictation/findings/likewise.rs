//! Parts that are said to be like the one before: "the belt is worn, and so is the sheave", "same
//! with the bearing", "and the motor too".
//!
//! They get the condition said last. The unit-by-unit sharing ("same on four") is the engine's.

use super::Finder;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::sentence::{ends_in, says_any};
use crate::dictation::tokens::Gap;

/// Trust in a condition that was said of another part.
const LIKENED: f64 = 0.85;

impl Finder<'_, '_> {
    /// Drafts the condition said last for the part at `at`, if it is said to be like the last.
    pub(super) fn likewise(&mut self, at: usize) {
        let Some((fault, part)) = self.last.fault.zip(self.component_in(at, self.last.fault))
        else {
            return;
        };
        let from = self
            .so_is(at)
            .or(self.same_with(at))
            .or(self.too(at))
            .or(self.same_behind(at));
        let Some(from) = from.filter(|_| self.stream.lexicon.sense(part, fault) == Some(fault))
        else {
            return;
        };
        let before = self.out.len();
        self.draft(at, &[(at, part)], fault);
        for draft in self.out.iter_mut().skip(before) {
            draft.first = from;
            draft.why = None;
            draft.confidence = LIKENED;
        }
    }

    /// The item before `at` that is no article.
    fn word_before(&self, at: usize) -> Option<usize> {
        (0..at)
            .rev()
            .find(|i| !self.s.role(*i, Role::A) || self.s.role(*i, Role::Is))
    }

    /// "so is the sheave", "so are the bearings": where that begins.
    fn so_is(&self, at: usize) -> Option<usize> {
        let is = self
            .word_before(at)
            .filter(|is| self.s.role(*is, Role::Is))?;
        let so = is.checked_sub(1)?;
        says_any(self.stream, self.s.get(so)?, &["so"]).then_some(so)
    }

    /// "same with the bearing"; not of a unit: "same on RTU 3".
    fn same_with(&self, at: usize) -> Option<usize> {
        let alone = self.s.get(at + 1).is_none_or(|i| i.number.is_none());
        self.word_before(at)
            .filter(|same| alone && self.s.any(*same, &[Role::Same, Role::SameWord]))
            .filter(|same| self.s.role(*same, Role::Same) || self.trouble(at))
    }

    /// "RTU 13: economizer, same."
    fn same_behind(&self, at: usize) -> Option<usize> {
        let same = self.s.role(at + 1, Role::SameWord);
        let ends = self.s.get(at + 2).is_none_or(|i| i.gap >= Gap::Comma);
        let part = self.component_in(at, self.last.fault);
        (same && ends && part == self.last.alike()).then_some(at)
    }

    /// "same belt trouble".
    fn trouble(&self, at: usize) -> bool {
        self.s.get(at + 1).is_some_and(|i| {
            let words = [
                "trouble",
                "problem",
                "issue",
                "story",
                "thing",
                "deal",
                "condition",
            ];
            i.gap < Gap::Comma && says_any(self.stream, i, &words)
        })
    }

    /// "and the motor too".
    fn too(&self, at: usize) -> Option<usize> {
        let said = self.s.get(at + 1)?;
        let first = said.first as usize;
        let too = self.stream.is(first, "too")
            || self.stream.is(first, "as") && ends_in(self.stream, said, &["well"]);
        let ends = self.s.get(at + 2).is_none_or(|i| i.gap >= Gap::Comma);
        self.word_before(at)
            .filter(|and| too && ends && self.s.role(*and, Role::And))
    }
}
