//! What the list shows of each survey, and the words to find it by. Derived: every entry says
//! which state of the document it was made from, and is made again when that moved on, or when
//! all of it is dropped.

use super::Accounts;
use crate::error::AppError;
use crate::sql::{Value, values};
use std::collections::BTreeMap;

impl Accounts {
    /// What is listed of each survey: where its storage stood, and the entry.
    pub(crate) fn listed(
        &self,
        contractor: i64,
    ) -> Result<BTreeMap<String, (String, String)>, AppError> {
        let rows = self.db.rows(
            "SELECT survey, stands, entry FROM listed WHERE contractor = ?1",
            values![contractor],
        )?;
        let entry = |row: &crate::sql::Row| Ok((row.text(0)?, (row.text(1)?, row.text(2)?)));
        rows.iter().map(entry).collect()
    }

    /// Lists a survey, with the words to find it by.
    pub(crate) fn list(
        &self,
        (contractor, survey): (i64, &str),
        (stands, entry): (&str, &str),
        words: &str,
    ) -> Result<(), AppError> {
        self.within(|db| {
            db.execute(
                "INSERT INTO listed (contractor, survey, stands, entry) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (contractor, survey) DO UPDATE
                     SET stands = excluded.stands, entry = excluded.entry",
                values![contractor, survey, stands, entry],
            )?;
            db.execute(
                "DELETE FROM found WHERE contractor = ?1 AND survey = ?2",
                values![contractor, survey],
            )?;
            db.execute(
                "INSERT INTO found (contractor, survey, body) VALUES (?1, ?2, ?3)",
                values![contractor, survey, words],
            )?;
            Ok(())
        })
    }

    /// The surveys whose words hold all of these, with those words.
    pub(crate) fn find(
        &self,
        contractor: i64,
        sought: &[String],
    ) -> Result<BTreeMap<String, String>, AppError> {
        let mut sql = "SELECT survey, body FROM found WHERE contractor = ?1".to_owned();
        let mut given = vec![Value::from(contractor)];
        for word in sought {
            given.push(Value::from(word));
            sql.push_str(" AND ");
            sql.push_str(&self.db.holds_word(word, given.len()));
        }
        let rows = self.db.rows(&sql, given)?;
        let found = |row: &crate::sql::Row| Ok((row.text(0)?, row.text(1)?));
        rows.iter().map(found).collect()
    }
}
