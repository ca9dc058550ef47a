//! Which unit is meant: explicit tags, pointing, sharing, and the running subject.
//!
//! A mention that had to be guessed carries a doubt in words, which every draft about it
//! repeats. The site is subject zero's stand-in when no unit was named.

use super::items::Item;
use super::lexicon::meaning::{Field, Role};
use super::numbers::{Number, Stream, joined};
use super::sentence::{Break, Sentence};
use super::tokens::Gap;
use crate::survey::codes::EquipmentKind;
use crate::survey::spoken::Mention;

/// Whom words are about.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Subject {
    /// Tags; empty before any unit was named.
    pub(crate) tags: Vec<String>,
    pub(crate) kind: Option<EquipmentKind>,
    /// Why a person should check that this is the unit.
    pub(crate) doubt: Option<&'static str>,
}

impl Subject {
    pub(crate) const fn nobody() -> Self {
        Self {
            tags: Vec::new(),
            kind: None,
            doubt: None,
        }
    }
}

/// The units of a note and who is being talked about.
#[derive(Debug, Clone)]
pub(crate) struct Subjects {
    pub(crate) known: Vec<Mention>,
    pub(crate) current: Subject,
    previous: Subject,
    /// Tags that this note spoke of; "both" and "all of them" mean these, whatever else is known.
    spoken: Vec<String>,
    /// Year of manufacture by tag, for "the newest".
    pub(crate) years: Vec<(String, f64)>,
}

/// A mention found in a sentence: items `[first, next)` name `subject`.
#[derive(Debug)]
pub(crate) struct Found {
    pub(crate) first: usize,
    pub(crate) next: usize,
    pub(crate) subject: Subject,
    /// "same on four and five".
    pub(crate) same: bool,
    /// "next to RTU 3": does not become the subject.
    pub(crate) aside: bool,
}

const GUESSED_KIND: &str = "only a number was spoken; the kind of unit is a guess";
const GUESSED_NUMBER: &str = "no number was spoken; the unit is a guess";
const GUESSED_NEXT: &str = "\"next one\" was taken as the next number";
const GUESSED_POINT: &str = "pointed at, not named; the unit is a guess";

impl Subjects {
    pub(crate) fn new(known: &[Mention]) -> Self {
        Self {
            known: known.to_vec(),
            current: Subject::nobody(),
            previous: Subject::nobody(),
            spoken: Vec::new(),
            years: Vec::new(),
        }
    }

    /// Makes `subject` the one being talked about, and its units known.
    pub(crate) fn turn_to(&mut self, subject: &Subject) {
        self.learn(subject);
        if subject.tags != self.current.tags {
            self.previous = std::mem::replace(&mut self.current, subject.clone());
        } else {
            self.current = subject.clone();
        }
    }

    /// Makes the units of `subject` known without turning to them.
    pub(crate) fn learn(&mut self, subject: &Subject) {
        for tag in &subject.tags {
            if !self.spoken.contains(tag) {
                self.spoken.push(tag.clone());
            }
            if !self.known.iter().any(|m| m.tag == *tag)
                && let Some(kind) = subject.kind
            {
                let number = tag.rsplit('-').next().and_then(|n| {
                    n.trim_end_matches(|c: char| c.is_ascii_alphabetic())
                        .parse()
                        .ok()
                });
                self.known.push(Mention {
                    tag: tag.clone(),
                    kind,
                    number,
                });
            }
        }
    }

    /// Forgets units that were named only by mistake.
    pub(crate) fn unlearn(&mut self, tags: &[String]) {
        self.known.retain(|m| !tags.contains(&m.tag));
        self.spoken.retain(|tag| !tags.contains(tag));
    }

    fn of_kind(&self, kind: EquipmentKind) -> Vec<&Mention> {
        self.known.iter().filter(|m| m.kind == kind).collect()
    }

