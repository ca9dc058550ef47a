//! Contractors and people, one-time codes, reviewers' sessions.

use super::{Accounts, Caller, Rights, Role, note};
use crate::error::AppError;
use crate::random;
use crate::sql::{Link as Statements, values};
use std::collections::BTreeMap;
use std::time::Duration;

impl Accounts {
    /// The contractor of this name, made if new.
    pub fn contractor(&self, name: &str) -> Result<i64, AppError> {
        let name = tidy_name("contractor", name)?;
        self.within(|db| {
            db.execute(
                "INSERT INTO contractor (name) VALUES (?1) ON CONFLICT (name) DO NOTHING",
                values![&name],
            )?;
            let row = db.row("SELECT id FROM contractor WHERE name = ?1", values![&name])?;
            row.ok_or(AppError::NotFound("this contractor"))?.int(0)
        })
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
        self.within(|db| {
            db.execute(
                "INSERT INTO person (contractor, name, role) VALUES (?1, ?2, ?3)
                 ON CONFLICT (contractor, name) DO NOTHING",
                values![contractor, &name, role.word()],
            )?;
            let row = db.row(
                "SELECT id, role FROM person WHERE contractor = ?1 AND name = ?2",
                values![contractor, &name],
            )?;
            let row = row.ok_or(AppError::NotFound("a person of that name"))?;
            let (person, held) = (row.int(0)?, row.text(1)?);
            if held != role.word() {
                return Err(AppError::Unusable(format!(
                    "{name} is already a {held}; one name has one role, choose another name"
                )));
            }
            db.execute("DELETE FROM code WHERE expires_at < ?1", values![now])?;
            let expires = now.saturating_add_unsigned(life.as_secs());
            let kept = random::digest(&random::tidy_code(&code));
            db.execute(
                "INSERT INTO code (digest, person, purpose, expires_at) VALUES (?1, ?2, ?3, ?4)",
                values![kept, person, purpose, expires],
            )?;
            note(
                db,
                now,
                Some(contractor),
                "office",
                "made a one-time code",
                &name,
            )
        })?;
        Ok(code)
    }

    /// Says who a person is, for those who read their entries.
    pub fn call_person(&self, contractor: i64, name: &str, full: &str) -> Result<(), AppError> {
        let full = tidy_name("full_name", full)?;
        self.db.execute(
            "UPDATE person SET full_name = ?1 WHERE contractor = ?2 AND name = ?3",
            values![full, contractor, name],
        )?;
        Ok(())
    }

    /// Full names of a contractor's people by the name that their entries carry.
    pub fn people(&self, contractor: i64) -> Result<BTreeMap<String, String>, AppError> {
        let rows = self.db.rows(
            "SELECT name, full_name FROM person WHERE contractor = ?1 AND full_name IS NOT NULL",
            values![contractor],
        )?;
        rows.iter()
            .map(|row| Ok((row.text(0)?, row.text(1)?)))
            .collect()
    }

    /// Signs a reviewer in with a one-time code; the answer is the session's secret.
    pub fn sign_in(&self, now: i64, life: Duration, code: &str) -> Result<String, AppError> {
        self.within(|db| {
            let (person, contractor, name) = spend(db, now, "sign_in", code)?;
            let session = begin_session(db, now, life, person)?;
            note(db, now, Some(contractor), &name, "signed in", "by link")?;
            Ok(session)
        })
    }

    /// Who a session belongs to, while it lasts.
    pub fn session(&self, now: i64, secret: &str) -> Result<Caller, AppError> {
        let found = self.db.row(
            "SELECT p.contractor, p.name, p.id, p.limited
             FROM session s JOIN person p ON p.id = s.person
             WHERE s.digest = ?1 AND s.expires_at > ?2 AND p.role = 'reviewer'",
            values![random::digest(secret), now],
        )?;
        let row = found.ok_or(AppError::Unauthorized)?;
        let form_key = blake3::derive_key("scupper form key v1", secret.as_bytes());
        let form_key = blake3::Hash::from_bytes(form_key).to_hex().to_string();
        Ok(Caller {
            contractor: row.int(0)?,
            name: row.text(1)?,
            rights: Rights::Reviewer { form_key },
            reach: self.reach_of(row.int(2)?, row.truth(3)?)?,
        })
    }

    /// Ends a session.
    pub fn sign_out(&self, secret: &str) -> Result<(), AppError> {
        self.db.execute(
            "DELETE FROM session WHERE digest = ?1",
            values![random::digest(secret)],
        )?;
        Ok(())
    }
}

/// Opens a session and forgets the tries that failed before.
pub(super) fn begin_session(
    db: &mut dyn Statements,
    now: i64,
    life: Duration,
    person: i64,
) -> Result<String, AppError> {
    let session = random::token()?;
    db.execute("DELETE FROM session WHERE expires_at < ?1", values![now])?;
    db.execute(
        "UPDATE person SET failed = 0 WHERE id = ?1",
        values![person],
    )?;
    let expires = now.saturating_add_unsigned(life.as_secs());
    db.execute(
        "INSERT INTO session (digest, person, expires_at) VALUES (?1, ?2, ?3)",
        values![random::digest(&session), person, expires],
    )?;
    Ok(session)
}

/// Uses up a one-time code; wrong, spent and expired ones look the same from outside.
pub(super) fn spend(
    db: &mut dyn Statements,
    now: i64,
    purpose: &str,
    code: &str,
) -> Result<(i64, i64, String), AppError> {
    let digest = random::digest(&random::tidy_code(code));
    let spent = db.execute(
        "UPDATE code SET used_at = ?1
         WHERE digest = ?2 AND purpose = ?3 AND used_at IS NULL AND expires_at > ?1",
        values![now, digest.clone(), purpose],
    )?;
    if spent != 1 {
        return Err(AppError::Unauthorized);
    }
    let row = db.row(
        "SELECT p.id, p.contractor, p.name FROM code c JOIN person p ON p.id = c.person
         WHERE c.digest = ?1",
        values![digest],
    )?;
    let row = row.ok_or(AppError::Unauthorized)?;
    Ok((row.int(0)?, row.int(1)?, row.text(2)?))
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
