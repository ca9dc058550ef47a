//! Near misses: the trade word that a recogniser most likely meant by a word nobody knows.
//!
//! Two tests, both cheap: the same consonants in the same order, or one slip of the pen (two
//! in a long word). Only words of five letters and more are repaired, and never inside a
//! model or serial number, which is the caller's business.

use super::trie::{QuickMap, Trie, Word};

/// Shortest word that is repaired or repaired to.
const SHORTEST: usize = 5;
/// Shortest consonant key that is believed.
const SHORTEST_KEY: usize = 4;

/// Index of the known words by their consonants and by their length.
#[derive(Debug, Default)]
pub(crate) struct NearMiss {
    by_sound: QuickMap<u64, Word>,
    /// By length: words and which letters they hold.
    by_length: Vec<Vec<(Word, u32)>>,
}

impl NearMiss {
    pub(super) fn new(trie: &Trie) -> Self {
        let mut made = Self::default();
        for id in 1..trie.len() as Word {
            let word = trie.spelling(id);
            if word.len() < SHORTEST || !word.bytes().all(|b| b.is_ascii_lowercase()) {
                continue;
            }
            if let Some(key) = sound(word) {
                made.by_sound.entry(key).or_insert(id);
            }
            if made.by_length.len() <= word.len() {
                made.by_length.resize(word.len() + 1, Vec::new());
            }
            if let Some(same) = made.by_length.get_mut(word.len()) {
                same.push((id, letters(word)));
            }
        }
        made
    }

    /// The nearest known word, if it is near enough.
    pub(super) fn nearest(&self, trie: &Trie, word: &str) -> Option<Word> {
        let fits =
            (SHORTEST..=16).contains(&word.len()) && word.bytes().all(|b| b.is_ascii_lowercase());
        if !fits {
            return None;
        }
        let allowed = if word.len() >= 8 { 2 } else { 1 };
        let held = letters(word);
        let alike = self.by_length.iter().skip(word.len() - 1).take(3).flatten();
        let mut best: Option<(usize, Word)> = None;
        for (id, other_held) in alike {
            // A slip changes at most two letters of the set: most words are out at once.
            if (held ^ other_held).count_ones() > 2 * allowed as u32 {
                continue;
            }
            let other = trie.spelling(*id);
            if other.as_bytes().first() != word.as_bytes().first() && allowed == 1 {
                continue;
            }
            let room = best.map_or(allowed, |(distance, _)| distance.saturating_sub(1));
            if let Some(distance) = distance(word, other, room) {
                best = Some((distance, *id));
                if distance <= 1 {
                    break;
                }
            }
        }
        best.map(|(_, id)| id).or_else(|| {
            // The same consonants, if the vowels are not far off either.
            let same = self.by_sound.get(&sound(word)?).copied()?;
            distance(word, trie.spelling(same), 3).map(|_| same)
        })
    }
}

/// Which letters a lower-case word holds, a bit each.
fn letters(word: &str) -> u32 {
    word.bytes()
        .filter(u8::is_ascii_lowercase)
        .fold(0, |set, b| set | 1 << (b - b'a'))
}

/// The consonants of a word, voiced and unvoiced alike, doubled ones once.
fn sound(word: &str) -> Option<u64> {
    let mut consonants = Consonants::default();
    consonants.add(word);
    consonants.key(SHORTEST_KEY)
}

/// The consonants of words run together, voiced and unvoiced alike, doubled ones once.
#[derive(Debug, Default)]
pub(super) struct Consonants {
    key: u64,
    length: usize,
    last: u64,
    begun: bool,
}

impl Consonants {
    /// Goes on with a word.
    pub(super) fn add(&mut self, word: &str) {
        for byte in word.bytes() {
            let class = match byte.to_ascii_lowercase() {
                b'b' | b'p' => 1,
                b'c' | b'g' | b'k' | b'q' | b'x' => 2,
                b'd' | b't' => 3,
                b'f' | b'v' => 4,
                b'j' | b's' | b'z' => 5,
                b'l' => 6,
                b'm' => 7,
                b'n' => 8,
                b'r' => 9,
                _ if !self.begun => 10,
                _ => 0,
            };
            // "condensing" and "condense in" sound alike.
            let nasal = byte.eq_ignore_ascii_case(&b'g') && self.last == 8;
            if class != 0 && class != self.last && !nasal {
                self.key = self.key.wrapping_mul(11).wrapping_add(class);
                self.length += 1;
            }
            if !nasal {
                self.last = class;
            }
            self.begun = true;
        }
    }

    /// A number for them, if there are at least so many and no more than it can hold.
    pub(super) fn key(&self, fewest: usize) -> Option<u64> {
        (fewest..=16).contains(&self.length).then_some(self.key)
    }
}

/// Edit distance if it is at most `room`, counting a swap of neighbours as one slip.
pub(super) fn distance(a: &str, b: &str, room: usize) -> Option<usize> {
    let (a, b) = (a.as_bytes(), b.as_bytes());
    let mut before: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut row = vec![i + 1; b.len() + 1];
        let mut least = i + 1;
        for (j, y) in b.iter().enumerate() {
            let at = |row: &[usize], j: usize| row.get(j).copied().unwrap_or(usize::MAX / 2);
            let mut cost = (at(&above, j) + usize::from(x != y))
                .min(at(&above, j + 1) + 1)
                .min(at(&row, j) + 1);
            let swapped = i > 0 && j > 0 && a.get(i - 1) == Some(y) && b.get(j - 1) == Some(x);
            if swapped {
                cost = cost.min(at(&before, j - 1) + 1);
            }
            if let Some(cell) = row.get_mut(j + 1) {
                *cell = cost;
            }
            least = least.min(cost);
        }
        if least > room {
            return None;
        }
        before = std::mem::replace(&mut above, row);
    }
    above.last().copied().filter(|distance| *distance <= room)
}

#[cfg(test)]
mod tests {
    use super::super::Lexicon;
    use super::*;

    #[test]
    fn counts_slips() {
        assert_eq!(distance("belt", "blet", 2), Some(1));
        assert_eq!(distance("condenser", "condensor", 2), Some(1));
        assert_eq!(distance("economizer", "screen", 2), None);
    }

    #[test]
    fn repairs_trade_words_and_leaves_others() {
        let lexicon = Lexicon::builtin();
        for (heard, meant) in [
            ("econimizer", "economizer"),
            ("condensator", "condensate"),
            ("compresser", "compressor"),
            ("refrigerent", "refrigerant"),
            ("insulasion", "insulation"),
        ] {
            assert_eq!(lexicon.nearest(heard), Some(lexicon.word(meant)), "{heard}");
        }
        for word in ["banana", "xylophone", "caravan", "grandmother"] {
            assert_eq!(lexicon.nearest(word), None, "{word}");
        }
    }
}
