//! One contractor's desk: the store with their surveys and photos, and what of it is in memory.
//!
//! Every contractor has a store of its own below `firms/`, so that no mistake in a query can
//! show one firm another's roof. What a call here acknowledged is on disk. A document that got
//! ahead of the disk by an error is dropped and loaded again.

use crate::error::AppError;
use crate::random;
use crate::readings::Readings;
use chrono::NaiveDate;
use scupper_core::capture::durable;
use scupper_core::document::{Actor, Edit, INCARNATION_LEN, IdClock, Ids, Stamp, SurveyDoc};
use scupper_core::exchange::{self, Answer, ExchangeError, Hashes, SealKey, Status};
use scupper_core::quote::RateBook;
use scupper_core::store::{self, Store};
use scupper_core::survey::Survey;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard};
use tokio::sync::OwnedMutexGuard;

/// Documents kept in memory; the one longest unused goes first.
const OPEN_DOCS: usize = 64;
/// Folder of the desks.
const FIRMS: &str = "firms";
/// Stored fact with the server's secret for seals.
const SEAL_KEY: &str = "seal-key";

type Gate = Arc<tokio::sync::Mutex<()>>;

/// The desks of one server, opened when first needed.
#[derive(Debug)]
pub(crate) struct Desks {
    data: PathBuf,
    limits: store::Limits,
    device: String,
    open: Mutex<HashMap<i64, Arc<Desk>>>,
}

impl Desks {
    /// Desks below a data folder; `device` signs what reviewers settle.
    pub(crate) fn new(data: &Path, limits: store::Limits, device: String) -> Self {
        Self {
            data: data.to_owned(),
            limits,
            device,
            open: Mutex::default(),
        }
    }

    /// The desk of a contractor.
    pub(crate) fn of(&self, contractor: i64) -> Result<Arc<Desk>, AppError> {
        let mut open = lock(&self.open)?;
        if let Some(desk) = open.get(&contractor) {
            return Ok(Arc::clone(desk));
        }
        let dir = self.data.join(FIRMS).join(contractor.to_string());
        let desk = Arc::new(Desk::open(&dir, self.limits, &self.device)?);
        open.insert(contractor, Arc::clone(&desk));
        Ok(desk)
    }
}

/// Folders with a store in a server's data folder, or the folder itself if it is a device's.
pub(crate) fn stores_below(data: &Path) -> std::io::Result<Vec<PathBuf>> {
    let has_store = |dir: &PathBuf| dir.join("scupper.sqlite").exists();
    let mut found: Vec<PathBuf> = Vec::from_iter(Some(data.to_owned()).filter(has_store));
    if let Ok(firms) = std::fs::read_dir(data.join(FIRMS)) {
        for firm in firms {
            found.extend(Some(firm?.path()).filter(has_store));
        }
    }
    found.sort();
    Ok(found)
}

/// One contractor's surveys and photos.
pub(crate) struct Desk {
    store: Store,
    key: SealKey,
    device: String,
    docs: Mutex<HashMap<String, Arc<Mutex<Slot>>>>,
    gates: Mutex<HashMap<String, Gate>>,
}

impl std::fmt::Debug for Desk {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Desk({:?})", self.store)
    }
}

/// A survey in memory: nothing until it is asked for.
#[derive(Debug, Default)]
struct Slot {
    doc: Option<SurveyDoc>,
    readings: Option<Arc<Readings>>,
    used: u64,
}

impl Desk {
    fn open(dir: &Path, limits: store::Limits, device: &str) -> Result<Self, AppError> {
        let store = Store::open_with(dir, limits)?;
        let key = match store
            .fact(SEAL_KEY)?
            .and_then(|bytes| bytes.try_into().ok())
        {
            Some(key) => key,
            None => {
                let key: [u8; 32] = random::bytes()?;
                store.set_fact(SEAL_KEY, &key)?;
                key
            }
        };
        Ok(Self {
            store,
            key: SealKey::new(key),
            device: device.to_owned(),
            docs: Mutex::default(),
            gates: Mutex::default(),
        })
    }

    /// The store under this desk.
    pub(crate) fn store(&self) -> &Store {
        &self.store
    }

