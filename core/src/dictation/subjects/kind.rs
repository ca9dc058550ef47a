//! A unit by the word for its kind, with or without its number: "RTU two", "the chiller".

use super::tags::{self, numbers, suffix};
use super::{GUESSED_NUMBER, Subject, Subjects};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::{Sentence, begins_in, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::EquipmentKind;

/// Most units that "RTU 2 through RTU 5" names.
const RANGE: u32 = 40;

impl Subjects {
    /// "on RTU-1, RTU-2 and RTU-3 are ...": a list of names, of all of which the verb tells.
    fn together_named(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        from: usize,
        kind: EquipmentKind,
    ) -> bool {
        let mut next = from;
        while next < from + 4 * RANGE as usize {
            let name = next + usize::from(s.role(next, Role::And));
            let numbered = s.get(name + 1).is_some_and(|i| i.number.is_some());
            if s.get(name).and_then(|i| i.meaning.kind) != Some(kind) || !numbered {
                break;
            }
            next = name + 2;
        }
        let verb = [
            "are", "have", "all", "need", "look", "were", "arent", "dont", "do",
        ];
        let tells = |i: &Item| begins_in(stream, i, &verb);
        next > from
            && s.get(next)
                .is_some_and(|i| tells(i) || i.any(&[Role::Both, Role::All]))
    }

    pub(super) fn by_kind(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
        kind: EquipmentKind,
    ) -> Option<(Subject, usize)> {
        let item = s.get(at)?;
        let mut from = at + 1;
        // "RTU no. 2".
        let numbered = s
            .get(from + 1)
            .is_some_and(|i| i.number.is_some_and(|n| n.literal));
        if numbered
            && s.get(from)
                .is_some_and(|i| i.gap == Gap::Space && says(stream, i, "no"))
        {
            from += 1;
        }
        while s.get(from).is_some_and(|i| {
            i.gap <= Gap::Comma
                && i.number.is_none()
                && (i.is(Role::Unit) || i.meaning.kind == Some(kind))
        }) {
            from += 1;
        }
        // "that's the oven exhaust | two belts": what is behind a pause is counted.
        let counted = item.is(Role::NumberOnly)
            && s.get(from).is_some_and(|i| stream.paused(i.first as usize));
        let tag = numbers(s, stream, from, true).filter(|_| !counted);
        if let Some((mut numbers, mut next)) = tag {
            // "unit eight and unit nine are the same".
            let again = |i: usize| s.get(i).is_some_and(|x| x.meaning.kind == Some(kind));
            // "cracked on RTU 3 and RTU 4 has ...": there the second begins anew.
            let behind = at > 0 && s.any(at - 1, &[Role::At, Role::A]);
            loop {
                // "RTU 2 through RTU 5".
                if let [.., low] = numbers[..]
                    && s.role(next, Role::Through)
                    && again(next + 1)
                    && let Some(high) = s.get(next + 2).and_then(|x| x.number)
                    && (f64::from(low)..f64::from(low + RANGE)).contains(&high.value)
                {
                    numbers.extend(low + 1..=high.value as u32);
                    next += 3;
                    continue;
                }
                let and = usize::from(s.role(next, Role::And));
                let listed = s.get(next).is_some_and(|x| {
                    x.gap <= Gap::Space && !behind || at == 0 && x.gap == Gap::Comma
                });
                // "... on CU 1 and CU 2 both", "... on CU 1 and CU 2."
                let closes = and > 0
                    && s.get(next + 3)
                        .is_none_or(|x| x.gap >= Gap::Stop || x.is(Role::Both));
                let all = || self.together_named(s, stream, next, kind);
                if !again(next + and) || !(and > 0 && !behind || listed || closes || all()) {
                    break;
                }
                let Some((more, after)) = tags::numbers(s, stream, next + and + 1, true) else {
                    break;
                };
                numbers.extend(
                    more.into_iter()
                        .filter(|n| !numbers.contains(n))
                        .collect::<Vec<_>>(),
                );
                next = after;
            }
            // "mini split five outdoor unit two thirty single phase".
            if again(next) && tags::rated(s, next + 1) {
                next += 1;
            }
            let letter = suffix(s, stream, next);
            let mut subject = self.named(kind, &numbers, None);
            if let (Some(letter), Some(tag)) = (letter, subject.tags.last_mut()) {
                tag.push(letter);
                return Some((subject, next + 1));
            }
            return Some((subject, next));
        }
        let before = at.checked_sub(1).and_then(|b| s.get(b));
        if let Some(ordinal) = before.and_then(|b| stream.lexicon.worth(b.word).ordinal) {
            return Some((self.named(kind, &[u32::from(ordinal)], None), at + 1));
        }
        let both = before.is_some_and(|b| b.is(Role::Both))
            || (at >= 2 && s.role(at - 2, Role::Both) && s.role(at - 1, Role::A));
        let of_kind = self.of_kind(kind);
        if both {
            let tags: Vec<String> = of_kind.iter().map(|m| m.tag.clone()).collect();
            return Some(match tags.len() {
                2 => (
                    Subject {
                        tags,
                        kind: Some(kind),
                        doubt: None,
                    },
                    at + 1,
                ),
                _ => (self.named(kind, &[1, 2], Some(GUESSED_NUMBER)), at + 1),
            });
        }
        // "up by the chiller": a place, unless that unit is known.
        let on = |i: &Item| says_any(stream, i, &["on", "at", "for"]);
        let aside_of = |i: &Item| i.any(&[Role::At, Role::Near]) && !on(i);
        let place = before.is_some_and(aside_of)
            || at >= 2
                && before.is_some_and(|b| b.is(Role::A))
                && s.get(at - 2).is_some_and(aside_of);
        if place && of_kind.is_empty() {
            return None;
        }
        // A count of units, or a part of the unit being talked about.
        let counted = before.is_some_and(|b| b.number.is_some());
        let all = before.is_some_and(|b| b.is(Role::All));
        if all && of_kind.len() > 1 {
            return Some(self.everyone(s, at + 1, Some(kind)));
        }
        let part_of_current =
            item.meaning.part.is_some() && self.current.kind.is_some_and(|k| k != kind);
        if counted || part_of_current || item.is(Role::NumberOnly) && of_kind.is_empty() {
            return None;
        }
        // "walking the exhaust fans now": which of them was not said.
        let last = stream.get(item.last as usize - 1).map(|t| stream.raw(t));
        let several = kind != EquipmentKind::DedicatedOutdoorAirUnit
            && last.is_some_and(|w| w.ends_with(['s', 'S']) && !w.contains(['\'', '’']));
        if several && of_kind.is_empty() {
            return None;
        }
        match of_kind.as_slice() {
            [] => (kind != EquipmentKind::Other)
                .then(|| (self.named(kind, &[1], Some(GUESSED_NUMBER)), at + 1)),
            [one] => Some((
                Subject {
                    tags: vec![one.tag.clone()],
                    kind: Some(kind),
                    doubt: None,
                },
                at + 1,
            )),
            _ if self.current.kind == Some(kind) => None,
            many => many.last().map(|last| {
                (
                    Subject {
                        tags: vec![last.tag.clone()],
                        kind: Some(kind),
                        doubt: Some(GUESSED_NUMBER),
                    },
                    at + 1,
                )
            }),
        }
    }
}
