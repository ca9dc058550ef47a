//! The device's day on the roof: surveys opened and edited, each change kept before it counts.

use super::dictating::Spoken;
use super::durable;
use super::error::CaptureError;
use super::opened::Opened;
use crate::document::{
    Actor, Change, Conflict, DocumentError, Edit, HistoryStep, IdClock, Ids, SameUnitOffer, Stamp,
    SurveyDoc, Table,
};
use crate::store::{Limits, Store, StoreKey};
use crate::survey::{SITE, Survey};
use chrono::{DateTime, FixedOffset};
use serde_json::{Value, json};
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

/// Clock and randomness of the device.
pub trait Surroundings: Send {
    /// The time by the device's clock, with its offset.
    fn now(&mut self) -> DateTime<FixedOffset>;
    /// Eight fresh random bytes, good enough for keys.
    fn random(&mut self) -> [u8; 8];
}

/// Whose device this is.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Identity {
    /// The device, as enrolled.
    pub device_id: String,
    /// The person who uses it.
    pub author: String,
}

/// One device's day. One at a time may have a store open.
pub struct Capture {
    pub(super) store: Store,
    pub(super) identity: Identity,
    surroundings: Box<dyn Surroundings>,
    ids: IdClock,
    docs: BTreeMap<String, Opened>,
    changed: BTreeSet<String>,
    /// Notes being spoken, by id.
    pub(super) spoken: BTreeMap<String, Spoken>,
    /// What the bearer was warned of where they are, by survey.
    pub(super) watches: BTreeMap<String, crate::assess::Watch>,
    pub(super) put_off: Vec<(String, crate::store::Part)>,
}

struct DayIds<'a>(&'a mut IdClock, &'a mut dyn Surroundings);

impl Ids for DayIds<'_> {
    fn next_id(&mut self, at_ms: i64) -> String {
        self.0.next(at_ms, self.1.random())
    }
}

/// Name of the stored fact that says how far the server's clock is ahead.
pub(super) const CLOCK_OFFSET: &str = "clock-offset-ms";

impl Capture {
    /// Opens the store in a folder for this device and person.
    pub fn open(
        dir: &Path,
        identity: Identity,
        surroundings: Box<dyn Surroundings>,
    ) -> Result<Self, CaptureError> {
        Ok(Self::over(Store::open(dir)?, identity, surroundings))
    }

    /// The same with a store whose database is encrypted under a key.
    ///
    /// # Errors
    /// [`StoreError::Key`](crate::store::StoreError::Key) when the key does not go with the
    /// store, or this program cannot encrypt; nothing was changed then.
    pub fn open_keyed(
        dir: &Path,
        key: &StoreKey,
        identity: Identity,
        surroundings: Box<dyn Surroundings>,
    ) -> Result<Self, CaptureError> {
        let store = Store::open_keyed(dir, Limits::default(), Some(key))?;
        Ok(Self::over(store, identity, surroundings))
    }

    /// The same over a store that is open already.
    pub fn over(store: Store, identity: Identity, surroundings: Box<dyn Surroundings>) -> Self {
        Self {
            store,
            identity,
            surroundings,
            ids: IdClock::default(),
            docs: BTreeMap::new(),
            changed: BTreeSet::new(),
            spoken: BTreeMap::new(),
            watches: BTreeMap::new(),
            put_off: Vec::new(),
        }
    }

    /// The store.
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// Begins a new survey and returns its id.
    pub fn create_survey(&mut self, site_name: &str) -> Result<String, CaptureError> {
        let id = self.fresh_id();
        self.join_survey(&id)?;
        self.set(&id, SITE, "name", json!(site_name))?;
        Ok(id)
    }

    /// Takes part in a survey by its id, as the office or a colleague gave it. What others
    /// entered comes with the next exchange.
    pub fn join_survey(&mut self, survey_id: &str) -> Result<(), CaptureError> {
        let actor = self.actor();
        let doc = durable::create(&self.store, survey_id, actor)?;
        self.docs.insert(survey_id.to_owned(), Opened::new(doc));
        self.changed.insert(survey_id.to_owned());
        Ok(())
    }

    /// Begins the next visit to a survey's site, from its register, as a new survey that names
    /// this one as its parent. Returns its id.
    pub fn next_visit(&mut self, survey_id: &str) -> Result<String, CaptureError> {
        let start = self.doc(survey_id)?.next_visit();
        let id = self.fresh_id();
        self.join_survey(&id)?;
        self.import(&id, &start)?;
        Ok(id)
    }

    /// The survey as it stands.
    pub fn survey(&mut self, survey_id: &str) -> Result<Survey, CaptureError> {
        Ok(self.reading(survey_id)?.as_ref().clone())
    }

    /// The same, read anew only after a change.
    pub(super) fn reading(&mut self, survey_id: &str) -> Result<Arc<Survey>, CaptureError> {
        Ok(self.opened(survey_id)?.survey())
    }

    /// Fields with more than one value.
    pub fn conflicts(&mut self, survey_id: &str) -> Result<Vec<Conflict>, CaptureError> {
        Ok(self.doc(survey_id)?.conflicts())
    }

    /// Units that look like one entered twice.
    pub fn same_unit_offers(
        &mut self,
        survey_id: &str,
    ) -> Result<Vec<SameUnitOffer>, CaptureError> {
        Ok(self.doc(survey_id)?.same_unit_offers())
    }

