//! [`Storage`] in SQLite and files below one folder: core's own store, for one process alone.

use super::{Held, Mark, Storage};
use crate::error::AppError;
use scupper_core::capture::durable;
use scupper_core::document::{Actor, Change};
use scupper_core::store::{Damage, Part, PhotoRow, Store, UploadHead, UploadState};
use std::path::PathBuf;

/// A store of this process's own; nobody else writes to it, so its mark never moves.
#[derive(Debug)]
pub(crate) struct Embedded(Store);

const ALONE: Mark = 0;

impl Embedded {
    /// Over an open store.
    pub(crate) fn over(store: Store) -> Self {
        Self(store)
    }
}

impl Storage for Embedded {
    fn survey_ids(&self) -> Result<Vec<String>, AppError> {
        let entries = self.0.surveys()?.into_iter();
        Ok(entries.map(|entry| entry.id).collect())
    }

    fn has(&self, survey: &str) -> Result<bool, AppError> {
        Ok(self.0.has(survey)?)
    }

    fn mark(&self, _: &str) -> Result<Mark, AppError> {
        Ok(ALONE)
    }

    fn document_bytes(&self, survey: &str) -> Result<u64, AppError> {
        Ok(self.0.document_bytes(survey)?)
    }

    fn stands(&self, survey: &str) -> Result<i64, AppError> {
        Ok(self.0.newest(survey)?.unwrap_or(-1))
    }

    fn load(&self, survey: &str, actor: Actor) -> Result<Option<Held>, AppError> {
        let loaded = durable::load(&self.0, survey, actor)?;
        Ok(loaded.map(|loaded| Held {
            doc: loaded.doc,
            mark: ALONE,
            problems: loaded.problems,
        }))
    }

    fn create(&self, survey: &str, actor: Actor) -> Result<Held, AppError> {
        Ok(Held {
            doc: durable::create(&self.0, survey, actor)?,
            mark: ALONE,
            problems: Vec::new(),
        })
    }

    fn keep(&self, held: &mut Held, changes: &[Change]) -> Result<(), AppError> {
        Ok(durable::keep(&self.0, &held.doc, changes)?)
    }

    fn tidy(&self, held: &mut Held) -> Result<(), AppError> {
        Ok(durable::tidy(&self.0, &held.doc)?)
    }

    fn fact_or(&self, name: &str, fresh: &[u8]) -> Result<Vec<u8>, AppError> {
        if let Some(kept) = self.0.fact(name)? {
            return Ok(kept);
        }
        self.0.set_fact(name, fresh)?;
        Ok(fresh.to_vec())
    }

    fn photo(&self, hash: &str) -> Result<Option<PhotoRow>, AppError> {
        Ok(self.0.photo(hash)?)
    }

    fn surveys_of_photo(&self, hash: &str) -> Result<Vec<String>, AppError> {
        Ok(self.0.surveys_of_photo(hash)?)
    }

    fn wanting(&self, hashes: &[String]) -> Result<(Vec<String>, Vec<String>), AppError> {
        Ok(self.0.wanting(hashes)?)
    }

    fn path(&self, hash: &str, part: Part) -> Result<Option<PathBuf>, AppError> {
        Ok(self.0.file(hash, part)?)
    }

    fn begin_upload(&self, head: &UploadHead, now: i64) -> Result<UploadState, AppError> {
        Ok(self.0.begin_upload(head, now)?)
    }

    fn upload_head(&self, hash: &str, part: Part) -> Result<Option<UploadHead>, AppError> {
        Ok(self.0.upload_head(hash, part)?)
    }

    fn upload_state(&self, hash: &str, part: Part) -> Result<Option<UploadState>, AppError> {
        Ok(self.0.upload_state(hash, part)?)
    }

    fn append_upload(
        &self,
        hash: &str,
        part: Part,
        offset: u64,
        bytes: &[u8],
    ) -> Result<UploadState, AppError> {
        Ok(self.0.append_upload(hash, part, offset, bytes)?)
    }

    fn drop_upload(&self, hash: &str, part: Part) -> Result<(), AppError> {
        Ok(self.0.drop_upload(hash, part)?)
    }

    fn verify(&self) -> Result<Vec<Damage>, AppError> {
        Ok(self.0.verify()?)
    }
}
