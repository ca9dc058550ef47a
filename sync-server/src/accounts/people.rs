//! Contractors and people, one-time codes, reviewers' sessions.

use super::{Accounts, Caller, Reach, Rights, Role, note};
use crate::error::AppError;
use crate::random;
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::BTreeMap;
use std::time::Duration;

impl Accounts {
    /// The contractor of this name, made if new.
    pub fn contractor(&self, name: &str) -> Result<i64, AppError> {
        let name = tidy_name("contractor", name)?;
        let db = self.db()?;
        db.execute(
            "INSERT OR IGNORE INTO contractor (name) VALUES (?1)",
            [&name],
        )?;
        Ok(
            db.query_row("SELECT id FROM contractor WHERE name = ?1", [&name], |r| {
                r.get(0)
            })?,
        )
    }

    /// Makes a one-time code for a person (made if new): a technician's enrols a device, a
    /// reviewer's signs in. The code is returned once and kept only as a digest.
    pub fn admit(
        &self,
        now: i64,
        life: Duration,
        contractor: i64,
        name: &str,
        role: Role,
    ) -> Result<String, AppError> {
        let name = tidy_name("name", name)?;
        let (code, purpose) = match role {
            Role::Technician => (random::spoken_code()?, "enrol"),
            Role::Reviewer => (random::token()?, "sign_in"),
        };
        let mut db = self.db()?;
        let change = db.transaction()?;
        change.execute(
            "INSERT OR IGNORE INTO person (contractor, name, role) VALUES (?1, ?2, ?3)",
            params![contractor, name, role.word()],
        )?;
        let (person, held): (i64, String) = change.query_row(
            "SELECT id, role FROM person WHERE contractor = ?1 AND name = ?2",
            params![contractor, name],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )?;
        if held != role.word() {
            return Err(AppError::Unusable(format!(
                "{name} is already a {held}; one name has one role, choose another name"
            )));
        }
        change.execute("DELETE FROM code WHERE expires_at < ?1", [now])?;
        let expires = now.saturating_add_unsigned(life.as_secs());
        let kept = random::digest(&random::tidy_code(&code));
        change.execute(
            "INSERT INTO code (digest, person, purpose, expires_at) VALUES (?1, ?2, ?3, ?4)",
            params![kept, person, purpose, expires],
        )?;
        note(
            &change,
            now,
            Some(contractor),
            "office",
            "made a one-time code",
            &name,
        )?;
        change.commit()?;
        Ok(code)
    }

    /// Says who a person is, for those who read their entries.
    pub fn call_person(&self, contractor: i64, name: &str, full: &str) -> Result<(), AppError> {
        let full = tidy_name("full_name", full)?;
        self.db()?.execute(
            "UPDATE person SET full_name = ?1 WHERE contractor = ?2 AND name = ?3",
            params![full, contractor, name],
        )?;
        Ok(())
    }

    /// Full names of a contractor's people by the name that their entries carry.
    pub fn people(&self, contractor: i64) -> Result<BTreeMap<String, String>, AppError> {
        let db = self.db()?;
        let mut query = db.prepare_cached(
            "SELECT name, full_name FROM person WHERE contractor = ?1 AND full_name IS NOT NULL",
        )?;
        let rows = query.query_map([contractor], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Signs a reviewer in with a one-time code; the answer is the session's secret.
    pub fn sign_in(&self, now: i64, life: Duration, code: &str) -> Result<String, AppError> {
        let mut db = self.db()?;
        let change = db.transaction()?;
        let (person, contractor, name) = spend(&change, now, "sign_in", code)?;
        let session = begin_session(&change, now, life, person)?;
        note(
            &change,
            now,
            Some(contractor),
            &name,
            "signed in",
            "by link",
        )?;
        change.commit()?;
        Ok(session)
    }

    /// Who a session belongs to, while it lasts.
    pub fn session(&self, now: i64, secret: &str) -> Result<Caller, AppError> {
        let db = self.db()?;
        let mut query = db.prepare_cached(
            "SELECT p.contractor, p.name, p.id, p.limited
             FROM session s JOIN person p ON p.id = s.person
             WHERE s.digest = ?1 AND s.expires_at > ?2 AND p.role = 'reviewer'",
        )?;
        let found = query
            .query_row(params![random::digest(secret), now], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
            })
            .optional()?;
        let (contractor, name, person, limited) = found.ok_or(AppError::Unauthorized)?;
        let form_key = blake3::derive_key("scupper form key v1", secret.as_bytes());
        let form_key = blake3::Hash::from_bytes(form_key).to_hex().to_string();
        Ok(Caller {
            contractor,
            name,
            rights: Rights::Reviewer { form_key },
            reach: Reach::of(&db, person, limited)?,
        })
    }

    /// Ends a session.
    pub fn sign_out(&self, secret: &str) -> Result<(), AppError> {
        self.db()?.execute(
            "DELETE FROM session WHERE digest = ?1",
            [random::digest(secret)],
        )?;
        Ok(())
    }
}

/// Opens a session and forgets the tries that failed before.
pub(super) fn begin_session(
    change: &Connection,
    now: i64,
    life: Duration,
    person: i64,
) -> Result<String, AppError> {
    let session = random::token()?;
    change.execute("DELETE FROM session WHERE expires_at < ?1", [now])?;
    change.execute("UPDATE person SET failed = 0 WHERE id = ?1", [person])?;
    change.execute(
        "INSERT INTO session (digest, person, expires_at) VALUES (?1, ?2, ?3)",
        params![
            random::digest(&session),
            person,
            now.saturating_add_unsigned(life.as_secs())
        ],
    )?;
    Ok(session)
}

/// Uses up a one-time code; wrong, spent and expired ones look the same from outside.
pub(super) fn spend(
    change: &Connection,
    now: i64,
    purpose: &str,
    code: &str,
) -> Result<(i64, i64, String), AppError> {
    let digest = random::digest(&random::tidy_code(code));
    let spent = change.execute(
        "UPDATE code SET used_at = ?1
         WHERE digest = ?2 AND purpose = ?3 AND used_at IS NULL AND expires_at > ?1",
        params![now, digest, purpose],
    )?;
    if spent != 1 {
        return Err(AppError::Unauthorized);
    }
    Ok(change.query_row(
        "SELECT p.id, p.contractor, p.name FROM code c JOIN person p ON p.id = c.person
         WHERE c.digest = ?1",
        [digest],
        |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
    )?)
}

/// A name without outer blanks; empty, overlong and control characters are refused.
pub(super) fn tidy_name(place: &str, name: &str) -> Result<String, AppError> {
    let name = name.trim();
    if name.is_empty() || name.chars().count() > 80 || name.chars().any(char::is_control) {
        return Err(AppError::input(
            place,
            "must be 1 to 80 printable characters",
        ));
    }
    Ok(name.to_owned())
}
