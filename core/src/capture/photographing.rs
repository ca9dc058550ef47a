//! Photos taken in on the device.
//!
//! Reading a picture takes long and touches no store, so it is a step of its own that may be made
//! while other calls go on: [`read_picture`], then [`Capture::keep_photo`].

use super::day::Capture;
use super::error::CaptureError;
use crate::document::Table;
use crate::photo::{self, Intake, Limits};
use crate::store::PhotoMeta;
use serde_json::json;
use std::fs;
use std::path::Path;

/// What a photo shows.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct PhotoAbout {
    /// Tag of the unit, `site`, or none.
    #[cfg_attr(feature = "uniffi", uniffi(default))]
    pub about: Option<String>,
    /// Caption in free words.
    #[cfg_attr(feature = "uniffi", uniffi(default))]
    pub caption: Option<String>,
    /// A JPEG of the same picture, for types that are not read here, such as HEIC.
    #[cfg_attr(feature = "uniffi", uniffi(default))]
    pub preview: Option<Vec<u8>>,
}

/// A picture that was read and is good to be kept.
pub struct Picture {
    original: Vec<u8>,
    taken: Intake,
}

/// Reads a picture from a file.
pub fn read_picture(path: &Path, about: &PhotoAbout) -> Result<Picture, CaptureError> {
    let limits = Limits::default();
    let unreadable = |problem: std::io::Error| CaptureError::File {
        path: path.display().to_string(),
        problem: problem.to_string(),
    };
    let size = fs::metadata(path).map_err(unreadable)?.len();
    if size > limits.bytes {
        let most = limits.bytes;
        return Err(photo::PhotoError::TooManyBytes { bytes: size, most }.into());
    }
    Picture::of(fs::read(path).map_err(unreadable)?, about, limits)
}

impl Picture {
    fn of(original: Vec<u8>, about: &PhotoAbout, limits: Limits) -> Result<Self, CaptureError> {
        let taken = photo::intake(&original, about.preview.as_deref(), limits)?;
        Ok(Self { original, taken })
    }
}

impl Capture {
    /// Takes a photo in from a file and returns the id of its entry.
    pub fn take_photo_file(
        &mut self,
        survey_id: &str,
        path: &Path,
        about: PhotoAbout,
    ) -> Result<String, CaptureError> {
        let picture = read_picture(path, &about)?;
        self.keep_photo(survey_id, picture, about)
    }

    /// Takes a photo in and returns the id of its entry.
    pub fn take_photo(
        &mut self,
        survey_id: &str,
        original: &[u8],
        about: PhotoAbout,
    ) -> Result<String, CaptureError> {
        let picture = Picture::of(original.to_vec(), &about, Limits::default())?;
        self.keep_photo(survey_id, picture, about)
    }

    /// Keeps a picture that was read, as a photo of the survey, and returns the id of its entry.
    pub fn keep_photo(
        &mut self,
        survey_id: &str,
        picture: Picture,
        about: PhotoAbout,
    ) -> Result<String, CaptureError> {
        self.doc(survey_id)?;
        let Picture { original, taken } = picture;
        let mut entry = taken.photo;
        let meta = PhotoMeta {
            hash: entry.hash.clone(),
            media_type: entry.media_type.clone(),
            bytes: entry.bytes,
        };
        let thumbnail = taken.thumbnail.as_deref();
        self.store
            .put_photo(survey_id, &meta, &original, thumbnail)?;
        entry.author = Some(self.identity.author.clone());
        entry.taken_at = entry.taken_at.or_else(|| Some(self.now()));
        entry.about = about.about;
        entry.caption = about.caption;
        self.add(survey_id, Table::Photos, json!(entry))
    }
}
