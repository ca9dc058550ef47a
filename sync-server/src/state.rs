//! What every request shares: accounts, desks, limits, the clock.
//!
//! Built once by `serve` or by a test. Handlers reach the disk only through [`Office::blocking`],
//! so that no database call ever holds up the network.

use crate::accounts::Accounts;
use crate::desk::Desks;
use crate::error::AppError;
use crate::limits::Limits;
use crate::live::Live;
use crate::metrics::Metrics;
use crate::pace::Pace;
use chrono::{DateTime, FixedOffset};
use scupper_core::quote::RateBook;
use scupper_core::store::{self, StoreKey};
use std::fs::{File, TryLockError};
use std::net::IpAddr;
use std::path::Path;
use std::sync::Arc;
use tokio::sync::{Semaphore, SemaphorePermit};

/// The office as the handlers see it; cheap to clone.
pub type AppState = Arc<Office>;

/// How the office is reached from outside.
#[derive(Debug, Clone, Default)]
pub struct Door {
    /// Whether browsers come by HTTPS (a proxy ends TLS), so that cookies must not leave it.
    pub https: bool,
    /// Proxies whose word for a caller's address is taken.
    pub trusted_proxies: Vec<IpAddr>,
}

/// One server's rooms.
#[derive(Debug)]
pub struct Office {
    /// Who may do what.
    pub accounts: Accounts,
    /// What is taken in, at most.
    pub limits: Limits,
    /// Rates and prices of every quote.
    pub book: Arc<RateBook>,
    pub(crate) desks: Desks,
    /// How it is reached.
    pub door: Door,
    turns: Semaphore,
    pub(crate) tries: Pace,
    pub(crate) requests: Pace,
    pub(crate) live: Arc<Live>,
    pub(crate) metrics: Metrics,
    clock: Clock,
    _lock: File,
}

/// Tells the server's time.
#[derive(Clone)]
pub(crate) struct Clock(Arc<dyn Fn() -> DateTime<FixedOffset> + Send + Sync>);

impl Clock {
    /// A clock that asks this.
    pub(crate) fn new(now: impl Fn() -> DateTime<FixedOffset> + Send + Sync + 'static) -> Self {
        Self(Arc::new(now))
    }

    fn of_this_machine() -> Self {
        Self::new(|| chrono::Local::now().fixed_offset())
    }
}

impl std::fmt::Debug for Clock {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Clock")
    }
}

impl Office {
    /// Opens or makes the office's data in a folder.
    pub fn open(
        data: &Path,
        limits: Limits,
        door: Door,
        book: RateBook,
    ) -> Result<AppState, AppError> {
        Self::open_keyed(data, None, limits, door, book)
    }

    /// The same with its databases encrypted under a key.
    pub fn open_keyed(
        data: &Path,
        key: Option<&StoreKey>,
        limits: Limits,
        door: Door,
        book: RateBook,
    ) -> Result<AppState, AppError> {
        Self::open_at(data, key, limits, door, book, Clock::of_this_machine())
    }

    /// Opens an office in a shared place: a PostgreSQL database and a bucket. The folder keeps
    /// copies of photos and is this process's own.
    #[cfg(feature = "postgres")]
    pub fn open_shared(
        data: &Path,
        (postgres, objects): (&str, &str),
        limits: Limits,
        door: Door,
        book: RateBook,
    ) -> Result<AppState, AppError> {
        use crate::storage::{Objects, SharedPlace, Storage};
        std::fs::create_dir_all(data)?;
        let lock = lock(data)?;
        let db = SharedPlace::connect(postgres)?;
        let objects = Objects::open(objects)?;
        let accounts = Accounts::over(Arc::new(db.clone()));
        let (stores, cache) = (stores(&limits), data.join("cache"));
        let live = Arc::new(Live::new());
        SharedPlace::listen(&db, Arc::clone(&live));
        let opens = move |contractor: i64| {
            let (db, objects) = (db.clone(), objects.clone());
            let place = SharedPlace::new(db, objects, contractor, stores, &cache);
            Ok(Box::new(place) as Box<dyn Storage>)
        };
        let desks = Desks::opened_by(Box::new(opens), accounts.office_device()?);
        let clock = Clock::of_this_machine();
        let kept = (accounts, desks, live);
        Ok(Self::made(kept, limits, door, book, clock, lock))
    }

    /// The same by another clock.
    pub(crate) fn open_at(
        data: &Path,
        key: Option<&StoreKey>,
        limits: Limits,
        door: Door,
        book: RateBook,
        clock: Clock,
    ) -> Result<AppState, AppError> {
        std::fs::create_dir_all(data)?;
        let lock = lock(data)?;
        let accounts = Accounts::open(data, key)?;
        let (stores, device) = (stores(&limits), accounts.office_device()?);
        let desks = Desks::below(data, key.cloned(), stores, device);
        let live = Arc::new(Live::new());
        let kept = (accounts, desks, live);
        Ok(Self::made(kept, limits, door, book, clock, lock))
    }

    fn made(
        (accounts, desks, live): (Accounts, Desks, Arc<Live>),
        limits: Limits,
        door: Door,
        book: RateBook,
        clock: Clock,
        lock: File,
    ) -> AppState {
        Arc::new(Self {
            desks,
            accounts,
            book: Arc::new(book),
            turns: Semaphore::new(limits.exchanges_at_once),
            tries: Pace::per_minute(limits.tries_per_minute),
            requests: Pace::per_minute(limits.requests_per_minute),
            live,
            metrics: Metrics::default(),
            limits,
            door,
            clock,
            _lock: lock,
        })
    }

    /// The server's time.
    pub fn now(&self) -> DateTime<FixedOffset> {
        (self.clock.0)()
    }

    /// The server's time in Unix seconds.
    pub fn unix(&self) -> i64 {
        self.now().timestamp()
    }

    /// Waits for one of the places in which large messages are worked on.
    pub(crate) async fn turn(&self) -> Result<SemaphorePermit<'_>, AppError> {
        self.turns
            .acquire()
            .await
            .map_err(|error| AppError::internal("waiting", error))
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

/// What a contractor's place takes.
fn stores(limits: &Limits) -> store::Limits {
    store::Limits {
        photo_bytes: limits.photo,
        all_photos_bytes: limits.contractor_photos,
        ..store::Limits::default()
    }
}

/// Holds a data folder for this server alone, as long as the file is open.
fn lock(data: &Path) -> Result<File, AppError> {
    let path = data.join("office.lock");
    let file = File::options().create(true).append(true).open(path)?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(AppError::Unusable(format!(
            "{}: another process serves this folder; stop it, or give another one",
            data.display()
        ))),
        Err(TryLockError::Error(error)) => Err(error.into()),
    }
}
