//! What every request shares: accounts, desks, limits, the clock.
//!
//! Built once by `serve` or by a test. Handlers reach the disk only through [`Office::blocking`],
//! so that no database call ever holds up the network.

use crate::accounts::Accounts;
use crate::error::AppError;
use crate::limits::Limits;
use crate::live::Live;
use crate::metrics::Metrics;
use crate::pace::Pace;
use chrono::{DateTime, FixedOffset};
use std::path::Path;
use std::sync::Arc;

/// The office as the handlers see it; cheap to clone.
pub type AppState = Arc<Office>;

/// How the office is reached from outside.
#[derive(Debug, Clone, Default)]
pub struct Door {
    /// Whether browsers come by HTTPS (a proxy ends TLS), so that cookies must not leave it.
    pub https: bool,
}

/// One server's rooms.
#[derive(Debug)]
pub struct Office {
    /// Who may do what.
    pub accounts: Accounts,
    /// What is taken in, at most.
    pub limits: Limits,
    /// How it is reached.
    pub door: Door,
    pub(crate) tries: Pace,
    pub(crate) requests: Pace,
    pub(crate) live: Live,
    pub(crate) metrics: Metrics,
    clock: fn() -> DateTime<FixedOffset>,
}

impl Office {
    /// Opens or makes the office's data in a folder.
    pub fn open(data: &Path, limits: Limits, door: Door) -> Result<AppState, AppError> {
        std::fs::create_dir_all(data)?;
        Ok(Arc::new(Self {
            accounts: Accounts::open(data)?,
            tries: Pace::per_minute(limits.tries_per_minute),
            requests: Pace::per_minute(limits.requests_per_minute),
            live: Live::new(),
            metrics: Metrics::default(),
            limits,
            door,
            clock: || chrono::Local::now().fixed_offset(),
        }))
    }

    /// The server's time.
    pub fn now(&self) -> DateTime<FixedOffset> {
        (self.clock)()
    }

    /// The server's time in Unix seconds.
    pub fn unix(&self) -> i64 {
        self.now().timestamp()
    }

    /// Runs work that touches the disk away from the network's threads.
    pub(crate) async fn blocking<T, F>(self: &Arc<Self>, work: F) -> Result<T, AppError>
    where
        T: Send + 'static,
        F: FnOnce(&Self) -> Result<T, AppError> + Send + 'static,
    {
        let office = Arc::clone(self);
        tokio::task::spawn_blocking(move || work(&office)).await?
    }
}
