//! The part that a condition belongs to, by the shapes of spoken English.

use super::{BACK, Finder};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::sentence::{Break, begins_in, ends_in, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::{Component, Condition};

/// What a part does, as one word.
const ACTS: [&str; 12] = [
    "growls",
    "hums",
    "squeals",
    "rattles",
    "wobbles",
    "vibrates",
    "grinds",
    "shakes",
    "screeches",
    "squeaks",
    "knocks",
    "whines",
];

impl Finder<'_, '_> {
    /// The parts that the condition at `at` is said of, with the items that name them.
    pub(super) fn parts_of(&mut self, at: usize, fault: Condition) -> Vec<(usize, Component)> {
        if let Some(part) = self.misfit(at, fault) {
            let own = self.by_name(at, fault) && !self.beyond(part);
            let part = own.then(|| Some((part, self.component(part)?)));
            return part.flatten().into_iter().collect();
        }
        if self.lies_on_roof(at, fault) {
            return vec![(at, Component::RoofSurface)];
        }
        let Some((chosen, before)) = self.chosen(at, fault) else {
            return self.without_part(at, fault);
        };
        let mut parts = vec![chosen];
        if before {
            self.coordinate_back(chosen, at, fault, &mut parts);
        } else {
            self.coordinate_ahead(chosen, &mut parts);
        }
        parts
            .into_iter()
            .filter_map(|p| Some((p, self.component_in(p, Some(fault))?)))
            .collect()
    }

    /// The item that names the part, and whether it stands before the condition.
    fn chosen(&self, at: usize, fault: Condition) -> Option<(usize, bool)> {
        let back = self.part_before(at, fault);
        let ahead = self.part_ahead(at, fault);
        let adjacent = back.filter(|p| self.direct(p + 1, at) && self.s.cut(at) == Break::None);
        let copula = back.filter(|p| self.has_copula(*p, at));
        let straight = copula.filter(|p| self.straight(*p, at));
        let attributive = ahead.filter(|q| self.attributive(at, *q, fault, back));
        let placed = ahead.filter(|q| self.placed(at, *q, fault, back));
        let told = placed.filter(|_| self.there_is(at));
        let spent = back.is_none_or(|p| self.taken_at(p));
        if let Some(q) = told {
            Some((q, false))
        } else if let Some(p) = straight.filter(|_| {
            attributive.is_none() || fault != Condition::Missing && !self.transitive(at)
        }) {
            Some((p, true))
        } else if let Some(p) = adjacent.filter(|p| {
            !self.taken_at(*p) && (fault != Condition::Missing || attributive.is_none())
        }) {
            Some((p, true))
        } else if let Some(q) = attributive {
            Some((q, false))
        } else if let Some(q) = placed.filter(|_| {
            back.is_some_and(|p| self.taken_at(p)) && !(at > 0 && self.s.role(at - 1, Role::And))
        }) {
            Some((q, false))
        } else if let Some(p) = copula.filter(|p| self.same_clause(*p, at)).or(adjacent) {
            Some((p, true))
        } else if let Some(q) = placed.filter(|_| spent || !self.linked(back, at)) {
            Some((q, false))
        } else {
            back.filter(|p| self.linked(Some(*p), at) || self.stands(*p, at))
                .or_else(|| self.said_of_it(at, fault))
                .map(|p| (p, true))
        }
    }

    /// "debris on the roof", "no water standing on the roof".
    fn lies_on_roof(&self, at: usize, fault: Condition) -> bool {
        matches!(fault, Condition::Debris | Condition::Ponding)
            && (at + 1..at + 4).any(|i| {
                self.s
                    .get(i)
                    .is_some_and(|x| x.is(Role::Site) && self.ends_in_roof(x))
            })
    }

    /// "the belt is cracked", "the belt's cracked", "the belt has come off".
    fn has_copula(&self, part: usize, at: usize) -> bool {
        let apostrophe = |i: usize| self.s.get(i).is_some_and(|x| x.apostrophe);
        let is = |i: usize| {
            self.s
                .any(i, &[Role::Is, Role::ItIs, Role::Hedge, Role::SameWord])
        };
        self.is_verbal(at)
            || (part + 1..at).any(|i| is(i) || apostrophe(i))
            || apostrophe(part)
            || self.has_become(at)
    }

    fn is_verbal(&self, at: usize) -> bool {
        self.s.get(at).is_some_and(|item| self.verbal(item))
    }

    /// Nothing but the sentence's own small words stands between a part and what is said of it.
    fn straight(&self, part: usize, at: usize) -> bool {
        (part + 1..at).all(|i| {
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
                        Role::All,
                    ])
                    || x.meaning.part.is_some()
                    || self.named(i)
            }) && (self.s.cut(i) < Break::Soft || self.named(i) && self.named(i - 1))
        })
    }

    /// "a cracked belt", "missing two screws", "a nest is blocking the flue cap".
    fn attributive(&self, at: usize, part: usize, fault: Condition, back: Option<usize>) -> bool {
        let reaching = self.reaching(at);
        let words = |least| {
            self.s
                .get(at)
                .is_some_and(|item| item.last - item.first >= least)
        };
        // "the bearing growls": a verb describes nothing behind it.
        let acts = |item| says_any(self.stream, item, &ACTS);
        if self.s.get(at).is_some_and(acts) || self.is_verbal(at) && !reaching && back.is_some() {
            return false;
        }
        let missing = fault == Condition::Missing;
        // "somebody's boot bent the conduit": done to it.
        let said = at > 0 && self.s.any(at - 1, &[Role::Is, Role::ItIs]);
        let acted = matches!(
            fault,
            Condition::Bent
                | Condition::Broken
                | Condition::Clogged
                | Condition::Cracked
                | Condition::Damaged
                | Condition::Disconnected
                | Condition::HailDented
                | Condition::Obstructed
                | Condition::Torn
        );
        let done = acted && back.is_none() && !said;
        let article = reaching || done || matches!(fault, Condition::Missing | Condition::Good);
        let plain = |x: &Item| {
            (x.idle() && (!x.is(Role::A) || article))
                || (x.meaning.fault.is_some() && !x.both())
                || x.is(Role::And)
                || reaching && says_any(self.stream, x, &["blocking", "covering"])
                || (missing && x.number.is_some())
        };
        // "the nameplate's gone, two rivets": only "missing" takes an object.
        let object = self.transitive(at) || self.s.cut(at) > Break::None;
        (at + 1..part).all(|i| self.s.get(i).is_some_and(plain))
            && !self.has_predicate(part)
            && (!missing || object)
            && (fault != Condition::Good || part == at + 1 || words(2))
    }

    /// A condition of several words that ends in a verb with an object: "is blocking".
    fn reaching(&self, at: usize) -> bool {
        let blocks = |i: &Item| says_any(self.stream, i, &["blocking", "covering"]);
        self.s.get(at + 1).is_some_and(blocks)
            || self.s.get(at).is_some_and(|item| {
                let to = ["blocking", "blocks", "covering"];
                item.last - item.first > 1 && ends_in(self.stream, item, &to)
            })
    }

    /// "a leak at the coil", "it's rusted on the pan".
    fn placed(&self, at: usize, part: usize, fault: Condition, back: Option<usize>) -> bool {
        // "the pan is rusted and it's dripping on the curb": "it" is the pan.
        let sense = |part: &Component| self.stream.lexicon.sense(*part, fault).is_some();
        let its = |i: &Item| says(self.stream, i, "its");
        // "its basically gone off the suction line".
        let small = |i: &usize| self.s.get(*i).is_some_and(|x| x.idle() && !its(x));
        let verb = (0..at)
            .rev()
            .find(|i| !small(i))
            .and_then(|i| self.s.get(i));
        let it = verb.is_some_and(its) && back.is_some();
        if it && self.last.fitting(sense).is_some() {
            return false;
        }
        let between = |roles: &[Role]| (at + 1..part).any(|i| self.s.any(i, roles));
        // "it's split near the parapet", "a crack by the hatch".
        let landmark = matches!(
            self.s.known_part(part),
            Some(Component::Parapet | Component::Hatch | Component::Skylight)
        );
        // "a big nest behind the control cover".
        let behind = |i: usize| {
            self.s
                .get(i)
                .is_some_and(|x| says(self.stream, x, "behind"))
        };
        let hidden = fault == Condition::Obstructed && (at + 1..part).any(behind);
        let beside = landmark && between(&[Role::Near]) || hidden;
        // "oil all over the compressor".
        let hung = |i: &Item| i.last - i.first > 1 && ends_in(self.stream, i, &["over", "on"]);
        let hung = self.s.get(at).is_some_and(hung);
        (hung || between(&[Role::At, Role::Near]))
            && !beside
            && !between(&[Role::And])
            && !self.has_predicate(part)
    }

    /// "there's oil on the line": what there is has its place behind it.
    fn there_is(&self, at: usize) -> bool {
        let near = at.saturating_sub(2)..at;
        let there = near
            .clone()
            .find(|i| self.s.any(*i, &[Role::There, Role::No]) && self.s.cut(*i) > Break::None)
            .or_else(|| near.clone().find(|i| self.s.role(*i, Role::There)));
        there.is_some_and(|i| {
            let plain = (i + 1..at).all(|j| self.direct(j, j + 1) || self.s.role(j, Role::No));
            plain && (i == 0 || !self.is_part(i - 1) && !self.named(i - 1))
        })
    }

    /// The part that cannot be in this condition, though it is plainly said of it: "the light is
    /// leaking".
    fn misfit(&self, at: usize, fault: Condition) -> Option<usize> {
        let mut back = at;
        let mut said = self.is_verbal(at) && self.by_name(at, fault);
        while let Some(before) = back
            .checked_sub(1)
            .filter(|b| self.s.cut(b + 1) == Break::None)
        {
            let item = self.s.get(before)?;
            if self.is_part(before) {
                let said = said || item.apostrophe;
                let placed = self.locative(before);
                let of = said && !placed && !self.fits(before, fault);
                return of.then_some(before);
            }
            said |= item.any(&[Role::Is, Role::ItIs]);
            if !item.idle() && !item.any(&[Role::Is, Role::No, Role::Hedge]) {
                return None;
            }
            back = before;
        }
        None
    }

    /// The condition is called by its own name, "torn" and not "ripped": it means itself, of
    /// whatever part it is said.
    pub(super) fn by_name(&self, at: usize, fault: Condition) -> bool {
        self.s.get(at).is_some_and(|item| {
            let mut words = fault.code().split('_');
            let same = |token: u32| {
                let word = words.next();
                word.is_some_and(|word| self.stream.is(token as usize, word))
            };
            // "is not running" is one phrase.
            let verb = begins_in(self.stream, item, &["is", "are"]);
            (item.first + u32::from(verb)..item.last).all(same) && words.next().is_none()
        })
    }

    /// "the line lies across the roof with nothing supporting it": a condition that ends in "it"
    /// is said of the one part before it that can be in it.
    fn said_of_it(&self, at: usize, fault: Condition) -> Option<usize> {
        let it = ends_in(self.stream, self.s.get(at)?, &["it", "them"]);
        let from = self
            .s
            .clause_start(at, Break::Hard)
            .max(at.saturating_sub(BACK));
        let mut fits = (from..at)
            .filter(|i| it && self.is_part(*i) && !self.s.is_muted(*i) && self.fits(*i, fault));
        let part = fits.next()?;
        fits.next().is_none().then_some(part)
    }

    /// "there's a drain by the northeast corner packed with leaves": a part, where it is, and what
    /// is the matter with it.
    fn stands(&self, part: usize, at: usize) -> bool {
        let placed = self.s.any(part + 1, &[Role::At, Role::Near]);
        let one_clause = (part + 1..at + 1).all(|i| self.s.cut(i) == Break::None);
        let other = (part + 1..at).any(|i| {
            self.is_part(i)
                || self.s.get(i).is_some_and(|x| {
                    let m = x.meaning;
                    x.any(&[Role::Is, Role::ItIs, Role::It, Role::There, Role::No])
                        || m.label.is_some()
                        || m.danger.is_some()
                        || m.say.is_some()
                })
        });
        placed && one_clause && !other && at - part < BACK
    }

    /// "... has pulled loose", "... have come off".
    fn has_become(&self, at: usize) -> bool {
        let has = at.checked_sub(1).and_then(|b| self.s.get(b));
        has.is_some_and(|x| says_any(self.stream, x, &["has", "have"]))
    }

    /// Nothing new begins between a part and the condition: "are dry and squealing".
    fn same_clause(&self, part: usize, at: usize) -> bool {
        (part + 1..=at).all(|i| {
            self.s.cut(i) == Break::None
                || self.s.role(i, Role::And)
                    && (part + 1..i).any(|b| {
                        self.s
                            .get(b)
                            .is_some_and(|x| says(self.stream, x, "between"))
                    })
                || self
                    .s
                    .get(i)
                    .is_some_and(|x| x.is(Role::And) && x.gap < Gap::Comma)
                    && !self
                        .s
                        .any(i + 1, &[Role::A, Role::There, Role::It, Role::ItIs])
        })
    }

    pub(super) fn taken_at(&self, at: usize) -> bool {
        self.taken.get(at).copied().unwrap_or(false)
    }

    /// "is missing the/its/two ...": the part that is missing comes behind.
    pub(super) fn transitive(&self, at: usize) -> bool {
        let takes = self.s.get(at).is_some_and(|i| {
            let words = ["missing", "lost", "took", "stole", "robbed", "stolen"];
            ends_in(self.stream, i, &words)
        });
        // "missing about half its screws".
        let mut next = at + 1;
        while next < at + 5
            && self.s.cut(next) == Break::None
            && self.s.get(next).is_some_and(|i| {
                let sound = says_any(self.stream, i, &["to", "too", "for"]);
                i.idle() || i.number.is_some() || i.is(Role::A) || sound
            })
        {
            next += 1;
        }
        let just = self
            .s
            .get(at + 1)
            .is_some_and(|i| says(self.stream, i, "just"));
        takes && !just && self.s.cut(next) == Break::None && self.is_part(next)
    }
}
