//! Whose a survey or photo is, and links that let a customer read one survey.

use super::{Accounts, Caller, Rights, note};
use crate::error::AppError;
use crate::random;
use rusqlite::{OptionalExtension, params};
use std::time::Duration;

/// A customer's link as the office lists it; its secret is not kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Link {
    /// Digest in hex, by which it is revoked.
    pub id: String,
    /// Who made it.
    pub made_by: String,
    /// When it stops working, in Unix seconds.
    pub expires_at: i64,
    /// When it was revoked, in Unix seconds.
    pub revoked_at: Option<i64>,
}

impl Accounts {
    /// Whether a caller may read a survey; if not, it does not exist for them.
    pub fn may_read(&self, caller: &Caller, survey: &str) -> Result<(), AppError> {
        const GONE: AppError = AppError::NotFound("this survey");
        if let Rights::Customer { survey: own } = &caller.rights
            && own != survey
        {
            return Err(GONE);
        }
        match self.survey_owner(survey)? {
            Some(owner) if owner == caller.contractor => Ok(()),
            _ => Err(GONE),
        }
    }

    /// Whether a caller may write to a survey.
    pub fn may_write(&self, caller: &Caller, survey: &str) -> Result<(), AppError> {
        self.may_read(caller, survey)?;
        match caller.rights {
            Rights::Customer { .. } => Err(AppError::Forbidden(
                "a customer's link can only read".to_owned(),
            )),
            Rights::Device(_) | Rights::Reviewer { .. } => Ok(()),
        }
    }

    /// The contractor a survey belongs to.
    pub fn survey_owner(&self, survey: &str) -> Result<Option<i64>, AppError> {
        let db = self.db()?;
        let mut query = db.prepare_cached("SELECT contractor FROM survey WHERE id = ?1")?;
        Ok(query.query_row([survey], |row| row.get(0)).optional()?)
    }

    /// Takes a survey that belongs to nobody yet for the caller's contractor; then checks that
    /// the caller may write to it.
    pub fn claim_survey(&self, now: i64, caller: &Caller, survey: &str) -> Result<(), AppError> {
        if matches!(caller.rights, Rights::Device(_) | Rights::Reviewer { .. }) {
            let made = self.db()?.execute(
                "INSERT OR IGNORE INTO survey (id, contractor, created_at) VALUES (?1, ?2, ?3)",
                params![survey, caller.contractor, now],
            )?;
            if made == 1 {
                self.record(
                    now,
                    Some(caller.contractor),
                    &caller.name,
                    "began a survey",
                    survey,
                )?;
            }
        }
        self.may_write(caller, survey)
    }

    /// Surveys that a caller may read, newest first.
    pub fn surveys(&self, caller: &Caller) -> Result<Vec<String>, AppError> {
        if let Rights::Customer { survey } = &caller.rights {
            return Ok(vec![survey.clone()]);
        }
        let db = self.db()?;
        let mut query = db.prepare_cached(
            "SELECT id FROM survey WHERE contractor = ?1 ORDER BY created_at DESC, id DESC",
        )?;
        let rows = query.query_map([caller.contractor], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Notes that a contractor has handed in the bytes of a photo. Knowing a photo's hash is
    /// not enough to read it: a device of the same contractor must have sent it.
    pub fn own_photo(&self, contractor: i64, hash: &str, bytes: u64) -> Result<(), AppError> {
        self.db()?.execute(
            "INSERT OR IGNORE INTO photo (contractor, hash, bytes) VALUES (?1, ?2, ?3)",
            params![contractor, hash, i64::try_from(bytes).unwrap_or(i64::MAX)],
        )?;
        Ok(())
    }

    /// Whether a contractor has handed in a photo.
    pub fn owns_photo(&self, contractor: i64, hash: &str) -> Result<bool, AppError> {
        let db = self.db()?;
        let mut query =
            db.prepare_cached("SELECT 1 FROM photo WHERE contractor = ?1 AND hash = ?2")?;
        Ok(query.exists(params![contractor, hash])?)
    }

    /// Bytes of photo originals that a contractor keeps here.
    pub fn photo_bytes(&self, contractor: i64) -> Result<u64, AppError> {
        let db = self.db()?;
        let sum: i64 = db.query_row(
            "SELECT coalesce(sum(bytes), 0) FROM photo WHERE contractor = ?1",
            [contractor],
            |row| row.get(0),
        )?;
        Ok(u64::try_from(sum).unwrap_or(0))
    }

    /// Makes a link that reads one survey until it expires or is revoked.
    pub fn make_link(
        &self,
        now: i64,
        life: Duration,
        caller: &Caller,
        survey: &str,
    ) -> Result<String, AppError> {
        let Rights::Reviewer { .. } = caller.rights else {
            return Err(AppError::Forbidden(
                "only a reviewer can make a link".to_owned(),
            ));
        };
        self.may_write(caller, survey)?;
        let secret = random::token()?;
        let mut db = self.db()?;
        let change = db.transaction()?;
        change.execute(
            "INSERT INTO customer_link (digest, survey, made_by, made_at, expires_at)
             SELECT ?1, ?2, id, ?3, ?4 FROM person WHERE contractor = ?5 AND name = ?6",
            params![
                random::digest(&secret),
                survey,
                now,
                now.saturating_add_unsigned(life.as_secs()),
                caller.contractor,
                caller.name
            ],
        )?;
        note(
            &change,
            now,
            Some(caller.contractor),
            &caller.name,
            "made a customer link",
            survey,
        )?;
        change.commit()?;
        Ok(secret)
    }

    /// The caller that a customer's link stands for, while it is good.
    pub fn link(&self, now: i64, secret: &str) -> Result<Caller, AppError> {
        let db = self.db()?;
        let mut query = db.prepare_cached(
            "SELECT s.contractor, l.survey FROM customer_link l JOIN survey s ON s.id = l.survey
             WHERE l.digest = ?1 AND l.expires_at > ?2 AND l.revoked_at IS NULL",
        )?;
        let found = query
            .query_row(params![random::digest(secret), now], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })
            .optional()?;
        let (contractor, survey) = found.ok_or(AppError::NotFound("this link"))?;
        Ok(Caller {
            contractor,
            name: "customer".to_owned(),
            rights: Rights::Customer { survey },
        })
    }

    /// The links of a survey, newest first.
    pub fn links(&self, survey: &str) -> Result<Vec<Link>, AppError> {
        let db = self.db()?;
        let mut query = db.prepare_cached(
            "SELECT lower(hex(l.digest)), p.name, l.expires_at, l.revoked_at
             FROM customer_link l JOIN person p ON p.id = l.made_by
             WHERE l.survey = ?1 ORDER BY l.made_at DESC, l.digest",
        )?;
        let rows = query.query_map([survey], |row| {
            Ok(Link {
                id: row.get(0)?,
                made_by: row.get(1)?,
                expires_at: row.get(2)?,
                revoked_at: row.get(3)?,
            })
        })?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Makes a link of this survey stop working.
    pub fn revoke_link(
        &self,
        now: i64,
        caller: &Caller,
        survey: &str,
        id: &str,
    ) -> Result<(), AppError> {
        self.may_write(caller, survey)?;
        let done = self.db()?.execute(
            "UPDATE customer_link SET revoked_at = ?1
             WHERE lower(hex(digest)) = ?2 AND survey = ?3 AND revoked_at IS NULL",
            params![now, id, survey],
        )?;
        if done == 0 {
            return Err(AppError::NotFound("this link"));
        }
        self.record(
            now,
            Some(caller.contractor),
            &caller.name,
            "revoked a customer link",
            survey,
        )
    }
}
