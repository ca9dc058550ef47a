//! A small upright JPEG of a picture.

use super::error::PhotoError;
use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageError, ImageFormat, ImageReader};
use std::io::{Cursor, ErrorKind};

/// Most pixels a side.
const SIDE: u32 = 512;
/// JPEG quality of a thumbnail.
const QUALITY: u8 = 80;

pub(super) struct Made {
    pub(super) jpeg: Vec<u8>,
    /// Size of the original when upright.
    pub(super) width_px: u32,
    pub(super) height_px: u32,
}

pub(super) fn make(
    picture: &[u8],
    format: ImageFormat,
    orientation: u8,
    most_pixels: u64,
) -> Result<Made, PhotoError> {
    let reader = || ImageReader::with_format(Cursor::new(picture), format);
    let (width, height) = reader().into_dimensions().map_err(problem)?;
    if u64::from(width) * u64::from(height) > most_pixels {
        return Err(PhotoError::TooManyPixels {
            width,
            height,
            most: most_pixels,
        });
    }
    if ends_early(picture, format) {
        return Err(PhotoError::Truncated);
    }
    let mut decode = reader();
    let mut limits = image::Limits::default();
    // Eight bytes a pixel cover 16-bit colour with transparency; the rest is working room.
    limits.max_alloc = Some(most_pixels.saturating_mul(8).saturating_add(64 << 20));
    decode.limits(limits);
    let full = decode.decode().map_err(problem)?;
    let mut small = match full.width().max(full.height()) > SIDE {
        true => full.thumbnail(SIDE, SIDE),
        false => full,
    };
    let way_up = Orientation::from_exif(orientation).unwrap_or(Orientation::NoTransforms);
    small.apply_orientation(way_up);
    let rgb = DynamicImage::ImageRgb8(small.to_rgb8());
    let mut jpeg = Vec::new();
    let encoder = JpegEncoder::new_with_quality(&mut jpeg, QUALITY);
    rgb.write_with_encoder(encoder).map_err(problem)?;
    // Orientations 5 to 8 lie on their side.
    let (width_px, height_px) = match orientation {
        5..=8 => (height, width),
        _ => (width, height),
    };
    Ok(Made {
        jpeg,
        width_px,
        height_px,
    })
}

/// Whether the file lacks the mark that ends it. Decoders fill in a missing end with grey.
///
/// JPEG ends with the EOI marker (ITU-T T.81 B.1.1.3), PNG with an IEND chunk (W3C PNG 11.2.5);
/// what some cameras append after that is passed over.
pub(super) fn ends_early(picture: &[u8], format: ImageFormat) -> bool {
    let (body, end): (&[u8], &[u8]) = match format {
        ImageFormat::Jpeg => (first_scan(picture), b"\xff\xd9"),
        ImageFormat::Png => (picture, b"IEND\xaeB`\x82"),
        _ => return false,
    };
    !body.windows(end.len()).rev().any(|window| window == end)
}

/// A JPEG from its first scan on: a thumbnail in the segments before it has an end of its own.
fn first_scan(jpeg: &[u8]) -> &[u8] {
    let mut rest = jpeg.get(2..).unwrap_or_default();
    while let [0xff, marker, high, low, ..] = *rest {
        if marker == 0xda {
            return rest;
        }
        let length = 2 + usize::from(u16::from_be_bytes([high, low]));
        rest = rest.get(length..).unwrap_or_default();
    }
    &[]
}

fn problem(error: ImageError) -> PhotoError {
    match error {
        ImageError::IoError(error) if error.kind() == ErrorKind::UnexpectedEof => {
            PhotoError::Truncated
        }
        other => PhotoError::Broken {
            problem: other.to_string(),
        },
    }
}
