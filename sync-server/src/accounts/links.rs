//! Links that let a customer read one survey, until they expire or are revoked.

use super::{Accounts, Caller, Reach, Rights, note};
use crate::error::AppError;
use crate::random;
use crate::sql::values;
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

fn reviewer(caller: &Caller) -> Result<(), AppError> {
    match caller.rights {
        Rights::Reviewer { .. } => Ok(()),
        _ => Err(AppError::Forbidden(
            "only a reviewer makes or revokes links".to_owned(),
        )),
    }
}

impl Accounts {
    /// Makes a link that reads one survey of the caller's contractor.
    pub fn make_link(
        &self,
        now: i64,
        life: Duration,
        caller: &Caller,
        survey: &str,
    ) -> Result<String, AppError> {
        reviewer(caller)?;
        let secret = random::token()?;
        self.within(|db| {
            db.execute(
                "INSERT INTO customer_link
                     (digest, contractor, survey, made_by, made_at, expires_at)
                 SELECT ?1, ?2, ?3, id, ?4, ?5 FROM person WHERE contractor = ?2 AND name = ?6",
                values![
                    random::digest(&secret),
                    caller.contractor,
                    survey,
                    now,
                    now.saturating_add_unsigned(life.as_secs()),
                    &caller.name
                ],
            )?;
            let (whose, who) = (Some(caller.contractor), &caller.name);
            note(db, now, whose, who, "made a customer link", survey)
        })?;
        Ok(secret)
    }

    /// The caller that a customer's link stands for, while it is good.
    pub fn link(&self, now: i64, secret: &str) -> Result<Caller, AppError> {
        let found = self.db.row(
            "SELECT contractor, survey FROM customer_link
             WHERE digest = ?1 AND expires_at > ?2 AND revoked_at IS NULL",
            values![random::digest(secret), now],
        )?;
        let found = found.ok_or(AppError::NotFound("this link"))?;
        let (contractor, survey) = (found.int(0)?, found.text(1)?);
        Ok(Caller {
            contractor,
            name: "customer".to_owned(),
            reach: Reach::only([&survey]),
            rights: Rights::Customer { survey },
        })
    }

    /// The links of a survey, newest first.
    pub fn links(&self, contractor: i64, survey: &str) -> Result<Vec<Link>, AppError> {
        let rows = self.db.rows(
            "SELECT l.digest, p.name, l.expires_at, l.revoked_at
             FROM customer_link l JOIN person p ON p.id = l.made_by
             WHERE l.contractor = ?1 AND l.survey = ?2 ORDER BY l.made_at DESC, l.digest",
            values![contractor, survey],
        )?;
        let link = |row: &crate::sql::Row| {
            Ok(Link {
                id: random::hex(&row.bytes(0)?),
                made_by: row.text(1)?,
                expires_at: row.int(2)?,
                revoked_at: row.opt_int(3)?,
            })
        };
        rows.iter().map(link).collect()
    }

    /// Makes a link of this survey stop working.
    pub fn revoke_link(
        &self,
        now: i64,
        caller: &Caller,
        survey: &str,
        id: &str,
    ) -> Result<(), AppError> {
        reviewer(caller)?;
        let digest = random::from_hex(id).ok_or(AppError::NotFound("this link"))?;
        let done = self.db.execute(
            "UPDATE customer_link SET revoked_at = ?1 WHERE digest = ?2
                 AND contractor = ?3 AND survey = ?4 AND revoked_at IS NULL",
            values![now, digest, caller.contractor, survey],
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
