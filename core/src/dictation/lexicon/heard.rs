//! Phrases by their sound, whatever words a recogniser cut them into: "swamp cool or", "max
//! brake her", "make up hair".
//!
//! Asked only where the words themselves say nothing better. A phrase must have the same
//! consonants in the same order and be written nearly alike, and must mean something of the
//! trade. Called by the lexicon only.

use super::meaning::Meaning;
use super::near::{Consonants, distance};
use super::trie::QuickMap;

/// Fewest consonants of a phrase that is believed by its sound.
const FEWEST: usize = 4;

/// Fewest letters of such a phrase.
const SHORTEST: usize = 7;

/// Fewest consonants of a single word, which its place must confirm.
const FEWEST_OF_WORD: usize = 2;

/// Letters of a word that may have two amiss.
const LONG: usize = 5;

/// Most letters amiss in a word torn into two, which its place must confirm.
const FURTHEST_TORN: usize = 3;

/// Index of the trade's phrases by their consonants.
#[derive(Debug, Default)]
pub(crate) struct Heard {
    /// Phrases written without spaces, with their numbers.
    by_sound: QuickMap<u64, Vec<(Box<str>, u32)>>,
    /// Phrases of one word.
    words: QuickMap<u64, Vec<(Box<str>, u32)>>,
}

impl Heard {
    pub(super) fn new(phrases: &[Box<str>], meanings: &[Meaning]) -> Self {
        let mut made = Self::default();
        for (number, (phrase, meaning)) in phrases.iter().zip(meanings).enumerate() {
            let plain = phrase.bytes().all(|b| b.is_ascii_lowercase() || b == b' ');
            // "is not nosy": a denial is heard before what it denies.
            let denies = phrase
                .split(' ')
                .any(|word| matches!(word, "not" | "cannot"));
            let fits = meaning.of_trade() && plain && !meaning.garbled && !denies;
            if fits && !phrase.contains(' ') {
                let mut consonants = Consonants::default();
                consonants.add(phrase);
                if let Some(key) = consonants.key(FEWEST_OF_WORD) {
                    let same = made.words.entry(key).or_default();
                    same.push((phrase.clone(), number as u32));
                }
            }
            if let Some(key) = key(phrase.split(' ')).filter(|_| fits && phrase.len() >= SHORTEST) {
                let written = phrase.replace(' ', "").into_boxed_str();
                let same = made.by_sound.entry(key).or_default();
                same.push((written, number as u32));
            }
        }
        made
    }

    /// The single words of the trade that sound like this one and are written nearly alike.
    pub(super) fn word(&self, heard: &str) -> impl Iterator<Item = u32> {
        let mut consonants = Consonants::default();
        consonants.add(heard);
        let alike = consonants
            .key(FEWEST_OF_WORD)
            .and_then(|key| self.words.get(&key));
        let room = 1 + usize::from(heard.len() >= LONG);
        let near = move |meant: &str| distance(heard, meant, room).is_some();
        let found = alike
            .into_iter()
            .flatten()
            .filter(move |(meant, _)| near(meant));
        found.map(|(_, number)| *number)
    }

    /// The single words of the trade that two words sound like when run together, nearest in
    /// writing first.
    pub(super) fn torn(&self, words: [&str; 2]) -> Vec<u32> {
        let mut consonants = Consonants::default();
        words.iter().for_each(|word| consonants.add(word));
        let alike = consonants.key(FEWEST_OF_WORD);
        let alike = alike.and_then(|key| self.words.get(&key));
        let heard = words.concat().to_ascii_lowercase();
        let far = |meant: &str| distance(&heard, meant, (meant.len() / 2).min(FURTHEST_TORN));
        let mut found: Vec<(usize, u32)> = alike
            .into_iter()
            .flatten()
            .filter_map(|(meant, number)| Some((far(meant)?, *number)))
            .collect();
        found.sort_unstable();
        found.into_iter().map(|(_, number)| number).collect()
    }

    /// The phrase that these words sound like, nearest in writing.
    pub(super) fn phrase<'w>(&self, words: impl Iterator<Item = &'w str> + Clone) -> Option<u32> {
        let alike = self.by_sound.get(&key(words.clone())?)?;
        let heard: String = words.map(str::to_ascii_lowercase).collect();
        let far = |meant: &str| distance(&heard, meant, (meant.len() / 4).clamp(1, 4));
        let nearest = alike
            .iter()
            .filter_map(|(meant, number)| Some((far(meant)?, *number)))
            .min()?;
        Some(nearest.1)
    }
}

/// The consonants of several words run together.
fn key<'w>(words: impl Iterator<Item = &'w str>) -> Option<u64> {
    let mut consonants = Consonants::default();
    for word in words {
        consonants.add(word);
    }
    consonants.key(FEWEST)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::Lexicon;

    #[test]
    fn phrases_are_known_by_their_sound() {
        let lexicon = Lexicon::builtin();
        for (words, meant) in [
            ("swamp cool or", "swamp cooler"),
            ("make up hair", "make up air"),
            ("roof train", "roof drain"),
            ("walk way pad", "walkway pad"),
        ] {
            let found = lexicon
                .sounds_like(words.split(' '))
                .map(|m| (m.kind, m.part, m.label));
            let wanted = lexicon
                .sounds_like(meant.split(' '))
                .map(|m| (m.kind, m.part, m.label));
            assert!(wanted.is_some(), "{meant}");
            assert_eq!(found, wanted, "{words}");
        }
        for words in ["on the way over", "get it done today", "a couple of them"] {
            assert!(lexicon.sounds_like(words.split(' ')).is_none(), "{words}");
        }
    }
}
