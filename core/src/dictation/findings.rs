//! Findings: which condition belongs to which part, how sure, how grave, what to do.
//!
//! A condition looks for its part by the shapes of spoken English: said of a part before it
//! ("the belt is cracked"), before its part ("a cracked belt"), or with a place behind it
//! ("rust on the cabinet"). A condition without a part makes nothing.

use super::items::Item;
use super::lexicon::meaning::{Part, Role};
use super::numbers::Stream;
use super::sentence::{Break, Sentence};
use super::tokens::Gap;
use crate::survey::codes::{Action, Certainty, Component, Condition, EquipmentKind, Severity};

/// A finding as drafted, before its unit and evidence are written out.
#[derive(Debug, Clone)]
pub(crate) struct FindingDraft {
    pub(crate) who: usize,
    pub(crate) part: Component,
    pub(crate) fault: Condition,
    pub(crate) certainty: Certainty,
    pub(crate) severity: Severity,
    pub(crate) action: Option<Action>,
    pub(crate) first: usize,
    pub(crate) next: usize,
    pub(crate) confidence: f64,
    pub(crate) why: Option<&'static str>,
    /// It takes the place of the finding before it.
    pub(crate) corrects: bool,
    /// Severity or action were spoken, not taken from the defaults.
    pub(crate) spoken: bool,
    /// Only the work was spoken; the condition is a guess.
    pub(crate) implied: bool,
}

/// Furthest that a condition looks for its part, in items.
const BACK: usize = 9;
const AHEAD: usize = 6;

/// What the sentence before leaves behind for "it".
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct LastPart {
    pub(crate) part: Option<Component>,
}

pub(crate) struct Finder<'s, 'a> {
    pub(crate) s: &'s mut Sentence<'a>,
    pub(crate) stream: Stream<'a>,
    /// Kind of the unit that each subject of the sentence is.
    pub(crate) kinds: &'s [Option<EquipmentKind>],
    /// Item ranges that name a unit.
    pub(crate) mentions: &'s [(usize, usize)],
    pub(crate) last: LastPart,
    pub(crate) out: Vec<FindingDraft>,
    /// Parts that have a condition already, by item.
    taken: Vec<bool>,
}

impl<'s, 'a> Finder<'s, 'a> {
    pub(crate) fn new(
        s: &'s mut Sentence<'a>,
        stream: Stream<'a>,
        kinds: &'s [Option<EquipmentKind>],
        mentions: &'s [(usize, usize)],
        last: LastPart,
    ) -> Self {
        let taken = vec![false; s.items.len()];
        Self {
            s,
            stream,
            kinds,
            mentions,
            last,
            out: Vec::new(),
            taken,
        }
    }

    /// Drafts every finding of the sentence.
    pub(crate) fn run(mut self) -> (Vec<FindingDraft>, LastPart) {
        let mut correcting = 0usize;
        for at in 0..self.s.items.len() {
            let Some(item) = self.s.get(at) else { break };
            correcting = correcting.saturating_sub(1);
            if item.is(Role::Correct) && !self.s.is_muted(at) {
                correcting = 7;
            }
            if self.s.is_muted(at) || self.named(at) {
                continue;
            }
            let before = self.out.len();
            if let Some(fault) = item.meaning.fault {
                self.condition(at, item, fault);
            } else if item.meaning.part.is_some() {
                self.denied_part(at);
            }
            if self.out.len() > before {
                if correcting > 0 {
                    if let Some(draft) = self.out.get_mut(before) {
                        draft.corrects = true;
                    }
                    correcting = 0;
                }
            } else if item.meaning.say.is_some() || item.meaning.done.is_some() {
                self.request(at, item);
            }
            if let Some(Part::Known(part)) = item.meaning.part.filter(|_| !self.locative(at)) {
                self.last.part = Some(part);
            }
        }
        self.weights();
        self.most_telling();
        (self.out, self.last)
    }

