//! One photo made fit for paper: upright, turned as a person wished it, small, as JPEG.
//!
//! A large JPEG is decoded at an eighth, a quarter or a half of its size, which spares most of the
//! time and nearly all of the memory of its pixels.

use super::pictures::Picture;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::FilterType;
use image::metadata::Orientation;
use image::{
    DynamicImage, GrayImage, ImageDecoder, ImageError, ImageFormat, ImageReader, Limits, RgbImage,
};
use jpeg_decoder::PixelFormat;
use std::io::Cursor;
use std::sync::Arc;

/// Longest side on paper, in pixels: that of a thumbnail.
const LONGEST: u32 = 512;
/// A side that is as good: a reduced picture this long is taken as it is, so that an eighth of
/// 12 million pixels, 500 x 375, need not be a quarter first.
const ENOUGH: u16 = 480;
/// JPEG quality on paper.
const QUALITY: u8 = 72;
/// No photo is larger than this on either side, or needs more memory than this to decode.
const MOST_PIXELS: u32 = 20_000;
const MOST_BYTES: usize = 512 << 20;

/// Upright and small; `turned` clockwise by 90, 180 or 270 degrees besides.
pub(super) fn fit(bytes: &[u8], turned: Option<u16>) -> Result<Picture, String> {
    if scupper_core::photo::breaks_off(bytes) {
        return Err("cannot be read as a picture: it breaks off before its end".to_owned());
    }
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|error| format!("cannot be read: {error}"))?;
    let mut limits = Limits::default();
    limits.max_image_width = Some(MOST_PIXELS);
    limits.max_image_height = Some(MOST_PIXELS);
    limits.max_alloc = Some(MOST_BYTES as u64);
    reader.limits(limits);
    let is_jpeg = reader.format() == Some(ImageFormat::Jpeg);
    let mut decoder = reader.into_decoder().map_err(unreadable)?;
    let orientation = decoder.orientation().map_err(unreadable)?;
    let bare = decoder.exif_metadata().map_err(unreadable)?.is_none();
    let (width, height) = decoder.dimensions();
    let small = width.max(height) <= LONGEST;
    let reduced = match is_jpeg && !small {
        true => reduced(bytes),
        false => None,
    };
    let mut picture = match reduced {
        Some(picture) => picture,
        None => DynamicImage::from_decoder(decoder).map_err(unreadable)?,
    };
    let turn = by(turned);
    if small && is_jpeg && bare && turn == Orientation::NoTransforms {
        // A thumbnail is fit as it is; what carries EXIF, such as a place, is made anew without.
        return Ok(Picture {
            jpeg: Arc::new(bytes.to_vec()),
            width,
            height,
        });
    }
    if picture.width().max(picture.height()) > LONGEST {
        picture = picture.resize(LONGEST, LONGEST, FilterType::Triangle);
    }
    picture.apply_orientation(orientation);
    picture.apply_orientation(turn);
    let mut jpeg = Vec::new();
    let encoder = JpegEncoder::new_with_quality(&mut jpeg, QUALITY);
    let picture = picture.to_rgb8();
    picture
        .write_with_encoder(encoder)
        .map_err(|error| format!("cannot be made small: {error}"))?;
    Ok(Picture {
        jpeg: Arc::new(jpeg),
        width: picture.width(),
        height: picture.height(),
    })
}

fn unreadable(error: ImageError) -> String {
    format!("cannot be read as a picture: {error}")
}

/// How a person turned it; other angles are none, as on the page.
fn by(turned: Option<u16>) -> Orientation {
    match turned {
        Some(90) => Orientation::Rotate90,
        Some(180) => Orientation::Rotate180,
        Some(270) => Orientation::Rotate270,
        _ => Orientation::NoTransforms,
    }
}

