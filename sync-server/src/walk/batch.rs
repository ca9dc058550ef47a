//! What a phone without the app sends: raw notes, photos it has uploaded, units not on the plan.
//!
//! Only shapes and what can be checked without a survey. A note is a transcript as the contracts
//! write it; what it means is decided in core, at the office.

use crate::accounts::Caller;
use crate::desk::is_hash;
use crate::error::AppError;
use chrono::{DateTime, FixedOffset};
use scupper_core::survey::SITE;
use scupper_core::survey::codes::EquipmentKind;
use scupper_core::survey::spoken::Transcript;
use serde::Deserialize;
use utoipa::ToSchema;
use uuid::Uuid;

/// Entries in one message, at most.
const MOST: usize = 200;
/// Letters of a tag, and of a caption.
const TAG: usize = 40;
const CAPTION: usize = 2000;

/// What a phone kept since it was last answered. Sent twice it changes nothing.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Batch {
    /// The phone's clock as it sends this.
    #[schema(value_type = String, format = DateTime)]
    pub(crate) sent_at: DateTime<FixedOffset>,
    /// Units that were not on the list.
    #[serde(default)]
    #[schema(max_items = 50)]
    pub(crate) units: Vec<NewUnit>,
    /// Notes, oldest first.
    #[serde(default)]
    #[schema(value_type = Vec<RawNote>, max_items = 50)]
    pub(crate) notes: Vec<Transcript>,
    /// Photos whose original was uploaded.
    #[serde(default)]
    #[schema(max_items = 50)]
    pub(crate) photos: Vec<Shot>,
}

/// A unit that was not on the list.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct NewUnit {
    /// Its UUIDv7, made by the phone.
    #[schema(pattern = "^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$")]
    pub(crate) id: String,
    /// What is written on it or its drawing.
    #[schema(pattern = "^[A-Z]{1,6}-[0-9]{1,4}$")]
    pub(crate) tag: String,
    /// What it is.
    #[schema(
        value_type = String,
        pattern = "^((packaged_rooftop|condensing|makeup_air|dedicated_outdoor_air|ductless_outdoor)_unit|\
                   heat_pump|(exhaust|supply)_fan|evaporative_cooler|air_cooled_chiller|\
                   cooling_tower|other)$"
    )]
    pub(crate) kind: EquipmentKind,
    /// When it was entered, by the phone's clock.
    #[schema(value_type = String, format = DateTime)]
    pub(crate) at: DateTime<FixedOffset>,
}

/// A photo's place in the survey.
#[derive(Debug, Deserialize, ToSchema)]
pub(crate) struct Shot {
    /// Its UUIDv7, made by the phone.
    #[schema(pattern = "^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$")]
    pub(crate) id: String,
    /// BLAKE3 of the original in hex.
    #[schema(pattern = "^[0-9a-f]{64}$")]
    pub(crate) hash: String,
    /// Who took it, if said; nobody but the one who sends it.
    #[serde(default)]
    #[schema(max_length = 0)]
    pub(crate) author: Option<String>,
    /// The unit it shows, or `site`.
    #[serde(rename = "ref", default)]
    #[schema(pattern = "^(site|[A-Z]{1,6}-[0-9]{1,4})$")]
    pub(crate) about: Option<String>,
    /// What it shows, in free words.
    #[serde(default)]
    #[schema(max_length = 2000)]
    pub(crate) caption: Option<String>,
    /// When it was taken, by the phone's clock.
    #[schema(value_type = String, format = DateTime)]
    pub(crate) at: DateTime<FixedOffset>,
}

/// A transcript, as `docs/protocol.md` and the contracts write it.
#[derive(ToSchema)]
#[allow(dead_code, reason = "only described")]
pub(crate) struct RawNote {
    /// Its UUIDv7, made by the phone.
    #[schema(pattern = "^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$")]
    note_id: String,
    /// When it was begun, by the phone's clock.
    #[schema(format = DateTime)]
    recorded_at: String,
    #[schema(max_items = 20)]
    segments: Vec<Piece>,
}

