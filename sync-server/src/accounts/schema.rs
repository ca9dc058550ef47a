//! Tables of `office.sqlite` and the numbered steps that lead to them.
//!
//! A step is never edited once released: a change is a new step at the end of [`STEPS`].

use super::sums;
use crate::error::AppError;
use crate::sql::Sqlite;
use scupper_core::store::{self, StoreKey};
use std::path::Path;

pub(super) const STEPS: &[&str] = &[
    // 1: who there is, what they hold, what they may see.
    "CREATE TABLE contractor (
         id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
     CREATE TABLE person (
         id INTEGER PRIMARY KEY,
         contractor INTEGER NOT NULL REFERENCES contractor,
         name TEXT NOT NULL,
         full_name TEXT,
         role TEXT NOT NULL CHECK (role IN ('technician', 'reviewer')),
         password TEXT,
         UNIQUE (contractor, name));
     CREATE TABLE code (
         digest BLOB PRIMARY KEY,
         person INTEGER NOT NULL REFERENCES person,
         purpose TEXT NOT NULL CHECK (purpose IN ('enrol', 'sign_in')),
         expires_at INTEGER NOT NULL,
         used_at INTEGER) WITHOUT ROWID;
     CREATE TABLE device (
         id TEXT PRIMARY KEY,
         person INTEGER NOT NULL REFERENCES person,
         name TEXT NOT NULL,
         digest BLOB NOT NULL UNIQUE,
         enrolled_at INTEGER NOT NULL,
         seen_at INTEGER,
         revoked_at INTEGER) WITHOUT ROWID;
     CREATE TABLE session (
         digest BLOB PRIMARY KEY,
         person INTEGER NOT NULL REFERENCES person,
         expires_at INTEGER NOT NULL) WITHOUT ROWID;
     CREATE TABLE customer_link (
         digest BLOB PRIMARY KEY,
         contractor INTEGER NOT NULL REFERENCES contractor,
         survey TEXT NOT NULL,
         made_by INTEGER NOT NULL REFERENCES person,
         made_at INTEGER NOT NULL,
         expires_at INTEGER NOT NULL,
         revoked_at INTEGER) WITHOUT ROWID;
     CREATE TABLE settled (
         seq INTEGER PRIMARY KEY,
         contractor INTEGER NOT NULL REFERENCES contractor,
         survey TEXT NOT NULL,
         at INTEGER NOT NULL,
         who TEXT NOT NULL,
         said TEXT NOT NULL,
         undo TEXT,
         undone INTEGER NOT NULL DEFAULT 0);
     CREATE INDEX settled_survey ON settled (contractor, survey, seq);
     CREATE TABLE office (
         only INTEGER PRIMARY KEY CHECK (only = 1),
         device TEXT NOT NULL);
     CREATE TABLE audit (
         seq INTEGER PRIMARY KEY,
         at INTEGER NOT NULL,
         contractor INTEGER,
         who TEXT NOT NULL,
         what TEXT NOT NULL,
         about TEXT NOT NULL);",
    // 2: people limited to named surveys, passwords that are tried too often, tokens whose
    // successor is on its way.
    "ALTER TABLE person ADD COLUMN limited INTEGER NOT NULL DEFAULT 0;
     ALTER TABLE person ADD COLUMN failed INTEGER NOT NULL DEFAULT 0;
     CREATE TABLE allowed (
         person INTEGER NOT NULL REFERENCES person,
         survey TEXT NOT NULL,
         PRIMARY KEY (person, survey)) WITHOUT ROWID;
     ALTER TABLE device ADD COLUMN next_digest BLOB;
     ALTER TABLE device ADD COLUMN token_at INTEGER NOT NULL DEFAULT 0;
     UPDATE device SET token_at = enrolled_at;
     CREATE UNIQUE INDEX device_next ON device (next_digest) WHERE next_digest IS NOT NULL;",
    // 3: hazards that someone answers for, what a price rests on, and the list of surveys, which
    // is derived and can be dropped.
    "CREATE TABLE hazard_seen (
         contractor INTEGER NOT NULL REFERENCES contractor,
         survey TEXT NOT NULL,
         hazard TEXT NOT NULL,
         who TEXT NOT NULL,
         at INTEGER NOT NULL,
         PRIMARY KEY (contractor, survey, hazard)) WITHOUT ROWID;
     CREATE TABLE rates (
         contractor INTEGER NOT NULL REFERENCES contractor,
         survey TEXT NOT NULL,
         book TEXT NOT NULL,
         who TEXT NOT NULL,
         at INTEGER NOT NULL,
         PRIMARY KEY (contractor, survey));
     CREATE TABLE price_version (
         seq INTEGER PRIMARY KEY,
         contractor INTEGER NOT NULL REFERENCES contractor,
         survey TEXT NOT NULL,
         at INTEGER NOT NULL,
         who TEXT NOT NULL,
         title TEXT NOT NULL,
         heads TEXT NOT NULL,
         as_of TEXT NOT NULL,
         book TEXT NOT NULL,
         figures TEXT NOT NULL);
     CREATE INDEX price_version_survey ON price_version (contractor, survey, seq);
     CREATE TABLE listed (
         contractor INTEGER NOT NULL,
         survey TEXT NOT NULL,
         stands TEXT NOT NULL,
         entry TEXT NOT NULL,
         PRIMARY KEY (contractor, survey));
     CREATE VIRTUAL TABLE found USING fts5 (
         body, contractor UNINDEXED, survey UNINDEXED, tokenize = 'trigram');",
    // 4: where the office's own work on one survey stands, found at once.
    "CREATE INDEX audit_about ON audit (contractor, about, seq);",
    // 5: a locked price keeps the maintenance programme that it went by.
    "ALTER TABLE price_version ADD COLUMN programme TEXT;",
    // 6: a sum for every row, see `sums`.
    "CREATE TABLE row_sum (sum BLOB PRIMARY KEY) WITHOUT ROWID;",
];

/// The step from which rows have sums.
pub(super) const SUMS: u32 = 6;

/// Opens the database and brings it to the newest step; one from the future is refused, and one
/// that is not what was written.
pub(super) fn open(path: &Path, key: Option<&StoreKey>) -> Result<Sqlite, AppError> {
    let mut db = store::connect(path, key)?;
    db.pragma_update(None, "journal_mode", "WAL")?;
    db.pragma_update(None, "synchronous", "FULL")?;
    db.pragma_update(None, "foreign_keys", true)?;
    db.pragma_update(None, "temp_store", "MEMORY")?;
    db.busy_timeout(std::time::Duration::from_secs(5))?;
    let change = db.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
    let at: u32 = change.pragma_query_value(None, "user_version", |row| row.get(0))?;
    let newest = STEPS.len() as u32;
    if at > newest {
        return Err(AppError::Unusable(format!(
            "office.sqlite has schema {at}, this program knows up to {newest}; use the newer program"
        )));
    }
    sums::define(&change)?;
    if at >= SUMS {
        sums::check(&change)?;
    }
    for step in STEPS.iter().skip(at as usize) {
        change.execute_batch(step)?;
    }
    change.pragma_update(None, "user_version", newest)?;
    if at < newest {
        // A step may have given rows another shape.
        sums::make(&change)?;
    }
    sums::keep(&change)?;
    change.commit()?;
    Ok(Sqlite::new(db, key.cloned()))
}
