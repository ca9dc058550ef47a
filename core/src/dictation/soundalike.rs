//! Phrases of the trade by their sound: said letter by letter, torn into several words, or with one
//! word written as another.
//!
//! Asked only where the words themselves say nothing better; what comes of it is marked as
//! garbled. Called by `items`.

use super::items::phrase as phrase_at;
use super::lexicon::meaning::{Field, Meaning, Role};
use super::numbers::Stream;
use super::tokens::{Gap, Token};

/// Letters of the longest abbreviation, and of the shortest that is known by its sound.
const LETTERS: usize = 5;
const FEW_LETTERS: usize = 3;

/// What a phrase means, and its length in words.
type Phrase = (Meaning, usize);

/// An abbreviation of the trade said letter by letter and written as words: "our tea you".
pub(super) fn abbreviated(stream: Stream<'_>, at: usize, phrase: Option<Phrase>) -> Option<Phrase> {
    let letter = |i: usize| {
        let token = stream.get(i).filter(|_| i == at || stream.joins(i))?;
        let worth = stream.lexicon.worth(token.word);
        // "two oh eight".
        if worth.numeral.is_some() && stream.numeral(i + 1).is_some() {
            return None;
        }
        let sound = worth.letter_sound.or(worth.abbreviation_sound);
        let letter = worth.letter.or(sound)?.to_ascii_lowercase();
        let written = std::slice::from_ref(&letter);
        let word = std::str::from_utf8(written).ok()?;
        Some((stream.lexicon.word(word), sound.is_some()))
    };
    let said: Vec<_> = (at..at + LETTERS).map_while(letter).collect();
    let (meaning, taken) = stream.lexicon.longest(said.iter().map(|(word, _)| *word))?;
    let longer = phrase.is_some_and(|(m, other)| other >= taken && m.of_trade());
    let sounded = said.iter().take(taken).any(|(_, sound)| *sound);
    let known = taken >= FEW_LETTERS && sounded && !longer && meaning.of_trade();
    known.then(|| (meaning.as_garbled(), taken))
}

/// Most words that one phrase is torn into.
const TORN: usize = 4;

/// Words that are the torn-off end of another: "cool or", "brake her", "pipe ing".
const TAILS: [&str; 7] = ["or", "er", "her", "are", "ing", "ion", "ed"];

/// The phrase that several words sound like. One of them at least must mean nothing here, and
/// neither the first nor the last may be a word of grammar; unless they name a unit by its number.
pub(super) fn heard(stream: Stream<'_>, at: usize, phrase: Option<Phrase>) -> Option<Phrase> {
    let taken = phrase.map_or(1, |(_, taken)| taken);
    let whole = |i: usize| {
        let token = stream.get(i)?;
        let letter = token.end - token.start == 1;
        (!stream.is_number(i) && !letter && (i == at || token.gap == Gap::Space)).then_some(token)
    };
    let alone = |i: usize| {
        let word = stream.get(i).map(|t| t.word);
        word.and_then(|word| stream.lexicon.alone(word))
            .unwrap_or_default()
    };
    let grammar = |i: usize| {
        let meaning = alone(i);
        // "flashing same deal": no seam.
        let small = meaning.of_grammar() || meaning.roles.has(Role::SameWord);
        small && !stream.is_any(i, &TAILS)
    };
    let until = (at..at + TORN).take_while(|i| whole(*i).is_some()).count();
    let sound = |n: usize| {
        // Phrases are kept in the singular.
        let words = stream.tokens.get(at..at + n)?.iter().enumerate();
        let words = words.map(|(i, t)| match stream.raw(t) {
            word if i + 1 == n => singular(word),
            word => word,
        });
        let meaning = stream.lexicon.sounds_like(words)?;
        Some((meaning.as_garbled(), n))
    };
    // "condensing in it fourteen": a unit, for its number follows.
    let numbered = |n: usize| stream.is_number(at + n);
    let unit = (2..=until)
        .rev()
        .filter(|n| numbered(*n) && phrase.is_none_or(|(m, taken)| m.kind.is_none() || taken < *n))
        .find_map(|n| sound(n).filter(|(meaning, _)| meaning.kind.is_some()));
    if unit.is_some() {
        return unit;
    }
    if taken >= until || grammar(at) {
        return None;
    }
    // "the belt is miss sing": a verb is inside no phrase.
    let verb = |i: usize| stream.is_any(i, &["is", "are"]);
    let until = (at + 1..at + until)
        .find(|i| verb(*i))
        .map_or(until, |i| i - at);
    (taken + 1..=until).rev().find_map(|n| {
        let stray = (at..at + n).any(|i| !alone(i).of_trade() && !grammar(i));
        // "standing at air cooled chiller one" holds the name of a unit; in "looks oil stained" a
        // longer phrase goes on behind.
        let whole = |i: usize| {
            let phrase = phrase_at(stream.tokens, i, stream.lexicon);
            phrase.is_some_and(|(m, taken)| m.kind.is_some() || m.of_trade() && i + taken > at + n)
        };
        (stray && !(at + 1..at + n).any(whole) && !grammar(at + n - 1))
            .then(|| sound(n))
            .flatten()
    })
}

