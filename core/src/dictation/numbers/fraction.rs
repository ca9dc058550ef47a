//! Numbers in digits, and what stands behind a whole number: "1 1/2", "and a half", "point four".

use super::{Number, Stream, codes};
use crate::dictation::lexicon::words::Numeral;
use crate::dictation::tokens::{Gap, Token};

pub(super) fn literal(stream: Stream<'_>, at: usize, value: f64) -> (Number, usize) {
    let number = |value| Number {
        value,
        plural: false,
        literal: true,
    };
    let below = stream
        .get(at + 1)
        .filter(|t| t.gap == Gap::Slash)
        .and_then(Token::literal);
    if let Some(below) = below.filter(|b| [2.0, 3.0, 4.0, 8.0].contains(b) && value < *b) {
        return (number(value / below), at + 2);
    }
    let mut value = value;
    let mut next = at + 1;
    while stream.joins(next)
        && !stream.paused(next)
        && let Some((Numeral::Scale(scale), _)) = stream.numeral(next)
    {
        value *= f64::from(scale);
        next += 1;
    }
    // "54s", and "1 1/2".
    if stream.is(next, "s") && stream.get(next).is_some_and(|t| t.gap == Gap::Glued) {
        return (
            Number {
                plural: true,
                ..number(value)
            },
            next + 1,
        );
    }
    let above = stream
        .get(next)
        .filter(|t| matches!(t.gap, Gap::Space | Gap::Hyphen));
    if let (Some(above), Some(below)) = (
        above.and_then(Token::literal),
        stream
            .get(next + 1)
            .filter(|t| t.gap == Gap::Slash)
            .and_then(Token::literal),
    ) && [2.0, 4.0, 8.0].contains(&below)
        && above < below
        && value.fract() == 0.0
    {
        return (number(value + above / below), next + 2);
    }
    // "200 and 8 volt".
    let tail = stream.get(next + 1).and_then(Token::literal);
    if value % 100.0 == 0.0
        && (100.0..1000.0).contains(&value)
        && stream.is(next, "and")
        && let Some(tail) = tail.filter(|n| *n < 100.0 && n.fract() == 0.0)
        && stream
            .phrase_at(next + 2)
            .is_some_and(|m| m.measure.is_some())
    {
        return (number(value + tail), next + 2);
    }
    let (value, next) = fraction(stream, value, next);
    (number(value), next)
}

/// "and a half", "point four five", "three quarters" behind a whole number.
pub(super) fn fraction(stream: Stream<'_>, value: f64, next: usize) -> (f64, usize) {
    if (stream.is(next, "point") || stream.is(next, "decimal")) && stream.joins(next) {
        let mut scale = 0.1;
        let mut sum = value;
        let mut at = next + 1;
        while let Some(token) = stream.get(at).filter(|_| stream.joins(at)) {
            let digit = match (token.literal(), stream.numeral(at)) {
                (Some(n), _) if n < 10.0 => n,
                (Some(n), _) if n < 100.0 => {
                    scale /= 10.0;
                    n
                }
                (None, Some((Numeral::Digit(n), _))) => f64::from(n),
                (None, None) if at == next + 1 => {
                    let sound = stream.lexicon.worth(token.word).sound;
                    match sound.filter(|n| *n < 10) {
                        Some(n) => f64::from(n),
                        None => break,
                    }
                }
                (None, Some((Numeral::Teen(n) | Numeral::Tens(n), _))) => {
                    scale /= 10.0;
                    f64::from(n)
                }
                _ => break,
            };
            let volts = at > next + 1 && codes::value_begins(stream, at);
            if stream.phase_at(at) || at > next + 4 || volts {
                break;
            }
            sum += digit * scale;
            scale /= 10.0;
            at += 1;
        }
        if at > next + 1 {
            return ((sum * 1e4).round() / 1e4, at);
        }
    }
    if let Some((Numeral::Part(part), _)) = stream.numeral(next).filter(|_| stream.joins(next)) {
        return if (1.0..=3.0).contains(&value) && part == 0.25 {
            (value * part, next + 1)
        } else {
            (value, next)
        };
    }
    let half = || stream.is(next + 1, "a") && stream.is(next + 2, "half");
    if stream.is(next, "and") || stream.is(next, "an") && half() {
        let skip = usize::from(stream.is_any(next + 1, &["a", "ah", "uh"]));
        if let Some((Numeral::Part(part), _)) = stream.numeral(next + 1 + skip) {
            return (value + part, next + 2 + skip);
        }
        if let (Some((Numeral::Digit(n), _)), Some((Numeral::Part(part), _))) =
            (stream.numeral(next + 1), stream.numeral(next + 2))
        {
            return (value + f64::from(n) * part, next + 3);
        }
    }
    (value, next)
}
