//! From one machine's folder into a shared place, once: accounts, documents, photos.

use super::photos::is;
use super::{Objects, SharedPlace};
use crate::error::AppError;
use crate::sql::{Database, Sqlite, Value, values};
use scupper_core::capture::durable;
use scupper_core::document::Actor;
use scupper_core::store::{Limits, Part, Store, StoreKey, UploadHead};
use std::path::Path;

/// Tables of the accounts in the order of what refers to what; columns with their kind: `i`
/// number, `t` text, `b` bytes.
const ACCOUNTS: &[(&str, &str)] = &[
    ("contractor", "id:i name:t"),
    (
        "person",
        "id:i contractor:i name:t full_name:t role:t password:t limited:i failed:i",
    ),
    ("allowed", "person:i survey:t"),
    ("code", "digest:b person:i purpose:t expires_at:i used_at:i"),
    (
        "device",
        "id:t person:i name:t digest:b enrolled_at:i seen_at:i revoked_at:i next_digest:b token_at:i",
    ),
    ("session", "digest:b person:i expires_at:i"),
    (
        "customer_link",
        "digest:b contractor:i survey:t made_by:i made_at:i expires_at:i revoked_at:i",
    ),
    (
        "settled",
        "seq:i contractor:i survey:t at:i who:t said:t undo:t undone:i",
    ),
    ("hazard_seen", "contractor:i survey:t hazard:t who:t at:i"),
    ("rates", "contractor:i survey:t book:t who:t at:i"),
    (
        "price_version",
        "seq:i contractor:i survey:t at:i who:t title:t heads:t as_of:t book:t figures:t programme:t",
    ),
    ("office", "\"only\":i device:t"),
    ("audit", "seq:i at:i contractor:i who:t what:t about:t"),
];

/// Tables whose numbers go on from the highest.
const NUMBERED: [(&str, &str); 5] = [
    ("contractor", "id"),
    ("person", "id"),
    ("settled", "seq"),
    ("price_version", "seq"),
    ("audit", "seq"),
];

/// What was moved.
#[derive(Debug, Default)]
pub(crate) struct Moved {
    /// Surveys.
    pub(crate) surveys: usize,
    /// Files of photos.
    pub(crate) files: usize,
}

/// Moves everything of a data folder; the folder stays as it is. The database must hold no office
/// yet. Uploads under way are left out: devices send them again.
pub(crate) fn move_in(
    data: &Path,
    accounts: &Sqlite,
    stores: &[(i64, std::path::PathBuf)],
    key: Option<&StoreKey>,
    (url, objects): (&str, &Objects),
) -> Result<Moved, AppError> {
    let db = SharedPlace::connect(url)?;
    let to: &dyn Database = &db;
    if to
        .row("SELECT 1 FROM contractor LIMIT 1", Vec::new())?
        .is_some()
    {
        return Err(AppError::Unusable(
            "the database holds an office already; give an empty one".to_owned(),
        ));
    }
    let mut moved = Moved::default();
    // Photos and documents first: an office without accounts is not begun, and can be moved again.
    for (contractor, dir) in stores {
        let place = SharedPlace::new(
            db.clone(),
            objects.clone(),
            *contractor,
            Limits::default(),
            &data.join("cache"),
        );
        let store = Store::open_keyed(dir, Limits::default(), key)?;
        firm(&place, &store, &mut moved)?;
    }
    let from: &dyn Database = accounts;
    to.within(|to| {
        for (table, columns) in ACCOUNTS {
            let (names, kinds): (Vec<&str>, Vec<&str>) = columns
                .split(' ')
                .filter_map(|column| column.split_once(':'))
                .unzip();
            let places: Vec<String> = (1..=names.len()).map(|n| format!("?{n}")).collect();
            let names = names.join(", ");
            let into = format!(
                "INSERT INTO {table} ({names}) VALUES ({})",
                places.join(", ")
            );
            for row in from.rows(&format!("SELECT {names} FROM {table}"), Vec::new())? {
                let typed =
                    row.0
                        .into_iter()
                        .zip(&kinds)
                        .map(|(value, kind)| match (value, *kind) {
                            (Value::Int(None), "t") => Value::Text(None),
                            (Value::Int(None), "b") => Value::Bytes(None),
                            (value, _) => value,
                        });
                to.execute(&into, typed.collect())?;
            }
        }
        for (table, column) in NUMBERED {
            to.row(
                &format!(
                    "SELECT setval(pg_get_serial_sequence('{table}', '{column}'),
                         (SELECT coalesce(max({column}), 0) + 1 FROM {table}), false)"
                ),
                Vec::new(),
            )?;
        }
        Ok(())
    })?;
    Ok(moved)
}

fn firm(place: &SharedPlace, store: &Store, moved: &mut Moved) -> Result<(), AppError> {
    if let Some(key) = store.fact(crate::desk::SEAL_KEY)? {
        place.db().execute(
            "INSERT INTO fact (contractor, name, value) VALUES (?1, ?2, ?3)
             ON CONFLICT (contractor, name) DO UPDATE SET value = excluded.value",
            values![place.contractor, crate::desk::SEAL_KEY, key],
        )?;
    }
    for entry in store.surveys()? {
        let actor = Actor::of_device("office-move", [0; 6]);
        let Some(loaded) = durable::load(store, &entry.id, actor)? else {
            continue;
        };
        if let Some(problem) = loaded.problems.first() {
            return Err(AppError::Unusable(format!(
                "{problem}; bring a device that has it level with the old server first"
            )));
        }
        place.begin(&entry.id, loaded.doc.save())?;
        moved.surveys += 1;
    }
    for row in store.all_photos()? {
        let hash = &row.meta.hash;
        let surveys = store.surveys_of_photo(hash)?;
        let Some((first, others)) = surveys.split_first() else {
            continue;
        };
        let original = row.original_here.then(|| hash.clone());
        for (part, content) in [(Part::Thumbnail, row.thumbnail), (Part::Original, original)] {
            let (Some(content), Some(file)) = (content, store.file(hash, part)?) else {
                continue;
            };
            let bytes = std::fs::read(file)?;
            // One that is damaged is left out: it is asked for again from devices.
            if !is(&bytes, &content) {
                continue;
            }
            let head = UploadHead {
                hash: hash.clone(),
                part,
                survey: first.clone(),
                media_type: row.meta.media_type.clone(),
                length: bytes.len() as u64,
                content,
            };
            place.put_whole(&head, bytes)?;
            for survey in others {
                let survey = survey.clone();
                let shown = UploadHead {
                    survey,
                    ..head.clone()
                };
                place.begin_one(&shown, 0)?;
            }
            moved.files += 1;
        }
    }
    Ok(())
}