/// A word without its plural, as phrases hold it.
fn singular(word: &str) -> &str {
    let plural = word.len() > 3 && word.ends_with('s') && !word.ends_with("ss");
    word.get(..word.len() - usize::from(plural)).unwrap_or(word)
}

/// A label whose value is spelled.
fn code_label(meaning: &Meaning) -> bool {
    matches!(meaning.label, Some(Field::Model | Field::Serial))
}

/// Whether letters and digits are spelled from `at` on.
fn coded(stream: Stream<'_>, at: usize) -> bool {
    let piece = |at: usize| {
        let letter = |t: &Token| stream.lexicon.worth(t.word).letter.is_some();
        stream.joins(at) && (stream.is_number(at) || stream.get(at).is_some_and(letter))
    };
    piece(at) && piece(at + 1)
}

/// "sea real four four one": a label torn into two words, before its code.
pub(super) fn torn_label(stream: Stream<'_>, at: usize, phrase: Option<Phrase>) -> Option<Phrase> {
    let plain = phrase.is_none_or(|(m, taken)| taken == 1 && !m.of_trade());
    let (one, two) = (stream.get(at)?, stream.get(at + 1)?);
    let words = [stream.raw(one), stream.raw(two)];
    let number = usize::from(stream.is(at + 2, "number"));
    if !plain || !stream.joins(at + 1) || !coded(stream, at + 2 + number) {
        return None;
    }
    let mut meant = stream.lexicon.torn(words).into_iter();
    Some((meant.find(code_label)?.as_garbled(), 2))
}

/// Most words of a phrase in which one may be wrong.
const LIKENED: usize = 4;

/// A longer phrase than `phrase` but for one word, which is another of the same sound: "drain pen",
/// "condenser call".
pub(super) fn alike(stream: Stream<'_>, at: usize, phrase: Option<Phrase>) -> Option<Phrase> {
    let lexicon = stream.lexicon;
    let window = stream
        .tokens
        .get(at..(at + LIKENED).min(stream.tokens.len()))?;
    let until = window
        .iter()
        .skip(1)
        .take_while(|t| t.gap <= Gap::Space)
        .count()
        + 1;
    let window = window.get(..until)?;
    let doubtful =
        |t: &Token| !lexicon.meant(t.word).is_empty() || lexicon.worth(t.word).sound.is_some();
    if !window.iter().any(doubtful) {
        return None;
    }
    let says = phrase.filter(|(m, taken)| *taken > 1 || m.of_trade());
    let taken = says.map_or(0, |(_, taken)| taken);
    // What the other words are: one at least is of the trade, or a number.
    let holds = |except: usize, taken: usize| {
        window.iter().take(taken).enumerate().any(|(i, token)| {
            let trade = || lexicon.alone(token.word).is_some_and(|m| m.of_trade());
            i != except && (stream.is_number(at + i) || trade())
        })
    };
    // "spray phone roof": the other words hold no sentence together.
    let plain = |except: usize, taken: usize| {
        window.iter().take(taken).enumerate().all(|(i, token)| {
            i == except || lexicon.alone(token.word).is_none_or(|m| !m.of_grammar())
        })
    };
    // "cooling towel two".
    let numbered = |length: usize| stream.joins(at + length) && stream.is_number(at + length);
    let named = |m: &Meaning| {
        m.kind.is_some() || m.part.is_some() || m.label.is_some() || m.value.is_some()
    };
    let mut best: Option<Phrase> = None;
    for (wrong, token) in window.iter().enumerate() {
        // "r twenty to": a digit by its sound.
        let digit = lexicon.worth(token.word).sound.map(|n| lexicon.digits(n));
        for meant in lexicon.meant(token.word).iter().chain(&digit) {
            let words = window.iter().enumerate().map(|(i, t)| match i == wrong {
                true => *meant,
                false => lexicon.in_phrase(t.word),
            });
            let Some((meaning, length)) = lexicon.longest(words) else {
                continue;
            };
            // "medal K L 4": a label by itself, before its code.
            let alone = code_label(&meaning) && coded(stream, at + length);
            let number = digit == Some(*meant);
            if number
                && meaning
                    .value
                    .is_none_or(|(field, _)| field != Field::Refrigerant)
            {
                continue;
            }
            let longer = length > wrong && (length > 1 || alone) && length > taken;
            if longer
                && named(&meaning)
                && (holds(wrong, length)
                    || meaning.kind.is_some() && numbered(length)
                    || code_label(&meaning) && coded(stream, at + length)
                    || meaning.value.is_some() && plain(wrong, length))
                && best.is_none_or(|(_, n)| length > n)
            {
                best = Some((meaning.as_garbled(), length));
            }
        }
    }
    best
}
