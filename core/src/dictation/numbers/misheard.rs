//! Numbers by their sound, where nothing but a number makes sense: "for teen", "ate pounds",
//! "filters for of them".

use super::Stream;
use crate::dictation::lexicon::meaning::{Meaning, Measure, Role};
use crate::dictation::lexicon::words::Numeral;

/// "for teen": what a recogniser makes of a number in the teens.
pub(crate) fn teen(stream: Stream<'_>, at: usize) -> Option<f64> {
    let worth = stream.lexicon.worth(stream.get(at)?.word);
    let digit = match worth.numeral {
        Some(Numeral::Digit(digit)) => digit,
        _ => worth.sound.or(worth.ordinal)?,
    };
    let tail = stream.is(at + 1, "teen") || stream.is(at + 1, "steen");
    let torn = (4..10).contains(&digit) && stream.joins(at + 1) && tail;
    torn.then_some(10.0 + f64::from(digit))
}

/// "sick tea amp", "for tea five": what it makes of forty to ninety.
pub(crate) fn tens(stream: Stream<'_>, at: usize) -> Option<u8> {
    let worth = stream.lexicon.worth(stream.get(at)?.word);
    let digit = match worth.numeral {
        Some(Numeral::Digit(digit)) => digit,
        _ => worth.sound.or(worth.ordinal)?,
    };
    let tail = stream.is_any(at + 1, &["tea", "tee", "ty"]);
    // "time for tea" is none.
    let goes_on = || {
        let measured = stream
            .phrase_at(at + 2)
            .is_some_and(|m| m.measure.is_some());
        stream.joins(at + 2) && (measured || stream.numeral(at + 2).is_some())
    };
    // "fused at for tee".
    let ends = || {
        let before = ["at", "fuse", "breaker"];
        let said = at > 0 && stream.is_any(at - 1, &before);
        said && !stream.joins(at + 2)
    };
    let torn = (4..10).contains(&digit) && stream.joins(at + 1) && tail;
    (torn && (digit > 5 || goes_on() || ends())).then_some(digit * 10)
}

/// Whether a number that was heard as other words begins at `at`.
pub(crate) fn any(stream: Stream<'_>, at: usize) -> bool {
    teen(stream, at).is_some() || tens(stream, at).is_some() || digit(stream, at).is_some()
}

/// "forty ate", "thirty for point two", "twenty to feet": the digit behind a word for tens.
pub(crate) fn after_tens(stream: Stream<'_>, at: usize) -> Option<u8> {
    // These are numbers wherever tens stand before them ...
    const ALWAYS: [&str; 9] = [
        "ate", "won", "too", "tree", "fore", "sicks", "fife", "hive", "nein",
    ];
    // ... and these only before what goes on with a number.
    const BEFORE: [&str; 2] = ["for", "to"];
    if !stream.joins(at) || stream.starts_anew(at) {
        return None;
    }
    let goes_on = || {
        let next = at + 1;
        let meaning = stream.phrase_at(next).unwrap_or_default();
        stream.joins(next)
            && (stream.is_any(next, &["by", "buy", "bye", "point", "on"])
                || meaning.label.is_some() && labelled(stream, at - 1)
                || meaning.measure.is_some() && !stream.is_any(next, &["a", "m", "am"]))
    };
    // "one belt, A fifty for, cracked".
    let size = || {
        let letter = at
            .checked_sub(2)
            .is_some_and(|from| stream.is_any(from, &["a", "b", "c", "ax", "bx", "x"]));
        let next = stream.phrase_at(at + 1).unwrap_or_default();
        letter && (!stream.joins(at + 1) || next.fault.is_some() || next.roles.has(Role::And))
    };
    let heard = stream.is_any(at, &ALWAYS) || stream.is_any(at, &BEFORE) && (goes_on() || size());
    let sound = stream.lexicon.worth(stream.get(at)?.word).sound;
    sound.filter(|_| heard)
}

