//! Which photo file to send next, for the phone's own background uploader.

use super::day::Capture;
use super::error::CaptureError;
use crate::store::{Part, PhotoRow};
use std::path::PathBuf;

/// One file to send: `POST` [`Upload::create_path`] with [`Upload::headers`], then `PATCH` what
/// is at the returned location from the offset that the server tells.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Upload {
    /// BLAKE3 of the photo's original, which names the photo.
    pub hash: String,
    /// Which file of it.
    pub part: Part,
    /// Length of the file in bytes.
    pub length: u64,
    /// The file.
    pub path: PathBuf,
    /// Where to create the upload, below the server's address.
    pub create_path: String,
    /// Headers to create it with.
    pub headers: Vec<Header>,
}

/// A header of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Header {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: String,
}

/// How much waits to be sent.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Waiting {
    /// Photo files, thumbnails counted apart.
    pub files: usize,
    /// Bytes of the originals among them; a thumbnail has a few tens of thousands.
    pub bytes: u64,
}

/// Header that names the photo: BLAKE3 of its original in hex.
pub const PHOTO_HEADER: &str = "Scupper-Photo";
/// Header that names the part: `thumbnail` or `original`.
pub const PART_HEADER: &str = "Scupper-Part";
/// Header with the BLAKE3 of the file itself in hex.
pub const CONTENT_HEADER: &str = "Scupper-Content";
/// Header that names the survey.
pub const SURVEY_HEADER: &str = "Scupper-Survey";

impl Capture {
    /// The file to send next, or none: thumbnails before originals, small before large. Files
    /// that failed since the last exchange come last.
    pub fn next_upload(&self) -> Result<Option<Upload>, CaptureError> {
        let mut waiting: Vec<(bool, Part, u64, PhotoRow)> = Vec::new();
        for row in self.store.all_photos()? {
            for part in unsent(&row) {
                let late = self.put_off.contains(&(row.meta.hash.clone(), part));
                waiting.push((late, part, original_bytes(&row, part), row.clone()));
            }
        }
        waiting
            .sort_by(|a, b| (a.0, a.1, a.2, &a.3.meta.hash).cmp(&(b.0, b.1, b.2, &b.3.meta.hash)));
        for (_, part, _, row) in waiting {
            if let Some(upload) = self.upload(part, &row)? {
                return Ok(Some(upload));
            }
        }
        Ok(None)
    }

    /// How much waits to be sent, for a line on the screen.
    pub fn uploads_waiting(&self) -> Result<Waiting, CaptureError> {
        let mut waiting = Waiting::default();
        for row in self.store.all_photos()? {
            for part in unsent(&row) {
                waiting.files += 1;
                waiting.bytes += original_bytes(&row, part);
            }
        }
        Ok(waiting)
    }

    fn upload(&self, part: Part, row: &PhotoRow) -> Result<Option<Upload>, CaptureError> {
        let hash = &row.meta.hash;
        let (path, content, media_type) = match part {
            Part::Original => (
                self.store.original_path(hash)?,
                hash.clone(),
                row.meta.media_type.clone(),
            ),
            Part::Thumbnail => {
                let content = row.thumbnail.clone().unwrap_or_default();
                (
                    self.store.thumbnail_path(hash)?,
                    content,
                    "image/jpeg".to_owned(),
                )
            }
        };
        let survey = self.store.surveys_of_photo(hash)?.into_iter().next();
        let (Some(path), Some(survey)) = (path, survey) else {
            return Ok(None);
        };
        let length = std::fs::metadata(&path).map_err(|e| CaptureError::File {
            path: path.display().to_string(),
            problem: e.to_string(),
        })?;
        let length = length.len();
        let headers = [
            ("Upload-Length", length.to_string()),
            ("Upload-Complete", "?0".to_owned()),
            ("Content-Type", media_type),
            (PHOTO_HEADER, hash.clone()),
            (PART_HEADER, part.name().to_owned()),
            (CONTENT_HEADER, content),
            (SURVEY_HEADER, survey),
        ];
        Ok(Some(Upload {
            hash: hash.clone(),
            part,
            length,
            path,
            create_path: "/v1/uploads".to_owned(),
            headers: headers
                .map(|(name, value)| Header {
                    name: name.to_owned(),
                    value,
                })
                .to_vec(),
        }))
    }

    /// Takes back how an upload went: whole at the server, or to be tried again later.
    pub fn upload_result(
        &mut self,
        hash: &str,
        part: Part,
        whole: bool,
    ) -> Result<(), CaptureError> {
        if !whole {
            self.put_off.push((hash.to_owned(), part));
            return Ok(());
        }
        if let Some(row) = self.store.photo(hash)? {
            let original = row.original_sent || part == Part::Original;
            let thumbnail = row.thumbnail_sent || part == Part::Thumbnail;
            self.store.set_sent(hash, original, thumbnail)?;
        }
        Ok(())
    }
}

/// The files of a photo that are here and not yet at the server.
fn unsent(row: &PhotoRow) -> Vec<Part> {
    let thumbnail = row.thumbnail.is_some() && !row.thumbnail_sent;
    let original = row.original_here && !row.original_sent;
    let parts = [(thumbnail, Part::Thumbnail), (original, Part::Original)];
    parts
        .into_iter()
        .filter_map(|(unsent, part)| unsent.then_some(part))
        .collect()
}

fn original_bytes(row: &PhotoRow, part: Part) -> u64 {
    match part {
        Part::Thumbnail => 0,
        Part::Original => row.meta.bytes,
    }
}