    /// Of several conditions that one sentence gives a part, the vaguer are left out: dirt in
    /// what is clogged, damage that is a tear.
    fn most_telling(&mut self) {
        let all: Vec<(usize, Component, Condition)> = self
            .out
            .iter()
            .filter(|f| f.certainty != Certainty::Absent)
            .map(|f| (f.who, f.part, f.fault))
            .collect();
        self.out.retain(|f| {
            let others = |wanted: &dyn Fn(Condition) -> bool| {
                all.iter().any(|(who, part, fault)| {
                    *who == f.who && *part == f.part && *fault != f.fault && wanted(*fault)
                })
            };
            let vague = match f.fault {
                Condition::Good | Condition::Damaged => others(&|c| c != Condition::Good),
                Condition::Dirty | Condition::Debris | Condition::Ponding => {
                    others(&|c| c == Condition::Clogged)
                }
                Condition::Missing => others(&|c| c == Condition::LooseFasteners),
                Condition::Bent => others(&|c| c == Condition::HailDented),
                Condition::Worn => others(&|c| {
                    matches!(c, Condition::Broken | Condition::Cracked | Condition::Frayed | Condition::Torn)
                }),
                _ => false,
            };
            f.certainty == Certainty::Absent || !vague
        });
    }

    fn named(&self, at: usize) -> bool {
        self.mentions
            .iter()
            .any(|(from, to)| (*from..*to).contains(&at))
    }

    fn is_part(&self, at: usize) -> bool {
        self.s.part(at).is_some() && !self.named(at) && self.s.get(at).is_some_and(|i| !i.both())
    }

    fn kind(&self, at: usize) -> Option<EquipmentKind> {
        self.s
            .who
            .get(at)
            .and_then(|w| self.kinds.get(*w))
            .copied()
            .flatten()
    }

    /// A part that only says where: "the belt on the blower".
    fn locative(&self, at: usize) -> bool {
        let mut back = at;
        for _ in 0..3 {
            let Some(before) = back.checked_sub(1) else {
                return false;
            };
            let Some(item) = self.s.get(before) else {
                return false;
            };
            if item.is(Role::At) && !item.is(Role::There) {
                return before > 0
                    && (self.is_part(before - 1)
                        || (before > 1
                            && self.s.get(before - 1).is_some_and(Item::idle)
                            && self.is_part(before - 2)));
            }
            if !item.idle() {
                return false;
            }
            back = before;
        }
        false
    }

