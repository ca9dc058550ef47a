//! The phone's door: objects over core's `capture` for Kotlin, Swift and Python.
//!
//! Every method locks the device's day, calls core, and turns the error into what an app can do
//! about it. No trade, no document, no wire format lives here, and no record is defined twice:
//! those that cross over are derived in core. May be called from any thread.

mod clock;
mod device;
mod error;
mod note;
mod survey;

pub use clock::{Clock, ClockError};
pub use device::Device;
pub use error::ScupperError;
pub use note::Note;
pub use survey::Survey;

use scupper_core::door::{FilePath, Json, Moment};

uniffi::setup_scaffolding!();
uniffi::use_remote_type!(scupper_core::FilePath);
uniffi::use_remote_type!(scupper_core::Json);
uniffi::use_remote_type!(scupper_core::Moment);
