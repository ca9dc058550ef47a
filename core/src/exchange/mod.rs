//! Bringing two replicas of a survey level in one round trip, without doing any I/O itself.
//!
//! The device posts what it has made since the heads it last shared with the server; the answer
//! holds what the server has beyond that. Posting the same twice does nothing. A server that
//! does not know those heads, restored from a backup, says so, and the device gives it back
//! what it lost. `docs/protocol.md` writes the messages down for other programs.
//!
//! Changes are bytes with a hash here; what they mean is the document's business.

mod client;
mod error;
mod message;
mod seal;
mod server;

pub use client::{Accepted, Shared, accept, prepare};
pub use error::ExchangeError;
pub use message::{Answer, Hashes, Limits, PROTOCOL, Request, Status};
pub use seal::{Seal, SealKey};
pub use server::{Caller, Outcome, answer};

#[cfg(test)]
mod tests;
