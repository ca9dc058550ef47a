//! Enrolled devices: their tokens, what becomes of a lost one.

use super::people::{spend, tidy_name};
use super::{Accounts, Caller, Rights, note};
use crate::error::AppError;
use crate::random;
use crate::sql::values;

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
        let name = self.within(|db| {
            let (person, contractor, name) = spend(db, now, "enrol", code)?;
            let holder = db.row("SELECT person FROM device WHERE id = ?1", values![device])?;
            if let Some(holder) = holder
                && holder.int(0)? != person
            {
                return Err(AppError::Conflict {
                    detail: "this device is enrolled for someone else; reset the app to get a new \
                             device identity"
                        .to_owned(),
                    headers: Vec::new(),
                });
            }
            db.execute(
                "INSERT INTO device (id, person, name, digest, enrolled_at, token_at)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?5)
                 ON CONFLICT (id) DO UPDATE SET name = excluded.name, digest = excluded.digest,
                     enrolled_at = excluded.enrolled_at, token_at = excluded.token_at,
                     next_digest = NULL, revoked_at = NULL",
                values![device, person, device_name, random::digest(&token), now],
            )?;
            note(
                db,
                now,
                Some(contractor),
                &name,
                "enrolled a device",
                device,
            )?;
            Ok(name)
        })?;
        Ok((token, name))
    }

    /// Who a device token belongs to. The first use of a fresh token ends the one before it.
    pub fn device(&self, now: i64, token: &str) -> Result<Caller, AppError> {
        let digest = random::digest(token);
        let found = self.db.row(
            "SELECT d.id, p.contractor, p.name, d.seen_at, p.id, p.limited,
                 CASE WHEN d.digest = ?1 THEN 0 ELSE 1 END
             FROM device d JOIN person p ON p.id = d.person
             WHERE (d.digest = ?1 OR d.next_digest = ?1) AND d.revoked_at IS NULL
                 AND (coalesce(d.seen_at, 0) > ?2 OR d.enrolled_at > ?2)",
            values![digest.clone(), now - IDLE],
        )?;
        let row = found.ok_or(AppError::Unauthorized)?;
        let device = row.text(0)?;
        if row.truth(6)? {
            self.db.execute(
                "UPDATE device SET digest = next_digest, next_digest = NULL, token_at = ?1
                 WHERE next_digest = ?2",
                values![now, digest],
            )?;
        }
        // Once a minute is enough to tell a lost phone; each write costs a disk flush.
        if row.opt_int(3)?.is_none_or(|seen| now - seen >= 60) {
            self.db.execute(
                "UPDATE device SET seen_at = ?1 WHERE id = ?2",
                values![now, &device],
            )?;
        }
        Ok(Caller {
            contractor: row.int(1)?,
            name: row.text(2)?,
            rights: Rights::Device(device),
            reach: self.reach_of(row.int(4)?, row.truth(5)?)?,
        })
    }

    /// A fresh token for a device. The old one works until the fresh one is first used, so that
    /// an answer lost on the way shuts nobody out.
    pub fn rotate(&self, now: i64, caller: &Caller) -> Result<String, AppError> {
        let Rights::Device(device) = &caller.rights else {
            return Err(AppError::Forbidden("only a device has a token".to_owned()));
        };
        let token = random::token()?;
        self.within(|db| {
            db.execute(
                "UPDATE device SET next_digest = ?1 WHERE id = ?2 AND revoked_at IS NULL",
                values![random::digest(&token), device],
            )?;
            let (whose, who) = (Some(caller.contractor), &caller.name);
            note(db, now, whose, who, "asked for a fresh token", device)
        })?;
        Ok(token)
    }

    /// Shuts a device out at once. What it sent before stays.
    pub fn revoke(&self, now: i64, contractor: i64, device: &str) -> Result<(), AppError> {
        self.within(|db| {
            let done = db.execute(
                "UPDATE device SET revoked_at = ?1 WHERE id = ?2 AND revoked_at IS NULL
                 AND person IN (SELECT id FROM person WHERE contractor = ?3)",
                values![now, device, contractor],
            )?;
            if done == 0 {
                return Err(AppError::NotFound("an enrolled device of that id"));
            }
            note(
                db,
                now,
                Some(contractor),
                "office",
                "revoked a device",
                device,
            )
        })
    }

    /// Every device of a contractor, by person.
    pub fn devices(&self, contractor: i64) -> Result<Vec<DeviceRow>, AppError> {
        let rows = self.db.rows(
            "SELECT d.id, p.name, d.name, d.enrolled_at, d.seen_at, d.revoked_at
             FROM device d JOIN person p ON p.id = d.person
             WHERE p.contractor = ?1 ORDER BY p.name, d.id",
            values![contractor],
        )?;
        let device = |row: &crate::sql::Row| {
            Ok(DeviceRow {
                id: row.text(0)?,
                person: row.text(1)?,
                name: row.text(2)?,
                enrolled_at: row.int(3)?,
                seen_at: row.opt_int(4)?,
                revoked_at: row.opt_int(5)?,
            })
        };
        rows.iter().map(device).collect()
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
