//! Tests of photo intake: real files made here, and every kind of bad file.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use ::exif::experimental::Writer;
use ::exif::{Field, In, Rational, Tag, Value};
use image::codecs::jpeg::JpegEncoder;
use image::{ImageFormat, Rgb, RgbImage};
use std::io::Cursor;

/// 80 x 40, red on the left half, blue on the right.
fn two_halves() -> RgbImage {
    RgbImage::from_fn(80, 40, |x, _| {
        if x < 40 {
            Rgb([220, 20, 20])
        } else {
            Rgb([20, 20, 220])
        }
    })
}

fn jpeg(image: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    image
        .write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, 90))
        .unwrap();
    bytes
}

fn png(image: &RgbImage) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    image.write_to(&mut bytes, ImageFormat::Png).unwrap();
    bytes.into_inner()
}

fn field(tag: Tag, value: Value) -> Field {
    Field {
        tag,
        ifd_num: In::PRIMARY,
        value,
    }
}

fn text(words: &str) -> Value {
    Value::Ascii(vec![words.as_bytes().to_vec()])
}

fn ratios(parts: &[(u32, u32)]) -> Value {
    let ratio = |&(num, denom): &(u32, u32)| Rational { num, denom };
    Value::Rational(parts.iter().map(ratio).collect())
}

/// A JPEG with these EXIF fields in an APP1 segment.
fn with_exif(jpeg: &[u8], fields: &[Field]) -> Vec<u8> {
    let mut writer = Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut tiff = Cursor::new(Vec::new());
    writer.write(&mut tiff, false).unwrap();
    let tiff = tiff.into_inner();
    let length = u16::try_from(tiff.len() + 8).unwrap().to_be_bytes();
    [
        &jpeg[..2],
        b"\xff\xe1",
        &length,
        b"Exif\0\0",
        &tiff,
        &jpeg[2..],
    ]
    .concat()
}

fn take(file: &[u8]) -> Result<Intake, PhotoError> {
    intake(file, None, Limits::default())
}

fn thumbnail(intake: &Intake) -> RgbImage {
    let bytes = intake.thumbnail.as_ref().unwrap();
    assert!(bytes.starts_with(b"\xff\xd8\xff"));
    image::load_from_memory(bytes).unwrap().to_rgb8()
}

#[test]
fn the_entry_says_what_the_file_is() {
    let file = jpeg(&two_halves());
    let photo = take(&file).unwrap().photo;
    assert_eq!(photo.hash, blake3::hash(&file).to_hex().to_string());
    assert_eq!(photo.media_type, "image/jpeg");
    assert_eq!(photo.bytes, file.len() as u64);
    assert_eq!((photo.width_px, photo.height_px), (80, 40));
    assert_eq!((photo.taken_at, photo.latitude_deg), (None, None));
    assert_eq!(
        take(&png(&two_halves())).unwrap().photo.media_type,
        "image/png"
    );
}

#[test]
fn thumbnails_stand_upright_whatever_the_camera_was_held_like() {
    // EXIF 2.32 (CIPA DC-008-2019) 4.6.4 A, `Orientation`: where row 0 and column 0 of the file
    // are seen. Red is the file's left half.
    let red_at: [(u16, (u32, u32)); 8] = [
        (1, (0, 0)),
        (2, (79, 0)),
        (3, (79, 39)),
        (4, (0, 39)),
        (5, (0, 0)),
        (6, (39, 0)),
        (7, (39, 79)),
        (8, (0, 79)),
    ];
    for (orientation, (x, y)) in red_at {
        let tag = field(Tag::Orientation, Value::Short(vec![orientation]));
        let taken = take(&with_exif(&jpeg(&two_halves()), &[tag])).unwrap();
        let small = thumbnail(&taken);
        let expected = if orientation < 5 { (80, 40) } else { (40, 80) };
        assert_eq!(small.dimensions(), expected, "orientation {orientation}");
        assert_eq!((taken.photo.width_px, taken.photo.height_px), expected);
        let Rgb([red, _, blue]) = *small.get_pixel(x, y);
        assert!(
            red > 150 && blue < 100,
            "orientation {orientation}: {red} {blue}"
        );
    }
}

