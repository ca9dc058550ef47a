//! Uploads as the receiving side keeps them: bytes appended at an offset, flushed, and counted
//! only once they are whole and hash to what was promised.
//!
//! Where an upload stands is the length of its flushed file, so a cut at any byte costs nothing
//! that was acknowledged.

use super::error::StoreError;
use super::files::{hash_file, is_hash, settle};
use super::photos::{Limits, room_for};
use super::schema::Store;
use rusqlite::{OptionalExtension, Row, params};
use std::fs::{self, File};
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;

/// Which file of a photo.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize,
)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "uniffi", derive(uniffi::Enum))]
pub enum Part {
    /// The small upright JPEG.
    Thumbnail,
    /// The file as it was taken.
    Original,
}

impl Part {
    /// The part as written in headers and file names.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Thumbnail => "thumbnail",
            Self::Original => "original",
        }
    }

    /// The part with this name.
    pub fn from_name(name: &str) -> Option<Self> {
        [Self::Thumbnail, Self::Original]
            .into_iter()
            .find(|part| part.name() == name)
    }
}

/// How long an upload that is not finished is kept after it was last begun, in seconds.
pub const UPLOAD_LIFE_S: i64 = 7 * 24 * 3600;

/// What a sender says before it sends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UploadHead {
    /// BLAKE3 of the photo's original, which names the photo.
    pub hash: String,
    /// Which file of it.
    pub part: Part,
    /// The survey that shows it.
    pub survey: String,
    /// Media type of the file.
    pub media_type: String,
    /// Its length in bytes.
    pub length: u64,
    /// BLAKE3 of the file itself; of an original, the same as `hash`.
    pub content: String,
}

/// Where an upload stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct UploadState {
    /// Bytes that are here and flushed.
    pub offset: u64,
    /// Bytes there will be.
    pub length: u64,
    /// Whether the file is whole, checked and in its place.
    pub complete: bool,
}

impl UploadHead {
    /// Whether it makes sense by itself and is within the limits.
    ///
    /// # Errors
    /// [`StoreError::Refused`] with what would be right.
    pub fn check(&self, limits: &Limits) -> Result<(), StoreError> {
        let refused = |problem: String| {
            Err(StoreError::refused(
                format!("upload of {}", self.hash),
                problem,
            ))
        };
        if !is_hash(&self.hash) || !is_hash(&self.content) {
            return refused("a hash must be a BLAKE3 in 64 small hex digits".to_owned());
        }
        if self.length == 0 {
            return refused("has no bytes".to_owned());
        }
        if self.part == Part::Original && self.content != self.hash {
            return refused("an original's content must hash to the photo's name".to_owned());
        }
        let most = match self.part {
            Part::Original => limits.photo_bytes,
            Part::Thumbnail => limits.thumbnail_bytes,
        };
        match self.length > most {
            true => refused(format!(
                "has {} bytes, at most {most} are taken",
                self.length
            )),
            false => Ok(()),
        }
    }
}

impl Store {
    /// Begins an upload, or finds where one begun before stands. The whole of it counts against
    /// the quota from now on. Uploads that were last begun longer than [`UPLOAD_LIFE_S`] before
    /// `now` (Unix seconds) are forgotten first.
    ///
    /// # Errors
    /// [`StoreError::Refused`] for a head that makes no sense or is above a limit;
    /// [`StoreError::Quota`] when there is no room for it.
    pub fn begin_upload(&self, head: &UploadHead, now: i64) -> Result<UploadState, StoreError> {
        head.check(&self.limits)?;
        if let Some(done) = self.finished(head)? {
            self.note_photo(&head.survey, &head.hash, |_| {})?;
            return Ok(done);
        }
        self.forget_old_uploads(now)?;
        if let Some(known) = self.upload_head(&head.hash, head.part)?
            && (known.content != head.content || known.length != head.length)
        {
            // Another thumbnail of the same photo, or a sender that changed its mind: start over.
            self.drop_upload(&head.hash, head.part)?;
        }
        {
            // One hold of the connection, so that two beginners cannot both take the last room.
            let db = self.writable()?;
            let upload = (head.hash.as_str(), head.part);
            room_for(&db, head.length, self.limits.all_photos_bytes, upload)?;
            db.execute(
                "INSERT OR REPLACE INTO uploads
                     (hash, part, survey, media_type, length, content, begun_at)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                params![
                    head.hash,
                    head.part.name(),
                    head.survey,
                    head.media_type,
                    i64::try_from(head.length).unwrap_or(i64::MAX),
                    head.content,
                    now
                ],
            )
            .map_err(StoreError::sql("note an upload"))?;
        }
        self.upload_state(&head.hash, head.part)?.ok_or_else(|| {
            let what = format!("upload of {}", head.hash);
            StoreError::refused(what, "was dropped meanwhile; begin it again")
        })
    }

    fn forget_old_uploads(&self, now: i64) -> Result<(), StoreError> {
        let old: Vec<(String, String)> = self
            .db()?
            .prepare_cached("SELECT hash, part FROM uploads WHERE begun_at < ?1")
            .and_then(|mut query| {
                let oldest = now.saturating_sub(UPLOAD_LIFE_S);
                let read = |row: &Row<'_>| Ok((row.get(0)?, row.get(1)?));
                query.query_map([oldest], read)?.collect()
            })
            .map_err(StoreError::sql("find old uploads"))?;
        for (hash, part) in old {
            if let Some(part) = Part::from_name(&part) {
                self.drop_upload(&hash, part)?;
            }
        }
        Ok(())
    }

