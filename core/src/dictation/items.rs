//! Tokens to items: phrases with their meanings, numbers, and words that mean nothing here.

use super::lexicon::Lexicon;
use super::lexicon::meaning::{Meaning, Part, Role};
use super::lexicon::trie::{UNKNOWN, Word};
use super::numbers::{self, Number, Stream, codes};
use super::slips;
use super::slots;
use super::soundalike::{abbreviated, alike, heard, torn_label};
use super::tokens::{Gap, Token};
use crate::survey::codes::Component;
use crate::survey::spoken::Evidence;

/// A phrase, a number or a single word.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Item {
    pub(crate) meaning: Meaning,
    pub(crate) number: Option<Number>,
    /// The first word, for letters and sounds.
    pub(crate) word: Word,
    /// Token range.
    pub(crate) first: u32,
    pub(crate) last: u32,
    /// What stood before it.
    pub(crate) gap: Gap,
    pub(crate) trust: f32,
    /// Its last word ended in `'s`.
    pub(crate) apostrophe: bool,
    /// A model or serial number, spelled: nothing inside it means anything else.
    pub(crate) code: bool,
}

impl Item {
    pub(crate) fn is(&self, role: Role) -> bool {
        self.meaning.roles.has(role)
    }

    pub(crate) fn any(&self, roles: &[Role]) -> bool {
        self.meaning.roles.any(roles)
    }

    /// Says nothing by itself: a filler, an article, an adverb.
    pub(crate) fn idle(&self) -> bool {
        let m = &self.meaning;
        let meant = m.part.is_some()
            || m.fault.is_some()
            || m.kind.is_some()
            || m.label.is_some()
            || m.danger.is_some()
            || m.value.is_some()
            || self.number.is_some();
        !meant && m.roles.any(&[Role::Filler, Role::A])
    }

    /// Part and condition in one phrase.
    pub(crate) fn both(&self) -> bool {
        self.meaning.part.is_some() && self.meaning.fault.is_some()
    }
}

/// Whether a token is a number or sounds like one.
fn digits(stream: Stream<'_>, at: usize) -> bool {
    let sounds = |t: &Token| stream.lexicon.worth(t.word).sound.is_some();
    stream.is_number(at) || stream.get(at).is_some_and(sounds)
}

/// Longest phrase looked for, in words.
const LONGEST: usize = 8;

/// The phrase that begins at a token, as it was written or by its sound.
fn spoken(stream: Stream<'_>, at: usize) -> Option<(Meaning, usize)> {
    let Stream {
        tokens, lexicon, ..
    } = stream;
    let written = phrase(tokens, at, lexicon);
    let sounded = abbreviated(stream, at, written)
        .or_else(|| heard(stream, at, written))
        .or_else(|| alike(stream, at, written))
        .or_else(|| torn_label(stream, at, written));
    let found = sounded.or_else(|| cut_short(stream, at).unwrap_or(written));
    // "the wires in the conduit": no "wiring" torn in two.
    match found {
        Some((m, taken))
            if m.garbled
                && taken > 1
                && stream.is(at + taken - 1, "in")
                && stream.is_any(at + taken, &["the", "a", "an", "its", "this", "that"]) =>
        {
            phrase(tokens.get(..at + taken - 1)?, at, lexicon)
        }
        other => other,
    }
}

/// The phrase, where it must leave its last words to a longer one behind.
fn cut_short(stream: Stream<'_>, at: usize) -> Option<Option<(Meaning, usize)>> {
    let Stream {
        tokens, lexicon, ..
    } = stream;
    let (_, taken) = phrase(tokens, at, lexicon)?;
    // "on the roof drain": "on the" and a drain.
    if taken > 1
        && stream.is(at + taken - 1, "roof")
        && phrase(tokens, at + taken - 1, lexicon).is_some_and(|(m, n)| n > 1 && m.part.is_some())
    {
        return Some(phrase(tokens.get(..at + taken - 1)?, at, lexicon));
    }
    let article = taken == 2 && stream.is(at, "the");
    let behind = phrase(tokens, at + 1, lexicon);
    // "at the roof drain", "the deck is soft".
    let longer = || behind.is_some_and(|(m, taken)| taken > 1 && m.of_trade());
    // "the roof train": the article leaves the rest to itself.
    let torn = || heard(stream, at + 1, behind).is_some();
    (article && (longer() || torn())).then(|| phrase(tokens.get(..at + 1)?, at, lexicon))
}

/// "moderately dirty", "visibly cracked": a word that says how, and no more.
fn adverb(stream: Stream<'_>, at: usize) -> bool {
    const NOUNS: [&str; 8] = [
        "assembly", "family", "supply", "july", "belly", "jelly", "trolley", "rally",
    ];
    let word = stream.get(at).map_or("", |t| stream.raw(t));
    word.len() > 4
        && word.ends_with("ly")
        && word.starts_with(|c: char| c.is_ascii_lowercase())
        && !stream.is_any(at, &NOUNS)
}

/// A word that carries no meaning of its own.
fn filler() -> Meaning {
    let mut meaning = Meaning::default();
    meaning.roles.add(Role::Filler);
    meaning
}

