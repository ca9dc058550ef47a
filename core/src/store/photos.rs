//! Photos of a store: originals byte for byte under their BLAKE3, thumbnails beside them, and
//! what of each has reached the server.

use super::error::StoreError;
use super::files::{hash_file, is_hash, write_whole};
use super::schema::{Store, row_sum};
use super::uploads::Part;
use rusqlite::{Connection, OptionalExtension, Row, params};
use std::path::PathBuf;

/// What a store takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Largest original, in bytes.
    pub photo_bytes: u64,
    /// Largest thumbnail, in bytes.
    pub thumbnail_bytes: u64,
    /// All originals, thumbnails and uploads under way together, in bytes.
    pub all_photos_bytes: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            photo_bytes: 64 << 20,
            thumbnail_bytes: 1 << 20,
            all_photos_bytes: 256 << 30,
        }
    }
}

/// What is known of an original's file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhotoMeta {
    /// BLAKE3 of the original, 64 hex digits.
    pub hash: String,
    /// Its media type.
    pub media_type: String,
    /// Its size.
    pub bytes: u64,
}

/// A photo as the store knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhotoRow {
    /// What is known of the file.
    pub meta: PhotoMeta,
    /// BLAKE3 of the thumbnail, if there is one here.
    pub thumbnail: Option<String>,
    /// Size of the thumbnail; 0 without one, and for one of a store before schema 2.
    pub thumbnail_bytes: u64,
    /// Whether the original is here and was whole when last looked at.
    pub original_here: bool,
    /// Whether the server has said that it has the original.
    pub original_sent: bool,
    /// Whether the server has said that it has the thumbnail.
    pub thumbnail_sent: bool,
}

impl PhotoRow {
    fn new(meta: PhotoMeta) -> Self {
        Self {
            meta,
            thumbnail: None,
            thumbnail_bytes: 0,
            original_here: false,
            original_sent: false,
            thumbnail_sent: false,
        }
    }

    fn shows(&mut self, thumbnail: &[u8]) {
        self.thumbnail = Some(blake3::hash(thumbnail).to_hex().to_string());
        self.thumbnail_bytes = thumbnail.len() as u64;
    }
}

impl Store {
    /// Keeps a photo's original and thumbnail for a survey. On disk when it returns; the same
    /// photo twice is kept once.
    ///
    /// # Errors
    /// [`StoreError::Refused`] above a limit or when the bytes are not of that hash.
    pub fn put_photo(
        &self,
        survey: &str,
        meta: &PhotoMeta,
        original: &[u8],
        thumbnail: Option<&[u8]>,
    ) -> Result<(), StoreError> {
        if blake3::hash(original).to_hex().as_str() != meta.hash {
            return Err(StoreError::refused(
                &meta.hash,
                "the bytes are not of this hash",
            ));
        }
        let bytes = original.len() as u64;
        let most = self.limits.photo_bytes;
        if bytes > most {
            return Err(StoreError::refused(
                "photo",
                format!("has {bytes} bytes, at most {most} are taken"),
            ));
        }
        let upload = (meta.hash.as_str(), Part::Original);
        room_for(&*self.db()?, bytes, self.limits.all_photos_bytes, upload)?;
        let path = self.files.of(Part::Original, &meta.hash)?;
        if hash_file(&path)?.as_deref() != Some(&meta.hash) {
            write_whole(&self.files.incoming("new", &meta.hash)?, &path, original)?;
        }
        if let Some(thumbnail) = thumbnail {
            self.write_thumbnail(&meta.hash, thumbnail)?;
        }
        self.note_photo(survey, &meta.hash, |row| {
            row.meta.clone_from(meta);
            row.original_here = true;
            if let Some(thumbnail) = thumbnail {
                row.shows(thumbnail);
            }
        })
    }

    /// Keeps a photo's thumbnail, whether or not the original is here.
    pub fn put_thumbnail(
        &self,
        survey: &str,
        hash: &str,
        thumbnail: &[u8],
    ) -> Result<(), StoreError> {
        self.write_thumbnail(hash, thumbnail)?;
        self.note_photo(survey, hash, |row| row.shows(thumbnail))
    }

