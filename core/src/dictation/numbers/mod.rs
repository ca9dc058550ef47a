//! Numbers as they are spoken, from tokens.
//!
//! [`read`] reads one number by the grammar of English ("one hundred and twenty thousand",
//! "four and a half", "1 1/2"). Technicians also say numbers in pieces ("four sixty", "two oh
//! eight"): those stay separate numbers here, and [`joined`] puts them together where the
//! context wants one. Nothing here knows what a number is for.

pub(crate) mod belts;
pub(crate) mod codes;
pub(crate) mod counts;
pub(crate) mod filters;
mod fraction;
pub(crate) mod misheard;
pub(crate) mod spelled;

use super::lexicon::Lexicon;
use super::lexicon::meaning::{Field, Meaning, Measure, Role};
use super::lexicon::words::Numeral;
use super::tokens::{Gap, Token};
use crate::survey::spoken::Segment;
use fraction::{fraction, literal};

/// One spoken number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Number {
    pub(crate) value: f64,
    /// "twos": a size said as a thing.
    pub(crate) plural: bool,
    /// Written in digits.
    pub(crate) literal: bool,
}

/// The tokens being read.
#[derive(Clone, Copy)]
pub(crate) struct Stream<'a> {
    pub(crate) tokens: &'a [Token],
    pub(crate) lexicon: &'a Lexicon,
    pub(crate) segments: &'a [Segment],
}

impl<'a> Stream<'a> {
    /// The text of a token, as recognised.
    pub(crate) fn raw(&self, token: &Token) -> &'a str {
        self.segments
            .get(token.segment as usize)
            .and_then(|s| s.text.get(token.start as usize..token.end as usize))
            .unwrap_or_default()
    }

    pub(crate) fn get(&self, at: usize) -> Option<&Token> {
        self.tokens.get(at)
    }

    pub(crate) fn numeral(&self, at: usize) -> Option<(Numeral, bool)> {
        let token = self.get(at)?;
        let worth = self.lexicon.worth(token.word);
        match (token.literal(), worth.numeral) {
            // "two's" is "two is".
            (None, Some(numeral)) => Some((numeral, worth.plural && !token.apostrophe)),
            _ => None,
        }
    }

    /// Whether the token is a number, in digits or as a word.
    pub(crate) fn is_number(&self, at: usize) -> bool {
        self.get(at).is_some_and(|token| {
            token.literal().is_some() || self.lexicon.worth(token.word).numeral.is_some()
        })
    }

    /// Whether the token follows the one before without a break in speech.
    pub(crate) fn joins(&self, at: usize) -> bool {
        self.get(at).is_some_and(|t| t.gap <= Gap::Space)
    }

    pub(crate) fn is(&self, at: usize, word: &str) -> bool {
        self.get(at)
            .is_some_and(|t| t.word != 0 && self.lexicon.is_word(t.word, word))
    }

    /// Whether a token is one of several words.
    pub(crate) fn is_any(&self, at: usize, words: &[&str]) -> bool {
        words.iter().any(|word| self.is(at, word))
    }

    /// A number behind a pause that begins what comes: "max breaker thirty | six has a leak", "dash
    /// one twenty | one of the fans".
    pub(crate) fn counts_anew(&self, at: usize) -> bool {
        let goes_on = ["has", "is", "needs", "isnt", "wont", "of"];
        self.paused(at) && self.is_any(at + 1, &goes_on)
    }

    /// Whether the speaker paused before this token: it begins a segment that did not follow at
    /// once. How a recogniser cuts unbroken speech means nothing.
    pub(crate) fn paused(&self, at: usize) -> bool {
        let (Some(here), Some(before)) = (
            self.get(at),
            at.checked_sub(1).and_then(|before| self.get(before)),
        ) else {
            return false;
        };
        let time = |t: &Token| self.segments.get(t.segment as usize);
        here.segment != before.segment
            && time(here)
                .zip(time(before))
                .is_some_and(|(h, b)| h.start_ms >= b.end_ms.saturating_add(PAUSE_MS))
    }

    /// Whether, behind a pause, a digit here begins a measure of its own: "max fifty | eight and
    /// a half ton".
    fn starts_anew(&self, at: usize) -> bool {
        self.paused(at)
            && (self.is(at + 1, "and")
                || self
                    .phrase_at(at + 1)
                    .and_then(|m| m.measure)
                    .is_some_and(|m| !matches!(m, Measure::Amp | Measure::Other)))
    }

    /// Whether a word for volts begins here.
    pub(crate) fn volts_at(&self, at: usize) -> bool {
        self.phrase_at(at)
            .is_some_and(|meaning| meaning.measure == Some(Measure::Volt))
    }

    /// Whether "is" or the like begins here, or the word before ended in `'s`.
    pub(crate) fn copula_at(&self, at: usize) -> bool {
        self.joins(at)
            && self
                .phrase_at(at)
                .is_some_and(|m| m.roles.has(Role::Is) && !m.roles.has(Role::A))
    }

    /// What the longest phrase that begins here means.
    pub(crate) fn phrase_at(&self, at: usize) -> Option<Meaning> {
        let words = self.tokens.get(at..).unwrap_or_default().iter().take(3);
        self.lexicon
            .longest(words.map(|t| self.lexicon.in_phrase(t.word)))
            .map(|(meaning, _)| meaning)
    }

    /// Whether "three phase" and the like begin here: a number that belongs to what follows.
    pub(crate) fn phase_at(&self, at: usize) -> bool {
        self.phrase_at(at)
            .and_then(|meaning| meaning.value)
            .is_some_and(|(field, _)| field == Field::Phase)
    }
}