/// "two oh ate volt", "filters for of them", "for foot", "too hundred": a digit by its sound,
/// between other numbers or before what only a number can stand before.
pub(crate) fn digit(stream: Stream<'_>, at: usize) -> Option<u8> {
    let worth = stream.lexicon.worth(stream.get(at)?.word);
    let digit = worth.sound.filter(|n| *n < 10 && worth.numeral.is_none())?;
    let eight = || stream.is(at, "ate") && counts_eight(stream, at);
    let small = || {
        let words = [
            "for", "to", "too", "fore", "tree", "free", "sick", "sicks", "fife",
        ];
        let word = stream.is_any(at, &words);
        word && stream.joins(at + 1) && (measures(stream, at) || scales(stream, at))
    };
    let found = counted(stream, at)
        || eight()
        || small()
        || closes_year(stream, at)
        || halved(stream, at)
        || hundreds(stream, at)
        || pointed(stream, at);
    found.then_some(digit)
}

/// "ate and a half tons", "for and half inch".
fn halved(stream: Stream<'_>, at: usize) -> bool {
    let half = at + 2 + usize::from(stream.is(at + 2, "a"));
    let measured = stream.phrase_at(half + 1).and_then(|m| m.measure);
    stream.is(at + 1, "and") && stream.is(half, "half") && measured.is_some()
}

/// "mine point eight", "for point five".
fn pointed(stream: Stream<'_>, at: usize) -> bool {
    let digit = |at: usize| {
        let literal = stream.get(at).is_some_and(|t| t.literal().is_some());
        literal
            || matches!(
                stream.numeral(at),
                Some((Numeral::Digit(_) | Numeral::Tens(_), _))
            )
    };
    stream.is(at + 1, "point") && stream.joins(at + 1) && stream.joins(at + 2) && digit(at + 2)
}

/// "M C A won fifty six": a hundred and some, behind its label.
fn hundreds(stream: Stream<'_>, at: usize) -> bool {
    let tens = matches!(stream.numeral(at + 1), Some((Numeral::Tens(_), false)));
    stream.is(at, "won") && tens && stream.joins(at + 1) && labelled(stream, at)
}

/// A label stands right before the token; "forty for max fuse" has none.
fn labelled(stream: Stream<'_>, at: usize) -> bool {
    let verb = at > 0 && stream.copula_at(at - 1);
    let end = at - usize::from(verb);
    (1..4).any(|n| {
        let from = end.checked_sub(n);
        from.is_some_and(|from| {
            let tokens = stream.tokens.get(from..end).unwrap_or_default().iter();
            let found = stream
                .lexicon
                .longest(tokens.map(|t| stream.lexicon.in_phrase(t.word)));
            found.is_some_and(|(m, taken)| taken == n && m.label.is_some())
        })
    })
}

/// "built in two thousand fore".
fn closes_year(stream: Stream<'_>, at: usize) -> bool {
    let words = ["for", "fore", "to", "too", "tree", "ate", "won"];
    at > 0
        && stream.is(at - 1, "thousand")
        && stream.joins(at)
        && !stream.joins(at + 1)
        && stream.is_any(at, &words)
}

/// "filters for of them", "ate of twenty by twenty".
fn counted(stream: Stream<'_>, at: usize) -> bool {
    stream.joins(at + 1)
        && stream.is_any(at + 1, &["of", "off"])
        && (stream.is_any(at + 2, &["them", "those", "em", "twenty", "sixteen"])
            || stream.get(at + 2).is_some_and(|t| t.literal().is_some()))
}

/// "two oh ate", "ate pounds", "ate filters".
fn counts_eight(stream: Stream<'_>, at: usize) -> bool {
    let behind = at > 0 && stream.numeral(at - 1).is_some() && stream.joins(at);
    let next = || stream.phrase_at(at + 1);
    behind
        || next().is_some_and(|m| m.measure.is_some() || m.part.is_some() && stream.joins(at + 1))
}

/// "for foot from the edge", "five pounds for ounces"; "for foot traffic" is none.
fn measures(stream: Stream<'_>, at: usize) -> bool {
    let measured = |m: Meaning| {
        m.part.is_none()
            && matches!(
                m.measure,
                Some(Measure::Foot | Measure::Ounce | Measure::Pound | Measure::Ton)
            )
    };
    !stream.is(at + 2, "traffic") && stream.phrase_at(at + 1).is_some_and(measured)
}

/// "for hundred amp", "too forty volt".
fn scales(stream: Stream<'_>, at: usize) -> bool {
    match stream.numeral(at + 1) {
        Some((Numeral::Scale(100 | 1000), _)) => true,
        Some((Numeral::Tens(_), false)) => stream.is(at, "too") && stream.volts_at(at + 2),
        _ => false,
    }
}
