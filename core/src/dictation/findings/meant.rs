//! Whether a word for a condition is meant as one: "good for 125 amps" is a rating, "plugged with
//! flour dust" one condition, "never been cleaned" what is left undone.

use super::Finder;
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::sentence::{Break, FORGET, ends_in, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::{Action, Component, Condition, HazardKind};

/// Furthest that a cause or a hazard stands from what it explains, in items.
const WHY: usize = 8;

impl Finder<'_, '_> {
    /// "never been cleaned", "isn't fastened": what work that was not done leaves behind. "the
    /// coil looks clean it is ..." asks for no work.
    pub(super) fn neglected(&self, at: usize, item: &Item) -> Option<Condition> {
        let looks = at > 0
            && self
                .s
                .get(at - 1)
                .is_some_and(|x| says_any(self.stream, x, &["look", "looks"]));
        if looks && item.meaning.say == Some(Action::Clean) {
            return Some(Condition::Good);
        }
        let action = item.meaning.done.filter(|action| {
            matches!(
                action,
                Action::Clean | Action::Clear | Action::Secure | Action::Tighten | Action::Label
            )
        })?;
        let implies = &self.stream.lexicon.defaults.implies;
        self.s.undone(at).then(|| implies.get(&action).copied())?
    }

    /// "hail put dents all in the fan guard": what bent it was said in the same clause.
    pub(super) fn by_hail(&self, at: usize, fault: Condition) -> Condition {
        let start = self.s.clause_start(at, Break::Hard);
        let hail =
            (start..at + 4).any(|i| self.s.get(i).is_some_and(|x| says(self.stream, x, "hail")));
        match fault {
            Condition::Bent if hail => Condition::HailDented,
            _ => fault,
        }
    }

    /// "cracked at the bend" says where, "rusted bad" how much.
    pub(super) fn no_fault(&self, at: usize, item: &Item) -> bool {
        let before = |back: usize| at.checked_sub(back).and_then(|i| self.s.get(i));
        let place = before(1).is_some_and(|i| says(self.stream, i, "the"))
            && before(2).is_some_and(|i| i.is(Role::At) && i.meaning.fault.is_none())
            && item.last - item.first == 1;
        let fault = |i: &Item| i.meaning.fault.is_some_and(|f| f != Condition::Good);
        let much = says_any(self.stream, item, &["bad", "badly"])
            && (before(1).is_some_and(fault)
                || before(1).is_some_and(Item::idle) && before(2).is_some_and(fault));
        place || much
    }

    /// "plugged with flour dust", "full of water and slime": what it is plugged with.
    pub(super) fn substance(&self, at: usize) -> bool {
        let mut back = at;
        while let Some(before) = back.checked_sub(1).filter(|b| at - b <= 3) {
            let Some(item) = self.s.get(before) else {
                return false;
            };
            // "packed with cottonwood" is one phrase.
            let within = |token: u32| self.stream.is(token as usize, "with");
            if before + 1 == at
                && item.meaning.fault.is_some()
                && (item.first..item.last).any(within)
            {
                return true;
            }
            if says(self.stream, item, "with") {
                return before > 0
                    && self.s.get(before - 1).is_some_and(|i| {
                        i.meaning.fault.is_some_and(|f| f != Condition::Good) && !i.both()
                    });
            }
            if !item.idle() {
                return false;
            }
            back = before;
        }
        false
    }

    /// "good" counts only where it is said of something.
    pub(super) fn said_good(&self, at: usize) -> bool {
        let Some(item) = self.s.get(at) else {
            return false;
        };
        let long = item.last - item.first >= 2;
        // "a good wind takes it".
        let of_other = at > 0
            && self
                .s
                .get(at - 1)
                .is_some_and(|i| says(self.stream, i, "a"))
            && self.s.get(at + 1).is_some_and(|i| {
                i.gap == Gap::Space
                    && i.number.is_none()
                    && !i.meaning.of_trade()
                    && !i.meaning.of_grammar()
            });
        // "good for 125 amps" is a rating.
        let rated = self
            .s
            .get(at + 1)
            .is_some_and(|i| says(self.stream, i, "for"))
            && self.s.get(at + 2).is_some_and(|i| i.number.is_some());
        if of_other || rated {
            return false;
        }
        // "popping the lid okay belt's frayed": only talk, unless a verb says it of something.
        let talk = says_any(self.stream, item, &["okay", "ok", "alright"])
            && !(item.gap == Gap::Comma && self.s.get(at + 1).is_none());
        // "have good belts".
        let has = at
            .checked_sub(1)
            .map(|b| b - usize::from(self.s.role(b, Role::A) && b > 0));
        let has = has.and_then(|b| self.s.get(b));
        let has = has.is_some_and(|i| says_any(self.stream, i, &["has", "have", "got"]));
        if has && self.is_part(at + 1) && self.s.cut(at + 1) == Break::None {
            return true;
        }
        // "Good belt.", and no more.
        let ends = self.s.get(2).is_none_or(|i| i.gap >= Gap::Comma);
        if at == 0 && self.is_part(1) && ends {
            return true;
        }
        let mut back = at;
        while let Some(before) = back.checked_sub(1) {
            let Some(item) = self.s.get(before) else {
                return false;
            };
            if item.any(&[Role::Is, Role::ItIs]) || item.apostrophe {
                return true;
            }
            if self.is_part(before) {
                return !talk;
            }
            if !item.idle()
                && item.meaning.fault.is_none()
                && !item.any(&[Role::And, Role::No, Role::Hedge, Role::All, Role::Both])
                || at - before > 4
            {
                return long
                    && self
                        .s
                        .any(before, &[Role::There, Role::It, Role::This, Role::At]);
            }
            back = before;
        }
        let mut next = at + 1;
        while self.s.get(next).is_some_and(Item::idle) && next < at + 3 {
            next += 1;
        }
        long && self
            .s
            .get(next)
            .is_some_and(|i| i.is(Role::At) || i.meaning.say.is_none() && self.is_part(next))
    }

    /// "strike the whole thing about the oil": what is taken back is not told again.
    pub(super) fn taken_back(&self, at: usize) -> bool {
        let from = self.s.clause_start(at, Break::Soft);
        let word = |i: usize| {
            self.s
                .get(i)
                .is_some_and(|x| says_any(self.stream, x, &FORGET))
        };
        let is = |i: &usize| self.s.any(*i, &[Role::Is, Role::ItIs]);
        (from.max(at.saturating_sub(WHY))..at)
            .rev()
            .take_while(|i| !is(i))
            .any(word)
    }

    /// "the wire is exposed where the whip came off": how it came about, or where.
    pub(super) fn tells_why(&self, at: usize) -> bool {
        let goes_on = |i: &usize| {
            let paused = |x: &Item| self.stream.paused(x.first as usize);
            self.s.cut(i + 1) == Break::None && !self.s.get(i + 1).is_some_and(paused)
        };
        let place = (at.saturating_sub(WHY)..at)
            .rev()
            .take_while(goes_on)
            .find(|i| {
                self.s
                    .get(*i)
                    .is_some_and(|x| says(self.stream, x, "where"))
            });
        let before = place.and_then(|place| self.s.get(place.checked_sub(1)?));
        before.is_some_and(|x| x.meaning.fault.is_some_and(|f| f != Condition::Good))
    }

    /// "grease all over the roof, it's slick", "wasps in the housing, big nest": a hazard, told as
    /// one, and nothing of a part.
    pub(super) fn is_danger(
        &self,
        at: usize,
        fault: Condition,
        parts: &[(usize, Component)],
    ) -> bool {
        let near = |kind: HazardKind| {
            (at.saturating_sub(WHY)..at + WHY + 4).any(|i| {
                self.s
                    .get(i)
                    .is_some_and(|x| x.meaning.danger == Some(kind))
            })
        };
        let no_part = parts
            .iter()
            .all(|(named, part)| *named == at || *part == Component::RoofSurface);
        match fault {
            Condition::Dirty => no_part && near(HazardKind::SlipperySurface),
            // "loose cables to trip over": of no unit.
            Condition::Loose => {
                let lying = |(_, part): &(usize, Component)| {
                    matches!(part, Component::Wiring | Component::Conduit)
                };
                near(HazardKind::Trip) && self.kind(at).is_none() && parts.iter().all(lying)
            }
            Condition::Obstructed => {
                let nest = |i: &Item| ends_in(self.stream, i, &["nest", "nests", "hive"]);
                self.s.get(at).is_some_and(nest) && near(HazardKind::StingingInsects)
            }
            _ => false,
        }
    }
}
