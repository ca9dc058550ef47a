//! What a camera wrote beside the picture: which way is up, when, where.
//!
//! Never an error: a photo without EXIF, or with nonsense in it, is still a photo.

use chrono::{DateTime, FixedOffset, NaiveDate, Offset, Utc};
use exif::{In, Rational, Tag, Value};
use std::io::Cursor;

/// The parts of EXIF that a survey uses. Tags by name as in EXIF 2.32 (CIPA DC-008-2019).
#[derive(Debug, Default, PartialEq)]
pub(super) struct Exif {
    /// `Orientation`, 1 to 8; 1 when absent.
    pub(super) orientation: u8,
    /// `DateTimeOriginal` with `OffsetTimeOriginal`; UTC is assumed when no offset is given.
    pub(super) taken_at: Option<DateTime<FixedOffset>>,
    /// Degrees north and east.
    pub(super) place: Option<(f64, f64)>,
}

impl Exif {
    pub(super) fn read(file: &[u8]) -> Self {
        let mut reader = exif::Reader::new();
        reader.continue_on_error(true);
        let read = reader.read_from_container(&mut Cursor::new(file));
        let Ok(data) = read.or_else(|error| error.distill_partial_result(|_| {})) else {
            return Self {
                orientation: 1,
                ..Self::default()
            };
        };
        let value = |tag| data.get_field(tag, In::PRIMARY).map(|field| &field.value);
        let orientation = value(Tag::Orientation).and_then(|v| v.get_uint(0));
        Self {
            orientation: orientation
                .and_then(|o| u8::try_from(o).ok())
                .filter(|o| (1..=8).contains(o))
                .unwrap_or(1),
            taken_at: value(Tag::DateTimeOriginal)
                .and_then(|time| taken_at(time, value(Tag::OffsetTimeOriginal))),
            place: place(
                degrees(
                    value(Tag::GPSLatitude),
                    value(Tag::GPSLatitudeRef),
                    b'S',
                    90.0,
                ),
                degrees(
                    value(Tag::GPSLongitude),
                    value(Tag::GPSLongitudeRef),
                    b'W',
                    180.0,
                ),
            ),
        }
    }
}

fn ascii(value: &Value) -> Option<&[u8]> {
    match value {
        Value::Ascii(lines) => lines.first().map(Vec::as_slice),
        _ => None,
    }
}

fn taken_at(time: &Value, offset: Option<&Value>) -> Option<DateTime<FixedOffset>> {
    let mut time = exif::DateTime::from_ascii(ascii(time)?).ok()?;
    if let Some(offset) = offset.and_then(ascii) {
        let _ = time.parse_offset(offset);
    }
    let zone = match time.offset {
        Some(minutes) => FixedOffset::east_opt(i32::from(minutes) * 60)?,
        None => Utc.fix(),
    };
    let day = NaiveDate::from_ymd_opt(time.year.into(), time.month.into(), time.day.into())?;
    let clock = day.and_hms_opt(time.hour.into(), time.minute.into(), time.second.into())?;
    clock.and_local_timezone(zone).single()
}

fn degrees(value: Option<&Value>, side: Option<&Value>, negative: u8, most: f64) -> Option<f64> {
    let Some(Value::Rational(parts)) = value else {
        return None;
    };
    let part = |n: usize| match parts.get(n) {
        None => Some(0.0),
        Some(Rational { denom: 0, .. }) => None,
        Some(ratio) => Some(ratio.to_f64()),
    };
    let degrees = part(0)? + part(1)? / 60.0 + part(2)? / 3600.0;
    let side = side.and_then(ascii).and_then(|side| side.first());
    let signed = if side == Some(&negative) {
        -degrees
    } else {
        degrees
    };
    (!parts.is_empty() && signed.abs() <= most).then_some(signed)
}

fn place(north: Option<f64>, east: Option<f64>) -> Option<(f64, f64)> {
    north.zip(east)
}
