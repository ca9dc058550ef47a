//! From segments of text to one stream of words, each with the bytes it came from.
//!
//! Segments are joined as if by a space, so a sentence may be cut anywhere. Casing and
//! apostrophes vanish; punctuation survives only as the [`Gap`] before the next word, because
//! recognisers place it loosely. Letters and digits part ("240V" is two words, glued).

use super::lexicon::Lexicon;
use super::lexicon::trie::{UNKNOWN, Word};
use crate::survey::spoken::{Evidence, Segment};

/// What stood between a word and the one before it, weakest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Gap {
    /// Nothing: `240` and `V` of "240V".
    Glued,
    /// A point between letters or digits that is no decimal point.
    Dot,
    Hyphen,
    Slash,
    Space,
    Comma,
    /// A full stop or the like.
    Stop,
    Question,
}

/// One word of the stream.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Token {
    /// The word, plural taken off; [`UNKNOWN`] if no phrase holds it.
    pub(crate) word: Word,
    pub(crate) segment: u32,
    pub(crate) start: u32,
    pub(crate) end: u32,
    pub(crate) gap: Gap,
    /// Written in digits: the number, or a negative value.
    pub(crate) digits: f64,
    /// Believed this much as heard, 0 to 1.
    pub(crate) trust: f32,
    /// Nobody knew the word; the nearest known one stands for it.
    pub(crate) repaired: bool,
    /// Ended in `'s`: perhaps "is".
    pub(crate) apostrophe: bool,
}

impl Token {
    pub(crate) fn evidence(&self) -> Evidence {
        Evidence {
            segment: self.segment as usize,
            start: self.start as usize,
            end: self.end as usize,
        }
    }

    /// The number, if it was written in digits.
    pub(crate) fn literal(&self) -> Option<f64> {
        (self.digits >= 0.0).then_some(self.digits)
    }
}

/// Trust in a word that was repaired.
const REPAIRED: f32 = 0.7;

/// Cuts segments into tokens.
pub(crate) fn tokens(segments: &[Segment], lexicon: &Lexicon) -> Vec<Token> {
    let bytes: usize = segments.iter().map(|s| s.text.len()).sum();
    let mut out = Vec::with_capacity(bytes / 5 + 4);
    let mut gap = Gap::Stop;
    for (number, segment) in segments.iter().enumerate() {
        gap = gap.max(Gap::Space);
        let trust = segment.confidence.map_or(1.0, |c| c.clamp(0.0, 1.0) as f32);
        let mut cutter = Cutter {
            text: &segment.text,
            lexicon,
            segment: number as u32,
            trust,
            gap,
        };
        let first = out.len();
        cutter.run(&mut out);
        gap = cutter.gap;
        super::alternatives::mend(segment, lexicon, &mut out, first);
    }
    out
}

struct Cutter<'a> {
    text: &'a str,
    lexicon: &'a Lexicon,
    segment: u32,
    trust: f32,
    gap: Gap,
}

