//! Several units at once: "both", "all of them but the newest".
//!
//! "Both" is the two units last named, never every unit there is.

use super::tags::plain_numbers;
use super::{Subject, Subjects};
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::Sentence;
use crate::dictation::tokens::Gap;
use crate::survey::codes::EquipmentKind;

/// Furthest behind "all of them" that "except seven" stands, in items.
const LEFT_OUT: usize = 12;

impl Subjects {
    /// Keeps the units named together, or the last two named one after the other.
    pub(super) fn remember(&mut self, subject: &Subject) {
        if subject.tags.len() > 1 {
            self.together = subject.clone();
            return;
        }
        let (Some(new), Some(old)) = (subject.tags.first(), self.current.tags.first()) else {
            return;
        };
        if self.together.tags.contains(new) || self.current.tags.len() > 1 || new == old {
            return;
        }
        self.together = Subject {
            tags: vec![old.clone(), new.clone()],
            kind: subject.kind,
            doubt: subject.doubt.or(self.current.doubt),
        };
    }

    /// "on both", "both units": the two last named, if the talk is not of them already.
    pub(super) fn both(&self, s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> Option<Subject> {
        if self.current.tags.len() > 1 {
            return None;
        }
        let of_part = |i: usize| {
            s.get(i)
                .is_some_and(|x| x.gap < Gap::Comma && x.meaning.part.is_some())
        };
        let on = at > 0
            && (s.role(at - 1, Role::At)
                || at > 1 && s.role(at - 1, Role::A) && s.role(at - 2, Role::At));
        let of_them = s.get(at).is_some_and(|x| x.last - x.first > 1);
        let begins = at == 0
            || s.any(at - 1, &[Role::And, Role::But])
            || s.has_fault(at - 1, at)
            || s.get(at - 1)
                .is_some_and(|x| x.code || of_them && x.number.is_some())
            || s.get(at)
                .is_some_and(|x| x.gap >= Gap::Comma || stream.paused(x.first as usize));
        let next = at + 1 + usize::from(s.role(at + 1, Role::Quantity));
        let says_so = s.any(next, &[Role::Is, Role::There, Role::At, Role::Unit])
            || s.get(next).is_some_and(|x| {
                x.number.is_some() || x.meaning.label.is_some() || x.meaning.value.is_some()
            });
        // "both disconnects are thirty amp": a unit has one.
        let once = (at + 1..at + 3).any(|i| {
            of_part(i)
                && s.known_part(i)
                    .is_some_and(|part| stream.lexicon.once_parts.contains(&part))
        });
        if once && (on || begins) {
            return self.two();
        }
        // "both of them the flashing is loose"; "both the belts" are parts.
        let of_part = |i: usize| of_part(i) && !of_them;
        // "four eighty, three phase, both fans".
        let closes =
            of_them && at > 0 && begins && s.get(at + 1).is_none_or(|x| x.gap >= Gap::Stop);
        if of_part(at + 1)
            || of_part(at + 2) && s.role(at + 1, Role::A)
            || !(on || closes || begins && (says_so || of_them && s.role(at + 1, Role::A)))
        {
            return None;
        }
        // "two belts, both are cracked".
        let parts = (at.saturating_sub(6)..at).any(|i| s.part(i).is_some());
        if parts && !on {
            return None;
        }
        self.two()
    }

    /// The two units that "both" means here.
    pub(super) fn pair(&self) -> Option<Subject> {
        if self.current.tags.len() > 1 {
            return Some(self.current.clone());
        }
        self.two()
    }

    fn two(&self) -> Option<Subject> {
        (self.together.tags.len() == 2).then(|| self.together.clone())
    }

    pub(super) fn everyone(
        &self,
        s: &Sentence<'_>,
        at: usize,
        kind: Option<EquipmentKind>,
    ) -> (Subject, usize) {
        let mut tags: Vec<String> = self
            .known
            .iter()
            .filter(|m| kind.map_or_else(|| self.spoken.contains(&m.tag), |k| k == m.kind))
            .map(|m| m.tag.clone())
            .collect();
        let mut next = at;
        let mut doubt = None;
        // "all of them have a loose belt except seven": it may stand further on.
        let later = (at..at + LEFT_OUT).find(|i| {
            s.role(*i, Role::Except)
                && (*i == at
                    || (i + 1..i + 3).any(|n| s.get(n).is_some_and(|x| x.number.is_some())))
        });
        if let Some(except) = later {
            let mut from = except + 1;
            while s.role(from, Role::A) {
                from += 1;
            }
            let newest = s.role(from, Role::Newest);
            if newest || s.role(from, Role::Oldest) {
                let year =
                    |tag: &String| self.years.iter().find(|(t, _)| t == tag).map(|(_, y)| *y);
                let dated = tags.iter().filter(|t| year(t).is_some()).count();
                let by = |a: &&String, b: &&String| {
                    year(a)
                        .partial_cmp(&year(b))
                        .unwrap_or(std::cmp::Ordering::Equal)
                };
                let dates = tags.iter().filter(|t| year(t).is_some());
                let left_out = if newest {
                    dates.max_by(by)
                } else {
                    dates.min_by(by)
                }
                .cloned();
                if dated < tags.len() || left_out.is_none() {
                    doubt = Some("which unit was left out is a guess: not every year is known");
                }
                tags.retain(|t| Some(t) != left_out.as_ref());
                if except == at {
                    next = from + 1;
                }
            } else if let Some(item) = s.get(from) {
                let list = match (item.meaning.kind, item.is(Role::Unit), item.number) {
                    (Some(k), ..) => {
                        plain_numbers(s, from + 1).map(|(n, e)| (self.named(k, &n, None), e))
                    }
                    (_, true, _) => {
                        plain_numbers(s, from + 1).map(|(n, e)| (self.numbered(&n, true), e))
                    }
                    (_, _, Some(_)) => {
                        plain_numbers(s, from).map(|(n, e)| (self.numbered(&n, true), e))
                    }
                    _ => None,
                };
                if let Some((out, end)) = list {
                    tags.retain(|t| !out.tags.contains(t));
                    if except == at {
                        next = end;
                    }
                }
            }
        }
        let kind = tags.first().and_then(|t| self.called(t)).map(|m| m.kind);
        (Subject { tags, kind, doubt }, next)
    }
}
