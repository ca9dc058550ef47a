//! Numbers by their sound, where nothing but a number makes sense: "for teen", "ate pounds",
//! "filters for of them".

use super::Stream;
use crate::dictation::lexicon::meaning::Measure;
use crate::dictation::lexicon::words::Numeral;

/// "for teen": what a recogniser makes of a number in the teens.
pub(crate) fn teen(stream: Stream<'_>, at: usize) -> Option<f64> {
    let worth = stream.lexicon.worth(stream.get(at)?.word);
    let digit = match worth.numeral {
        Some(Numeral::Digit(digit)) => digit,
        _ => worth.sound?,
    };
    let torn = (4..10).contains(&digit) && stream.joins(at + 1) && stream.is(at + 1, "teen");
    torn.then_some(10.0 + f64::from(digit))
}

/// "forty ate", "thirty for point two", "twenty to feet": the digit behind a word for tens.
pub(crate) fn after_tens(stream: Stream<'_>, at: usize) -> Option<u8> {
    // These are numbers wherever tens stand before them ...
    const ALWAYS: [(&str, u8); 6] = [
        ("ate", 8),
        ("won", 1),
        ("too", 2),
        ("tree", 3),
        ("fore", 4),
        ("sicks", 6),
    ];
    // ... and these only before what goes on with a number.
    const BEFORE: [(&str, u8); 2] = [("for", 4), ("to", 2)];
    let heard = |all: &[(&str, u8)]| {
        let found = all.iter().find(|(word, _)| stream.is(at, word));
        found.map(|(_, digit)| *digit)
    };
    if !stream.joins(at) || stream.starts_anew(at) {
        return None;
    }
    let goes_on = || {
        let next = at + 1;
        let word = |words: &[&str]| words.iter().any(|w| stream.is(next, w));
        let measured = stream.phrase_at(next).is_some_and(|m| m.measure.is_some());
        stream.joins(next)
            && (word(&["by", "buy", "bye", "point", "on"])
                || stream.phrase_at(next).is_some_and(|m| m.label.is_some())
                || measured && !word(&["a", "m", "am"]))
    };
    heard(&ALWAYS).or_else(|| heard(&BEFORE).filter(|_| goes_on()))
}

/// "two oh ate volt", "ate pounds", "filters for of them": a digit between other numbers, before
/// a unit of measure or before "of them", by its sound.
pub(crate) fn digit(stream: Stream<'_>, at: usize) -> Option<u8> {
    let token = stream.get(at)?;
    let worth = stream.lexicon.worth(token.word);
    let digit = worth.sound.filter(|n| *n < 10 && worth.numeral.is_none())?;
    let number = |i: usize| stream.numeral(i).is_some() && stream.joins(i.max(at));
    let counted = stream.joins(at + 1)
        && (stream.is(at + 1, "of") || stream.is(at + 1, "off"))
        && (stream.is(at + 2, "twenty")
            || stream.is(at + 2, "sixteen")
            || stream.get(at + 2).is_some_and(|t| t.literal().is_some())
            || stream.is(at + 2, "them")
            || stream.is(at + 2, "those")
            || stream.is(at + 2, "em"));
    let measured = || {
        stream
            .phrase_at(at + 1)
            .is_some_and(|m| m.measure.is_some())
    };
    // "for foot from the edge", "five pounds for ounces".
    let length = ["for", "to", "too"].iter().any(|w| stream.is(at, w))
        && stream.joins(at + 1)
        && !stream.is(at + 2, "traffic")
        && stream.phrase_at(at + 1).is_some_and(|m| {
            matches!(
                m.measure,
                Some(Measure::Foot | Measure::Ounce | Measure::Pound)
            ) && m.part.is_none()
        });
    // "for hundred amp", "too forty volt".
    let next = || stream.numeral(at + 1).filter(|_| stream.joins(at + 1));
    let length = length
        || ["for", "to", "too"].iter().any(|w| stream.is(at, w))
            && match next() {
                Some((Numeral::Scale(100), _)) => true,
                Some((Numeral::Tens(_), false)) => stream.is(at, "too") && stream.volts_at(at + 2),
                _ => false,
            };
    let parts =
        || stream.joins(at + 1) && stream.phrase_at(at + 1).is_some_and(|m| m.part.is_some());
    let eight = length
        || stream.is(at, "ate") && parts()
        || stream.is(at, "ate") && (at > 0 && number(at - 1) || measured());
    (counted || eight).then_some(digit)
}