    /// Ids of the surveys here, in order.
    pub(crate) fn survey_ids(&self) -> Result<Vec<String>, AppError> {
        Ok(self
            .store
            .surveys()?
            .into_iter()
            .map(|entry| entry.id)
            .collect())
    }

    /// Whether a survey is here.
    pub(crate) fn has(&self, survey: &str) -> Result<bool, AppError> {
        Ok(self.survey_ids()?.iter().any(|id| id == survey))
    }

    /// Looks into a survey's document.
    pub(crate) fn with_doc<T>(
        &self,
        survey: &str,
        look: impl FnOnce(&SurveyDoc) -> Result<T, AppError>,
    ) -> Result<T, AppError> {
        let slot = self.slot(survey)?;
        let mut slot = enter(&slot);
        look(self.loaded(&mut slot, survey)?)
    }

    /// All that is read of a survey; worked out anew only when its document moved.
    pub(crate) fn readings(
        &self,
        survey: &str,
        book: &RateBook,
        today: NaiveDate,
    ) -> Result<Arc<Readings>, AppError> {
        let slot = self.slot(survey)?;
        let mut slot = enter(&slot);
        if let Some(readings) = &slot.readings {
            return Ok(Arc::clone(readings));
        }
        let doc = self.loaded(&mut slot, survey)?;
        let readings = Arc::new(Readings::of(doc, book, today));
        slot.readings = Some(Arc::clone(&readings));
        Ok(readings)
    }

    /// Answers an exchange; also tells whether it brought anything new.
    pub(crate) fn exchange(
        &self,
        request: &exchange::Request,
        who: exchange::Caller<'_>,
        limits: exchange::Limits,
    ) -> Result<(Answer, bool), AppError> {
        let survey = &request.survey_id;
        let slot = self.slot(survey)?;
        let mut slot = enter(&slot);
        if slot.doc.is_none() {
            slot.doc = Some(durable::create(&self.store, survey, self.actor()?)?);
        }
        let doc = slot.doc.as_mut().ok_or(GONE)?;
        let outcome = exchange::answer(doc, request, who, &self.key, limits);
        let mut outcome = match outcome {
            Err(error @ ExchangeError::Document(_)) => {
                slot.doc = None;
                return Err(error.into());
            }
            other => other?,
        };
        let news = !outcome.fresh.is_empty();
        if news {
            slot.readings = None;
            let doc = slot.doc.as_ref().ok_or(GONE)?;
            if let Err(error) = durable::keep(&self.store, doc, &outcome.fresh) {
                slot.doc = None;
                return Err(error.into());
            }
            durable::tidy(&self.store, doc)?;
        }
        if outcome.answer.status == Status::Level {
            let doc = slot.doc.as_ref().ok_or(GONE)?;
            let (originals, thumbnails) = self.store.wanting(&doc.photo_hashes())?;
            outcome.answer.want_originals = Hashes::of_hex(&originals);
            outcome.answer.want_thumbnails = Hashes::of_hex(&thumbnails);
        }
        Ok((outcome.answer, news))
    }

    /// Begins a survey and enters a plain one into it, or adds to one that is here.
    pub(crate) fn import(&self, stamp: &Stamp, survey: &Survey) -> Result<(), AppError> {
        let slot = self.slot(&survey.survey_id)?;
        let mut slot = enter(&slot);
        let mut doc = durable::create(&self.store, &survey.survey_id, self.actor()?)?;
        slot.readings = None;
        slot.doc = None;
        let change = doc.import(stamp, survey, &mut OfficeIds::default())?;
        durable::keep(&self.store, &doc, change.as_slice())?;
        slot.doc = Some(doc);
        Ok(())
    }

    /// Makes edits, all or none in memory, each on disk when this returns.
    pub(crate) fn edit<T>(
        &self,
        survey: &str,
        stamp: &Stamp,
        decide: impl FnOnce(&SurveyDoc) -> Result<(Vec<Edit>, T), AppError>,
    ) -> Result<T, AppError> {
        let slot = self.slot(survey)?;
        let mut slot = enter(&slot);
        let (edits, decided) = decide(self.loaded(&mut slot, survey)?)?;
        slot.readings = None;
        let doc = slot.doc.as_mut().ok_or(GONE)?;
        if let Err(error) = self.make(doc, stamp, edits) {
            slot.doc = None;
            return Err(error);
        }
        Ok(decided)
    }

