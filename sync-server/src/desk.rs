//! One contractor's desk: the store with their surveys and photos, and what of it is in memory.
//!
//! Every contractor has a store of its own (below `firms/`, or its own rows in a shared place), so
//! that no mistake here can show one firm another's roof. What a call here acknowledged is on
//! disk. A document that got ahead of the disk by an error is dropped and loaded again.

use crate::error::AppError;
use crate::random;
use crate::readings::{Rates, Readings};
use crate::storage::{Embedded, Held, Storage};
use chrono::NaiveDate;
use scupper_core::document::{
    Actor, Change, ChangeHash, Edit, INCARNATION_LEN, IdClock, Ids, Stamp, SurveyDoc,
};
use scupper_core::exchange::{self, Answer, ExchangeError, Hashes, SealKey, Status};
use scupper_core::store::{self, Store, StoreKey};
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
pub(crate) const SEAL_KEY: &str = "seal-key";

type Gate = Arc<tokio::sync::Mutex<()>>;

/// Opens the place of a contractor.
type Opens = dyn Fn(i64) -> Result<Box<dyn Storage>, AppError> + Send + Sync;

/// The desks of one server, opened when first needed.
pub(crate) struct Desks {
    opens: Box<Opens>,
    device: String,
    open: Mutex<HashMap<i64, Arc<Desk>>>,
}

impl std::fmt::Debug for Desks {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Desks")
    }
}

impl Desks {
    /// Desks below a data folder, their stores under a key or plain; `device` signs what
    /// reviewers settle.
    pub(crate) fn below(
        data: &Path,
        key: Option<StoreKey>,
        limits: store::Limits,
        device: String,
    ) -> Self {
        let firms = data.join(FIRMS);
        let opens = move |contractor: i64| {
            let dir = firms.join(contractor.to_string());
            let store = Store::open_keyed(&dir, limits, key.as_ref())?;
            Ok(Box::new(Embedded::over(store)) as Box<dyn Storage>)
        };
        Self::opened_by(Box::new(opens), device)
    }

    /// Desks wherever this opens them.
    pub(crate) fn opened_by(opens: Box<Opens>, device: String) -> Self {
        Self {
            opens,
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
        let storage = (self.opens)(contractor).map_err(|error| match error {
            // Told with a path, which is nothing for whoever asked.
            AppError::Unusable(problem) => AppError::internal("opening a store", problem),
            other => other,
        })?;
        let desk = Arc::new(Desk::over(storage, &self.device)?);
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
    storage: Box<dyn Storage>,
    key: SealKey,
    device: String,
    docs: Mutex<HashMap<String, Arc<Mutex<Slot>>>>,
    gates: Mutex<HashMap<String, Gate>>,
}

impl std::fmt::Debug for Desk {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Desk({:?})", self.storage)
    }
}

/// A survey in memory: nothing until it is asked for.
#[derive(Debug, Default)]
struct Slot {
    held: Option<Held>,
    readings: Option<Arc<Readings>>,
    used: u64,
}

impl Desk {
    fn over(storage: Box<dyn Storage>, device: &str) -> Result<Self, AppError> {
        let fresh: [u8; 32] = random::bytes()?;
        let key = storage.fact_or(SEAL_KEY, &fresh)?;
        let odd = |_| AppError::internal("seal key", "is of the wrong length");
        Ok(Self {
            key: SealKey::new(key.try_into().map_err(odd)?),
            storage,
            device: device.to_owned(),
            docs: Mutex::default(),
            gates: Mutex::default(),
        })
    }

    /// Where this desk keeps its things.
    pub(crate) fn storage(&self) -> &dyn Storage {
        self.storage.as_ref()
    }

    /// Ids of the surveys here, in order.
    pub(crate) fn survey_ids(&self) -> Result<Vec<String>, AppError> {
        self.storage.survey_ids()
    }

    /// Whether a survey is here.
    pub(crate) fn has(&self, survey: &str) -> Result<bool, AppError> {
        self.storage.has(survey)
    }

    /// What is read of a survey as it stood at these heads, each in hex; none if it never did.
    pub(crate) fn as_it_stood(
        &self,
        survey: &str,
        heads: &[ChangeHash],
        (rates, day): (&Rates, NaiveDate),
    ) -> Result<Option<Readings>, AppError> {
        let actor = self.actor()?;
        self.with_doc(survey, |doc| {
            let past = doc.as_it_stood(heads, actor)?;
            Ok(past.map(|doc| Readings::of(&doc, rates, day)))
        })
    }

    /// Looks into a survey's document.
    pub(crate) fn with_doc<T>(
        &self,
        survey: &str,
        look: impl FnOnce(&SurveyDoc) -> Result<T, AppError>,
    ) -> Result<T, AppError> {
        let slot = self.slot(survey)?;
        let mut slot = enter(&slot);
        look(&self.loaded(&mut slot, survey)?.doc)
    }

    /// All that is read of a survey; worked out anew only when its document moved.
    pub(crate) fn readings(
        &self,
        survey: &str,
        rates: &Rates,
        today: NaiveDate,
    ) -> Result<Arc<Readings>, AppError> {
        let slot = self.slot(survey)?;
        let mut slot = enter(&slot);
        self.freshen(&mut slot, survey)?;
        if let Some(readings) = &slot.readings
            && readings.rates == *rates
            && readings.holds_on(today)
        {
            return Ok(Arc::clone(readings));
        }
        let doc = &self.loaded(&mut slot, survey)?.doc;
        let readings = Arc::new(Readings::of(doc, rates, today));
        slot.readings = Some(Arc::clone(&readings));
        Ok(readings)
    }

