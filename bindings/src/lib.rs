//! The phone's door: objects over core's `capture` for Kotlin, Swift and Python.
//!
//! Every method locks the device's day, calls core, and turns the error into what an app can do
//! about it. With the feature `client` there is also an [`Office`], the wire spoken over blocking
//! sockets, for programs that have no uploader of their own. No trade, no document, no wire format
//! lives here, and no record is defined twice: those that cross over are derived in core. May be
//! called from any thread.

mod clock;
mod device;
mod error;
mod listener;
mod note;
#[cfg(feature = "client")]
mod office;
mod survey;

pub use clock::Clock;
pub use device::Device;
pub use error::ScupperError;
pub use listener::{CallbackError, ChangeListener, NoteListener, UploadListener};
#[cfg(feature = "client")]
pub use listener::{Moved, OfficeListener};
pub use note::Note;
#[cfg(feature = "client")]
pub use office::{Enrolled, Levelled, Office, Outcome, SentPhotos, Stopper, enrol};
pub use survey::Survey;

use scupper_core::door::{Count, FilePath, Json, Moment};

uniffi::setup_scaffolding!();
uniffi::use_remote_type!(scupper_core::Count);
uniffi::use_remote_type!(scupper_core::FilePath);
uniffi::use_remote_type!(scupper_core::Json);
uniffi::use_remote_type!(scupper_core::Moment);