#[test]
fn a_thumbnail_is_at_most_512_pixels_and_never_larger_than_the_picture() {
    let wide = RgbImage::from_pixel(2000, 500, Rgb([9, 9, 9]));
    assert_eq!(
        thumbnail(&take(&jpeg(&wide)).unwrap()).dimensions(),
        (512, 128)
    );
    assert_eq!(
        thumbnail(&take(&png(&two_halves())).unwrap()).dimensions(),
        (80, 40)
    );
}

#[test]
fn time_with_offset_and_place_come_from_exif() {
    let fields = [
        field(Tag::DateTimeOriginal, text("2026:04:14 08:02:11")),
        field(Tag::OffsetTimeOriginal, text("-05:00")),
        field(Tag::GPSLatitudeRef, text("N")),
        field(Tag::GPSLatitude, ratios(&[(45, 1), (30, 1), (3600, 100)])),
        field(Tag::GPSLongitudeRef, text("W")),
        field(Tag::GPSLongitude, ratios(&[(93, 1), (15, 1), (0, 1)])),
    ];
    let photo = take(&with_exif(&jpeg(&two_halves()), &fields))
        .unwrap()
        .photo;
    let taken = photo.taken_at.unwrap().to_rfc3339();
    assert_eq!(taken, "2026-04-14T08:02:11-05:00");
    assert!((photo.latitude_deg.unwrap() - 45.51).abs() < 1e-9);
    assert!((photo.longitude_deg.unwrap() + 93.25).abs() < 1e-9);
}

#[test]
fn nonsense_in_exif_is_passed_over() {
    let fields = [
        field(Tag::Orientation, Value::Short(vec![99])),
        field(Tag::DateTimeOriginal, text("2026:13:41 08:02:11")),
        field(Tag::GPSLatitude, ratios(&[(45, 0), (1, 0), (1, 0)])),
        field(Tag::GPSLongitude, ratios(&[(900, 1)])),
    ];
    let photo = take(&with_exif(&jpeg(&two_halves()), &fields))
        .unwrap()
        .photo;
    assert_eq!(
        (photo.taken_at, photo.latitude_deg, photo.longitude_deg),
        (None, None, None)
    );
    assert_eq!((photo.width_px, photo.height_px), (80, 40));
}

#[test]
fn other_types_are_kept_as_they_are_with_a_preview_handed_in() {
    let heic = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic and then what this program does not read";
    let alone = take(heic).unwrap();
    assert_eq!(
        (alone.photo.media_type.as_str(), &alone.thumbnail),
        ("image/heic", &None)
    );
    assert_eq!(alone.photo.hash, blake3::hash(heic).to_hex().to_string());
    let preview = jpeg(&two_halves());
    let taken = intake(heic, Some(&preview), Limits::default()).unwrap();
    assert_eq!(thumbnail(&taken).dimensions(), (80, 40));
    assert_eq!(taken.photo.hash, alone.photo.hash);
    let error = intake(heic, Some(heic), Limits::default()).unwrap_err();
    assert_eq!(error, PhotoError::PreviewNotJpeg);
}

/// A PNG whose header claims `width` x `height`, with a true checksum.
fn claiming(width: u32, height: u32) -> Vec<u8> {
    let mut file = png(&two_halves());
    file[16..20].copy_from_slice(&width.to_be_bytes());
    file[20..24].copy_from_slice(&height.to_be_bytes());
    let mut crc = u32::MAX;
    for byte in &file[12..29] {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = (crc >> 1) ^ (0xedb8_8320 & (crc & 1).wrapping_neg());
        }
    }
    file[29..33].copy_from_slice(&(!crc).to_be_bytes());
    file
}

