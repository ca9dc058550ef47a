//! Enrolled devices: their tokens, what becomes of a lost one.

use super::people::{spend, tidy_name};
use super::{Accounts, Caller, Reach, Rights, note};
use crate::error::AppError;
use crate::random;
use rusqlite::{OptionalExtension, params};

/// Seconds without a call after which a device must be enrolled again: half a year.
const IDLE: i64 = 180 * 24 * 3600;

/// A device as the office lists it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DeviceRow {
    /// Identity; also the actor of its changes.
    pub id: String,
    /// Whose it is.
    pub person: String,
    /// What they call it.
    pub name: String,
    /// When it was enrolled, in Unix seconds.
    pub enrolled_at: i64,
    /// When it last called, in Unix seconds.
    pub seen_at: Option<i64>,
    /// When it was shut out, in Unix seconds.
    pub revoked_at: Option<i64>,
}

impl Accounts {
    /// Enrols a device with a one-time code. Returns its token and its person's name. A device
    /// that its own person enrols again gets a new token and the old one stops working.
    pub fn enrol(
        &self,
        now: i64,
        code: &str,
        device: &str,
        device_name: &str,
    ) -> Result<(String, String), AppError> {
        check_device_id(device)?;
        let device_name = tidy_name("device_name", device_name)?;
        let token = random::token()?;
        let mut db = self.db()?;
        let change = db.transaction()?;
        let (person, contractor, name) = spend(&change, now, "enrol", code)?;
        let holder: Option<i64> = change
            .query_row("SELECT person FROM device WHERE id = ?1", [device], |row| {
                row.get(0)
            })
            .optional()?;
        if holder.is_some_and(|holder| holder != person) {
            return Err(AppError::Conflict {
                detail: "this device is enrolled for someone else; reset the app to get a new \
                         device identity"
                    .to_owned(),
                headers: Vec::new(),
            });
        }
        change.execute(
            "INSERT INTO device (id, person, name, digest, enrolled_at, token_at)
             VALUES (?1, ?2, ?3, ?4, ?5, ?5)
             ON CONFLICT (id) DO UPDATE SET name = excluded.name, digest = excluded.digest,
                 enrolled_at = excluded.enrolled_at, token_at = excluded.token_at,
                 next_digest = NULL, revoked_at = NULL",
            params![device, person, device_name, random::digest(&token), now],
        )?;
        note(
            &change,
            now,
            Some(contractor),
            &name,
            "enrolled a device",
            device,
        )?;
        change.commit()?;
        Ok((token, name))
    }

    /// Who a device token belongs to. The first use of a fresh token ends the one before it.
    pub fn device(&self, now: i64, token: &str) -> Result<Caller, AppError> {
        struct Row {
            id: String,
            contractor: i64,
            name: String,
            seen_at: Option<i64>,
            person: i64,
            limited: bool,
            fresh: bool,
        }
        let db = self.db()?;
        let mut query = db.prepare_cached(
            "SELECT d.id, p.contractor, p.name, d.seen_at, p.id, p.limited, d.digest <> ?1
             FROM device d JOIN person p ON p.id = d.person
             WHERE (d.digest = ?1 OR d.next_digest = ?1) AND d.revoked_at IS NULL
                 AND max(coalesce(d.seen_at, 0), d.enrolled_at) > ?2",
        )?;
        let digest = random::digest(token);
        let found = query
            .query_row(params![digest, now - IDLE], |row| {
                Ok(Row {
                    id: row.get(0)?,
                    contractor: row.get(1)?,
                    name: row.get(2)?,
                    seen_at: row.get(3)?,
                    person: row.get(4)?,
                    limited: row.get(5)?,
                    fresh: row.get(6)?,
                })
            })
            .optional()?;
        let row = found.ok_or(AppError::Unauthorized)?;
        if row.fresh {
            db.execute(
                "UPDATE device SET digest = next_digest, next_digest = NULL, token_at = ?1
                 WHERE next_digest = ?2",
                params![now, digest],
            )?;
        }
        // Once a minute is enough to tell a lost phone; each write costs a disk flush.
        if row.seen_at.is_none_or(|seen| now - seen >= 60) {
            db.prepare_cached("UPDATE device SET seen_at = ?1 WHERE id = ?2")?
                .execute(params![now, row.id])?;
        }
        Ok(Caller {
            contractor: row.contractor,
            name: row.name,
            rights: Rights::Device(row.id),
            reach: Reach::of(&db, row.person, row.limited)?,
        })
    }

    /// A fresh token for a device. The old one works until the fresh one is first used, so that
    /// an answer lost on the way shuts nobody out.
    pub fn rotate(&self, now: i64, caller: &Caller) -> Result<String, AppError> {
        let Rights::Device(device) = &caller.rights else {
            return Err(AppError::Forbidden("only a device has a token".to_owned()));
        };
        let token = random::token()?;
        let mut db = self.db()?;
        let change = db.transaction()?;
        change.execute(
            "UPDATE device SET next_digest = ?1 WHERE id = ?2 AND revoked_at IS NULL",
            params![random::digest(&token), device],
        )?;
        note(
            &change,
            now,
            Some(caller.contractor),
            &caller.name,
            "asked for a fresh token",
            device,
        )?;
        change.commit()?;
        Ok(token)
    }

    /// Shuts a device out at once. What it sent before stays.
    pub fn revoke(&self, now: i64, contractor: i64, device: &str) -> Result<(), AppError> {
        let mut db = self.db()?;
        let change = db.transaction()?;
        let done = change.execute(
            "UPDATE device SET revoked_at = ?1 WHERE id = ?2 AND revoked_at IS NULL
             AND person IN (SELECT id FROM person WHERE contractor = ?3)",
            params![now, device, contractor],
        )?;
        if done == 0 {
            return Err(AppError::NotFound("an enrolled device of that id"));
        }
        note(
            &change,
            now,
            Some(contractor),
            "office",
            "revoked a device",
            device,
        )?;
        change.commit()?;
        Ok(())
    }

    /// Every device of a contractor, by person.
    pub fn devices(&self, contractor: i64) -> Result<Vec<DeviceRow>, AppError> {
        let db = self.db()?;
        let mut query = db.prepare_cached(
            "SELECT d.id, p.name, d.name, d.enrolled_at, d.seen_at, d.revoked_at
             FROM device d JOIN person p ON p.id = d.person
             WHERE p.contractor = ?1 ORDER BY p.name, d.id",
        )?;
        let rows = query.query_map([contractor], |row| {
            Ok(DeviceRow {
                id: row.get(0)?,
                person: row.get(1)?,
                name: row.get(2)?,
                enrolled_at: row.get(3)?,
                seen_at: row.get(4)?,
                revoked_at: row.get(5)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

fn check_device_id(device: &str) -> Result<(), AppError> {
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    if !(1..=64).contains(&device.len()) || !device.chars().all(plain) {
        return Err(AppError::input(
            "device_id",
            "must be 1 to 64 letters, digits, dashes or underscores",
        ));
    }
    if device.starts_with("office-") {
        return Err(AppError::input(
            "device_id",
            "must not begin with `office-`, which the office uses",
        ));
    }
    Ok(())
}
