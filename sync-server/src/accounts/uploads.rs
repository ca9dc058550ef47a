//! Which uploads are open, for whom, of what. Their bytes are files, see `crate::uploads`.

use super::{Accounts, Caller, Rights};
use crate::error::AppError;
use crate::random;
use rusqlite::{OptionalExtension, Row, params};

/// Which file of a photo is sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The small upright preview.
    Thumbnail,
    /// The file as it was taken.
    Original,
}

impl Part {
    /// The word for it, in headers and table.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Thumbnail => "thumbnail",
            Self::Original => "original",
        }
    }

    /// The part that a word names.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Thumbnail, Self::Original]
            .into_iter()
            .find(|part| part.word() == word)
    }
}

/// An upload that was begun and not yet finished.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UploadRow {
    /// Identity in the upload's address; cannot be guessed.
    pub id: String,
    /// Contractor that the photo is for.
    pub contractor: i64,
    /// BLAKE3 of the photo's original, in hex.
    pub photo: String,
    /// Which file of the photo.
    pub part: Part,
    /// BLAKE3 of the bytes being sent, in hex.
    pub digest: String,
    /// How many bytes there will be.
    pub length: u64,
}

const COLUMNS: &str = "id, contractor, photo, part, digest, length";

fn read(row: &Row<'_>) -> rusqlite::Result<UploadRow> {
    let part: String = row.get(3)?;
    let length: i64 = row.get(5)?;
    Ok(UploadRow {
        id: row.get(0)?,
        contractor: row.get(1)?,
        photo: row.get(2)?,
        part: Part::from_word(&part).unwrap_or(Part::Original),
        digest: row.get(4)?,
        length: u64::try_from(length).unwrap_or(0),
    })
}

fn device_of(caller: &Caller) -> Result<&str, AppError> {
    match &caller.rights {
        Rights::Device(device) => Ok(device),
        _ => Err(AppError::Forbidden(
            "only an enrolled device uploads photos".to_owned(),
        )),
    }
}

impl Accounts {
    /// Begins an upload, or finds the one this device began of the same bytes before.
    pub(crate) fn begin_upload(
        &self,
        now: i64,
        caller: &Caller,
        (photo, part, digest, length): (&str, Part, &str, u64),
        most_open: u32,
    ) -> Result<UploadRow, AppError> {
        let device = device_of(caller)?;
        let mut db = self.db()?;
        let change = db.transaction()?;
        let same = change
            .query_row(
                &format!(
                    "SELECT {COLUMNS} FROM upload WHERE device = ?1 AND photo = ?2 AND part = ?3"
                ),
                params![device, photo, part.word()],
                read,
            )
            .optional()?;
        if let Some(same) = same {
            if same.digest == digest && same.length == length {
                return Ok(same);
            }
            return Err(AppError::Conflict {
                detail: "this photo is being uploaded with another length or digest; cancel that \
                         upload first"
                    .to_owned(),
                headers: vec![("location", format!("/v1/uploads/{}", same.id))],
            });
        }
        let open: u32 = change.query_row(
            "SELECT count(*) FROM upload WHERE device = ?1",
            [device],
            |r| r.get(0),
        )?;
        if open >= most_open {
            return Err(AppError::TooMany(60));
        }
        let row = UploadRow {
            id: random::token()?,
            contractor: caller.contractor,
            photo: photo.to_owned(),
            part,
            digest: digest.to_owned(),
            length,
        };
        change.execute(
            "INSERT INTO upload (id, device, contractor, photo, part, digest, length, moved_at)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
            params![
                row.id,
                device,
                row.contractor,
                photo,
                part.word(),
                digest,
                i64::try_from(length).unwrap_or(i64::MAX),
                now
            ],
        )?;
        change.commit()?;
        Ok(row)
    }

    /// The upload of this id, if this device began it.
    pub(crate) fn upload(&self, caller: &Caller, id: &str) -> Result<UploadRow, AppError> {
        let device = device_of(caller)?;
        let db = self.db()?;
        let mut query = db.prepare_cached(&format!(
            "SELECT {COLUMNS} FROM upload WHERE id = ?1 AND device = ?2"
        ))?;
        query
            .query_row(params![id, device], read)
            .optional()?
            .ok_or(AppError::NotFound("this upload"))
    }

    /// Notes that bytes came in.
    pub(crate) fn upload_moved(&self, now: i64, id: &str) -> Result<(), AppError> {
        let db = self.db()?;
        db.prepare_cached("UPDATE upload SET moved_at = ?1 WHERE id = ?2")?
            .execute(params![now, id])?;
        Ok(())
    }

    /// Forgets an upload; its file is the caller's to remove.
    pub(crate) fn end_upload(&self, id: &str) -> Result<(), AppError> {
        self.db()?
            .execute("DELETE FROM upload WHERE id = ?1", [id])?;
        Ok(())
    }

    /// Ids of uploads that did not move since a time.
    pub(crate) fn idle_uploads(&self, since: i64) -> Result<Vec<String>, AppError> {
        let db = self.db()?;
        let mut query = db.prepare_cached("SELECT id FROM upload WHERE moved_at < ?1")?;
        let rows = query.query_map([since], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}
