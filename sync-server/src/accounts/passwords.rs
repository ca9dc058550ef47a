//! Passwords of reviewers, kept as Argon2id (RFC 9106) hashes.
//!
//! A password is a second way in beside one-time links, for whoever sets one. Hashing takes tens
//! of milliseconds and 19 MiB, so no database is held meanwhile, and an unknown name costs as
//! much as a wrong password. After [`TRIES`] wrong ones in a row only a link opens the account.

use super::people::{begin_session, tidy_name};
use super::{Accounts, Caller, Rights, note};
use crate::error::AppError;
use crate::random;
use crate::sql::values;
use argon2::password_hash::{PasswordHash, PasswordHasher, PasswordVerifier, SaltString};
use argon2::{Algorithm, Argon2, Params, Version};
use std::time::Duration;

/// Fewest characters, as for a password that is the only factor (NIST SP 800-63B-4 3.1.1.2, from
/// memory).
pub(crate) const SHORTEST: usize = 15;
const LONGEST: usize = 256;
/// Wrong passwords in a row until only a link helps (NIST SP 800-63B-4 3.2.2, from memory).
const TRIES: i64 = 100;

/// Argon2id with 19 MiB, 2 passes, 1 lane: the OWASP password storage cheat sheet's first choice
/// (from memory).
fn argon2() -> Result<Argon2<'static>, AppError> {
    let cost = Params::new(19 << 10, 2, 1, None);
    let cost = cost.map_err(|error| AppError::internal("password cost", error))?;
    Ok(Argon2::new(Algorithm::Argon2id, Version::V0x13, cost))
}

fn hash(password: &str) -> Result<String, AppError> {
    let salt: [u8; 16] = random::bytes()?;
    let failed = |error| AppError::internal("hashing a password", error);
    let salt = SaltString::encode_b64(&salt).map_err(failed)?;
    let hashed = argon2()?.hash_password(password.as_bytes(), &salt);
    Ok(hashed.map_err(failed)?.to_string())
}

/// Whether a password is the one; an empty hash costs the same and is nobody's.
fn is(password: &str, kept: Option<&str>) -> Result<bool, AppError> {
    let Some(kept) = kept else {
        hash(password)?;
        return Ok(false);
    };
    let kept = PasswordHash::new(kept);
    let kept = kept.map_err(|error| AppError::internal("a kept password", error))?;
    Ok(argon2()?
        .verify_password(password.as_bytes(), &kept)
        .is_ok())
}

fn check(password: &str, name: &str) -> Result<(), AppError> {
    let refuse = |problem: &str| Err(AppError::input("password", problem));
    let length = password.chars().count();
    if length < SHORTEST || password.len() > LONGEST {
        return refuse("must be 15 characters or more, 256 bytes at most");
    }
    let mut letters: Vec<char> = password.to_lowercase().chars().collect();
    letters.sort_unstable();
    letters.dedup();
    let name = name.to_lowercase();
    if letters.len() < 6 || (name.len() > 3 && password.to_lowercase().contains(&name)) {
        return refuse("is too easy to guess; a few words that do not belong together are good");
    }
    Ok(())
}

impl Accounts {
    /// Gives a reviewer a password and ends all their sessions but `keep` (a session's secret).
    pub fn set_password(
        &self,
        now: i64,
        contractor: i64,
        name: &str,
        password: &str,
        keep: Option<&str>,
    ) -> Result<(), AppError> {
        let name = tidy_name("name", name)?;
        check(password, &name)?;
        let hashed = hash(password)?;
        self.within(|db| {
            let done = db.execute(
                "UPDATE person SET password = ?1, failed = 0
                 WHERE contractor = ?2 AND name = ?3 AND role = 'reviewer'",
                values![hashed, contractor, &name],
            )?;
            if done != 1 {
                return Err(AppError::NotFound("a reviewer of that name"));
            }
            db.execute(
                "DELETE FROM session WHERE digest IS DISTINCT FROM ?1 AND person IN
                     (SELECT id FROM person WHERE contractor = ?2 AND name = ?3)",
                values![keep.map(random::digest), contractor, &name],
            )?;
            note(db, now, Some(contractor), &name, "set a password", &name)
        })
    }

    /// Sets the caller's own password.
    pub(crate) fn set_own_password(
        &self,
        now: i64,
        caller: &Caller,
        password: &str,
        session: Option<&str>,
    ) -> Result<(), AppError> {
        let Rights::Reviewer { .. } = caller.rights else {
            return Err(AppError::Forbidden("only a reviewer has one".to_owned()));
        };
        self.set_password(now, caller.contractor, &caller.name, password, session)
    }

    /// Signs a reviewer in; the answer is the session's secret. Wrong names and wrong passwords
    /// look the same from outside.
    pub fn sign_in_by_password(
        &self,
        now: i64,
        life: Duration,
        (firm, name): (&str, &str),
        password: &str,
    ) -> Result<String, AppError> {
        let found = self.db.row(
            "SELECT p.id, p.contractor, p.name, p.password
             FROM person p JOIN contractor c ON c.id = p.contractor
             WHERE c.name = ?1 AND p.name = ?2 AND p.role = 'reviewer'
                 AND p.password IS NOT NULL AND p.failed < ?3",
            values![firm.trim(), name.trim(), TRIES],
        )?;
        let kept = found.as_ref().map(|row| row.text(3)).transpose()?;
        let right = password.len() <= LONGEST && is(password, kept.as_deref())?;
        let row = found.ok_or(AppError::Unauthorized)?;
        let (person, contractor, name) = (row.int(0)?, row.int(1)?, row.text(2)?);
        let session = self.within(|db| {
            if !right {
                db.execute(
                    "UPDATE person SET failed = failed + 1 WHERE id = ?1",
                    values![person],
                )?;
                let what = "was refused: wrong password";
                note(db, now, Some(contractor), &name, what, "office page")?;
                return Ok(None);
            }
            let session = begin_session(db, now, life, person)?;
            note(db, now, Some(contractor), &name, "signed in", "by password")?;
            Ok(Some(session))
        })?;
        session.ok_or(AppError::Unauthorized)
    }
}
