//! A device's side of the wire: enrol, exchange, upload, watch. Blocking, over plain HTTP sockets; over TLS
//! with the feature `tls`.
//!
//! Used by the door's `Office`, by `scupper demo` and by tests that need a real client. A phone
//! has its own HTTP stack and follows the same steps; core tells both what to send. Keeps nothing,
//! starts no thread and knows no document.

mod client;
mod piece;
mod put_off;
mod stop;
mod watch;

pub use client::{Client, ClientError, Sent};
pub use stop::Stop;
