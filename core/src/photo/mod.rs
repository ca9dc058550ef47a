//! Taking in a photo: limits first, then hash, EXIF and an upright thumbnail.
//!
//! Size and pixels are checked from the header before anything is unfolded, so a file that
//! claims to be huge costs nothing. The original is never changed; what is not JPEG or PNG is
//! kept as it is, and its thumbnail comes from a JPEG preview that the phone hands in.

mod error;
mod exif;
mod thumbnail;

pub use error::PhotoError;

use crate::survey::Photo;
use exif::Exif;
use image::ImageFormat;

/// What a photo may cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most bytes of a file.
    pub bytes: u64,
    /// Most pixels of an image, width times height.
    pub pixels: u64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            bytes: 64 << 20,
            pixels: 120_000_000,
        }
    }
}

/// A photo taken in: what to store beside the original, and what to enter into the survey.
#[derive(Debug, Clone, PartialEq)]
pub struct Intake {
    /// The entry; the caller adds id, author, `ref` and caption.
    pub photo: Photo,
    /// The thumbnail, an upright JPEG of at most 512 pixels a side.
    pub thumbnail: Option<Vec<u8>>,
}

/// Takes in a photo.
///
/// `preview` is a JPEG of the same picture, needed for types that are not read here.
///
/// # Errors
/// [`PhotoError`], each telling what is wrong with the file; nothing was kept.
pub fn intake(
    original: &[u8],
    preview: Option<&[u8]>,
    limits: Limits,
) -> Result<Intake, PhotoError> {
    let bytes = original.len() as u64;
    if bytes > limits.bytes {
        return Err(PhotoError::TooManyBytes {
            bytes,
            most: limits.bytes,
        });
    }
    let media_type = media_type(original).ok_or(PhotoError::NotAnImage)?;
    let mut photo = Photo {
        hash: blake3::hash(original).to_hex().to_string(),
        media_type: media_type.to_owned(),
        bytes,
        ..Photo::default()
    };
    let exif = Exif::read(original);
    photo.taken_at = exif.taken_at;
    (photo.latitude_deg, photo.longitude_deg) = exif.place.unzip();
    let readable = readable(media_type);
    let (picture, format, orientation) = match (readable, preview) {
        (Some(format), _) => (original, format, exif.orientation),
        (None, Some(preview)) => {
            let format = media_type_readable(preview).ok_or(PhotoError::PreviewNotJpeg)?;
            (preview, format, Exif::read(preview).orientation)
        }
        (None, None) => {
            return Ok(Intake {
                photo,
                thumbnail: None,
            });
        }
    };
    let made = thumbnail::make(picture, format, orientation, limits.pixels)?;
    if readable.is_some() {
        (photo.width_px, photo.height_px) = (made.width_px, made.height_px);
    }
    Ok(Intake {
        photo,
        thumbnail: Some(made.jpeg),
    })
}

fn readable(media_type: &str) -> Option<ImageFormat> {
    match media_type {
        "image/jpeg" => Some(ImageFormat::Jpeg),
        "image/png" => Some(ImageFormat::Png),
        _ => None,
    }
}

fn media_type_readable(bytes: &[u8]) -> Option<ImageFormat> {
    media_type(bytes).and_then(readable)
}

/// Whether a JPEG or PNG breaks off before its end; decoders fill the rest with grey.
pub fn breaks_off(bytes: &[u8]) -> bool {
    media_type_readable(bytes).is_some_and(|format| thumbnail::ends_early(bytes, format))
}

/// Media type of an image, by its first bytes; none if it is none of the kinds phones make.
pub fn media_type(bytes: &[u8]) -> Option<&'static str> {
    let starts = |magic: &[u8]| bytes.starts_with(magic);
    // ISO/IEC 14496-12 4.3: a box of type `ftyp`, then its major brand.
    let brand = || {
        let is_box = bytes.get(4..8) == Some(b"ftyp".as_slice());
        bytes.get(8..12).filter(|_| is_box)
    };
    if starts(b"\xff\xd8\xff") {
        Some("image/jpeg")
    } else if starts(b"\x89PNG\r\n\x1a\n") {
        Some("image/png")
    } else if starts(b"RIFF") && bytes.get(8..12) == Some(b"WEBP".as_slice()) {
        Some("image/webp")
    } else if starts(b"II*\0") || starts(b"MM\0*") {
        // Also what raw files of cameras begin with.
        Some("image/tiff")
    } else {
        match brand()? {
            b"heic" | b"heix" | b"heim" | b"heis" => Some("image/heic"),
            b"mif1" | b"msf1" => Some("image/heif"),
            b"avif" | b"avis" => Some("image/avif"),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests;
