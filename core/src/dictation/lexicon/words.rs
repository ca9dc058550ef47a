//! What single words are worth as numbers, letters and ordinals, and how plurals fold.

use super::trie::QuickMap;
use toml::{Table, Value};

/// How a number word joins its neighbours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Numeral {
    /// Zero to nine.
    Digit(u8),
    /// Ten to nineteen.
    Teen(u8),
    /// Twenty, thirty, ... ninety.
    Tens(u8),
    /// Hundred, thousand, million.
    Scale(u32),
    /// Half, quarter.
    Part(f64),
}

impl Numeral {
    pub(crate) fn value(self) -> f64 {
        match self {
            Self::Digit(n) | Self::Teen(n) | Self::Tens(n) => f64::from(n),
            Self::Scale(n) => f64::from(n),
            Self::Part(part) => part,
        }
    }
}

/// What a single word is worth, whatever phrase it is in.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Worth {
    pub(crate) numeral: Option<Numeral>,
    /// The numeral was said in the plural: "twos".
    pub(crate) plural: bool,
    /// Sounds like this number.
    pub(crate) sound: Option<u8>,
    pub(crate) ordinal: Option<u8>,
    /// The letter itself, or its spelling-alphabet word.
    pub(crate) letter: Option<u8>,
    /// Sounds like the name of this letter.
    pub(crate) letter_sound: Option<u8>,
    /// Sounds like it where an abbreviation is said.
    pub(crate) abbreviation_sound: Option<u8>,
}

/// Worth of words by their spelling, and the plural rule.
#[derive(Debug, Default)]
pub(crate) struct WordTable {
    worth: QuickMap<Box<str>, Worth>,
    keep: QuickMap<Box<str>, ()>,
}

impl WordTable {
    /// Reads `numbers.toml`.
    pub(super) fn new(numbers: &Table) -> Self {
        let mut made = Self::default();
        let entries = |name: &str| {
            numbers
                .get(name)
                .and_then(Value::as_table)
                .into_iter()
                .flatten()
        };
        for (word, value) in entries("cardinals").chain(entries("plurals")) {
            let Some(n) = value.as_integer() else {
                continue;
            };
            let numeral = match n {
                0..=9 => Numeral::Digit(n as u8),
                10..=19 => Numeral::Teen(n as u8),
                20..=99 => Numeral::Tens(n as u8),
                _ => Numeral::Scale(n as u32),
            };
            made.entry(word).numeral = Some(numeral);
        }
        for (word, _) in entries("plurals") {
            made.entry(word).plural = true;
            made.keep.insert(word.as_str().into(), ());
        }
        for (word, value) in entries("fractions") {
            made.entry(word).numeral = value.as_float().map(Numeral::Part);
        }
        for (word, value) in entries("sounds") {
            made.entry(word).sound = value.as_integer().map(|n| n as u8);
        }
        for (word, value) in entries("ordinals") {
            made.entry(word).ordinal = value.as_integer().map(|n| n as u8);
        }
        let letter = |value: &Value| value.as_str().and_then(|s| s.bytes().next());
        for (word, value) in entries("letters") {
            made.entry(word).letter = letter(value);
        }
        for (word, value) in entries("letter_sounds") {
            made.entry(word).letter_sound = letter(value);
        }
        for (word, value) in entries("abbreviation_sounds") {
            made.entry(word).abbreviation_sound = letter(value);
        }
        for byte in b'a'..=b'z' {
            made.entry(&char::from(byte).to_string()).letter = Some(byte.to_ascii_uppercase());
        }
        let keep = numbers
            .get("keep")
            .and_then(|t| t.get("words"))
            .and_then(Value::as_array);
        for word in keep.into_iter().flatten().filter_map(Value::as_str) {
            made.keep.insert(word.into(), ());
        }
        made
    }

    fn entry(&mut self, word: &str) -> &mut Worth {
        self.worth.entry(word.into()).or_default()
    }

    /// The worth of a word that was folded already.
    pub(super) fn worth(&self, word: &str) -> Worth {
        self.worth.get(word).copied().unwrap_or_default()
    }

    /// Every word with a worth, in no order.
    pub(super) fn words(&self) -> impl Iterator<Item = &str> {
        self.worth.keys().map(|word| &**word)
    }

    /// Takes the plural off a lower-case word without apostrophes.
    pub(crate) fn fold<'a>(&self, word: &'a str) -> &'a str {
        let Some(stem) = word.strip_suffix('s') else {
            return word;
        };
        let odd = stem.len() < 3 || stem.ends_with(['s', 'u', 'i']) || self.keep.contains_key(word);
        if odd {
            return word;
        }
        match stem.strip_suffix('e') {
            Some(short)
                if short.ends_with("ch") || short.ends_with("sh") || short.ends_with('x') =>
            {
                short
            }
            _ => stem,
        }
    }

    /// Number words are stored in phrases as digits, so that "four" and "4" match alike.
    pub(super) fn canonical(&self, word: &str) -> Option<String> {
        let worth = self.worth(word);
        if worth.plural {
            return None;
        }
        match worth.numeral? {
            Numeral::Part(_) => None,
            numeral => Some(format!("{}", numeral.value())),
        }
    }
}