/// A silence between segments that is a pause of the speaker, in milliseconds. Shorter ones are
/// brief: Campione and Véronis, "A Large-Scale Multilingual Study of Silent Pause Duration",
/// Speech Prosody 2002, abstract.
const PAUSE_MS: u64 = 200;

/// Nominal supply voltages, and what plates print for them.
const VOLTAGES: [f64; 18] = [
    110.0, 115.0, 120.0, 200.0, 208.0, 220.0, 230.0, 240.0, 265.0, 277.0, 347.0, 380.0, 400.0,
    440.0, 460.0, 480.0, 575.0, 600.0,
];

/// Whether a plate may give this voltage.
pub(crate) fn voltage(value: f64) -> bool {
    VOLTAGES.contains(&value)
}

/// The year that the pieces say by themselves: "twenty sixteen", "two thousand nine", "1998".
pub(crate) fn year(pieces: &[Number]) -> Option<f64> {
    let shape = match pieces {
        [one] => !one.plural,
        [century, rest] => {
            !century.literal
                && (century.value == 20.0 || century.value == 19.0)
                && (10.0..100.0).contains(&rest.value)
        }
        // "twenty oh eight".
        [century, zero, digit] => {
            !century.literal
                && century.value == 20.0
                && zero.value == 0.0
                && (1.0..10.0).contains(&digit.value)
        }
        _ => false,
    };
    joined(pieces).filter(|v| shape && v.fract() == 0.0 && (1980.0..=2035.0).contains(v))
}