    fn write_thumbnail(&self, hash: &str, thumbnail: &[u8]) -> Result<(), StoreError> {
        let most = self.limits.thumbnail_bytes;
        if thumbnail.len() as u64 > most {
            return Err(StoreError::refused(
                format!("thumbnail of {hash}"),
                format!("has {} bytes, at most {most} are taken", thumbnail.len()),
            ));
        }
        let path = self.files.of(Part::Thumbnail, hash)?;
        write_whole(
            &self.files.incoming("new-thumbnail", hash)?,
            &path,
            thumbnail,
        )
    }

    /// What the store knows of a photo.
    pub fn photo(&self, hash: &str) -> Result<Option<PhotoRow>, StoreError> {
        let db = self.db()?;
        read_row(&db, hash)
    }

    /// The photos of a survey, by hash.
    pub fn photos_of(&self, survey: &str) -> Result<Vec<PhotoRow>, StoreError> {
        let db = self.db()?;
        let hashes: Vec<String> = db
            .prepare_cached("SELECT hash FROM photo_surveys WHERE survey = ?1 ORDER BY hash")
            .and_then(|mut query| query.query_map([survey], |row| row.get(0))?.collect())
            .map_err(StoreError::sql("list photos"))?;
        let rows = hashes.iter().map(|hash| read_row(&db, hash));
        rows.filter_map(Result::transpose).collect()
    }

    /// Every photo of the store, by hash.
    pub fn all_photos(&self) -> Result<Vec<PhotoRow>, StoreError> {
        let db = self.db()?;
        let hashes: Vec<String> = db
            .prepare_cached("SELECT hash FROM photos ORDER BY hash")
            .and_then(|mut query| query.query_map([], |row| row.get(0))?.collect())
            .map_err(StoreError::sql("list photos"))?;
        let rows = hashes.iter().map(|hash| read_row(&db, hash));
        rows.filter_map(Result::transpose).collect()
    }

    /// The surveys that show a photo, by id.
    pub fn surveys_of_photo(&self, hash: &str) -> Result<Vec<String>, StoreError> {
        let db = self.db()?;
        db.prepare_cached("SELECT survey FROM photo_surveys WHERE hash = ?1 ORDER BY survey")
            .and_then(|mut query| query.query_map([hash], |row| row.get(0))?.collect())
            .map_err(StoreError::sql("list surveys of a photo"))
    }

    /// The file of a photo's part, if it is here; its bytes may be read from any place.
    pub fn file(&self, hash: &str, part: Part) -> Result<Option<PathBuf>, StoreError> {
        let path = self.files.of(part, hash)?;
        Ok(path.exists().then_some(path))
    }

    /// Of these photos, those whose original, and those whose thumbnail, is not here whole.
    pub fn wanting(&self, hashes: &[String]) -> Result<(Vec<String>, Vec<String>), StoreError> {
        let db = self.db()?;
        let (mut originals, mut thumbnails) = (Vec::new(), Vec::new());
        for hash in hashes.iter().filter(|hash| is_hash(hash)) {
            let row = read_row(&db, hash)?;
            if !row.as_ref().is_some_and(|row| row.original_here) {
                originals.push(hash.clone());
            }
            if row.is_none_or(|row| row.thumbnail.is_none()) {
                thumbnails.push(hash.clone());
            }
        }
        Ok((originals, thumbnails))
    }

    /// Notes whether the server has a photo's original and thumbnail.
    pub fn set_sent(&self, hash: &str, original: bool, thumbnail: bool) -> Result<(), StoreError> {
        let db = self.writable()?;
        let Some(mut row) = read_row(&db, hash)? else {
            return Ok(());
        };
        if (row.original_sent, row.thumbnail_sent) == (original, thumbnail) {
            return Ok(());
        }
        (row.original_sent, row.thumbnail_sent) = (original, thumbnail);
        write_row(&db, &row)
    }

