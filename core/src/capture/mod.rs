//! One device's whole day, behind one door: dictate, photograph, edit, warn, exchange.
//!
//! What the phone's bindings call, and nothing more; every method is one thing that a person or
//! the phone does. A call that returned is on disk. The device's clock and randomness come in as
//! [`Surroundings`].

mod day;
mod dictating;
pub mod durable;
mod error;
mod exchanging;
mod invitation;
mod listing;
mod opened;
mod photographing;
mod uploading;

pub use day::{Capture, Identity, Surroundings};
pub use dictating::{Heard, OpenNote, understand};
pub use error::CaptureError;
pub use exchanging::Exchanged;
pub use invitation::Invitation;
pub use listing::{Listing, Page, SurveyEntry};
pub use photographing::{PhotoAbout, Picture, read_picture};
pub use uploading::{
    CONTENT_HEADER, Header, PART_HEADER, PHOTO_HEADER, SURVEY_HEADER, Upload, Waiting,
};

#[cfg(test)]
mod tests;