/// Matches phrases and reads numbers over the whole stream.
pub(crate) fn items(stream: Stream<'_>) -> Vec<Item> {
    let Stream {
        tokens, lexicon, ..
    } = stream;
    let mut out = Vec::with_capacity(tokens.len());
    let mut at = 0;
    let mut codes = codes::Codes::default();
    while let Some(token) = tokens.get(at) {
        let phrase = spoken(stream, at);
        // "the belt's a C 62" is no air conditioner.
        let belt = || {
            let of = Part::Known(Component::Belt);
            out.iter()
                .rev()
                .take(3)
                .any(|i: &Item| i.meaning.part == Some(of))
        };
        let article =
            stream.is(at, "a") && stream.is(at + 1, "c") && stream.is_number(at + 2) && belt();
        let phrase = match article {
            true => self::phrase(tokens.get(..=at).unwrap_or_default(), at, lexicon),
            false => phrase,
        };
        if let Some(code) = codes.at(stream, at, phrase) {
            let used = tokens.get(at..code.next).unwrap_or_default();
            out.push(Item {
                meaning: Meaning {
                    label: code.implied,
                    ..Meaning::default()
                },
                number: None,
                word: UNKNOWN,
                first: at as u32,
                last: code.next as u32,
                gap: token.gap,
                trust: used.iter().map(|t| t.trust).fold(1.0, f32::min),
                apostrophe: false,
                code: true,
            });
            at = code.next;
            continue;
        }
        // "oh and two has ...": a sigh, and no zero.
        let sigh = stream.is(at, "oh")
            && !(stream.joins(at + 1) && digits(stream, at + 1))
            && !(at > 0
                && stream.joins(at)
                && digits(stream, at - 1)
                && stream
                    .phrase_at(at + 1)
                    .is_some_and(|m| m.measure.is_some()));
        let numeric = stream.is_number(at) && !sigh || numbers::misheard::any(stream, at);
        let number = if numeric && phrase.is_none_or(|(_, taken)| taken == 1) {
            numbers::read(stream, at)
        } else {
            None
        };
        let (meaning, number, next) = match (number, phrase) {
            (Some((number, next)), _) => (Meaning::default(), Some(number), next),
            (None, Some((meaning, taken))) => (meaning, None, at + taken),
            (None, None) if adverb(stream, at) => (filler(), None, at + 1),
            (None, None) => (Meaning::default(), None, at + 1),
        };
        let next = next.max(at + 1).min(tokens.len());
        let used = tokens.get(at..next).unwrap_or_default();
        let trust = used.iter().map(|t| t.trust).fold(1.0, f32::min);
        out.push(Item {
            meaning,
            number,
            word: token.word,
            first: at as u32,
            last: next as u32,
            gap: token.gap,
            trust: if meaning.garbled { trust * 0.8 } else { trust },
            apostrophe: used.last().is_some_and(|t| t.apostrophe),
            code: false,
        });
        at = next;
    }
    slips::mend(&mut out, stream);
    slots::mend(&mut out, stream);
    out
}

/// Fewest words of a warning that goes on behind a comma: "is hot, don't touch".
const WARNING: usize = 4;

/// The longest phrase at `at`. A comma inside ends a phrase, but for words that take something
/// back ("no, wait"), which recognisers cut with commas, and long warnings.
pub(super) fn phrase(tokens: &[Token], at: usize, lexicon: &Lexicon) -> Option<(Meaning, usize)> {
    let window = tokens.get(at..(at + LONGEST).min(tokens.len()))?;
    let until = |limit: Gap| {
        let length = window
            .iter()
            .skip(1)
            .position(|t| t.gap >= limit)
            .map_or(window.len(), |n| n + 1);
        let words = window
            .iter()
            .take(length)
            .map(|t| lexicon.in_phrase(t.word));
        (lexicon.longest(words), length)
    };
    let (short, length) = until(Gap::Comma);
    if length < window.len() && window.get(length).is_some_and(|t| t.gap == Gap::Comma) {
        let (long, _) = until(Gap::Stop);
        if let Some((meaning, taken)) = long
            && taken > length
            && (meaning.danger.is_some() && taken >= WARNING
                || meaning.roles.any(&[Role::Correct, Role::Scratch]))
        {
            return long;
        }
    }
    short
}

/// The bytes of a token range; where it crosses segments, those of the segment of the token `told`,
/// which is the reason.
pub(crate) fn evidence_of(tokens: &[Token], (first, last): (u32, u32), told: u32) -> Evidence {
    let Some(segment) = tokens.get(told as usize).map(|t| t.segment) else {
        return evidence(tokens, first, last);
    };
    let within = |at: &u32| {
        tokens
            .get(*at as usize)
            .is_some_and(|t| t.segment == segment)
    };
    let from = (first..last).find(within).unwrap_or(told);
    let to = (first..last).rev().find(within).unwrap_or(told);
    evidence(tokens, from, to + 1)
}

/// The bytes of a token range; where it crosses segments, those of the segment that holds
/// most of it (the earlier on a tie).
pub(crate) fn evidence(tokens: &[Token], first: u32, last: u32) -> Evidence {
    let range = tokens
        .get(first as usize..last as usize)
        .unwrap_or_default();
    let Some(head) = range.first() else {
        return Evidence {
            segment: 0,
            start: 0,
            end: 0,
        };
    };
    let mut best = (0usize, head.evidence());
    let mut at = 0;
    while let Some(from) = range.get(at) {
        let same = range
            .iter()
            .skip(at)
            .take_while(|t| t.segment == from.segment)
            .count()
            .max(1);
        let end = range.get(at + same - 1).map_or(from.end, |t| t.end);
        if same > best.0 {
            best = (
                same,
                Evidence {
                    end: end as usize,
                    ..from.evidence()
                },
            );
        }
        at += same;
    }
    best.1
}
