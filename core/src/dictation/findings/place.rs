//! The part that a condition belongs to, by the shapes of spoken English.

use super::{AHEAD, BACK, Finder};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::sentence::{Break, says};
use crate::dictation::tokens::Gap;
use crate::survey::codes::{Component, Condition, EquipmentKind};

impl Finder<'_, '_> {
    /// The parts that the condition at `at` is said of, with the items that name them.
    pub(super) fn parts_of(&mut self, at: usize, fault: Condition) -> Vec<(usize, Component)> {
        let back = self.part_before(at);
        let ahead = self.part_ahead(at);
        let adjacent = back.filter(|p| self.direct(p + 1, at) && self.s.cut(at) == Break::None);
        let copula = back.filter(|p| {
            (p + 1..at).any(|i| {
                self.s.any(i, &[Role::Is, Role::ItIs])
                    || self.s.get(i).is_some_and(|x| x.apostrophe)
            }) || self.s.get(*p).is_some_and(|x| x.apostrophe)
        });
        let straight = copula.filter(|p| {
            (p + 1..at).all(|i| {
                self.s.get(i).is_some_and(|x| {
                    x.idle()
                        || x.any(&[
                            Role::Is,
                            Role::ItIs,
                            Role::It,
                            Role::No,
                            Role::Hedge,
                            Role::At,
                            Role::SameWord,
                            Role::Both,
                        ])
                        || x.meaning.part.is_some()
                        || self.named(i)
                }) && (self.s.cut(i) < Break::Soft)
            })
        });
        let attributive = ahead.filter(|q| {
            let plain = (at + 1..*q).all(|i| {
                self.s.get(i).is_some_and(|x| {
                    (x.idle()
                        && (!x.is(Role::A)
                            || matches!(fault, Condition::Missing | Condition::Good)))
                        || (x.meaning.fault.is_some() && !x.both())
                        || x.is(Role::And)
                        || (fault == Condition::Missing && (x.number.is_some() || x.idle()))
                })
            });
            plain && !self.has_predicate(*q)
        });
        let placed = ahead
            .filter(|q| (at + 1..*q).any(|i| self.s.role(i, Role::At)) && !self.has_predicate(*q));
        let pick = if let Some(p) = straight.filter(|_| {
            attributive.is_none() || fault != Condition::Missing && !self.transitive(at)
        }) {
            Some((p, true))
        } else if let Some(p) = adjacent.filter(|p| {
            !self.taken_at(*p) && (fault != Condition::Missing || attributive.is_none())
        }) {
            Some((p, true))
        } else if let Some(q) = attributive {
            Some((q, false))
        } else if let Some(p) = copula.or(adjacent) {
            Some((p, true))
        } else if let Some(q) = placed.filter(|_| back.is_none() || !self.linked(back, at)) {
            Some((q, false))
        } else {
            back.filter(|p| self.linked(Some(*p), at))
                .map(|p| (p, true))
        };
        let Some((chosen, before)) = pick else {
            return self.without_part(at, fault);
        };
        let mut parts = vec![chosen];
        if before {
            self.coordinate_back(chosen, at, &mut parts);
        } else {
            self.coordinate_ahead(chosen, &mut parts);
        }
        parts
            .into_iter()
            .filter_map(|p| Some((p, self.component(p)?)))
            .collect()
    }

    pub(super) fn taken_at(&self, at: usize) -> bool {
        self.taken.get(at).copied().unwrap_or(false)
    }