    /// Answers an exchange; also tells whether it brought anything new. A document that takes
    /// more than `most` bytes already takes nothing new.
    pub(crate) fn exchange(
        &self,
        request: &exchange::Request,
        who: exchange::Caller<'_>,
        limits: exchange::Limits,
        most: u64,
    ) -> Result<(Answer, bool), AppError> {
        let survey = &request.survey_id;
        let slot = self.slot(survey)?;
        let mut slot = enter(&slot);
        self.freshen(&mut slot, survey)?;
        let mut held = match slot.held.take() {
            Some(held) => held,
            None => self.storage.create(survey, self.actor()?)?,
        };
        // After an error the document may be ahead of the disk: it stays dropped.
        let outcome = exchange::answer(&mut held.doc, request, who, &self.key, limits);
        let mut outcome = match outcome {
            Err(error @ ExchangeError::Document(_)) => return Err(error.into()),
            Err(error) => {
                slot.held = Some(held);
                return Err(error.into());
            }
            Ok(outcome) => outcome,
        };
        let news = !outcome.fresh.is_empty();
        if news {
            slot.readings = None;
            if self.storage.document_bytes(survey)? > most {
                return Err(AppError::Full(format!(
                    "this survey's document takes more than {most} bytes; begin the next visit"
                )));
            }
            self.storage.keep(&mut held, &outcome.fresh)?;
            self.storage.tidy(&mut held)?;
        }
        if outcome.answer.status == Status::Level {
            let (originals, thumbnails) = self.storage.wanting(&held.doc.photo_hashes())?;
            outcome.answer.want_originals = Hashes::of_hex(&originals);
            outcome.answer.want_thumbnails = Hashes::of_hex(&thumbnails);
        }
        slot.held = Some(held);
        Ok((outcome.answer, news))
    }

    /// Begins a survey and enters a plain one into it, or adds to one that is here.
    pub(crate) fn import(&self, stamp: &Stamp, survey: &Survey) -> Result<(), AppError> {
        let slot = self.slot(&survey.survey_id)?;
        let mut slot = enter(&slot);
        let mut held = self.storage.create(&survey.survey_id, self.actor()?)?;
        slot.readings = None;
        slot.held = None;
        let change = held.doc.import(stamp, survey, &mut OfficeIds::default())?;
        self.storage.keep(&mut held, change.as_slice())?;
        slot.held = Some(held);
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
        let (edits, decided) = decide(&self.loaded(&mut slot, survey)?.doc)?;
        slot.readings = None;
        let mut held = slot.held.take().ok_or(GONE)?;
        let mut changes = Vec::new();
        for edit in edits {
            changes.extend(held.doc.edit(stamp, edit)?);
        }
        self.storage.keep(&mut held, &changes)?;
        self.storage.tidy(&mut held)?;
        slot.held = Some(held);
        Ok(decided)
    }

    /// Makes edits for a device that has no document of its own, signed as that device. All are
    /// on disk when this returns; after an error none is.
    pub(crate) fn edit_for<T>(
        &self,
        survey: &str,
        device: &str,
        work: impl FnOnce(&mut SurveyDoc) -> Result<(Vec<Change>, T), AppError>,
    ) -> Result<T, AppError> {
        let slot = self.slot(survey)?;
        let mut slot = enter(&slot);
        self.loaded(&mut slot, survey)?;
        let mut held = slot.held.take().ok_or(GONE)?;
        held.doc.sign_as(actor_of(device)?);
        let (changes, done) = work(&mut held.doc)?;
        held.doc.sign_as(self.actor()?);
        if !changes.is_empty() {
            slot.readings = None;
            self.storage.keep(&mut held, &changes)?;
            self.storage.tidy(&mut held)?;
        }
        slot.held = Some(held);
        Ok(done)
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

    /// Drops what is in memory of a survey if another process wrote to it meanwhile.
    fn freshen(&self, slot: &mut Slot, survey: &str) -> Result<(), AppError> {
        if let Some(held) = &slot.held
            && held.mark != self.storage.mark(survey)?
        {
            (slot.held, slot.readings) = (None, None);
        }
        Ok(())
    }

    fn loaded<'s>(&self, slot: &'s mut Slot, survey: &str) -> Result<&'s mut Held, AppError> {
        self.freshen(slot, survey)?;
        if slot.held.is_none() {
            let held = self.storage.load(survey, self.actor()?)?.ok_or(GONE)?;
            for problem in &held.problems {
                tracing::error!(survey, problem, "part of a document could not be used");
            }
            slot.held = Some(held);
        }
        slot.held.as_mut().ok_or(GONE)
    }

    fn actor(&self) -> Result<Actor, AppError> {
        actor_of(&self.device)
    }
}

/// A fresh incarnation of a device.
fn actor_of(device: &str) -> Result<Actor, AppError> {
    let incarnation: [u8; INCARNATION_LEN] = random::bytes()?;
    Ok(Actor::of_device(device, incarnation))
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
    /// Where to append.
    pub(crate) fn storage(&self) -> &dyn Storage {
        self.desk.storage()
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
