//! Photos and uploads of a shared place. The bytes of an upload under way are rows, so that any
//! process may go on with it; whole files are objects.

use super::SharedPlace;
use crate::error::AppError;
use crate::sql::{Link, Value, values};
use scupper_core::store::{
    Damage, Part, PhotoMeta, PhotoRow, StoreError, UPLOAD_LIFE_S, UploadHead, UploadState,
};
use std::path::PathBuf;

/// Names asked after in one question.
const AT_ONCE: usize = 200;

fn length(bytes: i64) -> u64 {
    u64::try_from(bytes).unwrap_or(0)
}

fn refused(hash: &str, problem: String) -> AppError {
    StoreError::Refused {
        what: format!("upload of {hash}"),
        problem,
    }
    .into()
}

impl SharedPlace {
    pub(super) fn photo_row(&self, hash: &str) -> Result<Option<PhotoRow>, AppError> {
        let row = self.db().row(
            "SELECT media_type, bytes, original_here, thumbnail, thumbnail_bytes FROM photo
             WHERE contractor = ?1 AND hash = ?2",
            values![self.contractor, hash],
        )?;
        let Some(row) = row else {
            return Ok(None);
        };
        Ok(Some(PhotoRow {
            meta: PhotoMeta {
                hash: hash.to_owned(),
                media_type: row.text(0)?,
                bytes: length(row.int(1)?),
            },
            original_here: row.truth(2)?,
            thumbnail: row.opt_text(3)?,
            thumbnail_bytes: length(row.int(4)?),
            original_sent: false,
            thumbnail_sent: false,
        }))
    }

    pub(super) fn wanted(&self, hashes: &[String]) -> Result<(Vec<String>, Vec<String>), AppError> {
        let (mut originals, mut thumbnails) = (Vec::new(), Vec::new());
        for some in hashes.chunks(AT_ONCE) {
            let places: Vec<String> = (2..some.len() + 2).map(|n| format!("?{n}")).collect();
            let sql = format!(
                "SELECT hash, original_here, thumbnail FROM photo
                 WHERE contractor = ?1 AND hash IN ({})",
                places.join(", ")
            );
            let mut values = values![self.contractor];
            values.extend(some.iter().map(Value::from));
            let (mut whole, mut shown) = (Vec::new(), Vec::new());
            for row in self.db().rows(&sql, values)? {
                if row.truth(1)? {
                    whole.push(row.text(0)?);
                }
                if row.opt_text(2)?.is_some() {
                    shown.push(row.text(0)?);
                }
            }
            let named = some.iter().filter(|hash| crate::desk::is_hash(hash));
            originals.extend(named.clone().filter(|hash| !whole.contains(hash)).cloned());
            thumbnails.extend(named.filter(|hash| !shown.contains(hash)).cloned());
        }
        Ok((originals, thumbnails))
    }

    fn object(&self, hash: &str, part: Part) -> String {
        format!("{}/{}/{hash}", self.contractor, part.name())
    }

    /// The BLAKE3 that a photo's part must have, if it is here.
    fn content(&self, hash: &str, part: Part) -> Result<Option<String>, AppError> {
        let row = self.photo_row(hash)?;
        Ok(row.and_then(|row| match part {
            Part::Original => row.original_here.then_some(row.meta.hash),
            Part::Thumbnail => row.thumbnail,
        }))
    }

    /// A copy on this machine, fetched and checked at first use.
    pub(super) fn cached(&self, hash: &str, part: Part) -> Result<Option<PathBuf>, AppError> {
        if !crate::desk::is_hash(hash) {
            return Ok(None);
        }
        let Some(content) = self.content(hash, part)? else {
            return Ok(None);
        };
        let folder = self.cache.join(part.name());
        let path = folder.join(&content);
        if path.exists() {
            return Ok(Some(path));
        }
        let Some(bytes) = self.fetch(hash, part, &content)? else {
            tracing::error!(
                hash,
                part = part.name(),
                "a photo's object is damaged or gone"
            );
            return Ok(None);
        };
        std::fs::create_dir_all(&folder)?;
        let fresh = tempfile::NamedTempFile::new_in(&folder)?;
        std::fs::write(fresh.path(), &bytes)?;
        let kept = fresh.persist(&path);
        kept.map_err(|error| AppError::from(error.error))?;
        Ok(Some(path))
    }

