//! What can go wrong in an exchange. Nothing was changed when one of these comes back.

use crate::document::DocumentError;

/// An exchange that cannot be answered or taken in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ExchangeError {
    /// The bytes are not such a message.
    #[error("not an exchange message: {problem}")]
    Unreadable {
        /// What the reader said.
        problem: String,
    },
    /// The message unfolds to more than is taken.
    #[error("the message unfolds to more than {most} bytes; send less at a time")]
    TooLarge {
        /// Most bytes that are taken, unfolded.
        most: usize,
    },
    /// No version of the protocol is spoken by both.
    #[error("protocol {theirs} is not spoken here; this side speaks {ours}, update the other")]
    Protocol {
        /// Newest version of the other side.
        theirs: u32,
        /// Version of this side.
        ours: u32,
    },
    /// The message is about another survey than the document.
    #[error("the message is about survey {theirs}, not {ours}")]
    OtherSurvey {
        /// Survey of the message.
        theirs: String,
        /// Survey of the document.
        ours: String,
    },
    /// A change is signed by an actor, device or person that the sender is not.
    #[error("change {hash} is signed by {signer}, which is not device {device}'s to use")]
    Forged {
        /// The change.
        hash: String,
        /// Who it claims to be by: an actor in hex, a device or a person.
        signer: String,
        /// The device that sent it.
        device: String,
    },
    /// The changes cannot be applied.
    #[error(transparent)]
    Document(#[from] DocumentError),
}
