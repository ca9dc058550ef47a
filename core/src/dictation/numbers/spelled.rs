//! Model and serial strings as they are spelled aloud: letters, spelling-alphabet words, "b as
//! in boy", "double four", digits one by one or in pairs, dashes and slashes.
//!
//! Never repaired by likeness: a string with a guess in it is returned as doubtful.

use super::codes::value_begins;
use super::{Stream, read};
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::tokens::Gap;

/// A string that was spelled.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Spelled {
    pub(crate) text: String,
    /// Token after it.
    pub(crate) next: usize,
    /// A letter or digit was guessed from a sound-alike.
    pub(crate) doubtful: bool,
}

/// Longest string taken, in tokens.
const LONGEST: usize = 40;

/// Reads the string that begins at token `at`.
pub(crate) fn spelled(stream: Stream<'_>, at: usize) -> Option<Spelled> {
    let mut out = Spelled {
        text: String::new(),
        next: at,
        doubtful: false,
    };
    let mut plain = 0;
    while out.next < at + LONGEST {
        let Some(token) = stream.get(out.next) else {
            break;
        };
        let started = !out.text.is_empty();
        let ends = value_begins(stream, out.next) || stream.counts_anew(out.next);
        if out.text.len() >= 3 && ends {
            break;
        }
        if started && token.gap >= Gap::Comma {
            let worth = stream.lexicon.worth(token.word);
            let single = token.end - token.start == 1
                || stream.is_number(out.next)
                || worth.letter.is_some()
                || stream.is_any(out.next, &["dash", "slash", "double", "triple"]);
            if token.gap >= Gap::Stop || !(single && piece(stream, out.next, true).is_some()) {
                break;
            }
        }
        let Some((piece, next, sure)) = piece(stream, out.next, started) else {
            break;
        };
        // "048E, E as in echo": said again to be sure.
        let again = token.gap == Gap::Comma && next > out.next + 1 && out.text.ends_with(&piece);
        if again && piece.len() == 1 && stream.is(out.next + 1, "as") {
            out.next = next;
            continue;
        }
        let bare = token.end - token.start == 1;
        match token.gap {
            Gap::Hyphen if started && !(bare && plain == 1) => out.text.push('-'),
            Gap::Slash if started => out.text.push('/'),
            Gap::Dot if started => out.text.push('.'),
            _ => {}
        }
        plain = piece.len();
        out.text.push_str(&piece);
        out.next = next;
        out.doubtful |= !sure;
        if stream.get(out.next).is_none() {
            break;
        }
    }
    while out.text.ends_with(['-', '/', '.']) {
        out.text.pop();
    }
    let digits = out.text.bytes().filter(u8::is_ascii_digit).count();
    let enough = out.text.len() >= 3 && (digits > 0 || out.text.len() >= 5);
    enough.then_some(out)
}

