//! A change as `exchange` and `store` see it: bytes with a hash, an author's actor and parents.
//!
//! Only plain (not deflated) change chunks are taken, so that reading one can never unfold into
//! more memory than its bytes.

use super::error::DocumentError;
use super::stamp::{Message, Stamp};
use std::fmt;

/// SHA-256 of a change, which names it and, through its parents, all the history behind it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ChangeHash(pub(super) [u8; 32]);

impl ChangeHash {
    /// The hash with these bytes; none if there are not 32.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        bytes.try_into().ok().map(Self)
    }

    /// The 32 bytes.
    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    pub(super) fn to_automerge(self) -> automerge::ChangeHash {
        automerge::ChangeHash(self.0)
    }
}

impl fmt::Display for ChangeHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for ChangeHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{self}")
    }
}

/// One change, parsed far enough to say whose it is and what it builds on.
#[derive(Debug, Clone)]
pub struct Change {
    inner: automerge::Change,
}

/// Where the kind of a chunk stands in its header, and the kind of a plain change.
const KIND_AT: usize = 8;
const PLAIN_CHANGE: u8 = 1;

impl Change {
    /// Reads one change.
    ///
    /// # Errors
    /// [`DocumentError::Unreadable`] if the bytes are anything but one whole, plain change.
    pub fn parse(bytes: &[u8]) -> Result<Self, DocumentError> {
        let unreadable = |problem: String| DocumentError::Unreadable {
            what: "change",
            problem,
        };
        if bytes.get(KIND_AT) != Some(&PLAIN_CHANGE) {
            return Err(unreadable("not a plain change chunk".to_owned()));
        }
        let parse = || automerge::Change::try_from(bytes);
        let inner = super::guard(parse)
            .ok_or_else(|| unreadable("malformed".to_owned()))?
            .map_err(|error| unreadable(error.to_string()))?;
        Ok(Self { inner })
    }

    pub(super) fn from_automerge(inner: automerge::Change) -> Self {
        Self { inner }
    }

    pub(super) fn inner(&self) -> &automerge::Change {
        &self.inner
    }

    /// The change as bytes; [`Change::parse`] reads them back.
    pub fn bytes(&self) -> &[u8] {
        self.inner.raw_bytes()
    }

    /// Its name.
    pub fn hash(&self) -> ChangeHash {
        ChangeHash(self.inner.hash().0)
    }

    /// The actor that signed it.
    pub fn actor(&self) -> &[u8] {
        self.inner.actor_id().to_bytes()
    }

    /// Its number among that actor's changes, from 1.
    pub fn seq(&self) -> u64 {
        self.inner.seq()
    }

    /// Who says to have made it, where and when; none if it does not say.
    pub fn stamp(&self) -> Option<Stamp> {
        Message::parse(self.inner.message()).map(|message| message.stamp)
    }

    /// The changes that it builds on.
    pub fn deps(&self) -> impl Iterator<Item = ChangeHash> + '_ {
        self.inner.deps().iter().map(|hash| ChangeHash(hash.0))
    }
}

/// The heads of a history to which `changes` are added, given the heads it had.
///
/// `changes` must build on that history only; a head that one of them builds on is a head no more.
pub fn grow_heads(heads: &[ChangeHash], changes: &[Change]) -> Vec<ChangeHash> {
    let mut grown: std::collections::BTreeSet<ChangeHash> = heads.iter().copied().collect();
    grown.extend(changes.iter().map(Change::hash));
    for dep in changes.iter().flat_map(Change::deps) {
        grown.remove(&dep);
    }
    grown.into_iter().collect()
}
