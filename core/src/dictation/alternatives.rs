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

/// Mends the tokens of `segment`, which are `out[first..]`.
pub(super) fn mend(segment: &Segment, lexicon: &Lexicon, out: &mut Vec<Token>, first: usize) {
    let strange = |t: &Token| t.word == UNKNOWN && t.literal().is_none() || t.repaired;
    if segment.alternatives.is_empty() || !out.iter().skip(first).any(strange) {
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
        let plain = |t: &Token| t.literal().is_none() && lexicon.worth(t.word).numeral.is_none();
        let better = ours.iter().any(strange)
            && ours.iter().all(plain)
            && !theirs.is_empty()
            && theirs.iter().all(|t| plain(t) && !strange(t));
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