    /// Where an upload stands: complete if the file is here, none if it was not begun.
    pub fn upload_state(&self, hash: &str, part: Part) -> Result<Option<UploadState>, StoreError> {
        let Some(head) = self.upload_head(hash, part)? else {
            return self.over(hash, part);
        };
        let path = self.files.incoming(part.name(), hash)?;
        let offset = match fs::metadata(&path) {
            Ok(found) => found.len(),
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => 0,
            Err(e) => return Err(StoreError::io("look at", &path, e)),
        };
        Ok(Some(UploadState {
            offset,
            length: head.length,
            complete: false,
        }))
    }

    /// What was said when an upload was begun.
    pub fn upload_head(&self, hash: &str, part: Part) -> Result<Option<UploadHead>, StoreError> {
        let db = self.db()?;
        db.query_row(
            "SELECT survey, media_type, length, content FROM uploads WHERE hash = ?1 AND part = ?2",
            params![hash, part.name()],
            |row| {
                let length: i64 = row.get(2)?;
                Ok(UploadHead {
                    hash: hash.to_owned(),
                    part,
                    survey: row.get(0)?,
                    media_type: row.get(1)?,
                    length: u64::try_from(length).unwrap_or(0),
                    content: row.get(3)?,
                })
            },
        )
        .optional()
        .map_err(StoreError::sql("find an upload"))
    }

    /// Appends bytes at `offset`. Flushed when it returns; with the last byte the file is checked
    /// and moved into place.
    ///
    /// # Errors
    /// [`StoreError::WrongOffset`] when the upload stands elsewhere; [`StoreError::Refused`] for
    /// more bytes than promised, or for a whole that has another hash, which is thrown away.
    pub fn append_upload(
        &self,
        hash: &str,
        part: Part,
        offset: u64,
        bytes: &[u8],
    ) -> Result<UploadState, StoreError> {
        let what = || format!("upload of {hash}");
        let (Some(head), Some(state)) = (
            self.upload_head(hash, part)?,
            self.upload_state(hash, part)?,
        ) else {
            return Err(StoreError::refused(what(), "was not begun; begin it first"));
        };
        if state.offset != offset {
            return Err(StoreError::WrongOffset {
                expected: state.offset,
                given: offset,
            });
        }
        if bytes.len() as u64 > state.length.saturating_sub(offset) {
            let problem = format!("more bytes than the {} promised", state.length);
            return Err(StoreError::refused(what(), problem));
        }
        let path = self.files.incoming(part.name(), hash)?;
        write_at(&path, offset, bytes).map_err(|e| StoreError::io("write", &path, e))?;
        let offset = offset + bytes.len() as u64;
        if offset < state.length {
            return Ok(UploadState { offset, ..state });
        }
        self.finish(&head, &path)?;
        Ok(UploadState {
            offset,
            length: state.length,
            complete: true,
        })
    }

    fn finish(&self, head: &UploadHead, path: &Path) -> Result<(), StoreError> {
        let hash = hash_file(path)?;
        if hash.as_deref() != Some(&head.content) {
            self.drop_upload(&head.hash, head.part)?;
            return Err(StoreError::refused(
                format!("upload of {}", head.hash),
                "the whole does not hash to what was promised; send it again from the start",
            ));
        }
        settle(path, &self.files.of(head.part, &head.hash)?)?;
        self.note_photo(&head.survey, &head.hash, |row| match head.part {
            Part::Original => {
                row.original_here = true;
                row.meta.media_type.clone_from(&head.media_type);
                row.meta.bytes = head.length;
            }
            Part::Thumbnail => {
                row.thumbnail = Some(head.content.clone());
                row.thumbnail_bytes = head.length;
            }
        })?;
        self.drop_upload(&head.hash, head.part)
    }

    /// The state of a part that is here already, whoever sent it.
    fn finished(&self, head: &UploadHead) -> Result<Option<UploadState>, StoreError> {
        let row = self.photo(&head.hash)?;
        let here = row.is_some_and(|row| match head.part {
            Part::Original => row.original_here,
            Part::Thumbnail => row.thumbnail.is_some(),
        });
        Ok(here.then_some(UploadState {
            offset: head.length,
            length: head.length,
            complete: true,
        }))
    }

    /// The state of an upload that is over because its file is here: the answer that said so may
    /// have been lost on the way.
    fn over(&self, hash: &str, part: Part) -> Result<Option<UploadState>, StoreError> {
        let Some(path) = self.file(hash, part)? else {
            return Ok(None);
        };
        let length = fs::metadata(&path).map_err(|e| StoreError::io("look at", &path, e))?;
        let length = length.len();
        Ok(Some(UploadState {
            offset: length,
            length,
            complete: true,
        }))
    }

    /// Forgets an upload and what came of it.
    pub fn drop_upload(&self, hash: &str, part: Part) -> Result<(), StoreError> {
        let path = self.files.incoming(part.name(), hash)?;
        match fs::remove_file(&path) {
            Err(e) if e.kind() != std::io::ErrorKind::NotFound => {
                return Err(StoreError::io("remove", &path, e));
            }
            _ => {}
        }
        self.writable()?
            .execute(
                "DELETE FROM uploads WHERE hash = ?1 AND part = ?2",
                params![hash, part.name()],
            )
            .map_err(StoreError::sql("forget an upload"))?;
        Ok(())
    }
}

fn write_at(path: &Path, offset: u64, bytes: &[u8]) -> std::io::Result<()> {
    let mut file = File::options()
        .create(true)
        .append(false)
        .write(true)
        .truncate(false)
        .open(path)?;
    file.seek(SeekFrom::Start(offset))?;
    if let Err(error) = file.write_all(bytes).and_then(|()| file.sync_data()) {
        // What may have been written in part was not acknowledged: take it back.
        let _ = file.set_len(offset);
        return Err(error);
    }
    Ok(())
}
