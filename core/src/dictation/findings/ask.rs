//! What is asked for: parts that should be there, work that should be done, how grave it is.

use super::{Asked, Finder, FindingDraft};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::sentence::{Break, says_any};
use crate::survey::codes::{Certainty, Component, Condition, Severity};

impl Finder<'_, '_> {
    /// "no cover on the disconnect": a part that should be there and is not.
    pub(super) fn denied_part(&mut self, at: usize) {
        if self.named(at)
            || self.locative(at)
                && self
                    .s
                    .part(at)
                    .is_none_or(|p| self.stream.lexicon.head(p).is_none())
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
            // "neither the belt nor the sheave is worn" misses none.
            let neither = says_any(self.stream, item, &["neither", "nor"]);
            if item.is(Role::No) && !neither {
                no = Some(before);
                break;
            }
            if !item.idle() {
                break;
            }
            back = before;
        }
        let Some(no) = no else { return };
        // "a skylight, no guard on it": no fan's.
        let opening = (at.saturating_sub(14)..at).any(|i| {
            matches!(
                self.s.known_part(i),
                Some(Component::Skylight | Component::Hatch)
            )
        });
        if opening && self.component(at) == Some(Component::FanGuard) {
            return;
        }
        let end = self.s.clause_end(at, Break::Hard).min(at + 7);
        // "no trap on the drain, it just dribbles": a new statement.
        let end = (at + 1..end)
            .find(|i| self.s.role(*i, Role::It))
            .unwrap_or(end);
        let mut clause = (at + 1..end).take_while(|i| self.s.cut(*i) == Break::None);
        let other = clause.any(|i| {
            self.s
                .get(i)
                .is_some_and(|x| x.meaning.fault.is_some() || x.meaning.say.is_some())
        });
        let Some(part) = self.component(at) else {
            return;
        };
        let expected = matches!(
            part,
            Component::Filter
                | Component::Flashing
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
        let direct_drive = (at.saturating_sub(12)..at + 12).any(|i| self.s.role(i, Role::Mute));
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
            told: at,
            confidence: 0.82,
            why: None,
            corrects: false,
            spoken: false,
            denies: false,
            plain: false,
        });
    }

    /// "replace it", "needs a new belt": an action for a finding of this sentence or of one before.
    /// Work alone tells of no condition.
    pub(super) fn request(&mut self, at: usize, item: &Item) {
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
        if self
            .out
            .iter()
            .rev()
            .take(40)
            .any(|f| f.who == who && f.part == part)
        {
            return;
        }
        self.asked.push(Asked {
            who,
            part,
            action,
            first: named.min(at),
            next: named.max(at) + 1,
        });
    }

    pub(super) fn request_part(&self, at: usize) -> Option<(usize, Component)> {
        let ahead = (at + 1..at + 5)
            .take_while(|i| self.s.cut(*i) < Break::Soft)
            .find(|i| self.is_part(*i));
        // "the screen needs replaced, ...": its part stands before the asking.
        let passive = at > 0
            && self.s.get(at).is_some_and(|i| i.meaning.done.is_some())
            && self.s.role(at - 1, Role::Need);
        let near = ahead.filter(|q| {
            !passive
                && !self.has_predicate(*q)
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
    pub(super) fn weights(&mut self) {
        let mut from = 0;
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
            while self.out.get(from).is_some_and(|f| f.next + 40 < at) {
                from += 1;
            }
            let nearest = self
                .out
                .iter_mut()
                .skip(from)
                .take_while(|f| f.first <= at + 40)
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
