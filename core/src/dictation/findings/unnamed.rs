//! Conditions that name no part: "it's cracked", "RTU 4 is not running", "standing water",
//! "filthy, change them". Their part is the one meant by "it", the one that the clause goes on
//! about, or the one that such a condition is always of; else they make nothing.

use super::Finder;
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::sentence::{Break, ends_in, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::{Component, Condition, EquipmentKind};

impl Finder<'_, '_> {
    /// "it's cracked", "RTU 4 is not running", "standing water".
    pub(super) fn without_part(&mut self, at: usize, fault: Condition) -> Vec<(usize, Component)> {
        // "glare on it": a word that nobody knew is no condition of what was not named.
        let guessed = self.s.get(at).is_some_and(|i| {
            let tokens = self.stream.tokens.get(i.first as usize..i.last as usize);
            tokens.unwrap_or_default().iter().any(|t| t.repaired)
        });
        if guessed {
            return Vec::new();
        }
        let start = self.s.clause_start(at, Break::Hard);
        let it = |i: usize| {
            let them = [Role::It, Role::ItIs, Role::All];
            self.s.role(i, Role::Both) || self.s.any(i, &them) && !self.named(i)
        };
        let pronoun = (start.max(at.saturating_sub(5))..at).any(it);
        let unit = (start.max(at.saturating_sub(6))..at)
            .any(|i| self.named(i) || self.s.role(i, Role::This));
        let they = (start.max(at.saturating_sub(3))..at).any(it);
        let sense = |part: &Component| self.stream.lexicon.sense(*part, fault).is_some();
        if fault == Condition::Ponding {
            return vec![(at, Component::RoofSurface)];
        }
        // "bare wires hanging out of it": said of the wires already.
        let told = self
            .out
            .last()
            .is_some_and(|f| f.fault == fault && self.s.clause_start(at, Break::Soft) < f.next);
        if told && !self.s.any(at.wrapping_sub(1), &[Role::Is, Role::ItIs]) {
            return Vec::new();
        }
        // "this roof is in good shape".
        let roof = (at.saturating_sub(3)..at).any(|i| {
            self.s
                .get(i)
                .is_some_and(|x| x.is(Role::Site) && self.ends_in_roof(x))
        });
        if fault == Condition::Good && roof {
            return vec![(at, Component::RoofSurface)];
        }
        // "one's belt is torn, two's is good": the same part of another unit.
        let owner = (start.max(at.saturating_sub(3))..at).any(|i| {
            let own = self.s.get(i).is_some_and(|x| x.apostrophe);
            own && self.named(i) && self.s.role(i + 1, Role::Is)
        });
        // "the belt on five is worn, the one on six is fine".
        let the_one = (start.max(at.saturating_sub(6))..at).any(|i| {
            let one = self.s.get(i).is_some_and(|x| says(self.stream, x, "one"));
            one && i > 0 && self.s.role(i - 1, Role::A) && (i + 1..i + 3).any(|n| self.named(n))
        });
        // "RTU-4, same dents".
        let same = at > 0
            && self.s.role(at - 1, Role::SameWord)
            && self.last.fault == Some(fault)
            && self.opens_with_unit(at - 1);
        // "oil on the line, so maybe a leak there".
        let there = self
            .s
            .get(at + 1)
            .is_some_and(|x| says(self.stream, x, "there"))
            && self.s.get(at + 2).is_none_or(|x| x.gap >= Gap::Comma);
        if (owner || the_one || same || there && at > 1)
            && let Some(part) = self.last.alike().filter(sense)
        {
            return vec![(at, part)];
        }
        // "that one's not bad": a unit, not the part named before.
        if fault == Condition::Good && unit {
            return Vec::new();
        }
        let opens = self.direct(0, at);
        if (pronoun || opens)
            && let Some(found) = self.named_after(at, fault)
        {
            return vec![found];
        }
        if let Some(part) = self.goes_on(at).filter(sense) {
            return vec![(at, part)];
        }
        if pronoun
            && (!unit || they)
            && let Some(part) = self.last.fitting(sense)
        {
            return vec![(at, part)];
        }
        // "... takes six filters. Both are dirty.": the part told of last, of each of them.
        let each = |i: usize| self.s.any(i, &[Role::Both, Role::All]);
        let of_each = (start.max(at.saturating_sub(4))..at).any(each);
        if of_each
            && fault != Condition::Good
            && let Some(part) = self.last.alike().filter(sense)
        {
            return vec![(at, part)];
        }
        // "make that frayed, not cracked".
        let put_right = at > 0 && self.s.role(at - 1, Role::Correct);
        if put_right && let Some(part) = self.last.newest().filter(sense) {
            return vec![(at, part)];
        }
        // "Filthy, change them all.", "Dirty on ten and eleven.": of what was named last.
        let ends = self
            .s
            .get(at + 1)
            .is_none_or(|i| i.gap >= Gap::Comma || i.is(Role::At) && self.named(at + 1));
        if self.direct(0, at)
            && ends
            && fault != Condition::Good
            && let Some(part) = self.last.alike().filter(sense)
        {
            return vec![(at, part)];
        }
        if let Some(part) = self.implied(at, fault) {
            let noun = self.s.get(at).is_some_and(|i| i.last - i.first >= 2)
                || self.s.any(at.saturating_sub(1), &[Role::There, Role::A])
                || at > 0 && self.s.role(at - 1, Role::No);
            if noun || unit || pronoun {
                return vec![(at, part)];
            }
        }
        // "the gas cock is stiff but no leak".
        let denied = at > 0 && self.s.role(at - 1, Role::No);
        if denied {
            let named = self.unlinked(at, fault, at.saturating_sub(10));
            if !named.is_empty() {
                return named;
            }
        }
        if fault == Condition::LooseFasteners {
            return self.unlinked(at, fault, start);
        }
        let whole = matches!(
            fault,
            Condition::NotRunning
                | Condition::Noisy
                | Condition::Vibrating
                | Condition::Unsupported
        );
        if (unit && self.links_to_unit(at)) || (they && whole) {
            return self
                .of_unit(at, fault)
                .map(|part| vec![(at, part)])
                .unwrap_or_default();
        }
        Vec::new()
    }

    /// "it's iced up, the coil": the part follows behind a comma.
    fn named_after(&self, at: usize, fault: Condition) -> Option<(usize, Component)> {
        let next = at + 1;
        if self.s.get(next)?.gap != Gap::Comma {
            return None;
        }
        let those = self
            .s
            .get(next)
            .is_some_and(|i| says_any(self.stream, i, &["that", "those", "this"]));
        let part = if self.s.role(next, Role::A) || those {
            next + 1
        } else {
            next
        };
        let ends = self.s.get(part + 1).is_none_or(|i| i.gap >= Gap::Comma);
        (ends && self.is_part(part) && self.fits(part, fault))
            .then(|| Some((part, self.component(part)?)))
            .flatten()
    }

    /// Nothing but a unit's name stands before in the sentence.
    fn opens_with_unit(&self, at: usize) -> bool {
        at > 0 && (0..at).all(|i| self.named(i) || self.s.get(i).is_some_and(Item::idle))
    }

    pub(super) fn ends_in_roof(&self, item: &Item) -> bool {
        ends_in(self.stream, item, &["roof", "roof's"])
    }

    /// "the line isn't strapped, unsupported for ten feet": a clause that begins with its
    /// condition goes on about the part before it.
    fn goes_on(&self, at: usize) -> Option<Component> {
        let mut first = at;
        while first > 0
            && self.s.cut(first) == Break::None
            && self
                .s
                .get(first - 1)
                .is_some_and(|i| i.idle() || i.any(&[Role::And, Role::Hedge, Role::Or]))
        {
            first -= 1;
        }
        // "humming but not starting".
        if first > 0 && self.s.role(first - 1, Role::But) {
            first -= 1;
        }
        let begins =
            first > 0 && (self.s.cut(first) == Break::Soft || self.s.role(first, Role::But));
        if let Some(part) = self.subject_before(first).filter(|_| begins) {
            return Some(part);
        }
        let before = self.out.last().filter(|_| begins)?;
        let near = first.saturating_sub(before.next) < 6;
        let other = (before.next..at).any(|i| self.is_part(i) || self.named(i));
        (near && !other && self.s.who.get(at) == Some(&before.who)).then_some(before.part)
    }

    /// "the cabinet's not bolted to a thing, unsecured": what the clause before speaks of, of
    /// which nothing was made.
    fn subject_before(&self, first: usize) -> Option<Component> {
        let from = self.s.clause_start(first.checked_sub(1)?, Break::Soft);
        let spoken = |i: usize| {
            self.s.get(i).is_some_and(|x| x.apostrophe)
                || self.s.any(i + 1, &[Role::Is, Role::ItIs])
        };
        let place =
            |i: usize| (i.saturating_sub(2)..i).any(|b| self.s.role(b, Role::At)) && i > from + 1;
        let mut parts = (from..first).filter(|i| self.is_part(*i) && !place(*i));
        let (part, None) = (parts.next()?, parts.next()) else {
            return None;
        };
        let made = self.out.iter().rev().take(4).any(|f| f.next > from);
        (!made && spoken(part))
            .then(|| self.component(part))
            .flatten()
    }

    /// "the panel, whoever had it off last left half the screws out": screws speak of the part
    /// named last, whatever was said between.
    fn unlinked(&self, at: usize, fault: Condition, from: usize) -> Vec<(usize, Component)> {
        (from..at)
            .rev()
            .find(|i| self.is_part(*i) && self.fits(*i, fault))
            .and_then(|i| Some(vec![(i, self.component(i)?)]))
            .unwrap_or_default()
    }

    /// Whether nothing but the condition, or the unit, tells of the part. Oil is looked for on lines.
    pub(super) fn is_implied(&self, at: usize, fault: Condition, part: Component) -> bool {
        let oil = fault == Condition::OilStained;
        !oil && (self.implied(at, fault) == Some(part) || self.of_unit(at, fault) == Some(part))
    }

    /// The part that such a condition is of when none is named.
    fn implied(&self, at: usize, fault: Condition) -> Option<Component> {
        let outdoors = matches!(
            self.kind(at),
            Some(EquipmentKind::HeatPump | EquipmentKind::DuctlessOutdoorUnit)
        );
        if fault == Condition::Frosted && outdoors {
            return Some(Component::CondenserCoil);
        }
        self.stream.lexicon.implied.get(&fault).copied()
    }

    /// What is the matter with a unit as a whole.
    fn of_unit(&self, at: usize, fault: Condition) -> Option<Component> {
        let fan = matches!(
            self.kind(at),
            Some(EquipmentKind::ExhaustFan | EquipmentKind::SupplyFan)
        );
        self.kind(at)?;
        Some(match fault {
            Condition::NotRunning | Condition::Broken if fan => Component::Motor,
            Condition::Noisy if fan => Component::Bearing,
            Condition::Noisy => Component::Blower,
            Condition::NotRunning => Component::Compressor,
            Condition::Vibrating
            | Condition::Rusted
            | Condition::Bent
            | Condition::Unsecured
            | Condition::Unsupported
            | Condition::Damaged
            | Condition::Dirty => Component::Cabinet,
            Condition::Unlabelled => Component::Nameplate,
            _ => return None,
        })
    }
}
