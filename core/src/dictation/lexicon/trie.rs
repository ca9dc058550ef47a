//! Word interning and the longest-phrase matcher over interned words.
//!
//! Phrases are matched word by word rather than byte by byte, so that punctuation, casing,
//! plurals and segment cuts inside a phrase need no spelling of their own. Used by the
//! lexicon only; it knows nothing of what a phrase means.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// An interned word. Zero is a word that no phrase holds.
pub(crate) type Word = u32;

/// The word that no phrase holds.
pub(crate) const UNKNOWN: Word = 0;

/// A multiply-and-rotate hash for short keys that come from our own data files.
#[derive(Default, Clone, Copy)]
pub(crate) struct QuickHash(u64);

impl QuickHash {
    fn add(&mut self, value: u64) {
        self.0 = (self.0.rotate_left(5) ^ value).wrapping_mul(0x517c_c1b7_2722_0a95);
    }
}

impl Hasher for QuickHash {
    fn write(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(8) {
            let mut word = [0u8; 8];
            if let Some(head) = word.get_mut(..chunk.len()) {
                head.copy_from_slice(chunk);
            }
            self.add(u64::from_le_bytes(word));
        }
    }
    fn write_u32(&mut self, value: u32) {
        self.add(u64::from(value));
    }
    fn write_u64(&mut self, value: u64) {
        self.add(value);
    }
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 29)
    }
}

/// A map that is never iterated into any output.
pub(crate) type QuickMap<K, V> = HashMap<K, V, BuildHasherDefault<QuickHash>>;

/// Words and phrases; a phrase is named by the number it was added with.
#[derive(Debug, Default)]
pub(crate) struct Trie {
    words: QuickMap<Box<str>, Word>,
    spelling: Vec<Box<str>>,
    first: Vec<u32>,
    steps: QuickMap<u64, u32>,
    phrase: Vec<Option<u32>>,
}

impl Trie {
    /// An empty trie.
    pub(crate) fn new() -> Self {
        Self {
            spelling: vec!["".into()],
            first: vec![0],
            phrase: vec![None],
            ..Self::default()
        }
    }

    /// The number of a word, made if it is new. `word` is lower case without apostrophes.
    pub(crate) fn intern(&mut self, word: &str) -> Word {
        if let Some(id) = self.words.get(word) {
            return *id;
        }
        let id = self.spelling.len() as Word;
        self.words.insert(word.into(), id);
        self.spelling.push(word.into());
        self.first.push(0);
        id
    }

    /// The number of a word, or [`UNKNOWN`].
    pub(crate) fn word(&self, word: &str) -> Word {
        self.words.get(word).copied().unwrap_or(UNKNOWN)
    }

    /// How an interned word is written.
    pub(crate) fn spelling(&self, word: Word) -> &str {
        self.spelling.get(word as usize).map_or("", |s| s)
    }

    /// How many words are interned, the unknown one counted.
    pub(crate) fn len(&self) -> usize {
        self.spelling.len()
    }

    /// Names the phrase made of `words`; gives the number it already had, if any.
    pub(crate) fn insert(&mut self, words: &[Word], phrase: u32) -> Option<u32> {
        let mut node = 0u32;
        for (depth, word) in words.iter().enumerate() {
            let next = self.step(depth, node, *word);
            node = if next != 0 {
                next
            } else {
                let made = self.phrase.len() as u32;
                self.phrase.push(None);
                if depth == 0 {
                    if let Some(slot) = self.first.get_mut(*word as usize) {
                        *slot = made;
                    }
                } else {
                    self.steps.insert(key(node, *word), made);
                }
                made
            };
        }
        let slot = self.phrase.get_mut(node as usize)?;
        if slot.is_none() {
            *slot = Some(phrase);
            return None;
        }
        *slot
    }

    fn step(&self, depth: usize, node: u32, word: Word) -> u32 {
        if depth == 0 {
            self.first.get(word as usize).copied().unwrap_or(0)
        } else {
            self.steps.get(&key(node, word)).copied().unwrap_or(0)
        }
    }

    /// The longest phrase that `words` begins with: its number and how many words it took.
    pub(crate) fn longest(&self, words: impl Iterator<Item = Word>) -> Option<(u32, usize)> {
        let mut node = 0;
        let mut best = None;
        for (depth, word) in words.enumerate() {
            node = self.step(depth, node, word);
            if node == 0 {
                break;
            }
            if let Some(Some(phrase)) = self.phrase.get(node as usize) {
                best = Some((*phrase, depth + 1));
            }
        }
        best
    }
}

fn key(node: u32, word: Word) -> u64 {
    (u64::from(node) << 32) | u64::from(word)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn longest_phrase_wins() {
        let mut trie = Trie::new();
        let [a, b, c] = ["access", "panel", "screw"].map(|w| trie.intern(w));
        assert_eq!(trie.insert(&[a, b], 1), None);
        assert_eq!(trie.insert(&[b], 2), None);
        assert_eq!(trie.insert(&[a, b], 3), Some(1));
        assert_eq!(trie.longest([a, b, c].into_iter()), Some((1, 2)));
        assert_eq!(trie.longest([b, c].into_iter()), Some((2, 1)));
        assert_eq!(trie.longest([a, c].into_iter()), None);
        assert_eq!(trie.longest([UNKNOWN].into_iter()), None);
    }
}
