//! The parts that share a condition because "and" or a comma joins them.

use super::Finder;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::sentence::{Break, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::Condition;

impl Finder<'_, '_> {
    /// "coil and fan guard are dirty".
    pub(super) fn coordinate_back(
        &self,
        part: usize,
        fault: usize,
        heard: Condition,
        parts: &mut Vec<usize>,
    ) {
        let plural = (part + 1..fault).any(|i| {
            self.s.get(i).is_some_and(|x| {
                says_any(
                    self.stream,
                    x,
                    &["are", "were", "both", "look", "have", "all"],
                ) || x.any(&[Role::Both, Role::All])
            })
        });
        let singular = !plural
            && (part + 1..fault).any(|i| {
                self.s
                    .get(i)
                    .is_some_and(|x| x.any(&[Role::Is, Role::ItIs]) || x.apostrophe)
            })
            || self.s.get(part).is_some_and(|x| x.apostrophe);
        if singular {
            return;
        }
        let mut at = part;
        loop {
            let mut back = at;
            let mut and = false;
            let mut comma = self.s.get(at).is_some_and(|i| i.gap == Gap::Comma);
            let found = loop {
                let Some(before) = back.checked_sub(1) else {
                    break None;
                };
                let Some(item) = self.s.get(before) else {
                    break None;
                };
                if self.is_part(before) {
                    break (and || comma).then_some(before);
                }
                if item.is(Role::And) || says(self.stream, item, "nor") {
                    and = true;
                } else if !item.idle() {
                    break None;
                }
                comma |= item.gap == Gap::Comma;
                back = before;
            };
            let Some(other) = found else { return };
            // "a thirty amp disconnect, and the bearings are noisy".
            if !self.fits(other, heard)
                || self.taken_at(other)
                || !(plural || (and && self.directly_joined(other, at)))
            {
                return;
            }
            parts.push(other);
            at = other;
        }
    }

    pub(super) fn directly_joined(&self, a: usize, b: usize) -> bool {
        b - a <= 3
            && self.s.cut(a) < Break::Hard
            && !(a > 0 && self.s.get(a - 1).is_some_and(|i| i.meaning.fault.is_some()))
    }

    /// "dirty coil and filters".
    pub(super) fn coordinate_ahead(&self, part: usize, parts: &mut Vec<usize>) {
        let and = self.s.role(part + 1, Role::And)
            && self.is_part(part + 2)
            && !self.has_predicate(part + 2);
        let fault_after = self
            .s
            .get(part + 3)
            .is_some_and(|i| i.meaning.fault.is_some() && i.gap < Gap::Comma);
        let ends = self
            .s
            .get(part + 3)
            .is_none_or(|i| i.gap >= Gap::Comma || i.any(&[Role::At, Role::But, Role::And]));
        if and && ends && !fault_after {
            parts.push(part + 2);
        }
    }
}