/// Reads the number that begins at `at`; gives it and the index after it.
pub(crate) fn read(stream: Stream<'_>, at: usize) -> Option<(Number, usize)> {
    let token = stream.get(at)?;
    if let Some(value) = token.literal() {
        return Some(literal(stream, at, value));
    }
    let heard = misheard::any(stream, at);
    let scaled = |at: usize| matches!(stream.numeral(at), Some((Numeral::Scale(_), _)));
    if heard && !scaled(at + 1) {
        let (value, next, plural) = small(stream, at)?;
        let (value, next) = fraction(stream, value, next);
        return Some((
            Number {
                value,
                plural,
                literal: false,
            },
            next,
        ));
    }
    if let Some((numeral, plural)) = stream.numeral(at).filter(|_| !heard)
        && (plural || matches!(numeral, Numeral::Part(_)))
    {
        return Some((
            Number {
                value: numeral.value(),
                plural,
                literal: false,
            },
            at + 1,
        ));
    }
    let (mut value, mut next, mut plural) = small(stream, at)?;
    let mut total = 0.0;
    while let Some((Numeral::Scale(scale), _)) = stream.numeral(next) {
        if next > at && !stream.joins(next) {
            break;
        }
        let scale = f64::from(scale);
        next += 1;
        if scale > 100.0 {
            total += value.max(1.0) * scale;
            value = 0.0;
        } else {
            value = value.max(1.0) * scale;
        }
        let and = stream.is(next, "and") && stream.numeral(next + 1).is_some();
        let from = if and { next + 1 } else { next };
        if !stream.joins(from) || stream.phase_at(from) {
            continue;
        }
        if let Some((more, after, s)) = small(stream, from)
            && !(scale >= 100.0
                && !and
                && stream.joins(after)
                && stream.phrase_at(after).is_some_and(|m| m.part.is_some()))
            && !matches!(
                stream.numeral(from),
                Some((Numeral::Scale(_) | Numeral::Part(_), _))
            )
        {
            value += more;
            next = after;
            plural = s;
        }
    }
    let value = total + value;
    let (value, next) = fraction(stream, value, next);
    Some((
        Number {
            value,
            plural,
            literal: false,
        },
        next,
    ))
}

/// Zero to ninety-nine, or a bare scale word.
fn small(stream: Stream<'_>, at: usize) -> Option<(f64, usize, bool)> {
    if let Some(teen) = misheard::teen(stream, at) {
        return Some((teen, at + 2, false));
    }
    if let Some(tens) = misheard::tens(stream, at) {
        let unit = match stream.numeral(at + 2).filter(|_| stream.joins(at + 2)) {
            Some((Numeral::Digit(unit), _)) if unit > 0 && !stream.phase_at(at + 2) => unit,
            _ => 0,
        };
        return Some((
            f64::from(tens + unit),
            at + 2 + usize::from(unit > 0),
            false,
        ));
    }
    if let Some(digit) = misheard::digit(stream, at) {
        return Some((f64::from(digit), at + 1, false));
    }
    let (numeral, plural) = stream.numeral(at)?;
    match numeral {
        Numeral::Scale(_) => Some((0.0, at, false)),
        Numeral::Part(_) => None,
        Numeral::Tens(tens) if !plural => {
            // "twenty eight teen" is a year.
            let teen = stream.joins(at + 1) && misheard::teen(stream, at + 1).is_some();
            if teen {
                return Some((f64::from(tens), at + 1, false));
            }
            let joins = stream.joins(at + 1) && !stream.counts_anew(at + 1);
            let unit = stream.numeral(at + 1).filter(|_| joins);
            if unit.is_none()
                && let Some(unit) = misheard::after_tens(stream, at + 1)
            {
                return Some((f64::from(tens + unit), at + 2, false));
            }
            match unit {
                Some((Numeral::Digit(unit), s))
                    if unit > 0 && !stream.phase_at(at + 1) && !stream.starts_anew(at + 1) =>
                {
                    Some((f64::from(tens + unit), at + 2, s))
                }
                _ => Some((f64::from(tens), at + 1, false)),
            }
        }
        _ => Some((numeral.value(), at + 1, plural)),
    }
}

