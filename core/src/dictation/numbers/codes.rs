//! Where a model or serial number stands in the stream, before anything else is read there.
//!
//! A code is one item: its letters and digits can then never be taken for a unit ("V C H 0 3 0"
//! holds no chiller 30), a belt or a rating. A code stands behind its label; one that stands
//! before the label "serial" is the model.

use super::spelled::{self, connector};
use super::{Stream, read};
use crate::dictation::lexicon::meaning::{Field, Meaning, Role};
use crate::dictation::tokens::Gap;

/// A code found: the token after it, and the label it has without one being said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Code {
    pub(crate) next: usize,
    pub(crate) implied: Option<Field>,
}

/// Watches the items go by for the place where a code begins.
#[derive(Debug, Default)]
pub(crate) struct Codes {
    /// Items since the label, while its code is awaited.
    waited: Option<usize>,
    /// A preposition was just said: "the model on RTU 4 is".
    place: bool,
    /// Token until which no code without a label begins.
    tried: usize,
    /// The label awaiting its code, or the last one that had it, and where that code ended.
    label: Option<Field>,
    ended: usize,
    /// Token until which labels have had their code before them.
    answered: usize,
    /// Token until which a code puts the last one right.
    mends: usize,
    /// How the last code began.
    began: String,
}

/// Most words between "no, wait" and the code put right: "that's an M on the end".
const MENDS: usize = 10;

/// Letters and digits in which a code that is said again begins alike.
const ALIKE: usize = 3;

/// Longest name of a unit: "RTU-11", "DOAS-2".
const SHORT: usize = 6;

/// Most items between a label and its code.
const FURTHEST: usize = 7;

impl Codes {
    /// The code that begins at token `at`, where `phrase` begins, if one does.
    pub(crate) fn at(
        &mut self,
        stream: Stream<'_>,
        at: usize,
        phrase: Option<(Meaning, usize)>,
    ) -> Option<Code> {
        let (meaning, taken) = phrase.unwrap_or((Meaning::default(), 1));
        if matches!(meaning.label, Some(Field::Model | Field::Serial)) {
            self.waited = (at >= self.answered).then_some(0);
            self.place = false;
            self.label = meaning.label;
            return None;
        }
        let Some(waited) = self.waited else {
            let wrong = meaning.roles.any(&[Role::Correct, Role::Scratch])
                || stream.is(at, "no") && !stream.joins(at + 1);
            if wrong && self.ended > 0 && at - self.ended < FURTHEST {
                self.mends = at + taken + MENDS;
            }
            // "no. That's off RTU-11": a unit.
            if meaning.kind.is_some() && stream.is_number(at + taken) {
                return None;
            }
            return self
                .put_right(stream, at)
                .or_else(|| self.once_more(stream, at))
                .or_else(|| self.before_serial(stream, at));
        };
        let token = stream.get(at)?;
        let worth = stream.lexicon.worth(token.word);
        let article = meaning.roles.has(Role::A) && waited == 0;
        let number = stream.is_number(at);
        let spells = taken == 1 && worth.letter.is_some() && !article || number;
        let article_spells = taken == 1
            && worth.letter.is_some()
            && stream.get(at + 1).is_some_and(|t| {
                stream.is_number(at + 1) || stream.lexicon.worth(t.word).letter.is_some()
            });
        // "22K-80417" is no unit's number.
        let glued = stream.get(at + 1).is_some_and(|t| t.gap <= Gap::Hyphen);
        let of_unit = number && !glued && (waited > 1 || stream.copula_at(at + 1));
        if self.place && (meaning.kind.is_some() || of_unit) {
            self.waited = Some(waited + 1);
            return None;
        }
        let passes =
            meaning.roles.has(Role::At) || connector(meaning.roles) || stream.is(at, "which");
        if passes && !spells && !article_spells && waited < FURTHEST {
            // Behind "is" no unit's number comes any more.
            let is = meaning.roles.any(&[Role::Is, Role::ItIs]);
            self.place = (self.place || meaning.roles.has(Role::At)) && !is;
            self.waited = Some(waited + 1);
            return None;
        }
        self.waited = None;
        if value_begins(stream, at) {
            return None;
        }
        let read = spelled::spelled(stream, at)?;
        // "serial ... no. That's off RTU-11": the name of a unit is no serial.
        let short = read.text.len() <= SHORT && self.label == Some(Field::Serial);
        if short && meaning.kind.is_some() {
            return None;
        }
        self.began = read.text.chars().take(ALIKE).collect();
        self.ended = read.next.max(at + 1);
        Some(Code {
            next: self.ended,
            implied: None,
        })
    }

    /// "model GX 118, had it backwards, GX 181".
    fn put_right(&mut self, stream: Stream<'_>, at: usize) -> Option<Code> {
        let label = self.label.filter(|_| at < self.mends)?;
        let token = stream.get(at)?;
        let short = token.end - token.start <= 3 && !stream.is(at, "a") && !stream.is(at, "i");
        let begins = short && token.literal().is_none() && stream.numeral(at).is_none();
        if value_begins(stream, at) || stream.phrase_at(at).is_some_and(|m| m.value.is_some()) {
            return None;
        }
        let read = spelled::spelled(stream, at)?;
        // "three one zero seven W, no wait, three one zero nine W": begun again.
        let again = self.began.len() == ALIKE && read.text.starts_with(&self.began);
        if !begins && !again {
            return None;
        }
        let digits = read.text.bytes().filter(u8::is_ascii_digit).count();
        if digits < 2 || read.text.len() < 4 {
            return None;
        }
        self.mends = 0;
        self.ended = read.next.max(at + 1);
        Some(Code {
            next: self.ended,
            implied: Some(label),
        })
    }