/// One piece of the string: its characters, the token after it, and whether it is sure.
fn piece(stream: Stream<'_>, at: usize, started: bool) -> Option<(String, usize, bool)> {
    let token = stream.get(at)?;
    let raw = stream.raw(token);
    let worth = stream.lexicon.worth(token.word);
    if token.literal().is_some() {
        let glued = token.gap == Gap::Glued;
        return (glued || !measured(stream, at + 1)).then(|| (raw.replace(',', ""), at + 1, true));
    }
    for (word, times) in [("double", 2), ("triple", 3)] {
        if stream.is(at, word) {
            let (inner, next, sure) = piece(stream, at + 1, started)?;
            return Some((inner.repeat(times), next, sure));
        }
    }
    if started {
        for (words, mark) in [("dash", "-"), ("hyphen", "-"), ("slash", "/"), ("dot", ".")] {
            if stream.is(at, words) && piece(stream, at + 1, true).is_some() {
                return Some((mark.into(), at + 1, true));
            }
        }
    }
    if worth.numeral.is_some() && !stream.phase_at(at) {
        let (number, next) = read(stream, at)?;
        let whole = number.value.fract() == 0.0 && !measured(stream, next);
        return whole.then(|| (format!("{}", number.value), next, true));
    }
    if let Some(letter) = worth.letter {
        let ray = usize::from(letter == b'X' && stream.is(at + 1, "ray"));
        let next = at + 1 + ray + spelling_tail(stream, at + 1 + ray, letter);
        return Some((char::from(letter).to_string(), next, true));
    }
    let ascii = raw.bytes().all(|b| b.is_ascii_alphabetic());
    let dashed = raw.len() <= 4 && stream.is_any(at + 1, &["dash", "slash", "hyphen"]);
    let neighbour = dashed
        || stream
            .get(at + 1)
            .is_some_and(|t| t.gap <= Gap::Hyphen && t.literal().is_some());
    let inside = token.gap <= Gap::Hyphen && started;
    let capitals = raw.len() > 1 && raw.bytes().all(|b| b.is_ascii_uppercase());
    if ascii && raw.len() <= 6 && (neighbour || inside || (capitals && raw.len() <= 5)) {
        return Some((raw.to_ascii_uppercase(), at + 1, true));
    }
    // Sound-alikes count only between other pieces.
    let sound = worth.sound.map(|n| n.to_string());
    let guess = sound.or(worth.letter_sound.map(|b| char::from(b).to_string()))?;
    let label = || stream.phrase_at(at + 1).is_some_and(|m| m.label.is_some());
    let behind = || stream.joins(at + 1) && (sure_piece(stream, at + 1) || label());
    // "bee dee see one two zero": a letter that goes on in letters.
    let lettered = || {
        let next = stream.get(at + 1).filter(|_| stream.joins(at + 1));
        let next = next.map(|t| stream.lexicon.worth(t.word));
        let next = next.is_some_and(|w| w.letter_sound.is_some() || w.letter.is_some());
        worth.letter_sound.is_some() && next
    };
    // "one two zero dash ate".
    let dashed = || at > 0 && (stream.is(at - 1, "dash") || stream.is(at - 1, "slash"));
    // "... seven seven three two one ate": the last of them.
    let only = ["ate", "won", "tree", "fore", "sicks", "nein", "fife", "tin"];
    let last = || {
        let ends = !stream.joins(at + 1) || stream.paused(at + 1);
        ends && stream.is_any(at, &only)
    };
    let more = stream.joins(at) && started && (behind() || dashed() || last()) || lettered();
    more.then_some((guess, at + 1, false))
}

fn sure_piece(stream: Stream<'_>, at: usize) -> bool {
    stream.get(at).is_some_and(|token| {
        let worth = stream.lexicon.worth(token.word);
        let number = stream.is_number(at);
        let letter = worth.letter.is_some() && !stream.is(at, "a");
        (number || letter) && !stream.phase_at(at) && !measured(stream, at + 1)
    })
}

/// Whether a unit of measure begins here, so that the number before it is no part of a string.
fn measured(stream: Stream<'_>, at: usize) -> bool {
    let Some(token) = stream
        .get(at)
        .filter(|t| (t.gap <= Gap::Hyphen || t.gap == Gap::Space) && !stream.paused(at))
    else {
        return false;
    };
    let single = token.end - token.start == 1;
    let words = stream.tokens.get(at..).unwrap_or_default().iter().take(3);
    let Some((meaning, taken)) = stream
        .lexicon
        .longest(words.map(|t| stream.lexicon.in_phrase(t.word)))
        .filter(|_| !single)
    else {
        return false;
    };
    // "zero two seven, disconnect is a sixty": only several things are counted.
    let several = stream
        .get(at + taken - 1)
        .is_some_and(|t| stream.raw(t).ends_with('s') && !t.apostrophe);
    meaning.measure.is_some() || meaning.part.is_some() && several
}

/// "as in boy", "like bravo", "for bravo" behind a letter: how many tokens to skip.
pub(super) fn spelling_tail(stream: Stream<'_>, at: usize, letter: u8) -> usize {
    for (words, length) in [
        (&["as", "in"][..], 2),
        (&["is", "in"], 2),
        (&["like", "in"], 2),
        (&["like"], 1),
        (&["for"], 1),
    ] {
        if words.iter().enumerate().all(|(i, w)| stream.is(at + i, w))
            && let Some(token) = stream.get(at + length)
        {
            let example = stream.raw(token);
            let fits = example
                .bytes()
                .next()
                .is_some_and(|b| b.eq_ignore_ascii_case(&letter));
            if fits && example.len() > 1 {
                return length + 1;
            }
            if fits && letter == b'X' && stream.is(at + length + 1, "ray") {
                return length + 2;
            }
        }
    }
    0
}

/// Whether an item's roles may stand between a label and its string.
pub(crate) fn connector(roles: crate::dictation::lexicon::meaning::Roles) -> bool {
    roles.any(&[
        Role::Is,
        Role::ItIs,
        Role::There,
        Role::Filler,
        Role::Unit,
        Role::A,
    ])
}