    /// "is missing the/its/two ...": the part that is missing comes behind.
    pub(super) fn transitive(&self, at: usize) -> bool {
        self.s.get(at + 1).is_some_and(|i| {
            i.gap < Gap::Comma
                && (i.is(Role::A)
                    || i.number.is_some()
                    || i.idle() && self.is_part(at + 2)
                    || self.is_part(at + 1))
        })
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
                    ])
                    || x.meaning.part.is_some()
                    || self.named(i)
                    || x.weight_only()
                    || x.number.is_some()
            })
        })
    }

    pub(super) fn part_before(&self, at: usize) -> Option<usize> {
        let mut best = None;
        for p in (at.saturating_sub(BACK)..at).rev() {
            if self.s.cut(p + 1) == Break::Hard {
                break;
            }
            if self.is_part(p) && !self.s.is_muted(p) {
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

    pub(super) fn part_ahead(&self, at: usize) -> Option<usize> {
        for q in at + 1..at + 1 + AHEAD {
            if self.s.cut(q) == Break::Hard || self.s.get(q)?.gap >= Gap::Comma {
                return None;
            }
            if self.is_part(q) {
                return Some(q);
            }
            let item = self.s.get(q)?;
            let passes = item.idle()
                || item.any(&[Role::At, Role::And, Role::It, Role::Site])
                || item.meaning.fault.is_some()
                || item.number.is_some()
                || self.named(q);
            if !passes || item.is(Role::Is) && !item.idle() {
                return None;
            }
        }
        None
    }

    /// "coil and fan guard are dirty".
    pub(super) fn coordinate_back(&self, part: usize, fault: usize, parts: &mut Vec<usize>) {
        let plural = (part + 1..fault).any(|i| {
            self.s.get(i).is_some_and(|x| {
                ["are", "were", "both", "look", "have", "all"]
                    .iter()
                    .any(|w| says(self.stream, x, w))
                    || x.is(Role::Both)
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
                if item.is(Role::And) {
                    and = true;
                } else if !item.idle() {
                    break None;
                }
                comma |= item.gap == Gap::Comma;
                back = before;
            };
            let Some(other) = found else { return };
            if self.taken_at(other) || !(plural || (and && self.directly_joined(other, at))) {
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

    /// "it's cracked", "RTU 4 is not running", "standing water".
    pub(super) fn without_part(&mut self, at: usize, fault: Condition) -> Vec<(usize, Component)> {
        let start = self.s.clause_start(at, Break::Hard);
        let pronoun = (start.max(at.saturating_sub(5))..at)
            .rev()
            .any(|i| self.s.any(i, &[Role::It, Role::ItIs]));
        let unit = (start.max(at.saturating_sub(6))..at)
            .any(|i| self.named(i) || self.s.role(i, Role::This));
        let implied = self.stream.lexicon.implied.get(&fault).copied();
        if let Some(part) = implied {
            let noun = self.s.get(at).is_some_and(|i| i.last - i.first >= 2)
                || self.s.any(at.saturating_sub(1), &[Role::There, Role::A])
                || fault == Condition::Ponding;
            if noun || unit {
                return vec![(at, part)];
            }
        }
        let they = (start.max(at.saturating_sub(3))..at)
            .rev()
            .any(|i| self.s.any(i, &[Role::It, Role::ItIs]) && !self.named(i));
        if pronoun
            && (!unit || they)
            && let Some(part) = self.last.part
        {
            return vec![(at, part)];
        }
        if unit && self.links_to_unit(at) {
            let fan = matches!(
                self.kind(at),
                Some(EquipmentKind::ExhaustFan | EquipmentKind::SupplyFan)
            );
            let part = match fault {
                Condition::NotRunning | Condition::Broken if fan => Component::Motor,
                Condition::Noisy if fan => Component::Bearing,
                Condition::Vibrating => Component::Blower,
                Condition::Noisy => Component::Blower,
                Condition::NotRunning => Component::Compressor,
                Condition::Leaking => return Vec::new(),
                Condition::Rusted | Condition::Bent | Condition::Unsecured => Component::Cabinet,
                Condition::Unlabelled => Component::Nameplate,
                _ => return Vec::new(),
            };
            return vec![(at, part)];
        }
        Vec::new()
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
        self.s
            .get(next)
            .is_some_and(|i| i.any(&[Role::Is, Role::ItIs]) && i.gap < Gap::Comma)
    }
}
