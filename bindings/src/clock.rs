//! Clock and randomness of the device, for core, which reads neither.
//!
//! Randomness is the operating system's. The clock is too, in UTC, unless the app gives one
//! that knows the local offset.

use crate::Moment;
use crate::listener::CallbackError;
use chrono::{DateTime, FixedOffset, Utc};
use scupper_core::capture::Surroundings;
use std::collections::hash_map::RandomState;
use std::hash::BuildHasher;
use std::sync::Arc;
use std::time::SystemTime;

/// Tells the time with the local offset, for an app that knows where it is.
///
/// Called inside other calls: it must not call back, and should return at once. When it fails the
/// system's clock is used instead, in UTC.
#[uniffi::export(foreign)]
pub trait Clock: Send + Sync {
    /// The time now.
    fn now(&self) -> Result<Moment, CallbackError>;
}

/// The device around a store.
pub(crate) struct Here(pub(crate) Option<Arc<dyn Clock>>);

impl Surroundings for Here {
    fn now(&mut self) -> DateTime<FixedOffset> {
        let told = self.0.as_ref().and_then(|clock| clock.now().ok());
        told.unwrap_or_else(|| DateTime::<Utc>::from(SystemTime::now()).fixed_offset())
    }

    fn random(&mut self) -> [u8; 8] {
        let mut bytes = [0; 8];
        match getrandom::fill(&mut bytes) {
            Ok(()) => bytes,
            Err(_) => RandomState::new().hash_one(SystemTime::now()).to_be_bytes(),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    struct Fixed(Option<&'static str>);

    impl Clock for Fixed {
        fn now(&self) -> Result<Moment, CallbackError> {
            let text = self.0.ok_or(CallbackError::Failed {
                reason: "stopped".to_owned(),
            })?;
            Ok(DateTime::parse_from_rfc3339(text).unwrap())
        }
    }

    #[test]
    fn the_apps_clock_counts_and_the_systems_stands_in() {
        let noon = "2026-04-14T12:00:00-07:00";
        let mut here = Here(Some(Arc::new(Fixed(Some(noon)))));
        assert_eq!(here.now().to_rfc3339(), noon);
        let before = SystemTime::now();
        let mut here = Here(Some(Arc::new(Fixed(None))));
        assert!(here.now() >= DateTime::<Utc>::from(before));
        assert_ne!(here.random(), here.random());
    }
}