    fn make(&self, doc: &mut SurveyDoc, stamp: &Stamp, edits: Vec<Edit>) -> Result<(), AppError> {
        let mut changes = Vec::new();
        for edit in edits {
            changes.extend(doc.edit(stamp, edit)?);
        }
        durable::keep(&self.store, doc, &changes)?;
        Ok(durable::tidy(&self.store, doc)?)
    }

    /// Waits for the right to append to an upload.
    pub(crate) async fn append_turn(self: &Arc<Self>, upload: &str) -> Result<Turn, AppError> {
        let gate = {
            let mut gates = lock(&self.gates)?;
            // Gates that nobody holds or waits for are dropped here, so the map stays small.
            gates.retain(|_, gate| Arc::strong_count(gate) > 1);
            gates.entry(upload.to_owned()).or_default().clone()
        };
        Ok(Turn {
            desk: Arc::clone(self),
            _guard: gate.lock_owned().await,
        })
    }

    fn slot(&self, survey: &str) -> Result<Arc<Mutex<Slot>>, AppError> {
        let mut docs = lock(&self.docs)?;
        let newest = docs
            .values()
            .filter_map(|slot| Some(slot.try_lock().ok()?.used))
            .max();
        if docs.len() >= OPEN_DOCS && !docs.contains_key(survey) {
            // Whoever is being worked on is locked or held, and stays.
            let idle = docs.iter().filter(|(_, slot)| Arc::strong_count(slot) == 1);
            let used = idle.filter_map(|(id, slot)| Some((slot.try_lock().ok()?.used, id.clone())));
            if let Some((_, oldest)) = used.min() {
                docs.remove(&oldest);
            }
        }
        let slot = Arc::clone(docs.entry(survey.to_owned()).or_default());
        if let Ok(mut slot) = slot.try_lock() {
            slot.used = newest.unwrap_or(0) + 1;
        }
        Ok(slot)
    }

    fn loaded<'s>(&self, slot: &'s mut Slot, survey: &str) -> Result<&'s mut SurveyDoc, AppError> {
        if slot.doc.is_none() {
            let loaded = durable::load(&self.store, survey, self.actor()?)?;
            let loaded = loaded.ok_or(GONE)?;
            for problem in &loaded.problems {
                tracing::error!(survey, problem, "part of a document could not be used");
            }
            slot.doc = Some(loaded.doc);
        }
        slot.doc.as_mut().ok_or(GONE)
    }

    fn actor(&self) -> Result<Actor, AppError> {
        let incarnation: [u8; INCARNATION_LEN] = random::bytes()?;
        Ok(Actor::of_device(&self.device, incarnation))
    }
}

/// Ids of entries that the office makes.
#[derive(Debug, Default)]
struct OfficeIds(IdClock);

impl Ids for OfficeIds {
    fn next_id(&mut self, at_ms: i64) -> String {
        // Without randomness ids would still differ by time and count within one desk.
        self.0.next(at_ms, random::bytes().unwrap_or_default())
    }
}

/// The right to append to one upload. It moves in and out of blocking tasks.
#[derive(Debug)]
pub(crate) struct Turn {
    desk: Arc<Desk>,
    _guard: OwnedMutexGuard<()>,
}

impl Turn {
    /// The store to append in.
    pub(crate) fn store(&self) -> &Store {
        &self.desk.store
    }
}

/// Whether text is a BLAKE3 hash in lower-case hex.
pub(crate) fn is_hash(text: &str) -> bool {
    text.len() == 64
        && text
            .bytes()
            .all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
}

const GONE: AppError = AppError::NotFound("this survey");

/// Takes a survey's slot. One that an earlier call died in is emptied: the disk has the truth.
fn enter(slot: &Mutex<Slot>) -> MutexGuard<'_, Slot> {
    slot.lock().unwrap_or_else(|poisoned| {
        slot.clear_poison();
        let mut slot = poisoned.into_inner();
        *slot = Slot::default();
        slot
    })
}

fn lock<T>(mutex: &Mutex<T>) -> Result<MutexGuard<'_, T>, AppError> {
    mutex
        .lock()
        .map_err(|_| AppError::internal("desk", "an earlier call failed half-way"))
}