    /// The bytes of a part's object. One that is not what it was is asked for again.
    fn fetch(&self, hash: &str, part: Part, content: &str) -> Result<Option<Vec<u8>>, AppError> {
        let (objects, name) = (self.objects.clone(), self.object(hash, part));
        let found = self.db.wait(async move { objects.get(name).await })??;
        let whole = found.filter(|bytes| is(bytes, content));
        if whole.is_none() {
            self.lost(hash, part)?;
        }
        Ok(whole)
    }

    fn lost(&self, hash: &str, part: Part) -> Result<(), AppError> {
        let sql = match part {
            Part::Original => {
                "UPDATE photo SET original_here = 0 WHERE contractor = ?1 AND hash = ?2"
            }
            Part::Thumbnail => {
                "UPDATE photo SET thumbnail = NULL WHERE contractor = ?1 AND hash = ?2"
            }
        };
        self.db().execute(sql, values![self.contractor, hash])?;
        Ok(())
    }

    pub(super) fn verify_photos(&self, found: &mut Vec<Damage>) -> Result<(), AppError> {
        let rows = self.db().rows(
            "SELECT hash FROM photo WHERE contractor = ?1 ORDER BY hash",
            values![self.contractor],
        )?;
        for row in rows {
            let hash = row.text(0)?;
            for part in [Part::Original, Part::Thumbnail] {
                let Some(content) = self.content(&hash, part)? else {
                    continue;
                };
                if self.fetch(&hash, part, &content)?.is_none() {
                    found.push(Damage {
                        what: format!("{} of photo {hash}", part.name()),
                        problem: "is not what was written; asked for again".to_owned(),
                    });
                }
            }
        }
        Ok(())
    }

    /// Notes that a part is here and which survey shows it.
    fn note(&self, db: &mut dyn Link, head: &UploadHead, here: bool) -> Result<(), AppError> {
        let bytes = i64::try_from(head.length).unwrap_or(i64::MAX);
        let (contractor, hash) = (self.contractor, &head.hash);
        db.execute(
            "INSERT INTO photo
                 (contractor, hash, media_type, bytes, original_here, thumbnail, thumbnail_bytes)
             VALUES (?1, ?2, '', 0, 0, NULL, 0) ON CONFLICT DO NOTHING",
            values![contractor, hash],
        )?;
        if here && head.part == Part::Original {
            db.execute(
                "UPDATE photo SET media_type = ?3, bytes = ?4, original_here = 1
                 WHERE contractor = ?1 AND hash = ?2",
                values![contractor, hash, &head.media_type, bytes],
            )?;
        } else if here {
            db.execute(
                "UPDATE photo SET thumbnail = ?3, thumbnail_bytes = ?4
                 WHERE contractor = ?1 AND hash = ?2",
                values![contractor, hash, &head.content, bytes],
            )?;
        }
        db.execute(
            "INSERT INTO photo_survey (contractor, hash, survey) VALUES (?1, ?2, ?3)
             ON CONFLICT DO NOTHING",
            values![contractor, hash, &head.survey],
        )?;
        Ok(())
    }

    /// Keeps a whole file at once.
    pub(super) fn put_whole(&self, head: &UploadHead, bytes: Vec<u8>) -> Result<(), AppError> {
        let (objects, name) = (self.objects.clone(), self.object(&head.hash, head.part));
        self.db
            .wait(async move { objects.put(name, bytes).await })??;
        self.db().within(|db| self.note(db, head, true))
    }