#[test]
fn every_kind_of_bad_file_has_an_error_of_its_own() {
    let small = Limits {
        bytes: 100,
        pixels: 100,
    };
    let good = jpeg(&two_halves());
    let error = intake(&good, None, small).unwrap_err();
    assert!(
        matches!(error, PhotoError::TooManyBytes { most: 100, .. }),
        "{error}"
    );
    let error = intake(
        &good,
        None,
        Limits {
            pixels: 100,
            ..Limits::default()
        },
    )
    .unwrap_err();
    assert!(
        matches!(
            error,
            PhotoError::TooManyPixels {
                width: 80,
                height: 40,
                ..
            }
        ),
        "{error}"
    );
    let error = take(&claiming(60_000, 60_000)).unwrap_err();
    assert!(
        matches!(error, PhotoError::TooManyPixels { width: 60_000, .. }),
        "{error}"
    );
    for not in [&b""[..], b"a shopping list", b"%PDF-1.7", b"\xff\xd8"] {
        assert_eq!(take(not).unwrap_err(), PhotoError::NotAnImage);
    }
    let error = take(b"\xff\xd8\xff and then a shopping list").unwrap_err();
    assert!(
        matches!(error, PhotoError::Broken { .. } | PhotoError::Truncated),
        "{error}"
    );
}

#[test]
fn a_file_cut_anywhere_is_told_from_a_whole_one() {
    let tiny = jpeg(&RgbImage::from_pixel(16, 16, Rgb([1, 2, 3])));
    // The marker that ends a picture is also in the thumbnail that cameras embed before it.
    let embedded = [
        &b"\xff\xe2"[..],
        &u16::try_from(tiny.len() + 2).unwrap().to_be_bytes(),
        &tiny,
    ];
    let plain = jpeg(&two_halves());
    let with_embedded = [&plain[..2], &embedded.concat(), &plain[2..]].concat();
    for whole in [plain, with_embedded, png(&two_halves())] {
        take(&whole).unwrap();
        for cut in 3..whole.len() - 1 {
            let error = take(&whole[..cut]).unwrap_err();
            let told = match cut {
                0..8 => true,
                _ => matches!(error, PhotoError::Truncated | PhotoError::Broken { .. }),
            };
            assert!(told, "cut at {cut}: {error}");
        }
    }
}

/// The official vectors, `test_vectors/test_vectors.json` of github.com/BLAKE3-team/BLAKE3: input
/// bytes 0, 1, … 250, 0, 1, …; the first 32 bytes of `hash`. Looked up, not from memory.
#[test]
fn photos_are_named_by_the_published_blake3() {
    let vectors = [
        (
            0,
            "af1349b9f5f9a1a6a0404dea36dcc9499bcb25c9adc112b7cc9a93cae41f3262",
        ),
        (
            1,
            "2d3adedff11b61f14c886e35afa036736dcd87a74d27b5c1510225d0f592e213",
        ),
        (
            1023,
            "10108970eeda3eb932baac1428c7a2163b0e924c9a9e25b35bba72b28f70bd11",
        ),
        (
            1024,
            "42214739f095a406f3fc83deb889744ac00df831c10daa55189b5d121c855af7",
        ),
        (
            1025,
            "d00278ae47eb27b34faecf67b4fe263f82d5412916c1ffd97c8cb7fb814b8444",
        ),
        (
            2049,
            "5f4d72f40d7a5f82b15ca2b2e44b1de3c2ef86c426c95c1af0b6879522563030",
        ),
        (
            4097,
            "9b4052b38f1c5fc8b1f9ff7ac7b27cd242487b3d890d15c96a1c25b8aa0fb995",
        ),
        (
            7169,
            "a003fc7a51754a9b3c7fae0367ab3d782dccf28855a03d435f8cfe74605e7817",
        ),
    ];
    for (length, published) in vectors {
        let input: Vec<u8> = (0..=250).cycle().take(length).collect();
        let hash = blake3::hash(&input).to_hex();
        assert_eq!(hash.as_str(), published, "{length} bytes");
    }
}