    fn named(&self, kind: EquipmentKind, numbers: &[u32], doubt: Option<&'static str>) -> Subject {
        let tags = numbers
            .iter()
            .map(|n| format!("{}-{n}", kind.tag_prefix()))
            .collect();
        Subject {
            tags,
            kind: Some(kind),
            doubt,
        }
    }

    /// A number without a kind: the known unit with that number, else one like the current.
    fn numbered(&self, numbers: &[u32], current_first: bool) -> Subject {
        let mut tags = Vec::new();
        let mut kind = None;
        let mut doubt = None;
        for number in numbers {
            let with: Vec<&Mention> = self
                .known
                .iter()
                .filter(|m| m.number == Some(*number))
                .collect();
            let current = self.current.kind.filter(|_| current_first);
            let found = with
                .iter()
                .find(|m| Some(m.kind) == current)
                .or(if with.len() == 1 { with.first() } else { None });
            match found {
                Some(known) => {
                    if with.len() > 1 {
                        doubt = Some(GUESSED_KIND);
                    }
                    tags.push(known.tag.clone());
                    kind = kind.or(Some(known.kind));
                }
                None => {
                    let guess = kind
                        .or(current)
                        .unwrap_or(EquipmentKind::PackagedRooftopUnit);
                    doubt = Some(GUESSED_KIND);
                    tags.push(format!("{}-{number}", guess.tag_prefix()));
                    kind = Some(guess);
                }
            }
        }
        Subject { tags, kind, doubt }
    }

