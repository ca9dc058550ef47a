//! Which part an item names: general words ("cover", "line", "drain") by their neighbours, and
//! whether that part can be in a condition at all.

use super::Finder;
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::sentence::{Break, ends_in, says_any};
use crate::survey::codes::{Component, Condition, EquipmentKind};

/// Words for a place on a part.
pub(super) const PLACES: [&str; 9] = [
    "corner", "side", "edge", "bottom", "top", "end", "base", "foot", "middle",
];

impl Finder<'_, '_> {
    pub(super) fn kind(&self, at: usize) -> Option<EquipmentKind> {
        self.s
            .who
            .get(at)
            .and_then(|w| self.kinds.get(*w))
            .copied()
            .flatten()
    }

    /// A part that only says where: "the belt on the blower".
    pub(super) fn locative(&self, at: usize) -> bool {
        let mut back = at;
        for _ in 0..5 {
            let Some(before) = back.checked_sub(1) else {
                return false;
            };
            let Some(item) = self.s.get(before) else {
                return false;
            };
            // "on a stand up there the heat exchanger ...".
            let there = |i: &Item| says_any(self.stream, i, &["there", "here"]);
            if item.is(Role::At) && self.s.get(before + 1).is_some_and(there) {
                return false;
            }
            // "the flashing at the southwest corner of the curb".
            let place = |i: usize| {
                let item = self.s.get(i);
                item.is_some_and(|x| ends_in(self.stream, x, &PLACES))
            };
            if item.is(Role::At) && before > 0 && place(before - 1) {
                let at = (before.saturating_sub(5)..before - 1)
                    .rev()
                    .find(|i| self.s.role(*i, Role::At));
                return at.is_some_and(|i| i > 0 && self.is_part(i - 1));
            }
            if item.is(Role::At) && !item.is(Role::There) {
                return before > 0
                    && (self.is_part(before - 1)
                        || (before > 1
                            && self.s.get(before - 1).is_some_and(Item::idle)
                            && self.is_part(before - 2)));
            }
            // "the flashing around that curb", "the flashing on unit seven's curb".
            let owns = |i: usize| self.named(i) && self.s.get(i).is_some_and(|x| x.apostrophe);
            let owner = self.named(before) && (before + 1..=at).any(|i| owns(i - 1));
            if !owner && !item.idle() && !says_any(self.stream, item, &["that", "this"]) {
                return false;
            }
            back = before;
        }
        false
    }

    /// The part named at `at` is a screw, a latch: what holds another part.
    pub(super) fn fastens(&self, at: usize) -> bool {
        self.s
            .part(at)
            .is_some_and(|p| self.stream.lexicon.head(p).is_some_and(|h| h.fastener))
    }

    /// A latch, which breaks where a screw comes loose.
    pub(super) fn catches(&self, at: usize) -> bool {
        let item = self.s.get(at);
        item.is_some_and(|i| ends_in(self.stream, i, &["latch", "catch", "clip"]))
    }

    /// Whether the part named at `at` can be in this condition at all.
    pub(super) fn fits(&self, at: usize, fault: Condition) -> bool {
        // "two rivet holes": screws come loose or go missing, nothing else.
        let screws = matches!(
            fault,
            Condition::Missing
                | Condition::Loose
                | Condition::LooseFasteners
                | Condition::Worn
                | Condition::Broken
                | Condition::Disconnected
                | Condition::Rusted
                | Condition::Good
        );
        (screws || !self.fastens(at))
            && self
                .component_in(at, Some(fault))
                .is_some_and(|part| self.stream.lexicon.sense(part, fault).is_some())
    }

    /// The component that a part item stands for, given its neighbours.
    pub(super) fn component(&self, at: usize) -> Option<Component> {
        self.component_in(at, None)
    }

    /// The same, of a part in this condition.
    pub(super) fn component_in(&self, at: usize, fault: Option<Condition>) -> Option<Component> {
        let part = self.s.part(at)?;
        let makes_sense = |part: &Component| {
            fault.is_none_or(|fault| self.stream.lexicon.sense(*part, fault).is_some())
        };
        let Some(head) = self.stream.lexicon.head(part) else {
            return self.s.known_part(at);
        };
        // "bolts on the roof drain": of whatever can have loose ones.
        let screwed = |p: &Component| {
            let loose = self.stream.lexicon.sense(*p, Condition::LooseFasteners);
            head.fastener && loose.is_some()
        };
        let beside = |i: usize| {
            let part = self.s.known_part(i)?;
            let own = Some(part).filter(screwed);
            head.beside.get(&part).copied().or(own)
        };
        // "screws have backed out of the flashing".
        let out_of = |i: &Item| {
            head.fastener && i.meaning.fault.is_some() && ends_in(self.stream, i, &["of"])
        };
        if let Some(found) = at.checked_sub(1).and_then(beside) {
            return Some(found);
        }
        // "insulation on the duct".
        let mut ahead = at + 1;
        while ahead < at + 5
            && self.s.get(ahead).is_some_and(|i| {
                let verb = says_any(self.stream, i, &["have", "has"]);
                i.idle() || i.any(&[Role::At, Role::Is, Role::And]) || out_of(i) || verb
            })
            && self.s.cut(ahead) < Break::Hard
        {
            ahead += 1;
        }
        let placed = |i: &Item| i.is(Role::At) || out_of(i);
        if (at + 1..ahead).any(|i| self.s.get(i).is_some_and(placed))
            && let Some(found) = beside(ahead)
        {
            return Some(found);
        }
        // Said a moment ago: "the gas line ... two screws".
        let start = self.s.clause_start(at, Break::Hard);
        let recent = (start..at).rev().take(7).find_map(beside);
        if let Some(found) = recent.filter(makes_sense) {
            return Some(found);
        }
        // "It's a big duct. Insulation is torn": of what was named last.
        let newest = self.last.newest().and_then(|part| head.beside.get(&part));
        if let Some(found) = newest.copied().filter(makes_sense) {
            return Some(found);
        }
        // "I soaped the gas line ... the pipe isn't leaking".
        let meant = self
            .last
            .fitting(|part| head.beside.values().any(|p| p == part) && makes_sense(part));
        if let Some(found) = meant {
            return Some(found);
        }
        let kind = self.kind(at);
        let fan = matches!(
            kind,
            Some(
                EquipmentKind::ExhaustFan | EquipmentKind::SupplyFan | EquipmentKind::MakeupAirUnit
            )
        );
        let site =
            (at.saturating_sub(6)..at + 5).any(|i| self.s.role(i, Role::Site)) || kind.is_none();
        Some(
            match (head.fan_unit.filter(|_| fan), head.site.filter(|_| site)) {
                (Some(part), _) | (None, Some(part)) => part,
                _ => head.default,
            },
        )
    }
}