impl Cutter<'_> {
    fn run(&mut self, out: &mut Vec<Token>) {
        let bytes = self.text.as_bytes();
        let mut at = 0;
        while let Some(&byte) = bytes.get(at) {
            let from = at;
            if byte.is_ascii_digit() {
                at = self.number(at, out);
            } else if byte.is_ascii_alphabetic() || byte >= 0x80 {
                at = self.word(at, out);
            } else if byte == b'.' && self.abbreviates(at, out.last()) {
                at += 1;
            } else {
                self.mark(byte, bytes.get(at + 1).copied(), out.last());
                at += 1;
            }
            debug_assert!(at > from);
        }
    }

    /// "RTU no. 2": the point ends no sentence.
    fn abbreviates(&self, at: usize, last: Option<&Token>) -> bool {
        let ends = last.is_some_and(|t| t.end as usize == at && t.segment == self.segment);
        let word = last.and_then(|t| self.text.get(t.start as usize..at));
        let rest = self.text.get(at + 1..).unwrap_or_default();
        let number = rest
            .strip_prefix(' ')
            .is_some_and(|r| r.starts_with(|c: char| c.is_ascii_digit()));
        ends && number && word.is_some_and(|w| w.eq_ignore_ascii_case("no"))
    }

    fn widen(&mut self, gap: Gap) {
        self.gap = self.gap.max(gap);
    }

    fn mark(&mut self, byte: u8, next: Option<u8>, last: Option<&Token>) {
        let inside = next.is_some_and(|b| b.is_ascii_alphanumeric());
        let gap = match byte {
            b'?' => Gap::Question,
            b'.' if inside && last.is_some() => Gap::Dot,
            b'.' | b'!' | b';' => Gap::Stop,
            b',' | b':' | b'(' | b')' => Gap::Comma,
            b'-' => Gap::Hyphen,
            b'/' => Gap::Slash,
            _ => Gap::Space,
        };
        self.widen(gap);
    }

    fn push(&mut self, out: &mut Vec<Token>, word: Word, from: usize, to: usize) -> usize {
        out.push(Token {
            word,
            segment: self.segment,
            start: from as u32,
            end: to as u32,
            gap: self.gap,
            digits: -1.0,
            trust: self.trust,
            repaired: false,
            apostrophe: false,
        });
        self.gap = Gap::Glued;
        to
    }

    /// Digits, with thousands commas and a decimal point inside.
    fn number(&mut self, from: usize, out: &mut Vec<Token>) -> usize {
        let bytes = self.text.as_bytes();
        let digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
        let mut to = from;
        let mut value = 0f64;
        let mut scale = 0f64;
        let mut short = 0;
        loop {
            match bytes.get(to) {
                Some(b) if b.is_ascii_digit() => {
                    let n = f64::from(b - b'0');
                    if scale > 0.0 {
                        value += n * scale;
                        scale /= 10.0;
                    } else {
                        value = value * 10.0 + n;
                    }
                    short += 1;
                }
                Some(b'.') if scale == 0.0 && digit(to + 1) => scale = 0.1,
                Some(b',')
                    if scale == 0.0
                        && short <= 3
                        && (1..=3).all(|i| digit(to + i))
                        && !digit(to + 4) =>
                {
                    short = 0;
                }
                _ => break,
            }
            to += 1;
        }
        let spelled = self.text.get(from..to).unwrap_or_default();
        let word = self.lexicon.word(spelled);
        // "RTU-11's".
        let rest = self.text.get(to..).unwrap_or_default();
        let own = ["'s", "’s"].into_iter().find(|own| rest.starts_with(own));
        let own = own.map_or(0, str::len);
        let own = match bytes.get(to + own) {
            Some(next) if next.is_ascii_alphanumeric() => 0,
            _ => own,
        };
        self.push(out, word, from, to + own);
        if let Some(token) = out.last_mut() {
            token.apostrophe = own > 0;
            token.digits = spelled
                .parse()
                .unwrap_or_else(|_| (value * 1e6).round() / 1e6);
        }
        to + own
    }

    /// Letters, apostrophes inside them dropped.
    fn word(&mut self, from: usize, out: &mut Vec<Token>) -> usize {
        let bytes = self.text.as_bytes();
        let mut small = [0u8; 24];
        let mut length = 0;
        let mut ascii = true;
        let mut to = from;
        let mut apostrophe = None;
        while let Some(&byte) = bytes.get(to) {
            let curly = byte == 0xE2 && bytes.get(to + 1..to + 3) == Some(&[0x80, 0x99]);
            if byte == b'\'' || curly {
                let step = if curly { 3 } else { 1 };
                if !bytes.get(to + step).is_some_and(u8::is_ascii_alphabetic) {
                    break;
                }
                apostrophe = Some(length);
                to += step;
                continue;
            }
            if !(byte.is_ascii_alphabetic() || byte >= 0x80) {
                break;
            }
            ascii &= byte < 0x80;
            if let Some(slot) = small.get_mut(length) {
                *slot = byte.to_ascii_lowercase();
            }
            length += 1;
            to += 1;
        }
        if to == from {
            // A lone curly apostrophe.
            self.widen(Gap::Space);
            return from + 3;
        }
        if !ascii {
            return self.foreign(from, to, out);
        }
        let spelled = small
            .get(..length)
            .and_then(|b| std::str::from_utf8(b).ok())
            .unwrap_or_default();
        let word = self.lexicon.word(spelled);
        let glued = || self.lexicon.glued(spelled).filter(|_| apostrophe.is_none());
        if word == UNKNOWN
            && let Some((one, two, at)) = glued()
        {
            self.push(out, one, from, from + at);
            self.widen(Gap::Space);
            return self.push(out, two, from + at, to);
        }
        self.push(out, word, from, to);
        let ends_s = apostrophe == Some(length.saturating_sub(1)) && spelled.ends_with('s');
        if let Some(token) = out.last_mut() {
            token.apostrophe = ends_s;
            if word == UNKNOWN
                && let Some(near) = self.lexicon.nearest(spelled)
            {
                token.word = near;
                token.repaired = true;
                token.trust *= REPAIRED;
            }
        }
        to
    }

    /// A run with other scripts in it: a word if it has letters, else a mark.
    fn foreign(&mut self, from: usize, to: usize, out: &mut Vec<Token>) -> usize {
        let run = self.text.get(from..to).unwrap_or_default();
        if run.chars().any(char::is_alphabetic) {
            self.push(out, UNKNOWN, from, to)
        } else {
            let times = run.contains('×');
            let dash = run.contains(['–', '—']);
            if times {
                let word = self.lexicon.word("x");
                return self.push(out, word, from, to);
            }
            self.widen(if dash { Gap::Comma } else { Gap::Space });
            to
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn cut(texts: &[&str]) -> Vec<String> {
        let segments: Vec<Segment> = texts
            .iter()
            .map(|t| Segment {
                text: (*t).into(),
                ..Segment::default()
            })
            .collect();
        tokens(&segments, Lexicon::builtin())
            .iter()
            .map(|t| segments[t.segment as usize].text[t.start as usize..t.end as usize].to_owned())
            .collect()
    }

    #[test]
    fn cuts_letters_from_digits_and_keeps_numbers_whole() {
        assert_eq!(
            cut(&["R-T-U-3, it's 240V. 1,200 14.1"]),
            ["R", "T", "U", "3", "it's", "240", "V", "1,200", "14.1"]
        );
        assert_eq!(
            cut(&["20x25x2", "A42"]),
            ["20", "x", "25", "x", "2", "A", "42"]
        );
    }

    #[test]
    fn other_scripts_and_marks_do_no_harm() {
        for text in [
            "",
            "🙂",
            "’",
            "שלום belt",
            "a\u{0}b\u{7f}",
            "é’s",
            "20×25",
            "—",
        ] {
            cut(&[text]);
        }
        assert_eq!(cut(&["belt’s 🙂 torn"]), ["belt’s", "torn"]);
    }

    #[test]
    fn a_number_in_digits_has_its_value() {
        let segments = [Segment {
            text: "120,000 and 14.25".into(),
            ..Segment::default()
        }];
        let out = tokens(&segments, Lexicon::builtin());
        assert_eq!(out[0].literal(), Some(120_000.0));
        assert_eq!(out[2].literal(), Some(14.25));
        assert_eq!(out[1].literal(), None);
    }
}
