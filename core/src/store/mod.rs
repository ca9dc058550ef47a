//! Durable storage of a device or a server: documents in SQLite, photos in files.
//!
//! A call that returned is on disk: SQLite runs in WAL mode with `synchronous=FULL`, a photo is
//! flushed, renamed into place and its folder flushed. One process at a time may write. What a
//! row or file says is checked against its BLAKE3 when it is read; what fails is set aside and
//! named, the rest opens. Documents are bytes here; see `capture::durable` for their life. The
//! database may be encrypted under a key of the caller's; files of photos never are.

mod acknowledged;
mod backup;
mod chunks;
mod error;
mod files;
mod key;
mod photos;
mod schema;
mod state;
mod uploads;
mod verify;

pub use chunks::{Kept, Parts, SurveyEntry};
pub use error::StoreError;
pub use key::{StoreKey, connect, copy, is_plain};
pub use photos::{Limits, PhotoMeta, PhotoRow};
pub use schema::Store;
pub use uploads::{Part, UPLOAD_LIFE_S, UploadHead, UploadState};
pub use verify::Damage;

#[cfg(test)]
mod tests;
