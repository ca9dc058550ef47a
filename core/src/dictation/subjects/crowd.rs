//! Units by their number alone: "one is ... and two is", "Nine: cover off."

use super::tags::numbers;
use super::{Subject, Subjects};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Field, Role};
use crate::dictation::numbers::{Number, Stream};
use crate::dictation::sentence::{Sentence, begins_in, ends_in, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::EquipmentKind;
use crate::survey::spoken::Mention;

/// Highest number of a unit that is believed where nothing but the number names it.
const MOST: f64 = 60.0;

/// Whether a unit has this number.
fn numbered(unit: &Mention, number: f64) -> bool {
    unit.number.map(f64::from) == Some(number)
}

impl Subjects {
    /// "one is serial ... and two is ...", "two's got a nest in it", after those units were
    /// named together.
    pub(super) fn one_of_several(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
    ) -> Option<(Subject, usize)> {
        let item = s.get(at)?;
        let number = item.number?;
        // "that one's cabinet" points at the unit being talked about.
        let pointed = at > 0
            && s.get(at - 1).is_some_and(|b| {
                ["that", "this", "each", "which"]
                    .iter()
                    .any(|w| says(stream, b, w))
            });
        if pointed && number.value == 1.0 {
            return None;
        }
        // "fan seven's guard is bent": a part among others.
        let numbered_part = at > 0
            && item.gap == Gap::Space
            && s.get(at - 1).is_some_and(|b| {
                ends_in(
                    stream,
                    b,
                    &["fan", "motor", "compressor", "bearing", "blower"],
                )
            });
        if numbered_part && item.apostrophe {
            return None;
        }
        if let Some(found) = self.listed(s, stream, at) {
            return Some(found);
        }
        if let Some(subject) = self
            .headed(s, at, number)
            .or_else(|| self.beside_it(s, at, number.value))
            .or_else(|| self.another(s, stream, at, number))
            .or_else(|| self.following(s, stream, at, number))
        {
            return Some((subject, at + 1));
        }
        let own = item.gap >= Gap::Space
            && (item.apostrophe || number.plural && self.owns(s, at, number.value));
        // "Only two has ...".
        let begins = (0..at).all(|i| s.get(i).is_some_and(Item::idle))
            || item.gap >= Gap::Comma
            || stream.paused(item.first as usize)
            || s.any(at - 1, &[Role::And, Role::But])
            || s.role(at + 1, Role::Is) && s.get(at - 1).is_some_and(|b| b.meaning.part.is_some());
        // "And twelve, the trap is cracked."
        let after_and = at == 1 && s.any(0, &[Role::And, Role::But]);
        // "Three, the flashing is cracked."
        let apart =
            after_and || item.gap >= Gap::Stop || at == 0 || stream.paused(item.first as usize);
        let called = apart
            && s.get(at + 1).is_some_and(|i| {
                let m = i.meaning;
                let roles = [Role::A, Role::There, Role::SameWord, Role::Same];
                let of = m.part.is_some() || m.label.is_some() || i.any(&roles);
                i.gap == Gap::Comma && of
            });
        // "4 built 2019, 5 built 2020".
        let dated = item.gap >= Gap::Comma
            && s.get(at + 1)
                .is_some_and(|i| i.gap <= Gap::Space && i.meaning.label == Some(Field::Year));
        let apart = apart || dated;
        // "seven also has ...".
        let also = s.get(at + 1).is_some_and(|i| says(stream, i, "also"));
        let says = own
            || called
            || dated
            || s.get(at + 1 + usize::from(also))
                .is_some_and(|i| i.gap <= Gap::Space && i.any(&[Role::Is, Role::There]))
            || apart && self.opens(s, at)
            || s.get(at + 1).is_some_and(|i| {
                i.gap <= Gap::Space
                    && begins_in(
                        stream,
                        i,
                        &[
                            "isnt", "doesnt", "wont", "is", "does", "will", "has", "needs",
                        ],
                    )
            });
        // "three's coil is clogged": wherever it stands.
        let of_its_part = own
            && s.get(at + 1)
                .is_some_and(|i| i.meaning.part.is_some() || i.is(Role::A));
        let of_its_part = of_its_part
            || self.names_its_part(s, stream, at, number)
            || self.heads(s, stream, at, number.value);
        if !(begins && says || of_its_part) || number.plural && !own {
            return None;
        }
        if self.together.tags.len() < 2 || of_its_part || apart {
            // "Five, same belt trouble": a further one, when its like were named.
            let further = || {
                let alike = called && s.any(at + 1, &[Role::SameWord, Role::Same]);
                let part = own && s.get(at + 1).is_some_and(|i| i.meaning.part.is_some());
                let kind = self.current.kind.filter(|_| alike || part)?;
                self.one_more(kind, number.value)
                    .filter(|_| number.value >= 2.0)
            };
            return self
                .spoken_number(number.value)
                .or_else(further)
                .map(|subject| (subject, at + 1));
        }
        let of_number = |tag: &&String| self.called(tag).is_some_and(|m| numbered(m, number.value));
        let mut fits = self.together.tags.iter().filter(of_number);
        let (tag, None) = (fits.next()?, fits.next()) else {
            return None;
        };
        let subject = Subject {
            tags: vec![tag.clone()],
            kind: self.together.kind,
            doubt: self.together.doubt,
        };
        Some((subject, at + 1))
    }

    /// "Seven makes the most racket": a sentence that begins with one of several numbers and goes
    /// on with neither a size nor a thing to count.
    fn opens(&self, s: &Sentence<'_>, at: usize) -> bool {
        self.together.tags.len() > 1
            && s.get(at + 1).is_some_and(|i| {
                let m = i.meaning;
                i.gap == Gap::Space
                    && i.number.is_none()
                    && m.measure.is_none()
                    && m.label.is_none()
                    && m.part.is_none()
                    && m.kind.is_none()
                    && m.value.is_none()
                    && m.fault.is_none()
                    && !i.any(&[
                        Role::Times,
                        Role::Quantity,
                        Role::At,
                        Role::And,
                        Role::Or,
                        Role::Through,
                        Role::No,
                    ])
            })
    }

    /// "fifteen conduit disconnected, fourteen receptacle broken": a unit that the note named, by
    /// its number, before one part of it. So many parts would be more than one.
    fn names_its_part(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
        number: Number,
    ) -> bool {
        let one = |i: &Item| {
            let word = stream.get(i.last as usize - 1).map(|t| stream.raw(t));
            i.gap == Gap::Space
                && i.meaning.part.is_some()
                && i.meaning.fault.is_none()
                && word.is_some_and(|w| !w.ends_with('s'))
        };
        let counts = at > 0 && s.get(at - 1).is_some_and(|b| b.number.is_some());
        let part = s.get(at + 1).is_some_and(one)
            && (s.role(at + 2, Role::Is) || s.has_fault(at + 2, at + 3));
        // "four MCA sixteen".
        let label = |i: &Item| i.gap == Gap::Space && i.meaning.label.is_some();
        let value = s.get(at + 1).is_some_and(label)
            && s.get(at + 2)
                .is_some_and(|i| i.gap <= Gap::Space && i.number.is_some_and(|n| n.value >= 10.0))
            && !s.get(at + 3).is_some_and(label);
        number.value >= 2.0
            && !number.plural
            && !counts
            && self.only_spoken(number.value).is_some()
            && (part || value)
    }

    /// "threes fan guard is bent": heard without the apostrophe.
    fn owns(&self, s: &Sentence<'_>, at: usize, number: f64) -> bool {
        let part = |i: &Item| i.gap == Gap::Space && i.meaning.part.is_some() && !i.both();
        let sized = at > 0
            && s.get(at - 1)
                .is_some_and(|b| b.number.is_some() || b.code || b.is(Role::Times));
        // "tens a three ton".
        let is_a = s.role(at + 1, Role::A) && s.get(at + 2).is_some_and(|i| i.number.is_some());
        number >= 2.0
            && !sized
            && (is_a || s.get(at + 1).is_some_and(part))
            && self.only_spoken(number).is_some()
    }

    /// "one the fan guard is bent two the motor is noisy": of units named together.
    fn heads(&self, s: &Sentence<'_>, stream: Stream<'_>, at: usize, number: f64) -> bool {
        let the = s
            .get(at + 1)
            .is_some_and(|i| i.gap <= Gap::Comma && says_any(stream, i, &["the", "its"]));
        let of_them = |tag: &String| self.called(tag).is_some_and(|m| numbered(m, number));
        let begins = at == 0
            || s.get(at)
                .is_some_and(|i| i.gap >= Gap::Comma || stream.paused(i.first as usize))
            || s.has_fault(at - 1, at);
        the && begins
            && s.part(at + 2).is_some()
            && self.together.tags.len() > 1
            && self.together.tags.iter().any(of_them)
    }

    /// "Heat pumps nine, ten. Nine: cover off.", "Exhaust fans. One: noisy.": a number that heads
    /// its sentence, of units named together or of the kind that was put up as a heading.
    fn headed(&self, s: &Sentence<'_>, at: usize, number: Number) -> Option<Subject> {
        let next = s.get(at + 1)?;
        // "Belts. Two, BX 68": so many of a size.
        let sized = next.code
            || next.number.is_some()
            || !next.meaning.of_trade() && s.get(at + 2).is_some_and(|i| i.number.is_some());
        let heads = at == 0 && next.gap == Gap::Comma && !sized;
        if !heads || number.plural || next.is(Role::Times) || next.meaning.measure.is_some() {
            return None;
        }
        let of_them = self.together.tags.len() > 1;
        let one = self.only_spoken(number.value).filter(|_| of_them);
        let known = one.map(|unit| Subject {
            tags: vec![unit.tag.clone()],
            kind: Some(unit.kind),
            doubt: None,
        });
        let like = |kind| self.named(kind, &[number.value as u32], None);
        let fits = number.value.fract() == 0.0 && (1.0..=MOST).contains(&number.value);
        known.or_else(|| Some(like(self.heading.filter(|_| fits)?)))
    }

    /// "Eight is right next to it", "Eight next to it, ...": a unit like the one being talked about.
    fn beside_it(&self, s: &Sentence<'_>, at: usize, number: f64) -> Option<Subject> {
        let near = (at + 1..at + 4)
            .find(|i| s.role(*i, Role::Near))
            .is_some_and(|i| {
                s.any(i + 1, &[Role::It, Role::This]) && (i == at + 1 || s.role(at + 1, Role::Is))
            });
        let kind = self.current.kind.filter(|_| at == 0 && near)?;
        self.one_more(kind, number)
    }

    /// A unit of this kind that only its number names.
    fn one_more(&self, kind: EquipmentKind, number: f64) -> Option<Subject> {
        let fits = number.fract() == 0.0 && (1.0..=MOST).contains(&number);
        fits.then(|| self.named(kind, &[number as u32], Some(super::GUESSED_KIND)))
    }

    /// "Two has a good screen.", "Nine I can read.": a further unit of the kind being talked about,
    /// by its number alone.
    fn another(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
        number: Number,
    ) -> Option<Subject> {
        let kind = self.current.kind.filter(|_| at == 0 && !number.plural)?;
        let known = self.known.iter().any(|m| numbered(m, number.value));
        let says = s.get(1).is_some_and(|i| {
            let verb = [
                "has", "takes", "i", "needs", "looks", "got", "is", "might", "may", "could", "does",
            ];
            // "Four is different, ...".
            let unlike = i.is(Role::Is) && s.get(2).is_some_and(|x| says(stream, x, "different"));
            i.gap == Gap::Space && begins_in(stream, i, &verb) || unlike
        });
        // "Two has come loose" counts parts, if parts were counted.
        let counted = self.current.tags.is_empty();
        let further = number.value >= 2.0 && !known && says && !counted;
        self.one_more(kind, number.value).filter(|_| further)
    }

    /// "RTU one has ... and two is missing too, um three has one": the number after that of the
    /// unit being talked about begins a clause of its own.
    fn following(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
        number: Number,
    ) -> Option<Subject> {
        let kind = self.current.kind.filter(|_| !number.plural)?;
        let last = self.current.tags.last()?;
        let next = self.called(last)?.number.map(|n| f64::from(n) + 1.0);
        let before = (0..at).rev().find(|i| !s.get(*i).is_some_and(filler));
        let paused = |i: usize| s.get(i).is_some_and(|x| says_any(stream, x, &["um", "uh"]));
        let begins = before.is_none_or(|i| s.any(i, &[Role::And, Role::But]))
            || at > 0 && paused(at - 1)
            || s.get(at)?.gap >= Gap::Comma;
        let says = s.get(at + 1).is_some_and(|i| {
            let verb = ["is", "has", "needs", "takes", "runs", "looks"];
            let alike = i.any(&[Role::SameWord, Role::Same]) || begins_in(stream, i, &["same"]);
            i.gap == Gap::Space && (alike || says_any(stream, i, &verb))
        });
        let fits = next == Some(number.value) && begins && says;
        self.one_more(kind, number.value).filter(|_| fits)
    }

    /// The only unit with this number that the note spoke of.
    pub(super) fn only_spoken(&self, number: f64) -> Option<&Mention> {
        let spoken = |m: &&Mention| self.spoken.contains(&m.tag) && numbered(m, number);
        let mut fits = self.known.iter().filter(spoken);
        fits.next().filter(|_| fits.next().is_none())
    }

    /// The only unit with this number that the note spoke of, if it spoke of several.
    fn spoken_number(&self, number: f64) -> Option<Subject> {
        let unit = self.only_spoken(number)?;
        // "one is cracked" counts, "two has ..." names, if that is the only unit there is.
        (self.spoken.len() > 1 || number > 1.0).then(|| Subject {
            tags: vec![unit.tag.clone()],
            kind: Some(unit.kind),
            doubt: None,
        })
    }

    /// "nine and ten both have ...": several units by their numbers alone.
    fn listed(&self, s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> Option<(Subject, usize)> {
        let item = s.get(at)?;
        let begins = at == 0 || item.gap >= Gap::Stop || stream.paused(item.first as usize);
        let (list, next) = numbers(s, stream, at, false).filter(|(n, _)| begins && n.len() > 1)?;
        let says = s.any(
            next,
            &[Role::Is, Role::ItIs, Role::There, Role::Both, Role::All],
        ) || says_any(stream, s.get(next)?, &["all", "also", "each"]);
        // "Five and six have ...": further units like the one being talked about.
        let fresh =
            |n: &u32| self.known.iter().all(|m| m.number != Some(*n)) && f64::from(*n) <= MOST;
        if let Some(kind) = self.current.kind.filter(|_| says && at == 0)
            && list.iter().any(fresh)
            && !self.current.tags.is_empty()
        {
            return Some((self.named(kind, &list, Some(super::GUESSED_KIND)), next));
        }
        let mut tags = Vec::new();
        for number in &list {
            tags.push(self.only_spoken(f64::from(*number))?.tag.clone());
        }
        let kind = self.called(tags.first()?)?.kind;
        says.then_some((
            Subject {
                tags,
                kind: Some(kind),
                doubt: None,
            },
            next,
        ))
    }
}

/// Only fills a pause.
fn filler(item: &Item) -> bool {
    item.idle() && item.is(Role::Filler)
}
