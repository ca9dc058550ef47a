//! What can go wrong with a survey document. Nothing was changed when one of these comes back.

/// A document that cannot be read or an edit that cannot be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DocumentError {
    /// No entry with this tag or id.
    #[error("{about}: no such entry in this survey; add it first, or give its tag or id")]
    NoSuchEntry {
        /// The tag or id that was looked for.
        about: String,
    },
    /// The value does not fit the field.
    #[error("{place}: {problem}")]
    BadValue {
        /// Entry and field, such as `RTU-2.nameplate.mca_a`.
        place: String,
        /// What is wrong and what would be right.
        problem: String,
    },
    /// The edit makes no sense for this entry.
    #[error("{about}: {problem}")]
    NotAllowed {
        /// The entry.
        about: String,
        /// Why not.
        problem: String,
    },
    /// The bytes are not a survey document or not a change.
    #[error("{what} cannot be read: {problem}")]
    Unreadable {
        /// Which bytes.
        what: &'static str,
        /// What the reader said.
        problem: String,
    },
    /// A change builds on changes that this document does not have.
    #[error("change {hash} builds on change {needs}, which is not here; fetch that one first")]
    MissingChange {
        /// The change that cannot be applied.
        hash: String,
        /// The change that it needs.
        needs: String,
    },
    /// Two different changes claim the same place in one actor's sequence.
    #[error("change {hash}: actor {actor} already has another change number {seq}")]
    Forked {
        /// The refused change.
        hash: String,
        /// The actor, in hex.
        actor: String,
        /// The number both claim.
        seq: u64,
    },
    /// The CRDT library refused; a defect of this program.
    #[error("the document refused an edit: {problem}")]
    Internal {
        /// What the library said.
        problem: String,
    },
}

impl From<automerge::AutomergeError> for DocumentError {
    fn from(error: automerge::AutomergeError) -> Self {
        Self::Internal {
            problem: error.to_string(),
        }
    }
}
