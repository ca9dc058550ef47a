//! How far a condition reaches for its part: the nearest part before and behind it that it can be
//! said of, and whether anything stands between.

use super::part::PLACES;
use super::{AHEAD, BACK, Finder};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Field, Role};
use crate::dictation::sentence::{Break, ends_in, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::Condition;

/// Words before a part that is only a landmark.
const BEYOND: [&str; 9] = [
    "through", "behind", "by", "beside", "near", "past", "from", "against", "between",
];

impl Finder<'_, '_> {
    /// A part that only says from where something is seen or what it is next to: "see it
    /// through the louver".
    pub(super) fn beyond(&self, at: usize) -> bool {
        let mut back = at;
        while let Some(before) = back.checked_sub(1).filter(|b| at - b <= 3) {
            let Some(item) = self.s.get(before) else {
                return false;
            };
            if item.is(Role::Near) && !item.is(Role::Filler) {
                return true;
            }
            if item.is(Role::At) {
                return says_any(self.stream, item, &BEYOND);
            }
            let pointed = before + 1 == at && says_any(self.stream, item, &["that", "this"]);
            if !item.idle() && !pointed {
                return false;
            }
            back = before;
        }
        false
    }

    pub(super) fn part_before(&self, at: usize, fault: Condition) -> Option<usize> {
        let mut best = None;
        let mut left = BACK;
        for p in (at.saturating_sub(4 * BACK)..at).rev() {
            let named = self.named(p) && self.named(p + 1);
            if left == 0 || self.s.cut(p + 1) == Break::Hard && !named {
                break;
            }
            // "the disconnects on RTU-1, RTU-2 and RTU-3 are rusted": the names are one.
            left -= usize::from(!named);
            if self.is_part(p) && !self.s.is_muted(p) && self.fits(p, fault) && !self.beyond(p) {
                if !self.locative(p) {
                    return Some(p);
                }
                best = best.or(Some(p));
            }
            if self.s.is_muted(p) && self.s.cut(p + 1) >= Break::Soft {
                break;
            }
        }
        best
    }

    pub(super) fn part_ahead(&self, at: usize, fault: Condition) -> Option<usize> {
        let told = || (at.saturating_sub(BACK)..at).any(|p| self.is_part(p));
        for q in at + 1..at + 1 + AHEAD {
            let item = self.s.get(q)?;
            // "the belt is cracked | the filters": told of a part already, it wants no other.
            let anew = self.stream.paused(item.first as usize)
                && !self.s.any(q - 1, &[Role::A, Role::At])
                && told();
            if self.s.cut(q) == Break::Hard || item.gap >= Gap::Comma || anew {
                return None;
            }
            if self.is_part(q) {
                return self.fits(q, fault).then_some(q);
            }
            // "leaves sitting in the filter rack", "rust falling out of the tubes".
            let lying = || {
                let word = self.stream.get(item.first as usize);
                let word = word.map_or("", |token| self.stream.raw(token));
                item.meaning == Default::default() && !item.code && word.ends_with("ing")
            };
            let place =
                || item.meaning == Default::default() && ends_in(self.stream, item, &PLACES);
            let passes = item.idle()
                || lying()
                || place()
                || item.any(&[Role::At, Role::Near, Role::And, Role::It, Role::Site])
                || item.meaning.fault.is_some()
                || item.number.is_some()
                || self.named(q);
            if !passes || item.is(Role::Is) && !item.idle() {
                return None;
            }
        }
        None
    }

    /// Only conditions, "and", commas and small words between a part and a later condition:
    /// "cracked and glazed", "has rust on it".
    pub(super) fn linked(&self, part: Option<usize>, at: usize) -> bool {
        let Some(part) = part else { return false };
        (part + 1..at).all(|i| {
            self.s.get(i).is_some_and(|x| {
                x.idle()
                    || x.meaning.fault.is_some()
                    || x.any(&[
                        Role::And,
                        Role::Or,
                        Role::Is,
                        Role::ItIs,
                        Role::It,
                        Role::There,
                        Role::Hedge,
                        Role::No,
                        Role::At,
                        Role::SameWord,
                        Role::Correct,
                        Role::Both,
                        Role::Quantity,
                    ])
                    || x.meaning.part.is_some()
                    || x.meaning.label == Some(Field::Fuse)
                    || self.named(i)
                    || x.weight_only()
                    || x.number.is_some()
                    || self.s.is_used(i)
            })
        })
    }

    pub(super) fn links_to_unit(&self, at: usize) -> bool {
        let mut back = at;
        while let Some(before) = back.checked_sub(1) {
            if self.named(before) || self.s.role(before, Role::This) {
                return true;
            }
            let Some(item) = self.s.get(before) else {
                return false;
            };
            if !(item.idle() || item.any(&[Role::Is, Role::ItIs, Role::No, Role::Hedge, Role::It]))
            {
                return false;
            }
            back = before;
        }
        false
    }

    pub(super) fn direct(&self, from: usize, to: usize) -> bool {
        (from..to).all(|i| self.s.get(i).is_some_and(Item::idle))
    }

    /// Whether the part at `at` is said to be something itself: "… screen is torn".
    pub(super) fn has_predicate(&self, at: usize) -> bool {
        let mut next = at + 1;
        while self
            .s
            .get(next)
            .is_some_and(|i| i.idle() && !i.is(Role::Is))
            && next < at + 3
        {
            next += 1;
        }
        // "curb's rusted".
        let own = self.s.get(at).is_some_and(|i| i.apostrophe);
        if own && self.s.has_fault(next, next + 1) && self.s.cut(next) == Break::None {
            return true;
        }
        // "noisy, motor on three is not running".
        while self.named(next) && next < at + 5 {
            next += 1;
        }
        self.s.get(next).is_some_and(|i| {
            let says =
                i.any(&[Role::Is, Role::ItIs]) || i.meaning.fault.is_some() && self.verbal(i);
            says && i.gap < Gap::Comma
        })
    }
}
