//! Common words that a recogniser writes for a word of the trade: "bet" for "belt".
//!
//! A word here means nothing by itself; what it may stand for is believed only in a place that
//! asks for it, which is the grammar's business. Filled and asked by the lexicon only.

use super::trie::{UNKNOWN, Word};

/// By the word heard: the words that may have been meant, nearest first.
#[derive(Debug, Default)]
pub(super) struct Sounds {
    meant: Vec<Vec<Word>>,
}

impl Sounds {
    pub(super) fn add(&mut self, heard: Word, meant: Word) {
        let at = heard as usize;
        if self.meant.len() <= at {
            self.meant.resize(at + 1, Vec::new());
        }
        let free = meant != UNKNOWN && heard != meant;
        if let Some(all) = self
            .meant
            .get_mut(at)
            .filter(|all| free && !all.contains(&meant))
        {
            all.push(meant);
        }
    }

    /// What may have been meant by `heard`.
    pub(super) fn of(&self, heard: Word) -> &[Word] {
        self.meant.get(heard as usize).map_or(&[], Vec::as_slice)
    }
}