/// A JPEG as small as it decodes without falling below [`ENOUGH`]; none if it is one that only
/// the other decoder may know, in four colours, say.
fn reduced(bytes: &[u8]) -> Option<DynamicImage> {
    let mut decoder = jpeg_decoder::Decoder::new(bytes);
    decoder.set_max_decoding_buffer_size(MOST_BYTES);
    let (width, height) = decoder.scale(ENOUGH, ENOUGH).ok()?;
    let (width, height) = (u32::from(width), u32::from(height));
    let pixels = decoder.decode().ok()?;
    match decoder.info()?.pixel_format {
        PixelFormat::RGB24 => RgbImage::from_raw(width, height, pixels).map(DynamicImage::from),
        PixelFormat::L8 => GrayImage::from_raw(width, height, pixels).map(DynamicImage::from),
        PixelFormat::L16 | PixelFormat::CMYK32 => None,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use image::Rgb;

    /// Red on the left half, blue on the right.
    fn halves(width: u32, height: u32) -> Vec<u8> {
        let colour = |left| match left {
            true => Rgb([220, 20, 20]),
            false => Rgb([20, 20, 220]),
        };
        let picture = RgbImage::from_fn(width, height, |x, _| colour(x < width / 2));
        let mut bytes = Vec::new();
        picture
            .write_with_encoder(JpegEncoder::new(&mut bytes))
            .unwrap();
        bytes
    }

    /// The same file with `Orientation` (EXIF 2.32, CIPA DC-008-2019, 4.6.4 A) in an APP1 segment.
    fn held(orientation: u8, jpeg: &[u8]) -> Vec<u8> {
        let tiff = [
            &b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0"[..],
            &[orientation, 0, 0, 0, 0, 0, 0, 0],
        ];
        let segment = [b"\xff\xe1\0\x22Exif\0\0", tiff.concat().as_slice()].concat();
        [&jpeg[..2], &segment, &jpeg[2..]].concat()
    }

    /// Where red stands.
    #[track_caller]
    fn red(picture: &Picture) -> &'static str {
        let small = image::load_from_memory(&picture.jpeg).unwrap().to_rgb8();
        let (width, height) = small.dimensions();
        assert_eq!((width, height), (picture.width, picture.height));
        let is = |x: u32, y: u32| {
            let Rgb([red, _, blue]) = *small.get_pixel(x, y);
            red > 150 && blue < 100
        };
        let corners = [
            is(2, 2),
            is(width - 3, 2),
            is(2, height - 3),
            is(width - 3, height - 3),
        ];
        match corners {
            [true, false, true, false] => "left",
            [false, true, false, true] => "right",
            [true, true, false, false] => "above",
            [false, false, true, true] => "below",
            _ => "nowhere",
        }
    }

    #[test]
    fn a_photo_stands_as_it_was_held_and_then_as_it_was_turned() {
        // Red is the file's left half. By EXIF: 1 as it is, 3 upside down, 6 row 0 on the right,
        // which puts the left half above, 8 row 0 on the left, which puts it below.
        let told = [
            (1, ["left", "above", "right", "below"]),
            (3, ["right", "below", "left", "above"]),
            (6, ["above", "right", "below", "left"]),
            (8, ["below", "left", "above", "right"]),
        ];
        // Small enough as it is, made small from whole, and decoded at a quarter.
        for (width, height) in [(400, 300), (640, 480), (2000, 1500)] {
            let bare = halves(width, height);
            for (orientation, places) in told {
                let file = held(orientation, &bare);
                for (turned, place) in [None, Some(90), Some(180), Some(270)].iter().zip(places) {
                    let told = format!("{width} px, held {orientation}, turned {turned:?}");
                    let picture = fit(&file, *turned).unwrap();
                    assert_eq!(red(&picture), place, "{told}");
                    let longest = picture.width.max(picture.height);
                    assert!((480..=512).contains(&longest) || width == 400, "{told}");
                }
            }
        }
    }

    #[test]
    fn a_large_photo_is_decoded_small() {
        let size = |file: &[u8]| reduced(file).map(|picture| (picture.width(), picture.height()));
        assert_eq!(size(&halves(4000, 3000)), Some((500, 375)));
        assert_eq!(size(&halves(3000, 4000)), Some((375, 500)));
        assert_eq!(size(&halves(700, 500)), Some((700, 500)));
    }

    #[test]
    fn a_thumbnail_is_made_anew_only_to_be_turned() {
        let thumbnail = halves(512, 384);
        assert_eq!(*fit(&thumbnail, None).unwrap().jpeg, thumbnail);
        assert_eq!(*fit(&thumbnail, Some(45)).unwrap().jpeg, thumbnail);
        let turned = fit(&thumbnail, Some(90)).unwrap();
        assert_eq!((turned.width, turned.height), (384, 512));
        assert_eq!(red(&turned), "above");
    }
}