    pub(super) fn begin_one(&self, head: &UploadHead, now: i64) -> Result<UploadState, AppError> {
        head.check(&self.limits)?;
        if let Some(done) = self.over(&head.hash, head.part)? {
            self.db().within(|db| self.note(db, head, false))?;
            return Ok(done);
        }
        self.db().within(|db| self.reserve(db, head, now))?;
        let stands = self.upload(&head.hash, head.part)?;
        let stands = stands.map(|(_, state)| state);
        stands.ok_or_else(|| refused(&head.hash, "was dropped meanwhile; begin it again".into()))
    }

    /// Forgets what was left unfinished long ago, then notes an upload if there is room for it.
    fn reserve(&self, db: &mut dyn Link, head: &UploadHead, now: i64) -> Result<(), AppError> {
        let (contractor, hash, part) = (self.contractor, &head.hash, head.part.name());
        // One beginner of a contractor at a time, so that two cannot both take the last room.
        let alone = "SELECT CAST(1 AS BIGINT) FROM pg_advisory_xact_lock(?1)";
        db.row(alone, values![contractor])?;
        let whole = i64::try_from(head.length).unwrap_or(i64::MAX);
        // So is one whose sender changed its mind, or sends another thumbnail of the same photo.
        let over = "contractor = ?1 AND (begun_at < ?2
                     OR hash = ?3 AND part = ?4 AND (content <> ?5 OR length <> ?6))";
        let values = || {
            values![
                contractor,
                now.saturating_sub(UPLOAD_LIFE_S),
                hash,
                part,
                &head.content,
                whole
            ]
        };
        let pieces = format!(
            "DELETE FROM upload_piece USING (SELECT contractor c, hash h, part p FROM upload
                 WHERE {over}) gone WHERE contractor = c AND hash = h AND part = p"
        );
        db.execute(&pieces, values())?;
        db.execute(&format!("DELETE FROM upload WHERE {over}"), values())?;
        let held = db.row(
            "SELECT CAST(
                 (SELECT coalesce(sum(bytes), 0) FROM photo
                     WHERE contractor = ?1 AND original_here = 1)
               + (SELECT coalesce(sum(thumbnail_bytes), 0) FROM photo
                     WHERE contractor = ?1 AND thumbnail IS NOT NULL)
               + (SELECT coalesce(sum(length), 0) FROM upload
                     WHERE contractor = ?1 AND (hash <> ?2 OR part <> ?3)) AS BIGINT)",
            values![contractor, hash, part],
        )?;
        let held = length(held.map_or(Ok(0), |row| row.int(0))?);
        let most = self.limits.all_photos_bytes;
        if held.saturating_add(head.length) > most {
            return Err(StoreError::Quota { held, most }.into());
        }
        db.execute(
            "INSERT INTO upload
                 (contractor, hash, part, survey, media_type, length, content, stands_at, begun_at)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, 0, ?8)
             ON CONFLICT (contractor, hash, part) DO UPDATE SET survey = excluded.survey,
                 media_type = excluded.media_type, begun_at = excluded.begun_at",
            values![
                contractor,
                hash,
                part,
                &head.survey,
                &head.media_type,
                whole,
                &head.content,
                now
            ],
        )?;
        Ok(())
    }

    /// An upload under way: how it was begun and where it stands.
    pub(super) fn upload(
        &self,
        hash: &str,
        part: Part,
    ) -> Result<Option<(UploadHead, UploadState)>, AppError> {
        let row = self.db().row(
            "SELECT survey, media_type, length, content, stands_at FROM upload
             WHERE contractor = ?1 AND hash = ?2 AND part = ?3",
            values![self.contractor, hash, part.name()],
        )?;
        let Some(row) = row else {
            return Ok(None);
        };
        let whole = length(row.int(2)?);
        let head = UploadHead {
            hash: hash.to_owned(),
            part,
            survey: row.text(0)?,
            media_type: row.text(1)?,
            length: whole,
            content: row.text(3)?,
        };
        let state = UploadState {
            offset: length(row.int(4)?),
            length: whole,
            complete: false,
        };
        Ok(Some((head, state)))
    }

    /// The state of a part that is here already.
    pub(super) fn over(&self, hash: &str, part: Part) -> Result<Option<UploadState>, AppError> {
        let row = self.db().row(
            "SELECT original_here, bytes, thumbnail, thumbnail_bytes FROM photo
             WHERE contractor = ?1 AND hash = ?2",
            values![self.contractor, hash],
        )?;
        let Some(row) = row else {
            return Ok(None);
        };
        let (here, bytes) = match part {
            Part::Original => (row.truth(0)?, row.int(1)?),
            Part::Thumbnail => (row.opt_text(2)?.is_some(), row.int(3)?),
        };
        let length = length(bytes);
        Ok(here.then_some(UploadState {
            offset: length,
            length,
            complete: true,
        }))
    }

    pub(super) fn append(
        &self,
        hash: &str,
        part: Part,
        offset: u64,
        bytes: &[u8],
    ) -> Result<UploadState, AppError> {
        // The row is held while its piece is written, so that two processes cannot both append.
        let stands = self.db().within(|db| {
            let row = db.row(
                "SELECT stands_at, length FROM upload
                 WHERE contractor = ?1 AND hash = ?2 AND part = ?3 FOR UPDATE",
                values![self.contractor, hash, part.name()],
            )?;
            let row = row.ok_or_else(|| refused(hash, "was not begun; begin it first".into()))?;
            let (at, whole) = (length(row.int(0)?), length(row.int(1)?));
            if at != offset {
                let (expected, given) = (at, offset);
                return Err(StoreError::WrongOffset { expected, given }.into());
            }
            if bytes.len() as u64 > whole.saturating_sub(at) {
                return Err(refused(
                    hash,
                    format!("more bytes than the {whole} promised"),
                ));
            }
            let (from, to) = (row.int(0)?, row.int(0)? + bytes.len() as i64);
            if !bytes.is_empty() {
                db.execute(
                    "INSERT INTO upload_piece (contractor, hash, part, starts_at, bytes)
                     VALUES (?1, ?2, ?3, ?4, ?5)",
                    values![self.contractor, hash, part.name(), from, bytes],
                )?;
                db.execute(
                    "UPDATE upload SET stands_at = ?4
                     WHERE contractor = ?1 AND hash = ?2 AND part = ?3",
                    values![self.contractor, hash, part.name(), to],
                )?;
            }
            Ok(UploadState {
                offset: length(to),
                length: whole,
                complete: false,
            })
        })?;
        if stands.offset < stands.length {
            return Ok(stands);
        }
        self.finish(hash, part)?;
        Ok(UploadState {
            complete: true,
            ..stands
        })
    }

    /// All bytes are there: checks them and makes them an object. Cut off in between, the next
    /// append of nothing does it again.
    fn finish(&self, hash: &str, part: Part) -> Result<(), AppError> {
        let Some((head, _)) = self.upload(hash, part)? else {
            return Ok(());
        };
        let rows = self.db().rows(
            "SELECT bytes FROM upload_piece WHERE contractor = ?1 AND hash = ?2 AND part = ?3
             ORDER BY starts_at",
            values![self.contractor, hash, part.name()],
        )?;
        let mut whole = Vec::with_capacity(usize::try_from(head.length).unwrap_or(0));
        for row in rows {
            whole.extend(row.bytes(0)?);
        }
        if !is(&whole, &head.content) {
            self.forget(hash, part)?;
            let problem = "the whole does not hash to what was promised; send it again from the \
                           start";
            return Err(refused(hash, problem.to_owned()));
        }
        self.put_whole(&head, whole)?;
        self.forget(hash, part)
    }

    pub(super) fn forget(&self, hash: &str, part: Part) -> Result<(), AppError> {
        self.db().within(|db| {
            for table in ["upload_piece", "upload"] {
                let sql = format!(
                    "DELETE FROM {table} WHERE contractor = ?1 AND hash = ?2 AND part = ?3"
                );
                db.execute(&sql, values![self.contractor, hash, part.name()])?;
            }
            Ok(())
        })
    }
}

/// Whether bytes hash to what they must.
pub(super) fn is(bytes: &[u8], content: &str) -> bool {
    blake3::hash(bytes).to_hex().as_str() == content
}
