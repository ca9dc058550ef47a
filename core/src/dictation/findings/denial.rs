//! Whether a condition is denied: how far back a "no" reaches, and what ends its reach.
//!
//! A denial covers its own clause and its own noun. It never crosses another part, a request or
//! a value, and it cannot deny a phrase that denies already ("isn't supported").

use super::Finder;
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::sentence::{Break, begins_in, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::{Component, Condition};

/// First words of phrases that deny by themselves.
const DENYING: [&str; 17] = [
    "no", "not", "isnt", "arent", "wont", "doesnt", "dont", "nothing", "cant", "cannot", "never",
    "wasnt", "aint", "without", "nowhere", "none", "didnt",
];

/// First words of phrases that hold their own verb.
const VERBS: [&str; 28] = [
    "is", "are", "isnt", "arent", "was", "wasnt", "wont", "doesnt", "dont", "has", "have", "cant",
    "aint", "needs", "wants", "makes", "keeps", "had", "didnt", "got", "will", "does", "do", "did",
    "can", "cannot", "were", "could",
];

impl Finder<'_, '_> {
    /// The condition is itself a denial: "not supported", "won't start".
    pub(super) fn negative(&self, item: &Item) -> bool {
        item.meaning.fault.is_some_and(|f| f != Condition::Good)
            && item.last - item.first > 1
            && (begins_in(self.stream, item, &DENYING)
                || self.stream.is(item.first as usize + 1, "not"))
    }

    /// The condition brings its own verb: "isn't strapped", "won't start", "has come apart".
    pub(super) fn verbal(&self, item: &Item) -> bool {
        item.last - item.first > 1 && begins_in(self.stream, item, &VERBS)
    }

    /// Whether a denial reaches the item at `at`.
    pub(super) fn denied(&self, at: usize, parts: &[(usize, Component)]) -> bool {
        let undone = |item: &Item| item.meaning.fault.is_none();
        if self
            .s
            .get(at)
            .is_some_and(|item| self.negative(item) || undone(item))
        {
            return false;
        }
        let from = parts.iter().map(|(p, _)| *p).min().unwrap_or(at).min(at);
        let start = self.s.clause_start(at, Break::Hard);
        let lowest = start.max(from.saturating_sub(5)).max(at.saturating_sub(10));
        let mut back = at;
        let mut or = false;
        let mut it = false;
        while back > lowest {
            back -= 1;
            let Some(item) = self.s.get(back) else { break };
            // "RTU no. 2" denies nothing.
            if item.is(Role::No) && !item.is(Role::Correct) && !self.s.is_name(back) {
                // "no, it's cracked" is an answer, not a denial.
                let answer = self.s.get(back + 1).is_some_and(|i| i.gap >= Gap::Comma)
                    && says_any(self.stream, item, &["no", "know", "none", "nothing"]);
                // "no trap on the drain, it just dribbles": the "no" is of the trap.
                let of_noun = it && says(self.stream, item, "no");
                return !answer && !of_noun;
            }
            it |= item.is(Role::It);
            let list = self.joined(back) || self.joined(back + 1);
            // "no blocks the conduit is loose": the denial was of something else.
            let other = item.meaning.say.is_some() && item.meaning.fault.is_none()
                || item.meaning.label.is_some()
                || item.meaning.fault.is_some() && back < from && !list
                || self.is_part(back)
                    && !parts.iter().any(|(p, _)| *p == back)
                    && !list
                    && back < from;
            if other {
                return false;
            }
            or |= item.is(Role::Or);
            let cut = self.s.cut(back + 1);
            if cut == Break::Soft && !or && !self.s.role(back + 1, Role::Or) {
                // "no rust, leaks or oil": a list goes on being denied.
                let list = self
                    .s
                    .get(back + 1)
                    .is_some_and(|i| i.gap == Gap::Comma && i.meaning.fault.is_some())
                    && item.meaning.fault.is_some();
                if !list {
                    return false;
                }
            }
            if item.is(Role::ItIs)
                || item.is(Role::There)
                    && !item.is(Role::No)
                    && back + 1 < at
                    && self.s.cut(back) > Break::None
            {
                return false;
            }
        }
        // "no ... anywhere" behind: "standing water none".
        self.s
            .get(at + 1)
            .is_some_and(|i| i.gap < Gap::Stop && says(self.stream, i, "none"))
    }

    /// A list goes on at `at`: a comma, "and" or "or" stands before it.
    fn joined(&self, at: usize) -> bool {
        self.s.cut(at) == Break::Soft
            || at
                .checked_sub(1)
                .is_some_and(|b| self.s.any(b, &[Role::And, Role::Or]))
    }
}
