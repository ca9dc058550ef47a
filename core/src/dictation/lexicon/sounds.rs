//! Common words that a recogniser writes for a word of the trade: "bet" for "belt".
//!
//! A word here means nothing by itself; what it may stand for is believed only in a place that
//! asks for it, which is the grammar's business. Filled and asked by the lexicon only.

use super::trie::{QuickMap, UNKNOWN, Word};

/// By the word heard: the words that may have been meant, nearest first.
#[derive(Debug, Default)]
pub(super) struct Sounds {
    meant: QuickMap<Word, Vec<Word>>,
}

impl Sounds {
    pub(super) fn add(&mut self, heard: Word, meant: Word) {
        let all = self.meant.entry(heard).or_default();
        if meant != UNKNOWN && heard != meant && !all.contains(&meant) {
            all.push(meant);
        }
    }

    /// What may have been meant by `heard`.
    pub(super) fn of(&self, heard: Word) -> &[Word] {
        self.meant.get(&heard).map_or(&[], Vec::as_slice)
    }
}
