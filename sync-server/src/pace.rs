//! How often someone may knock: a bucket of permits for each key, filled again over a minute.
//!
//! Time comes in as an argument. Buckets that are full again are forgotten, so the memory is
//! bounded by the callers of the last minute.

use crate::error::AppError;
use std::collections::HashMap;
use std::sync::Mutex;

const SWEEP_AT: usize = 10_000;

/// A limit of requests per minute and key.
#[derive(Debug)]
pub(crate) struct Pace {
    per_minute: f64,
    buckets: Mutex<HashMap<String, Bucket>>,
}

#[derive(Debug, Clone, Copy)]
struct Bucket {
    permits: f64,
    at_ms: i64,
}

impl Pace {
    /// At most this many a minute, in bursts of as many.
    pub(crate) fn per_minute(most: u32) -> Self {
        Self {
            per_minute: f64::from(most.max(1)),
            buckets: Mutex::new(HashMap::new()),
        }
    }

    /// Takes one permit of a key, or tells how many seconds to wait.
    pub(crate) fn take(&self, key: &str, now_ms: i64) -> Result<(), AppError> {
        let mut buckets = self
            .buckets
            .lock()
            .map_err(|_| AppError::internal("pace", "a thread died while it held the buckets"))?;
        let rate = self.per_minute / 60_000.0;
        let full = self.per_minute;
        let filled = |bucket: &Bucket| {
            let waited = (now_ms - bucket.at_ms).max(0) as f64;
            (bucket.permits + waited * rate).min(full)
        };
        if buckets.len() >= SWEEP_AT {
            buckets.retain(|_, bucket| filled(bucket) < full);
        }
        let permits = buckets.get(key).map_or(full, filled);
        if permits < 1.0 {
            let wait_ms = (1.0 - permits) / rate;
            return Err(AppError::TooMany((wait_ms / 1000.0).ceil() as u64));
        }
        buckets.insert(
            key.to_owned(),
            Bucket {
                permits: permits - 1.0,
                at_ms: now_ms,
            },
        );
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_burst_is_let_through_then_the_pace_holds() {
        let pace = Pace::per_minute(3);
        for _ in 0..3 {
            assert!(pace.take("a", 1_000).is_ok());
        }
        assert!(matches!(pace.take("a", 1_000), Err(AppError::TooMany(20))));
        assert!(pace.take("b", 1_000).is_ok());
        assert!(pace.take("a", 21_000).is_ok());
        assert!(pace.take("a", 21_000).is_err());
        // A clock that goes back neither fills nor empties a bucket.
        assert!(pace.take("a", 0).is_err());
    }
}
