//! The server's word that a history went through it.
//!
//! A device may post only its own changes. A server restored from a backup, though, needs back
//! what others posted since. The seal settles that: a keyed BLAKE3 over heads that the server
//! once shared with the device. Heads name all the history behind them by hash, so one seal
//! vouches for every change behind it, and nobody without the server's key can make one.

use super::message::Hashes;
use crate::document::{Change, ChangeHash};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The server's secret for seals; 32 random bytes, kept with its store and in its backups.
#[derive(Clone)]
pub struct SealKey([u8; 32]);

impl SealKey {
    /// A key from random bytes.
    pub const fn new(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// Seals heads of a survey.
    pub fn seal(&self, survey_id: &str, heads: &[ChangeHash]) -> Seal {
        let mut heads = heads.to_vec();
        heads.sort_unstable();
        Seal {
            mark: Hashes(vec![self.mark(survey_id, &heads)]),
            heads: Hashes::of(&heads),
        }
    }

    /// The heads that a seal vouches for; none if it is not this server's.
    pub fn open(&self, survey_id: &str, seal: &Seal) -> Option<Vec<ChangeHash>> {
        let heads = seal.heads.heads();
        let mark = blake3::Hash::from_bytes(self.mark(survey_id, &heads));
        // `blake3::Hash` compares in constant time.
        let given = blake3::Hash::from_bytes(*seal.mark.0.first()?);
        (mark == given).then_some(heads)
    }

    fn mark(&self, survey_id: &str, heads: &[ChangeHash]) -> [u8; 32] {
        let mut hasher = blake3::Hasher::new_keyed(&self.0);
        hasher.update(b"scupper seal 1\0");
        hasher.update(&(survey_id.len() as u64).to_le_bytes());
        hasher.update(survey_id.as_bytes());
        for head in heads {
            hasher.update(head.bytes());
        }
        *hasher.finalize().as_bytes()
    }
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Seal {
    /// The heads that are sealed.
    pub heads: Hashes,
    /// The mark that only the server can make.
    pub mark: Hashes,
}

/// Of these changes, those that lie behind heads or are among them.
pub(super) fn behind(posted: &[Change], heads: &[ChangeHash]) -> BTreeSet<ChangeHash> {
    let by_hash: BTreeMap<ChangeHash, &Change> = posted
        .iter()
        .map(|change| (change.hash(), change))
        .collect();
    let mut behind = BTreeSet::new();
    let mut ahead = heads.to_vec();
    while let Some(hash) = ahead.pop() {
        if let Some(change) = by_hash.get(&hash)
            && behind.insert(hash)
        {
            ahead.extend(change.deps());
        }
    }
    behind
}