/// Puts numbers said in pieces together as their digits stand: 4, 60 -> 460; 2, 0, 8 -> 208.
/// A tens piece before a single digit fills its zero: "20 5" as a recogniser writes "25".
pub(crate) fn joined(pieces: &[Number]) -> Option<f64> {
    let (first, rest) = pieces.split_first()?;
    let mut value = first.value;
    let mut last = *first;
    for piece in rest {
        // "three 25 amp": a count, and a size in figures.
        let mixed = piece.literal && !last.literal && piece.value >= 10.0 && rest.len() == 1;
        if mixed && !voltage(value * 100.0 + piece.value) && piece.value < 100.0 {
            return None;
        }
        // "two six point four": digit by digit.
        let digits = value < 100.0 && piece.value < 10.0 && !piece.literal;
        if value.fract() != 0.0 || piece.value.fract() != 0.0 && !digits || value > 1e9 {
            return None;
        }
        // "one eighty thousand".
        if piece.value >= 1000.0
            && piece.value % 1000.0 == 0.0
            && piece.value < 100_000.0
            && value < 1000.0
            && !piece.literal
        {
            let low = piece.value / 1000.0;
            value = (value * if low < 10.0 { 10.0 } else { 100.0 } + low) * 1000.0;
            last = *piece;
            continue;
        }
        // Nobody says "fifteen two" for one number.
        let teens = (10.0..20.0).contains(&last.value);
        if piece.value >= 1e4 || teens && piece.value < 10.0 {
            return None;
        }
        let tens = last.value >= 20.0 && last.value < 100.0 && last.value % 10.0 == 0.0;
        if tens && last.literal && piece.literal && piece.value >= 1.0 && piece.value < 10.0 {
            value += piece.value;
        } else {
            let width = if piece.value < 10.0 {
                10.0
            } else if piece.value < 100.0 {
                100.0
            } else if piece.value < 1000.0 {
                1000.0
            } else {
                10000.0
            };
            value = value * width + piece.value;
        }
        last = *piece;
    }
    Some(value)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::tokens::tokens;
    use super::*;
    use crate::survey::spoken::Segment;

    fn pieces(text: &str) -> Vec<Number> {
        let lexicon = Lexicon::builtin();
        let segments = [Segment {
            text: text.into(),
            ..Segment::default()
        }];
        let tokens = tokens(&segments, lexicon);
        let stream = Stream {
            tokens: &tokens,
            lexicon,
            segments: &segments,
        };
        let mut out = Vec::new();
        let mut at = 0;
        while let Some((number, next)) = read(stream, at) {
            out.push(number);
            at = next;
        }
        out
    }

    #[test]
    fn reads_numbers_by_grammar_and_in_pieces() {
        for (text, expected) in [
            ("two oh eight", 208.0),
            ("four sixty", 460.0),
            ("2 0 8", 208.0),
            ("four eighty", 480.0),
            ("thirty five", 35.0),
            ("thirty-five", 35.0),
            ("one hundred and twenty thousand", 120_000.0),
            ("a", f64::NAN),
            ("hundred and twenty thousand", 120_000.0),
            ("two thousand and nine", 2009.0),
            ("two thousand sixteen", 2016.0),
            ("twenty sixteen", 2016.0),
            ("nineteen ninety eight", 1998.0),
            ("twelve hundred", 1200.0),
            ("one and a half", 1.5),
            ("seven and a half", 7.5),
            ("1 1/2", 1.5),
            ("3/4", 0.75),
            ("three quarter", 0.75),
            ("twenty four point six", 24.6),
            ("fourteen point one", 14.1),
            ("two hundred eight", 208.0),
            ("120 thousand", 120_000.0),
            ("one eighty thousand", 180_000.0),
            ("20 5", 25.0),
            ("4 60", 460.0),
        ] {
            let value = joined(&pieces(text));
            if expected.is_nan() {
                continue;
            }
            assert_eq!(value, Some(expected), "{text}");
        }
    }

    #[test]
    fn a_phase_keeps_its_number() {
        assert_eq!(joined(&pieces("sixty three phase")[..1]), Some(60.0));
        assert!(pieces("by twos").is_empty());
        assert!(pieces("twos")[0].plural);
        assert!(pieces("54s")[0].plural);
    }
}