    /// The mention that begins at item `at`, if one does.
    pub(crate) fn mention(&self, s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> Option<Found> {
        let item = s.get(at)?;
        let before = at.checked_sub(1).and_then(|b| s.get(b));
        let aside = before.is_some_and(|b| b.is(Role::Near) && !b.is(Role::Filler))
            || (at >= 2 && before.is_some_and(|b| b.is(Role::A)) && s.role(at - 2, Role::Near));
        let found = |subject: Subject, next: usize| {
            Some(Found {
                first: at,
                next,
                subject,
                same: false,
                aside,
            })
        };
        if let Some(kind) = item.meaning.kind {
            return self
                .by_kind(s, stream, at, kind)
                .and_then(|(subject, next)| found(subject, next));
        }
        if item.is(Role::Same) {
            return self.sharing(s, stream, at);
        }
        if item.is(Role::Unit) {
            let (numbers, next) = numbers(s, stream, at + 1, true)?;
            return found(self.numbered(&numbers, true), next);
        }
        if item.is(Role::Back) || (item.is(Role::At) && !item.is(Role::Filler)) {
            let from = at + 1;
            let (numbers, next) = numbers(s, stream, from, false)?;
            let all_known = numbers
                .iter()
                .all(|n| self.known.iter().any(|m| m.number == Some(*n)));
            let ends = s.get(next).is_none_or(|i| {
                i.gap >= Gap::Comma
                    || i.meaning.part.is_some()
                    || i.any(&[
                        Role::A,
                        Role::And,
                        Role::But,
                        Role::Is,
                        Role::There,
                        Role::ItIs,
                    ])
            });
            if (all_known || item.is(Role::Back)) && ends && !self.known.is_empty() {
                return found(self.numbered(&numbers, true), next);
            }
            return None;
        }
        if item.is(Role::All) {
            let (subject, next) = self.everyone(s, at + 1, None);
            return (!subject.tags.is_empty())
                .then(|| found(subject, next))
                .flatten();
        }
        if item.is(Role::Both) && self.current.tags.len() < 2 {
            let kind = self.current.kind?;
            let two = self.of_kind(kind);
            if two.len() == 2 && s.any(at + 1, &[Role::Is, Role::There, Role::At]) {
                let tags = two.iter().map(|m| m.tag.clone()).collect();
                return found(
                    Subject {
                        tags,
                        kind: Some(kind),
                        doubt: None,
                    },
                    at + 1,
                );
            }
            return None;
        }
        self.pointing(s, at)
            .and_then(|subject| found(subject, at + 1))
    }

    fn pointing(&self, s: &Sentence<'_>, at: usize) -> Option<Subject> {
        let item = s.get(at)?;
        let number = self
            .current
            .tags
            .last()
            .and_then(|t| self.known.iter().find(|m| m.tag == *t))
            .and_then(|m| m.number);
        let kind = self.current.kind?;
        if item.is(Role::Next) {
            return Some(self.named(kind, &[number? + 1], Some(GUESSED_NEXT)));
        }
        if item.is(Role::Previous) && !self.previous.tags.is_empty() {
            return Some(Subject {
                doubt: Some(GUESSED_POINT),
                ..self.previous.clone()
            });
        }
        if item.is(Role::OtherOne) {
            let others: Vec<&Mention> = self
                .of_kind(kind)
                .into_iter()
                .filter(|m| !self.current.tags.contains(&m.tag))
                .collect();
            if let [other] = others.as_slice() {
                return Some(Subject {
                    tags: vec![other.tag.clone()],
                    kind: Some(kind),
                    doubt: None,
                });
            }
        }
        None
    }

    fn everyone(
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
        if s.role(next, Role::Except) {
            let mut from = next + 1;
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
                next = from + 1;
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
                    next = end;
                }
            }
        }
        let kind = tags
            .first()
            .and_then(|t| self.known.iter().find(|m| m.tag == *t))
            .map(|m| m.kind);
        (Subject { tags, kind, doubt }, next)
    }

    /// "same on four and five", "same on all of them but the newest".
    fn sharing(&self, s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> Option<Found> {
        let mut from = at + 1;
        while s.any(from, &[Role::A, Role::At])
            && s.get(from).is_some_and(|i| i.meaning.kind.is_none())
        {
            from += 1;
        }
        let item = s.get(from)?;
        let (subject, next) = if let Some(kind) = item.meaning.kind {
            self.by_kind(s, stream, from, kind)?
        } else if item.is(Role::Unit) {
            let (numbers, next) = numbers(s, stream, from + 1, true)?;
            (self.numbered(&numbers, true), next)
        } else if item.any(&[Role::All, Role::Both]) {
            self.everyone(s, from + 1, None)
        } else if item.number.is_some() {
            let (numbers, next) = numbers(s, stream, from, false)?;
            (self.numbered(&numbers, true), next)
        } else {
            (self.pointing(s, from)?, from + 1)
        };
        Some(Found {
            first: at,
            next,
            subject,
            same: true,
            aside: false,
        })
    }

    fn by_kind(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
        kind: EquipmentKind,
    ) -> Option<(Subject, usize)> {
        let item = s.get(at)?;
        let mut from = at + 1;
        while s.get(from).is_some_and(|i| {
            i.gap <= Gap::Comma
                && i.number.is_none()
                && (i.is(Role::Unit) || i.meaning.kind == Some(kind))
        }) {
            from += 1;
        }
        if let Some((numbers, next)) = numbers(s, stream, from, true) {
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

/// "2A": a letter glued to the number of a tag.
fn suffix(s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> Option<char> {
    let item = s
        .get(at)
        .filter(|i| i.gap == Gap::Glued && i.last - i.first == 1)?;
    stream
        .lexicon
        .worth(item.word)
        .letter
        .map(char::from)
        .filter(|c| ('A'..='F').contains(c))
}

fn plain_numbers(s: &Sentence<'_>, at: usize) -> Option<(Vec<u32>, usize)> {
    let n = s.get(at)?.number?;
    let fits = n.value.fract() == 0.0 && (1.0..=999.0).contains(&n.value);
    fits.then(|| (vec![n.value as u32], at + 1))
}

/// Whether the number at `at` measures or sizes something, so that it is no tag number.
fn taken(s: &Sentence<'_>, at: usize, next: usize) -> bool {
    let glued_amp = |i: &Item| {
        i.meaning.measure.is_some() && (!i.any(&[Role::A, Role::Times]) || i.gap <= Gap::Hyphen)
    };
    s.get(next).is_some_and(|i| {
        glued_amp(i)
            || i.is(Role::Times) && s.get(next + 1).is_some_and(|n| n.number.is_some())
            || i.meaning.value.is_some_and(|(f, _)| f == Field::Phase)
    }) || s
        .get(at)
        .is_some_and(|i| i.number.is_some_and(|n| n.plural))
}

/// The numbers of a tag or a list of tags from `at`. `named` says that a unit word stands
/// before, so that a sound-alike ("to") may count.
fn numbers(
    s: &Sentence<'_>,
    stream: Stream<'_>,
    at: usize,
    named: bool,
) -> Option<(Vec<u32>, usize)> {
    let (first, mut next) = one_number(s, stream, at, named)?;
    let mut out = vec![first];
    loop {
        let mut from = next;
        let comma = s.get(from).is_some_and(|i| i.gap == Gap::Comma);
        let through = s.role(from, Role::Through) && !comma;
        let and = s.role(from, Role::And);
        if through || and {
            from += 1;
        } else if !comma
            && !s
                .get(from)
                .is_some_and(|i| i.gap == Gap::Hyphen && i.number.is_some())
        {
            break;
        }
        while s.any(from, &[Role::Unit]) || s.role(from, Role::And) && comma {
            from += 1;
        }
        let Some((number, after)) = one_number(s, stream, from, false) else {
            break;
        };
        // After a comma a bare number is a count of something more often than a tag.
        let listed = s.get(after).is_none_or(|i| {
            i.gap >= Gap::Comma || i.any(&[Role::And, Role::Is, Role::ItIs, Role::There])
        });
        let counts = comma && !and && !listed
            || s.get(after).is_some_and(|i| {
                i.meaning.part.is_some() && i.gap < Gap::Comma
                    || i.number.is_some() && i.gap <= Gap::Space
            });
        if taken(s, from, after) || (counts && !and) || number > 99 {
            break;
        }
        let hyphen = s.get(from).is_some_and(|i| i.gap == Gap::Hyphen);
        if through || (hyphen && number > first) {
            let last = out.last().copied().unwrap_or(first);
            if number <= last || number - last > 40 {
                break;
            }
            out.extend(last + 1..=number);
        } else {
            out.push(number);
        }
        next = after;
    }
    Some((out, next))
}

fn one_number(
    s: &Sentence<'_>,
    stream: Stream<'_>,
    at: usize,
    named: bool,
) -> Option<(u32, usize)> {
    let item = s.get(at).filter(|i| i.gap <= Gap::Comma || !named)?;
    if let Some(number) = item.number {
        if number.value.fract() != 0.0 || number.value > 999.0 || number.plural {
            return None;
        }
        // "one oh one": a zero or a glued piece goes on.
        let mut pieces: Vec<Number> = vec![number];
        let mut next = at + 1;
        while let Some(more) = s
            .get(next)
            .filter(|i| i.gap <= Gap::Space)
            .and_then(|i| i.number)
        {
            let zero = pieces.last().is_some_and(|p| p.value == 0.0) || more.value == 0.0;
            if !(zero && named && pieces.len() < 3) || taken(s, next, next + 1) {
                break;
            }
            pieces.push(more);
            next += 1;
        }
        let value = joined(&pieces).filter(|v| (1.0..=999.0).contains(v))?;
        let single = next == at + 1;
        return (!(single && taken(s, at, next))).then_some((value as u32, next));
    }
    let sound = stream
        .lexicon
        .worth(item.word)
        .sound
        .filter(|_| named && item.last - item.first == 1)?;
    let then = s.get(at + 1);
    let goes_on = then.is_none_or(|i| {
        i.gap >= Gap::Comma
            || i.meaning.part.is_some()
            || i.any(&[Role::Is, Role::ItIs, Role::There, Role::And])
            || i.meaning.label.is_some()
            || i.meaning.fault.is_some()
    });
    (goes_on && s.cut(at) == Break::None && item.gap == Gap::Space)
        .then_some((u32::from(sound), at + 1))
}