/// A piece of a note; also `start_ms` and `end_ms` from its beginning, written without a point,
/// which a schema cannot ask for, and `alternatives`.
#[derive(ToSchema)]
#[allow(dead_code, reason = "only described")]
pub(crate) struct Piece {
    text: String,
    #[schema(minimum = 0, maximum = 1)]
    confidence: Option<f64>,
}

impl Batch {
    /// Refuses what no survey could take, or what someone else is said to have entered.
    pub(super) fn check(&self, caller: &Caller) -> Result<(), AppError> {
        if self.units.len() + self.notes.len() + self.photos.len() > MOST {
            let problem = format!("more than {MOST} entries; send fewer at a time");
            return Err(AppError::input("notes", problem));
        }
        for (i, unit) in self.units.iter().enumerate() {
            named(&format!("units[{i}].id"), &unit.id)?;
            tag(&format!("units[{i}].tag"), &unit.tag)?;
        }
        for (i, note) in self.notes.iter().enumerate() {
            named(&format!("notes[{i}].note_id"), &note.note_id)?;
            own(caller, note.author.as_deref())?;
            words(i, note)?;
        }
        for (i, shot) in self.photos.iter().enumerate() {
            named(&format!("photos[{i}].id"), &shot.id)?;
            own(caller, shot.author.as_deref())?;
            if !is_hash(&shot.hash) {
                let problem = "must be a BLAKE3 in 64 small hex digits";
                return Err(AppError::input(&format!("photos[{i}].hash"), problem));
            }
            if let Some(about) = shot.about.as_deref().filter(|about| *about != SITE) {
                tag(&format!("photos[{i}].ref"), about)?;
            }
            if shot
                .caption
                .as_ref()
                .is_some_and(|text| text.chars().count() > CAPTION)
            {
                let problem = format!("is longer than {CAPTION} letters; make a note of it");
                return Err(AppError::input(&format!("photos[{i}].caption"), problem));
            }
        }
        Ok(())
    }
}

fn named(place: &str, id: &str) -> Result<(), AppError> {
    let read = Uuid::try_parse(id).ok();
    match read.is_some_and(|it| it.get_version_num() == 7 && it.to_string() == id) {
        true => Ok(()),
        false => Err(AppError::input(
            place,
            "must be a UUIDv7 in small hex digits with dashes (RFC 9562)",
        )),
    }
}

fn own(caller: &Caller, author: Option<&str>) -> Result<(), AppError> {
    match author {
        Some(other) if other != caller.name => Err(AppError::Forbidden(format!(
            "this phone is enrolled for {}, and enters nothing for anyone else; enrol it again",
            caller.name
        ))),
        _ => Ok(()),
    }
}

fn tag(place: &str, text: &str) -> Result<(), AppError> {
    let count = text.chars().count();
    if text.trim() != text || !(1..=TAG).contains(&count) || text.chars().any(char::is_control) {
        let problem = format!("must be a tag such as RTU-2, of at most {TAG} letters");
        return Err(AppError::input(place, problem));
    }
    match text.eq_ignore_ascii_case(SITE) {
        true => Err(AppError::input(
            place,
            "means the roof itself; give the unit's own tag",
        )),
        false => Ok(()),
    }
}

fn words(i: usize, note: &Transcript) -> Result<(), AppError> {
    if note.recorded_at.is_none() {
        let place = format!("notes[{i}].recorded_at");
        return Err(AppError::input(&place, "is missing; say when it began"));
    }
    for (j, piece) in note.segments.iter().enumerate() {
        if piece
            .confidence
            .is_some_and(|trust| !(0.0..=1.0).contains(&trust))
        {
            let place = format!("notes[{i}].segments[{j}].confidence");
            return Err(AppError::input(&place, "must be from 0 to 1"));
        }
    }
    Ok(())
}
