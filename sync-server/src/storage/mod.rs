//! Where one contractor's documents, photos and uploads are kept: one trait, several places.
//!
//! What a call here returned for is durable. Several processes may share a place, so a document in
//! memory carries a mark of where the place stood; when the mark moved, it is to be loaded again.
//! Every implementation passes the same tests, in `tests`.

mod embedded;

pub(crate) use embedded::Embedded;

#[cfg(feature = "postgres")]
mod shared;
#[cfg(feature = "postgres")]
pub(crate) use shared::{Objects, SharedPlace, every_place, move_in};

#[cfg(test)]
mod tests;

use crate::error::AppError;
use scupper_core::document::{Actor, Change, SurveyDoc};
use scupper_core::store::{Damage, Part, PhotoRow, UploadHead, UploadState};
use std::path::PathBuf;

/// Where a document's storage stands. Only ever compared.
pub(crate) type Mark = i64;

/// Places with what they are called.
pub(crate) type Places = Vec<(String, Box<dyn Storage>)>;

/// A document in memory.
#[derive(Debug)]
pub(crate) struct Held {
    /// The document.
    pub(crate) doc: SurveyDoc,
    /// Where its storage stood when it was last read or written by us alone.
    pub(crate) mark: Mark,
    /// What of its storage could not be used, each in one line.
    pub(crate) problems: Vec<String>,
}

/// A place for one contractor's things. Calls block.
pub(crate) trait Storage: Send + Sync + std::fmt::Debug {
    /// Ids of the surveys here, in order.
    fn survey_ids(&self) -> Result<Vec<String>, AppError>;

    /// Whether a survey is here.
    fn has(&self, survey: &str) -> Result<bool, AppError>;

    /// Where a survey's storage stands.
    fn mark(&self, survey: &str) -> Result<Mark, AppError>;

    /// Bytes that a survey's document takes.
    fn document_bytes(&self, survey: &str) -> Result<u64, AppError>;

    /// A number that is another after every change kept, also by an earlier process.
    fn stands(&self, survey: &str) -> Result<i64, AppError>;

    /// Loads a survey; none if it is not here.
    fn load(&self, survey: &str, actor: Actor) -> Result<Option<Held>, AppError>;

    /// Begins a survey; one that is here already is loaded.
    fn create(&self, survey: &str, actor: Actor) -> Result<Held, AppError>;

    /// Keeps changes that were just made or taken in. After an error the document is ahead of the
    /// disk and must be dropped.
    fn keep(&self, held: &mut Held, changes: &[Change]) -> Result<(), AppError>;

    /// Compacts a survey's storage if that pays.
    fn tidy(&self, held: &mut Held) -> Result<(), AppError>;

    /// A small secret or fact by name; the fresh one is kept and returned if there is none.
    fn fact_or(&self, name: &str, fresh: &[u8]) -> Result<Vec<u8>, AppError>;

    /// What is known of a photo.
    fn photo(&self, hash: &str) -> Result<Option<PhotoRow>, AppError>;

    /// The surveys that show a photo.
    fn surveys_of_photo(&self, hash: &str) -> Result<Vec<String>, AppError>;

    /// Of these photos, those whose original, and those whose thumbnail, is not here.
    fn wanting(&self, hashes: &[String]) -> Result<(Vec<String>, Vec<String>), AppError>;

    /// A file on this machine with the bytes of a photo's part, if that is here.
    fn path(&self, hash: &str, part: Part) -> Result<Option<PathBuf>, AppError>;

    /// Begins an upload, or finds where one begun before stands. All of it counts against the quota
    /// from then on; one that was last begun `UPLOAD_LIFE_S` before `now` (Unix seconds) is forgotten.
    fn begin_upload(&self, head: &UploadHead, now: i64) -> Result<UploadState, AppError>;

    /// What was said when an upload was begun.
    fn upload_head(&self, hash: &str, part: Part) -> Result<Option<UploadHead>, AppError>;

    /// Where an upload stands: complete if the file is here, none if it was not begun.
    fn upload_state(&self, hash: &str, part: Part) -> Result<Option<UploadState>, AppError>;

    /// Appends bytes at an offset; with the last byte the file is checked and counts.
    fn append_upload(
        &self,
        hash: &str,
        part: Part,
        offset: u64,
        bytes: &[u8],
    ) -> Result<UploadState, AppError>;

    /// Forgets an upload and what came of it.
    fn drop_upload(&self, hash: &str, part: Part) -> Result<(), AppError>;

    /// Checks every document and photo; damaged originals are asked for again.
    fn verify(&self) -> Result<Vec<Damage>, AppError>;
}