    /// "one is serial B 1 1 and two is B 1 2": the same label again, for another unit.
    fn once_more(&mut self, stream: Stream<'_>, at: usize) -> Option<Code> {
        let label = self.label.filter(|_| self.ended > 0)?;
        let behind = at.checked_sub(self.ended)?;
        let apostrophe = stream.get(at.checked_sub(1)?)?.apostrophe;
        let says = apostrophe || stream.copula_at(at - 1);
        let joined = stream.is(self.ended, "and") || !stream.joins(self.ended);
        let number = (self.ended..at).any(|i| stream.is_number(i));
        if !(2..=6).contains(&behind) || !says || !joined || !number {
            return None;
        }
        // "twelve ton. It's a two oh eight".
        if stream.is(at, "a") || value_begins(stream, at) {
            return None;
        }
        let read = spelled::spelled(stream, at)?;
        self.ended = read.next.max(at + 1);
        Some(Code {
            next: self.ended,
            implied: Some(label),
        })
    }

    /// "h b r one zero zero c three serial": a code before that label is the model.
    fn before_serial(&mut self, stream: Stream<'_>, at: usize) -> Option<Code> {
        let token = stream.get(at)?;
        let lone = token.end - token.start == 1 && !stream.is(at, "a") && !stream.is(at, "i");
        let meant = stream
            .phrase_at(at)
            .is_some_and(|m| m.value.is_some() || m.label.is_some() || m.kind.is_some());
        if at < self.tried || !lone || meant || token.literal().is_some() {
            return None;
        }
        let Some(read) = spelled::spelled(stream, at) else {
            // Letters that spell nothing are not tried again one by one.
            let letters = |at: usize| stream.get(at).is_some_and(|t| t.end - t.start == 1);
            self.tried = (at..at + 40).find(|i| !letters(*i)).unwrap_or(at + 40);
            return None;
        };
        self.tried = read.next;
        let letters = read.text.bytes().filter(u8::is_ascii_uppercase).count();
        let digits = read.text.bytes().filter(u8::is_ascii_digit).count();
        let label = |at: usize| stream.phrase_at(at).and_then(|meaning| meaning.label);
        let joined = stream.get(read.next).is_some_and(|t| t.gap <= Gap::Comma);
        // "B T 3 6 is the model".
        let named = (stream.is(read.next, "is") && stream.is(read.next + 1, "the"))
            .then(|| label(read.next + 2))
            .flatten()
            .filter(|field| matches!(field, Field::Model | Field::Serial));
        if let Some(field) = named.filter(|_| digits > 0) {
            self.answered = read.next + 3;
            return Some(Code {
                next: read.next,
                implied: Some(field),
            });
        }
        let fits = letters >= 2 && digits >= 2 && joined && label(read.next) == Some(Field::Serial);
        fits.then_some(Code {
            next: read.next,
            implied: Some(Field::Model),
        })
    }
}

/// Whether a value begins at token `at`, so that a code said before it has ended: a voltage
/// ("four sixty volt", "two oh eight three phase"), a size ("20 by 25"), the number of a unit
/// ("and two is"), a refrigerant, the label of another value, a year behind a pause.
pub(super) fn value_begins(stream: Stream<'_>, at: usize) -> bool {
    let Some(token) = stream.get(at) else {
        return false;
    };
    let window = stream.tokens.get(at..).unwrap_or_default().iter().take(6);
    let phrase = stream
        .lexicon
        .longest(window.map(|t| stream.lexicon.in_phrase(t.word)));
    if let Some((meaning, taken)) = phrase
        && token.gap >= Gap::Space
        && !matches!(meaning.label, Some(Field::Model | Field::Serial))
    {
        let long = stream
            .tokens
            .get(at..at + taken)
            .is_some_and(|words| words.iter().map(|t| t.end - t.start).sum::<u32>() >= 3);
        let cold = meaning
            .value
            .is_some_and(|(field, _)| field == Field::Refrigerant)
            && token.literal().is_none()
            && stream.numeral(at).is_none();
        if long && (meaning.label.is_some() || cold) {
            return true;
        }
    }
    let (mut value, mut next) = match read(stream, at) {
        Some((number, next)) => (vec![number], next),
        None => return false,
    };
    if token.gap == Gap::Glued {
        return false;
    }
    let paused = token.gap == Gap::Comma || stream.paused(at);
    loop {
        let joined = super::joined(&value).unwrap_or(0.0);
        let ends = stream.get(next).is_none_or(|t| t.gap >= Gap::Comma) || stream.paused(next);
        if super::voltage(joined) && (stream.phase_at(next) || stream.volts_at(next)) {
            return true;
        }
        if paused && ends && super::year(&value).is_some() {
            return true;
        }
        if value.len() == 1 && (stream.is(next, "by") || stream.copula_at(next)) {
            return true;
        }
        let more = read(stream, next).filter(|_| stream.joins(next) && value.len() < 4);
        let Some((number, after)) = more else {
            return false;
        };
        value.push(number);
        next = after;
    }
}