    /// Every value that a field was given, by whom and when.
    pub fn history(
        &mut self,
        survey_id: &str,
        about: &str,
        field: &str,
    ) -> Result<Vec<HistoryStep>, CaptureError> {
        Ok(self.doc(survey_id)?.history(about, field)?)
    }

    /// Gives a field a value; null clears it.
    pub fn set(
        &mut self,
        survey_id: &str,
        about: &str,
        field: &str,
        value: Value,
    ) -> Result<(), CaptureError> {
        self.edit(
            survey_id,
            Edit::Set {
                about: about.to_owned(),
                field: field.to_owned(),
                value,
            },
        )
    }

    /// Makes an edit.
    pub fn edit(&mut self, survey_id: &str, edit: Edit) -> Result<(), CaptureError> {
        self.change(survey_id, |doc, stamp, _| doc.edit(stamp, edit))
    }

    /// Adds an entry in the contract's JSON shape and returns its id.
    pub fn add(
        &mut self,
        survey_id: &str,
        table: Table,
        entry: Value,
    ) -> Result<String, CaptureError> {
        let id = self.fresh_id();
        let edit = Edit::Add {
            table,
            id: id.clone(),
            entry,
        };
        self.edit(survey_id, edit)?;
        Ok(id)
    }

    /// Enters a plain survey: an office's preparation or a plan drawn beforehand.
    pub fn import(&mut self, survey_id: &str, survey: &Survey) -> Result<(), CaptureError> {
        self.change(survey_id, |doc, stamp, ids| doc.import(stamp, survey, ids))
    }

    /// The document of a survey, loaded if it is not.
    pub(super) fn doc(&mut self, survey_id: &str) -> Result<&mut SurveyDoc, CaptureError> {
        Ok(&mut self.opened(survey_id)?.doc)
    }

    fn opened(&mut self, survey_id: &str) -> Result<&mut Opened, CaptureError> {
        let actor = self.actor();
        match self.docs.entry(survey_id.to_owned()) {
            Entry::Occupied(open) => Ok(open.into_mut()),
            Entry::Vacant(free) => {
                let loaded = durable::load(&self.store, survey_id, actor)?;
                let loaded = loaded.ok_or_else(|| CaptureError::NoSuchSurvey {
                    survey_id: survey_id.to_owned(),
                })?;
                Ok(free.insert(Opened::new(loaded.doc)))
            }
        }
    }

    /// Makes a change and keeps it. If it cannot be kept it was not made.
    pub(super) fn change(
        &mut self,
        survey_id: &str,
        work: impl FnOnce(&mut SurveyDoc, &Stamp, &mut dyn Ids) -> Result<Option<Change>, DocumentError>,
    ) -> Result<(), CaptureError> {
        let stamp = self.stamp()?;
        self.doc(survey_id)?;
        let Some(opened) = self.docs.get_mut(survey_id) else {
            return Ok(());
        };
        let mut ids = DayIds(&mut self.ids, self.surroundings.as_mut());
        let change = work(&mut opened.doc, &stamp, &mut ids)?;
        self.keep(survey_id, change.as_slice())
    }

    /// Keeps changes of an open document; if that fails, drops the document, which is ahead of
    /// the disk.
    fn keep(&mut self, survey_id: &str, changes: &[Change]) -> Result<(), CaptureError> {
        if !changes.is_empty() {
            self.changed.insert(survey_id.to_owned());
        }
        self.keep_with(survey_id, |store, doc| durable::keep(store, doc, changes))
    }

    /// Surveys that changed since this was asked last, by the device's own hand or an exchange.
    pub fn take_changed(&mut self) -> BTreeSet<String> {
        std::mem::take(&mut self.changed)
    }

    pub(super) fn mark_changed(&mut self, survey_id: &str) {
        self.changed.insert(survey_id.to_owned());
    }

    pub(super) fn keep_with(
        &mut self,
        survey_id: &str,
        keep: impl FnOnce(&Store, &SurveyDoc) -> Result<(), CaptureError>,
    ) -> Result<(), CaptureError> {
        let Some(Opened { doc, .. }) = self.docs.get(survey_id) else {
            return Ok(());
        };
        let kept = keep(&self.store, doc);
        if kept.is_err() {
            self.docs.remove(survey_id);
            return kept;
        }
        durable::tidy(&self.store, doc)
    }

    pub(super) fn forget(&mut self, survey_id: &str) {
        self.docs.remove(survey_id);
    }

    pub(super) fn now(&mut self) -> DateTime<FixedOffset> {
        self.surroundings.now()
    }

    pub(super) fn fresh_id(&mut self) -> String {
        let now = self.surroundings.now().timestamp_millis();
        DayIds(&mut self.ids, self.surroundings.as_mut()).next_id(now)
    }

    fn actor(&mut self) -> Actor {
        let [a, b, c, d, e, f, ..] = self.surroundings.random();
        Actor::of_device(&self.identity.device_id, [a, b, c, d, e, f])
    }

    fn stamp(&mut self) -> Result<Stamp, CaptureError> {
        let offset = self.store.fact(CLOCK_OFFSET)?;
        let offset = offset.and_then(|bytes| bytes.try_into().ok());
        Ok(Stamp {
            author: self.identity.author.clone(),
            device: self.identity.device_id.clone(),
            at: self.surroundings.now(),
            clock_offset_ms: offset.map(i64::from_le_bytes),
        })
    }
}
