//! Which unit is meant: explicit tags, pointing, sharing, and the running subject.
//!
//! A mention that had to be guessed carries a doubt in words, which every draft about it
//! repeats. The site is subject zero's stand-in when no unit was named.

mod crowd;
mod kind;
mod placed;
mod pointing;
mod tags;
mod together;

use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Measure, Role};
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::{Sentence, ends_in, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::{Component, EquipmentKind};
use crate::survey::spoken::Mention;
use placed::Place;
use tags::{numbers, spelled_through};

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
    /// A tower and a chiller have ladders and rails of their own.
    pub(crate) fn is_climbed(kind: Option<EquipmentKind>) -> bool {
        matches!(
            kind,
            Some(EquipmentKind::CoolingTower | EquipmentKind::AirCooledChiller)
        )
    }

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
    /// The units last named together, or the last two named: "both", "one is ... and two is".
    together: Subject,
    /// The kind that was put up as a heading: "Exhaust fans."
    pub(crate) heading: Option<EquipmentKind>,
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
pub(crate) const GUESSED_NEXT: &str = "\"next one\" was taken as the next number";
const GUESSED_POINT: &str = "pointed at, not named; the unit is a guess";

/// "twelve filters, every one of them dirty": all of the parts just counted, not of the units.
fn of_parts(s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> bool {
    let them = s.get(at).is_some_and(|x| ends_in(stream, x, &["them"]));
    let on = at > 0 && s.role(at - 1, Role::At);
    let fault = s.has_fault(at + 1, at + 3);
    let counted = (at.saturating_sub(14)..at).any(|i| {
        matches!(
            s.known_part(i),
            Some(Component::Filter | Component::Belt | Component::Bearing)
        )
    });
    them && !on && fault && counted
}

impl Subjects {
    pub(crate) fn new(known: &[Mention]) -> Self {
        Self {
            known: known.to_vec(),
            current: Subject::nobody(),
            previous: Subject::nobody(),
            spoken: Vec::new(),
            together: Subject::nobody(),
            heading: None,
            years: Vec::new(),
        }
    }

    /// The known unit of this tag.
    fn called(&self, tag: &str) -> Option<&Mention> {
        self.known.iter().find(|m| m.tag == tag)
    }

    /// Makes `subject` the one being talked about, and its units known.
    pub(crate) fn turn_to(&mut self, subject: &Subject) {
        self.learn(subject);
        self.remember(subject);
        if subject.tags != self.current.tags {
            self.previous = std::mem::replace(&mut self.current, subject.clone());
        } else {
            self.current = subject.clone();
        }
    }

    /// The units that the talk was about before it turned to the current ones.
    pub(crate) fn before(&self) -> &[String] {
        &self.previous.tags
    }

    /// Makes the units of `subject` known without turning to them.
    pub(crate) fn learn(&mut self, subject: &Subject) {
        for tag in &subject.tags {
            if !self.spoken.contains(tag) {
                self.spoken.push(tag.clone());
            }
            if self.called(tag).is_none()
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

    /// Those of the tags that no one named yet.
    pub(crate) fn unheard(&self, tags: &[String]) -> Vec<String> {
        let heard = |tag: &&String| self.called(tag).is_none();
        tags.iter().filter(heard).cloned().collect()
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
        let beside = |i: &Item| {
            i.is(Role::Near) && !i.is(Role::Filler)
                || says_any(stream, i, &["near", "beside", "between", "by"])
                || self.likened(s, stream, i)
        };
        // "ten feet from RTU 4".
        let feet = |i: &Item| i.meaning.measure == Some(Measure::Foot);
        let away = before.is_some_and(|b| says_any(stream, b, &["from"]))
            && at >= 2
            && s.get(at - 2).is_some_and(feet);
        let aside = away
            || before.is_some_and(beside)
            || (at >= 2
                && before.is_some_and(|b| b.is(Role::A))
                && s.get(at - 2).is_some_and(beside));
        // "over by RTU 2 the conduit is loose": with nothing said before, the talk moves there.
        let told = (at.saturating_sub(10)..at).any(|i| {
            s.get(i).is_some_and(|x| {
                let m = x.meaning;
                m.fault.is_some() || m.part.is_some() || m.danger.is_some() || x.number.is_some()
            })
        });
        // "the receptacle next to RTU 2", before any unit was named: of that unit.
        let of_site = (at.saturating_sub(10)..at).any(|i| {
            let part = s.known_part(i);
            let site = part.is_some_and(|p| stream.lexicon.site_parts.contains(&p));
            let between = s.get(i).is_some_and(|x| says(stream, x, "between"));
            site || between
                || s.role(i, Role::Site)
                || s.get(i).is_some_and(|x| x.meaning.danger.is_some())
        });
        let told = told && (of_site || !self.current.tags.is_empty());
        let aside = aside && (told || before.is_some_and(|b| self.likened(s, stream, b)));
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
            // "the insulation is split": a condition, unless a number follows.
            let said =
                item.meaning.fault.is_some() && s.get(at + 1).is_none_or(|i| i.number.is_none());
            if said || spelled_through(s, stream, at) {
                return None;
            }
            return self
                .by_kind(s, stream, at, kind)
                .filter(|(subject, _)| {
                    subject.doubt != Some(GUESSED_NUMBER) || !self.named_soon(s, at, kind)
                })
                .filter(|(subject, _)| !s.is_muted(at) || subject.doubt != Some(GUESSED_NUMBER))
                .and_then(|(subject, next)| found(subject, next));
        }
        if item.is(Role::Same) {
            return self.sharing(s, stream, at).map(|mut found| {
                // "same as two": where to copy from, not whom the talk is about.
                found.aside = self.likened(s, stream, item) && !self.current.tags.is_empty();
                found.same = !found.aside;
                found
            });
        }
        if let Some((subject, next)) = self.said_about(s, stream, at) {
            return found(subject, next);
        }
        if item.is(Role::Unit) {
            // "compressor number two" is no unit.
            if before.is_some_and(|b| b.meaning.part.is_some()) {
                return None;
            }
            let (numbers, next) = numbers(s, stream, at + 1, true)?;
            // "number two condenser fan": a unit has several.
            let several = s.get(next).is_some_and(|i| i.gap == Gap::Space)
                && matches!(
                    s.known_part(next),
                    Some(
                        Component::CondenserFan
                            | Component::FanGuard
                            | Component::Compressor
                            | Component::Bearing
                            | Component::Motor
                    )
                );
            let number = says(stream, item, "number");
            if number && several {
                return None;
            }
            // "number six from the south end": a part among others.
            let from = s.get(next).is_some_and(|i| says(stream, i, "from"));
            if number && from {
                return None;
            }
            // "the invoice is number four".
            if number && before.is_some_and(|b| b.is(Role::Is)) {
                return None;
            }
            // "key's in a lock box, number one".
            if number && self.known.is_empty() && item.gap == Gap::Comma {
                return None;
            }
            // "number two" of what is being talked about; "unit two" of all there are.
            let alike = self.current.kind.filter(|_| number);
            if let Some(kind) = alike {
                let known = numbers.iter().all(|n| {
                    self.known
                        .iter()
                        .any(|m| m.kind == kind && m.number == Some(*n))
                });
                let doubt = (!known).then_some(GUESSED_KIND);
                return found(self.named(kind, &numbers, doubt), next);
            }
            // "Equipment two is an old heater."
            let fresh = |n: &u32| self.known.iter().all(|m| m.number != Some(*n));
            if says(stream, item, "equipment") && numbers.iter().all(fresh) {
                return found(self.named(EquipmentKind::Other, &numbers, None), next);
            }
            return found(self.numbered(&numbers, true), next);
        }
        if let Some(place) = Place::at(s, stream, at) {
            let (subject, next) = self.placed(s, stream, at, place)?;
            return found(subject, next).map(|found| Found {
                aside: found.aside || place.round,
                ..found
            });
        }
        // "all of them", where one unit was named: its parts.
        if item.is(Role::All) && !of_parts(s, stream, at) && self.known.len() != 1 {
            let (subject, next) = self.everyone(s, at + 1, None);
            return (!subject.tags.is_empty())
                .then(|| found(subject, next))
                .flatten();
        }
        if item.is(Role::Both) {
            return self
                .both(s, stream, at)
                .and_then(|subject| found(subject, at + 1));
        }
        if item.number.is_some() {
            let (subject, next) = self.one_of_several(s, stream, at)?;
            return found(subject, next);
        }
        if let Some((subject, next)) = self.next_fan(s, stream, at) {
            return found(subject, next);
        }
        self.pointing(s, at)
            .and_then(|subject| found(subject, at + 1))
    }

    /// "Fan four, same belt": after another fan of that kind.
    fn next_fan(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
    ) -> Option<(Subject, usize)> {
        let fans = [EquipmentKind::ExhaustFan, EquipmentKind::SupplyFan];
        let kind = self.current.kind.filter(|kind| fans.contains(kind))?;
        let item = s.get(at).filter(|i| says(stream, i, "fan"))?;
        let begins = at == 0 || item.gap >= Gap::Stop || stream.paused(item.first as usize);
        let (numbers, next) = numbers(s, stream, at + 1, true).filter(|_| begins)?;
        Some((self.named(kind, &numbers, None), next))
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
        } else if item.is(Role::Both) {
            (self.pair()?, from + 1)
        } else if item.is(Role::All) {
            self.everyone(s, from + 1, None)
        } else if item.number.is_some() {
            let (numbers, next) = numbers(s, stream, from, false)?;
            (self.numbered(&numbers, true), next)
        } else if s.role(from + 1, Role::And)
            && let Some((numbers, next)) = numbers(s, stream, from, true)
        {
            // "same on to and three".
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
}