    /// Changes a photo's row, making it if there is none, and notes that a survey shows it.
    pub(super) fn note_photo(
        &self,
        survey: &str,
        hash: &str,
        change: impl FnOnce(&mut PhotoRow),
    ) -> Result<(), StoreError> {
        let doing = "note a photo";
        let mut db = self.writable()?;
        let tx = db.transaction().map_err(StoreError::sql(doing))?;
        let known = read_row(&tx, hash)?;
        let mut row = known.unwrap_or_else(|| {
            PhotoRow::new(PhotoMeta {
                hash: hash.to_owned(),
                media_type: String::new(),
                bytes: 0,
            })
        });
        change(&mut row);
        write_row(&tx, &row)?;
        if !survey.is_empty() {
            tx.execute(
                "INSERT OR IGNORE INTO photo_surveys (survey, hash) VALUES (?1, ?2)",
                [survey, hash],
            )
            .map_err(StoreError::sql(doing))?;
        }
        tx.commit().map_err(StoreError::sql(doing))
    }
}

/// Refuses bytes that would be too much with all that is here or promised. What is promised of
/// this very upload is not counted.
pub(super) fn room_for(
    db: &Connection,
    bytes: u64,
    most: u64,
    upload: (&str, Part),
) -> Result<(), StoreError> {
    let held: i64 = db
        .query_row(
            "SELECT (SELECT coalesce(sum(bytes), 0) FROM photos WHERE original_here)
                  + (SELECT coalesce(sum(thumbnail_bytes), 0) FROM photos WHERE thumbnail NOT NULL)
                  + (SELECT coalesce(sum(length), 0) FROM uploads WHERE (hash, part) <> (?1, ?2))",
            [upload.0, upload.1.name()],
            |row| row.get(0),
        )
        .map_err(StoreError::sql("add up the photos"))?;
    let held = u64::try_from(held).unwrap_or(0);
    match held.saturating_add(bytes) > most {
        true => Err(StoreError::Quota { held, most }),
        false => Ok(()),
    }
}

/// A photo's row; one that is not what was written is as good as none.
fn read_row(db: &Connection, hash: &str) -> Result<Option<PhotoRow>, StoreError> {
    let read = |row: &Row<'_>| {
        let (bytes, small): (i64, i64) = (row.get(1)?, row.get(7)?);
        let photo = PhotoRow {
            meta: PhotoMeta {
                hash: hash.to_owned(),
                media_type: row.get(0)?,
                bytes: u64::try_from(bytes).unwrap_or(0),
            },
            thumbnail: row.get(2)?,
            thumbnail_bytes: u64::try_from(small).unwrap_or(0),
            original_here: row.get(3)?,
            original_sent: row.get(4)?,
            thumbnail_sent: row.get(5)?,
        };
        let sum: Vec<u8> = row.get(6)?;
        Ok((photo_sum(&photo) == sum).then_some(photo))
    };
    db.prepare_cached(
        "SELECT media_type, bytes, thumbnail, original_here, original_sent, thumbnail_sent, sum,
                thumbnail_bytes
         FROM photos WHERE hash = ?1",
    )
    .and_then(|mut query| query.query_row([hash], read).optional())
    .map(Option::flatten)
    .map_err(StoreError::sql("read a photo's row"))
}

fn write_row(db: &Connection, row: &PhotoRow) -> Result<(), StoreError> {
    db.execute(
        "INSERT OR REPLACE INTO photos (hash, media_type, bytes, thumbnail, original_here,
            original_sent, thumbnail_sent, sum, thumbnail_bytes)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        params![
            row.meta.hash,
            row.meta.media_type,
            i64::try_from(row.meta.bytes).unwrap_or(i64::MAX),
            row.thumbnail,
            row.original_here,
            row.original_sent,
            row.thumbnail_sent,
            photo_sum(row),
            i64::try_from(row.thumbnail_bytes).unwrap_or(i64::MAX),
        ],
    )
    .map(|_| ())
    .map_err(StoreError::sql("write a photo's row"))
}

fn photo_sum(row: &PhotoRow) -> Vec<u8> {
    let flags = [row.original_here, row.original_sent, row.thumbnail_sent].map(u8::from);
    row_sum(&[
        row.meta.hash.as_bytes(),
        row.meta.media_type.as_bytes(),
        &row.meta.bytes.to_le_bytes(),
        row.thumbnail.as_deref().unwrap_or("-").as_bytes(),
        &flags,
    ])
}
