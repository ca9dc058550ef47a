//! How types that are not ours cross over to Kotlin, Swift and Python. Only with the feature
//! `uniffi`; called by its derives alone. Decides no names of ours and converts no record.

use chrono::{DateTime, FixedOffset};
use std::path::PathBuf;

/// A place in a text or a number of things: a plain whole number in each language, where fewer
/// than none is none.
pub type Count = usize;
/// A time with its offset from UTC, as RFC 3339 text.
pub type Moment = DateTime<FixedOffset>;
/// A value of a field, as JSON text.
pub type Json = serde_json::Value;
/// A file or folder of this device.
pub type FilePath = PathBuf;

uniffi::custom_type!(Count, i32, {
    remote,
    lower: |count| i32::try_from(count).unwrap_or(i32::MAX),
    try_lift: |count| Ok(usize::try_from(count).unwrap_or(0)),
});

uniffi::custom_type!(Moment, String, {
    remote,
    lower: |moment| moment.to_rfc3339(),
    try_lift: |text| Ok(DateTime::parse_from_rfc3339(&text)?),
});

uniffi::custom_type!(FilePath, String, {
    remote,
    lower: |path| path.to_string_lossy().into_owned(),
    try_lift: |text| Ok(PathBuf::from(text)),
});

uniffi::custom_type!(Json, String, {
    remote,
    lower: |value| value.to_string(),
    try_lift: |text| Ok(serde_json::from_str(&text)?),
});
