//! The recogniser's other guesses, used where the first one holds a word that nobody knows.
//!
//! Only the words in which the two differ are replaced; they keep the place of the first guess,
//! so evidence still cuts what a screen shows. Guesses with numbers in the difference are left
//! alone: a serial or a rating is never taken from a second guess.

use super::lexicon::Lexicon;
use super::lexicon::trie::UNKNOWN;
use super::tokens::{Token, tokens};
use crate::survey::spoken::Segment;

/// Trust in a word from another guess.
const OTHER_GUESS: f32 = 0.8;

/// Longest segment that is compared with its other guesses, in bytes.
const LONGEST: usize = 20_000;

/// Mends the tokens of `segment`, which are `out[first..]`.
pub(super) fn mend(segment: &Segment, lexicon: &Lexicon, out: &mut Vec<Token>, first: usize) {
    let strange = |t: &Token| t.word == UNKNOWN && t.literal().is_none() || t.repaired;
    if segment.alternatives.is_empty() || segment.text.len() > LONGEST {
        return;
    }
    for guess in &segment.alternatives {
        let guess = Segment {
            text: guess.clone(),
            ..Segment::default()
        };
        let other = tokens(std::slice::from_ref(&guess), lexicon);
        let heard = out.get(first..).unwrap_or_default();
        let same = |(a, b): &(&Token, &Token)| {
            a.word == b.word && a.digits == b.digits && a.word != UNKNOWN
        };
        let head = heard.iter().zip(&other).take_while(same).count();
        let shorter = heard.len().min(other.len()) - head;
        let tail = heard
            .iter()
            .rev()
            .zip(other.iter().rev())
            .take(shorter)
            .take_while(same)
            .count();
        let (from, to) = (first + head, out.len() - tail);
        let theirs = other.get(head..other.len() - tail).unwrap_or_default();
        let ours = out.get(from..to).unwrap_or_default();
        let worth = |t: &Token| lexicon.worth(t.word);
        let plain = |t: &Token| t.literal().is_none() && worth(t).numeral.is_none();
        // A number that the first guess wrote as a word of the same sound: "to", "won".
        let heard_as = |t: &Token| {
            let value = t.literal().or(worth(t).numeral.map(|n| n.value()));
            let sounds = |o: &Token| worth(o).sound.map(f64::from) == value && value.is_some();
            plain(t) || ours.iter().any(sounds)
        };
        let sounds = |t: &Token| worth(t).sound.is_some();
        let better = (ours.iter().any(strange)
            || ours.iter().any(sounds) && !theirs.iter().all(plain)
            || meant(lexicon, theirs) > meant(lexicon, ours))
            && ours.iter().all(plain)
            && !theirs.is_empty()
            && theirs.iter().all(|t| heard_as(t) && !strange(t));
        let (Some(begin), Some(end)) = (ours.first().copied(), ours.last().copied()) else {
            continue;
        };
        if !better {
            continue;
        }
        let place = |t: &Token| Token {
            segment: begin.segment,
            start: begin.start,
            end: end.end,
            trust: begin.trust.min(t.trust) * OTHER_GUESS,
            ..*t
        };
        let mut mended: Vec<Token> = theirs.iter().map(place).collect();
        if let Some(lead) = mended.first_mut() {
            lead.gap = begin.gap;
        }
        out.splice(from..to, mended);
        return;
    }
}

/// How many words are part of a phrase that names a unit, a part, a label or a value.
fn meant(lexicon: &Lexicon, tokens: &[Token]) -> usize {
    let mut at = 0;
    let mut sum = 0;
    while let Some(rest) = tokens.get(at..).filter(|rest| !rest.is_empty()) {
        let words = rest.iter().take(8).map(|t| lexicon.in_phrase(t.word));
        let (step, counts) = match lexicon.longest(words) {
            Some((m, taken)) => {
                let trade = m.kind.is_some()
                    || m.part.is_some()
                    || m.label.is_some()
                    || m.value.is_some()
                    || m.measure.is_some();
                (taken.max(1), trade && !m.garbled)
            }
            None => (1, false),
        };
        sum += usize::from(counts);
        at += step;
    }
    sum
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use crate::dictation::{Lexicon, interpret};
    use crate::survey::codes::Component;
    use crate::survey::spoken::{Interpretation, Segment, Transcript};

    fn read(text: &str, guess: &str) -> Interpretation {
        let segment = Segment {
            text: text.into(),
            alternatives: vec![guess.into()],
            ..Segment::default()
        };
        let transcript = Transcript {
            note_id: "n".into(),
            author: None,
            recorded_at: None,
            segments: vec![segment],
        };
        interpret(&transcript, Lexicon::builtin())
    }

    #[test]
    fn another_guess_mends_an_unknown_word_in_its_place() {
        let heard = read(
            "RTU 2 the zzyzx plumb is torn",
            "RTU 2 the outdoor air screen is torn",
        );
        let finding = &heard.findings[0];
        assert_eq!(finding.component, Component::OutdoorAirScreen);
        assert!(finding.confidence < 0.8);
        assert_eq!((finding.evidence.start, finding.evidence.end), (10, 29));
    }

    #[test]
    fn a_number_is_never_taken_from_another_guess() {
        let heard = read("RTU 2 MCA zzyzx", "RTU 2 MCA 24");
        assert_eq!(heard.facts, []);
        let heard = read("RTU 2 MCA 24", "RTU 2 MCA 34");
        assert_eq!(heard.facts[0].value, 24.0);
    }
}