    /// The component that a part item stands for, given its neighbours.
    fn component(&self, at: usize) -> Option<Component> {
        let part = self.s.part(at)?;
        let Some(head) = self.stream.lexicon.head(part) else {
            return self.s.known_part(at);
        };
        let beside = |i: usize| {
            self.s
                .known_part(i)
                .and_then(|p| head.beside.get(&p))
                .copied()
        };
        if let Some(found) = at.checked_sub(1).and_then(beside) {
            return Some(found);
        }
        // "insulation on the duct".
        let mut ahead = at + 1;
        while ahead < at + 5
            && self
                .s
                .get(ahead)
                .is_some_and(|i| i.idle() || i.any(&[Role::At, Role::Is, Role::And]))
            && self.s.cut(ahead) < Break::Hard
        {
            ahead += 1;
        }
        if (at + 1..ahead).any(|i| self.s.role(i, Role::At))
            && let Some(found) = beside(ahead)
        {
            return Some(found);
        }
        // Said a moment ago: "the gas line ... two screws".
        let start = self.s.clause_start(at, Break::Hard);
        if let Some(found) = (start..at).rev().take(7).find_map(beside) {
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

    fn direct(&self, from: usize, to: usize) -> bool {
        (from..to).all(|i| self.s.get(i).is_some_and(Item::idle))
    }

    /// Whether the part at `at` is said to be something itself: "… screen is torn".
    fn has_predicate(&self, at: usize) -> bool {
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

    fn condition(&mut self, at: usize, item: &Item, fault: Condition) {
        if fault == Condition::Good && !self.said_good(at) {
            return;
        }
        if self.substance(at) {
            return;
        }
        if item.both() {
            if let Some(part) = self.s.known_part(at) {
                self.draft(at, &[(at, part)], fault);
            }
            return;
        }
        // "rusted loose": two conditions in one breath keep the first part.
        let parts = self.parts_of(at, fault);
        let parts: Vec<_> = parts
            .into_iter()
            .filter(|(_, part)| !self.stream.lexicon.never.contains(&(*part, fault)))
            .collect();
        if !parts.is_empty() {
            self.draft(at, &parts, fault);
        }
    }

    /// "plugged with flour dust", "full of water and slime": what it is plugged with.
    fn substance(&self, at: usize) -> bool {
        let mut back = at;
        while let Some(before) = back.checked_sub(1).filter(|b| at - b <= 3) {
            let Some(item) = self.s.get(before) else {
                return false;
            };
            if super::sentence::says(self.stream, item, "with") {
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
    fn said_good(&self, at: usize) -> bool {
        let Some(item) = self.s.get(at) else {
            return false;
        };
        let long = item.last - item.first >= 2;
        let mut back = at;
        while let Some(before) = back.checked_sub(1) {
            let Some(item) = self.s.get(before) else {
                return false;
            };
            if item.any(&[Role::Is, Role::ItIs]) || item.apostrophe {
                return true;
            }
            if self.is_part(before) {
                return true;
            }
            if !item.idle()
                && item.meaning.fault.is_none()
                && !item.any(&[Role::And, Role::No, Role::Hedge])
                || at - before > 4
            {
                return long
                    && self
                        .s
                        .any(before, &[Role::There, Role::It, Role::This, Role::At]);
            }
            back = before;
        }
        long && self
            .s
            .get(at + 1)
            .is_some_and(|i| i.is(Role::At) || i.meaning.say.is_none() && self.is_part(at + 1))
    }

    /// The parts that the condition at `at` is said of, with the items that name them.
    fn parts_of(&mut self, at: usize, fault: Condition) -> Vec<(usize, Component)> {
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
                        && !(x.is(Role::A)
                            && !matches!(fault, Condition::Missing | Condition::Good)))
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

    fn taken_at(&self, at: usize) -> bool {
        self.taken.get(at).copied().unwrap_or(false)
    }

    /// "is missing the/its/two ...": the part that is missing comes behind.
    fn transitive(&self, at: usize) -> bool {
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
    fn linked(&self, part: Option<usize>, at: usize) -> bool {
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

    fn part_before(&self, at: usize) -> Option<usize> {
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

    fn part_ahead(&self, at: usize) -> Option<usize> {
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
    fn coordinate_back(&self, part: usize, fault: usize, parts: &mut Vec<usize>) {
        let plural = (part + 1..fault).any(|i| {
            self.s.get(i).is_some_and(|x| {
                ["are", "were", "both", "look", "have", "all"]
                    .iter()
                    .any(|w| super::sentence::says(self.stream, x, w))
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

    fn directly_joined(&self, a: usize, b: usize) -> bool {
        b - a <= 3
            && self.s.cut(a) < Break::Hard
            && !(a > 0 && self.s.get(a - 1).is_some_and(|i| i.meaning.fault.is_some()))
    }

    /// "dirty coil and filters".
    fn coordinate_ahead(&self, part: usize, parts: &mut Vec<usize>) {
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
    fn without_part(&mut self, at: usize, fault: Condition) -> Vec<(usize, Component)> {
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

    fn links_to_unit(&self, at: usize) -> bool {
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

    /// Whether a denial reaches the item at `at`.
    fn denied(&self, at: usize, parts: &[(usize, Component)]) -> bool {
        let from = parts.iter().map(|(p, _)| *p).min().unwrap_or(at).min(at);
        let start = self.s.clause_start(at, Break::Hard);
        let lowest = start.max(from.saturating_sub(5)).max(at.saturating_sub(10));
        let mut back = at;
        let mut or = false;
        while back > lowest {
            back -= 1;
            let Some(item) = self.s.get(back) else { break };
            if item.is(Role::No) && !item.is(Role::Correct) {
                // "no, it's cracked" is an answer, not a denial.
                let answer = self.s.get(back + 1).is_some_and(|i| i.gap >= Gap::Comma)
                    && super::sentence::says(self.stream, item, "no");
                return !answer;
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
            .is_some_and(|i| i.gap < Gap::Stop && super::sentence::says(self.stream, i, "none"))
    }

    fn draft(&mut self, at: usize, parts: &[(usize, Component)], fault: Condition) {
        let denied = self.denied(at, parts);
        let mut fault = fault;
        let hedged = self.s.hedged.get(at).copied().unwrap_or(false);
        for (named, part) in parts {
            let part = *part;
            let head = self
                .s
                .part(*named)
                .filter(|p| self.stream.lexicon.head(*p).is_some_and(|h| h.fastener));
            if head.is_some()
                && matches!(
                    fault,
                    Condition::Missing
                        | Condition::Loose
                        | Condition::Worn
                        | Condition::Broken
                        | Condition::Disconnected
                )
            {
                fault = Condition::LooseFasteners;
            }
            let (mut certainty, mut said) = if denied {
                (Certainty::Absent, fault)
            } else if hedged && fault != Condition::Good {
                (Certainty::Suspected, fault)
            } else {
                (Certainty::Observed, fault)
            };
            if denied && fault == Condition::Good {
                // "not good" is bad, in a way that was not said.
                certainty = Certainty::Observed;
                said = Condition::Damaged;
            }
            let (severity, action) = if certainty == Certainty::Absent {
                (Severity::Note, None)
            } else {
                self.stream.lexicon.consequence(part, said)
            };
            let (first, next) = ((*named).min(at), (*named).max(at) + 1);
            let trust = self
                .s
                .items
                .get(first..next)
                .unwrap_or_default()
                .iter()
                .map(|i| i.trust)
                .fold(1.0, f32::min);
            let guessed = *named == at
                && fault != Condition::Ponding
                && self.s.get(at).is_some_and(|i| !i.both());
            let why = guessed.then_some("the part was not named; it is a guess");
            let sure = if guessed { 0.6 } else { 0.9 };
            if let Some(taken) = self.taken.get_mut(*named) {
                *taken = true;
            }
            self.s.use_up(first, next);
            self.out.push(FindingDraft {
                who: self.s.who.get(at).copied().unwrap_or(0),
                part,
                fault: said,
                certainty,
                severity,
                action,
                first,
                next,
                confidence: sure * f64::from(trust),
                why,
                corrects: false,
                spoken: false,
                implied: false,
            });
        }
        if let Some((_, part)) = parts.first() {
            self.last.part = Some(*part);
        }
    }

    /// "no cover on the disconnect": a part that should be there and is not.
    fn denied_part(&mut self, at: usize) {
        if self.named(at)
            || self.locative(at)
                && !self
                    .s
                    .part(at)
                    .is_some_and(|p| self.stream.lexicon.head(p).is_some())
        {
            return;
        }
        let mut back = at;
        let mut no = None;
        for _ in 0..3 {
            let Some(before) = back
                .checked_sub(1)
                .filter(|b| self.s.cut(b + 1) == Break::None)
            else {
                break;
            };
            let Some(item) = self.s.get(before) else {
                break;
            };
            if item.is(Role::No) {
                no = Some(before);
                break;
            }
            if !item.idle() {
                break;
            }
            back = before;
        }
        let Some(no) = no else { return };
        let end = self.s.clause_end(at, Break::Hard).min(at + 7);
        let other = (at + 1..end).any(|i| {
            self.s
                .get(i)
                .is_some_and(|x| x.meaning.fault.is_some() || x.meaning.say.is_some())
                && self.s.cut(i) == Break::None
        });
        let Some(part) = self.component(at) else {
            return;
        };
        let expected = matches!(
            part,
            Component::Filter
                | Component::OutdoorAirScreen
                | Component::FanGuard
                | Component::ControlCover
                | Component::AccessPanel
                | Component::CondensateTrap
                | Component::FlueCap
                | Component::Disconnect
                | Component::Receptacle
                | Component::Nameplate
                | Component::LineInsulation
                | Component::DuctInsulation
                | Component::VibrationIsolator
                | Component::WalkwayPad
                | Component::CondensateDrain
                | Component::Belt
        );
        if other
            || !expected
            || (no + 1..at).any(|i| self.s.get(i).is_some_and(|x| x.number.is_some()))
        {
            return;
        }
        let direct_drive = self.s.items.iter().any(|i| i.is(Role::Mute));
        if part == Component::Belt && direct_drive {
            return;
        }
        let (severity, action) = self.stream.lexicon.consequence(part, Condition::Missing);
        self.s.use_up(no, at + 1);
        let certainty = if self.s.hedged.get(at) == Some(&true) {
            Certainty::Suspected
        } else {
            Certainty::Observed
        };
        self.out.push(FindingDraft {
            who: self.s.who.get(at).copied().unwrap_or(0),
            part,
            fault: Condition::Missing,
            certainty,
            severity,
            action,
            first: no,
            next: at + 1,
            confidence: 0.82,
            why: None,
            corrects: false,
            spoken: false,
            implied: false,
        });
    }

    /// "replace it", "needs a new belt": an action for a finding, or a finding by itself.
    fn request(&mut self, at: usize, item: &Item) {
        let need = self.s.asked_for(at) || item.is(Role::Need);
        let action = match (item.meaning.say, item.meaning.done) {
            (Some(action), _) => action,
            (None, Some(action)) if need => action,
            _ => return,
        };
        if self.s.is_used(at) || (at > 0 && self.s.role(at - 1, Role::No)) {
            return;
        }
        let part = self.request_part(at);
        let who = self.s.who.get(at).copied().unwrap_or(0);
        // The finding that it answers: of the part named, or the last one for "it".
        let matching = self.out.iter_mut().rev().take(4).filter(|f| {
            f.who == who && f.certainty != Certainty::Absent && f.fault != Condition::Good
        });
        let mut answered = false;
        for draft in matching {
            let same = part.is_none_or(|(_, p)| p == draft.part);
            if same && at >= draft.first && at - draft.first < 14 {
                if draft.next.saturating_sub(1) <= at || draft.first >= at {
                    draft.action = Some(action);
                    draft.spoken = true;
                }
                answered = true;
                if part.is_none() {
                    let _ = draft;
                }
                break;
            }
        }
        if answered {
            self.s.use_up(at, at + 1);
            return;
        }
        let Some((named, part)) = part.filter(|_| need) else {
            return;
        };
        let Some(fault) = self.stream.lexicon.defaults.implies.get(&action).copied() else {
            return;
        };
        let fault = match (part, fault) {
            (Component::Filter, Condition::Worn) => Condition::Dirty,
            (Component::Nameplate, Condition::Worn) => Condition::Weathered,
            _ => fault,
        };
        if self.out.iter().any(|f| f.who == who && f.part == part) {
            return;
        }
        let (severity, _) = self.stream.lexicon.consequence(part, fault);
        let (first, next) = (named.min(at), named.max(at) + 1);
        self.s.use_up(first, next);
        self.out.push(FindingDraft {
            who,
            part,
            fault,
            certainty: Certainty::Observed,
            severity,
            action: Some(action),
            first,
            next,
            confidence: 0.7,
            why: Some("only the work was spoken; the condition is a guess"),
            corrects: false,
            spoken: true,
            implied: true,
        });
    }

    fn request_part(&self, at: usize) -> Option<(usize, Component)> {
        let ahead = (at + 1..at + 5)
            .take_while(|i| self.s.cut(*i) < Break::Soft)
            .find(|i| self.is_part(*i));
        let near = ahead.filter(|q| {
            !self.has_predicate(*q)
                && (at + 1..*q).all(|i| {
                    self.s
                        .get(i)
                        .is_some_and(|x| x.idle() || x.number.is_some())
                })
        });
        let back = || {
            (at.saturating_sub(6)..at)
                .rev()
                .take_while(|p| self.s.cut(p + 1) < Break::Soft)
                .find(|p| self.is_part(*p) && !self.locative(*p))
        };
        let found = near.or_else(back)?;
        Some((found, self.component(found)?))
    }

    /// Spoken weight: "that's urgent", "no big deal".
    fn weights(&mut self) {
        for at in 0..self.s.items.len() {
            let Some(severity) = self
                .s
                .get(at)
                .and_then(|i| i.meaning.weight())
                .filter(|_| !self.s.is_muted(at))
            else {
                continue;
            };
            if at > 0 && self.s.role(at - 1, Role::No) && severity != Severity::Minor {
                continue;
            }
            let nearest = self
                .out
                .iter_mut()
                .filter(|f| f.certainty != Certainty::Absent && f.fault != Condition::Good)
                .filter(|f| f.first <= at + 5 && at <= f.next + 12)
                .min_by_key(|f| {
                    if at >= f.next {
                        at - f.next
                    } else {
                        (f.first.max(at) - at) + 3
                    }
                });
            if let Some(draft) = nearest {
                // "a small crack" is no weight for a finding two clauses away.
                let weak = self.s.items.get(at).is_some_and(|i| i.is(Role::Filler));
                if weak && !(draft.first..draft.next + 1).contains(&at) && at + 1 != draft.first {
                    continue;
                }
                draft.severity = severity;
                draft.spoken = true;
            }
        }
    }
}

impl Item {
    fn weight_only(&self) -> bool {
        self.meaning.weight().is_some()
    }
}
