//! Documents as snapshots and changes: appended, compacted, read back.
//!
//! The snapshot before the newest is kept with all that came after it, so that a damaged newest
//! snapshot costs nothing.

use super::error::StoreError;
use super::schema::{DATABASE, Store, row_sum};
use super::state::put_fact;
use rusqlite::{Connection, OptionalExtension, Transaction, params};

/// What a survey's document is made of.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Parts {
    /// A snapshot, if there is one, and the changes after it, oldest first.
    pub chunks: Vec<Vec<u8>>,
    /// What could not be used, each in one line.
    pub problems: Vec<String>,
}

/// A survey as a list shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SurveyEntry {
    /// Identity of the survey.
    pub id: String,
    /// What a list shows of it, as JSON in the shape of `document::Summary`; empty
    /// until the document was first kept or loaded.
    pub summary: String,
}

/// Changes to append, and what is kept together with them.
#[derive(Debug, Clone, Copy)]
pub struct Kept<'a> {
    /// The changes' bytes; may be empty.
    pub changes: &'a [u8],
    /// What a list shows of the survey from now on.
    pub summary: &'a str,
    /// A fact, by name.
    pub fact: Option<(&'a str, &'a [u8])>,
}

const SNAPSHOT: i64 = 0;
const CHANGES: i64 = 1;

/// A document is compacted when this many chunks follow its snapshot.
const MAX_TAIL: i64 = 500;

impl Store {
    /// The surveys in this store, by id.
    pub fn surveys(&self) -> Result<Vec<SurveyEntry>, StoreError> {
        let doing = StoreError::sql;
        let db = self.db()?;
        let mut query = db
            .prepare_cached("SELECT id, summary FROM surveys ORDER BY id")
            .map_err(doing("list surveys"))?;
        let rows = query.query_map([], |row| {
            Ok(SurveyEntry {
                id: row.get(0)?,
                summary: row.get(1)?,
            })
        });
        rows.and_then(Iterator::collect)
            .map_err(doing("list surveys"))
    }

    /// Whether a survey is in this store.
    pub fn has(&self, survey: &str) -> Result<bool, StoreError> {
        Ok(last_number(&*self.db()?, survey)?.is_some())
    }

    /// The number of a survey's newest chunk, which grows with every change kept; none if it is
    /// not here or its row is damaged.
    pub fn newest(&self, survey: &str) -> Result<Option<i64>, StoreError> {
        Ok(last_number(&*self.db()?, survey)?.flatten())
    }

    /// Keeps what a list shows of a survey.
    pub fn set_summary(&self, survey: &str, summary: &str) -> Result<(), StoreError> {
        put_summary(&*self.writable()?, survey, summary)
    }

    /// Appends changes to a survey's document, beginning it if it is new. On disk when it returns.
    pub fn append(&self, survey: &str, changes: &[u8]) -> Result<(), StoreError> {
        let doing = StoreError::sql;
        let mut db = self.writable()?;
        let tx = db.transaction().map_err(doing("append changes"))?;
        let number = insert(&tx, survey, CHANGES, changes)?;
        tx.commit().map_err(doing("append changes"))?;
        self.note_acknowledged(survey, number);
        Ok(())
    }

    /// Appends changes, if there are any, with what goes with them: all, or after a cut nothing.
    pub fn keep(&self, survey: &str, kept: &Kept<'_>) -> Result<(), StoreError> {
        let doing = StoreError::sql;
        let mut db = self.writable()?;
        let tx = db.transaction().map_err(doing("append changes"))?;
        let changes = Some(kept.changes).filter(|changes| !changes.is_empty());
        let number = changes
            .map(|changes| insert(&tx, survey, CHANGES, changes))
            .transpose()?;
        put_summary(&tx, survey, kept.summary)?;
        if let Some((name, value)) = kept.fact {
            put_fact(&tx, name, value)?;
        }
        tx.commit().map_err(doing("append changes"))?;
        if let Some(number) = number {
            self.note_acknowledged(survey, number);
        }
        Ok(())
    }

    /// Replaces a document's tail by a snapshot of the whole. Returns once the snapshot is on
    /// disk; only what lies before the snapshot before it is removed.
    pub fn compact(&self, survey: &str, snapshot: &[u8]) -> Result<(), StoreError> {
        let doing = StoreError::sql;
        let mut db = self.writable()?;
        let tx = db.transaction().map_err(doing("compact a document"))?;
        let earlier = newest_snapshot(&tx, survey, i64::MAX)?;
        let number = insert(&tx, survey, SNAPSHOT, snapshot)?;
        if let Some(earlier) = earlier {
            tx.execute(
                "DELETE FROM chunks WHERE survey = ?1 AND number < ?2",
                params![survey, earlier],
            )
            .map_err(doing("compact a document"))?;
        }
        tx.commit().map_err(doing("compact a document"))?;
        self.note_acknowledged(survey, number);
        Ok(())
    }

    /// Whether so much follows the newest snapshot that a new one pays.
    pub fn wants_compaction(&self, survey: &str) -> Result<bool, StoreError> {
        let db = self.db()?;
        let newest = newest_snapshot(&db, survey, i64::MAX)?.unwrap_or(0);
        let last: Option<i64> = db
            .query_row("SELECT last FROM surveys WHERE id = ?1", [survey], |row| {
                row.get(0)
            })
            .optional()
            .map_err(StoreError::sql("measure a document"))?;
        Ok(last.unwrap_or(0) - newest >= MAX_TAIL)
    }

    /// Bytes that a survey's document takes here, with the snapshot that is kept for safety.
    pub fn document_bytes(&self, survey: &str) -> Result<u64, StoreError> {
        let sum: i64 = self
            .db()?
            .query_row(
                "SELECT coalesce(sum(length(bytes)), 0) FROM chunks WHERE survey = ?1",
                [survey],
                |row| row.get(0),
            )
            .map_err(StoreError::sql("measure a document"))?;
        Ok(u64::try_from(sum).unwrap_or(0))
    }

    /// What a survey's document is made of; none if the store has no such survey. Chunks that are
    /// not what was written are put into quarantine and named.
    pub fn parts(&self, survey: &str) -> Result<Option<Parts>, StoreError> {
        let db = self.db()?;
        let Some(last) = last_number(&db, survey)? else {
            return match self.fell_back(survey, 0) {
                None => Ok(None),
                Some(problem) => Err(StoreError::Damaged {
                    what: DATABASE.to_owned(),
                    problem,
                }),
            };
        };
        let mut parts = Parts::default();
        let mut before = i64::MAX;
        // The newest sound snapshot, or the beginning.
        let start = loop {
            let Some(number) = newest_snapshot(&db, survey, before)? else {
                break 0;
            };
            if self.chunk(&db, survey, number, &mut parts)? {
                break number;
            }
            before = number;
        };
        let mut expected = start + 1;
        for (number, kind) in numbers_after(&db, survey, start)? {
            for lost in expected..number {
                parts.problems.extend(missing(&db, survey, lost)?);
            }
            expected = number + 1;
            if kind != SNAPSHOT {
                self.chunk(&db, survey, number, &mut parts)?;
            }
        }
        for lost in expected..=last.unwrap_or(0) {
            parts.problems.extend(missing(&db, survey, lost)?);
        }
        let held = last.unwrap_or(i64::MAX);
        parts.problems.extend(self.fell_back(survey, held));
        if last.is_none() {
            parts
                .problems
                .push(format!("the entry of {survey} in the list is damaged"));
        }
        Ok(Some(parts))
    }

    /// Reads one chunk into `parts`; false if it went into quarantine.
    fn chunk(
        &self,
        db: &Connection,
        survey: &str,
        number: i64,
        parts: &mut Parts,
    ) -> Result<bool, StoreError> {
        let (kind, bytes, sum): (i64, Vec<u8>, Vec<u8>) = db
            .query_row(
                "SELECT kind, bytes, sum FROM chunks WHERE survey = ?1 AND number = ?2",
                params![survey, number],
                |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)),
            )
            .map_err(StoreError::sql("read a document"))?;
        if chunk_sum(survey, number, kind, &bytes) == sum {
            parts.chunks.push(bytes);
            return Ok(true);
        }
        let reason = "its sum does not match its bytes";
        parts.problems.push(format!(
            "chunk {number} of {survey} is in quarantine: {reason}"
        ));
        if self.newer().is_none() {
            quarantine(db, survey, number, reason)?;
        }
        Ok(false)
    }
}

fn put_summary(db: &Connection, survey: &str, summary: &str) -> Result<(), StoreError> {
    db.execute(
        "UPDATE surveys SET summary = ?2 WHERE id = ?1 AND summary <> ?2",
        params![survey, summary],
    )
    .map_err(StoreError::sql("keep a survey's summary"))?;
    Ok(())
}

/// Moves a chunk out of the way, in one transaction.
fn quarantine(db: &Connection, survey: &str, number: i64, reason: &str) -> Result<(), StoreError> {
    let doing = StoreError::sql;
    let moved = db.unchecked_transaction().and_then(|tx| {
        tx.execute(
            "INSERT OR REPLACE INTO quarantine SELECT survey, number, kind, bytes, ?3
             FROM chunks WHERE survey = ?1 AND number = ?2",
            params![survey, number, reason],
        )?;
        tx.execute(
            "DELETE FROM chunks WHERE survey = ?1 AND number = ?2",
            params![survey, number],
        )?;
        tx.commit()
    });
    moved.map_err(doing("quarantine a chunk"))
}

/// What to say of a chunk that should be there: nothing if it was a snapshot, which the one
/// before stands in for.
fn missing(db: &Connection, survey: &str, number: i64) -> Result<Option<String>, StoreError> {
    let kind: Option<i64> = db
        .query_row(
            "SELECT kind FROM quarantine WHERE survey = ?1 AND number = ?2",
            params![survey, number],
            |row| row.get(0),
        )
        .optional()
        .map_err(StoreError::sql("read the quarantine"))?;
    Ok(match kind {
        Some(SNAPSHOT) => None,
        Some(_) => Some(format!("chunk {number} of {survey} is in quarantine")),
        None => Some(format!("chunk {number} of {survey} is not there")),
    })
}

/// Inserts a chunk behind the survey's last; gives its number.
fn insert(tx: &Transaction<'_>, survey: &str, kind: i64, bytes: &[u8]) -> Result<i64, StoreError> {
    let doing = StoreError::sql;
    let last = match last_number(tx, survey)? {
        Some(Some(last)) => last,
        None => 0,
        // The row's sum is wrong: go by the chunks themselves.
        Some(None) => tx
            .query_row(
                "SELECT coalesce(max(number), 0) FROM chunks WHERE survey = ?1",
                [survey],
                |row| row.get(0),
            )
            .map_err(doing("append changes"))?,
    };
    let number = last + 1;
    let write = || {
        tx.prepare_cached(
            "INSERT INTO surveys (id, last, summary, sum) VALUES (?1, ?2, '', ?3)
             ON CONFLICT (id) DO UPDATE SET last = ?2, sum = ?3",
        )?
        .execute(params![survey, number, survey_sum(survey, number)])?;
        tx.prepare_cached(
            "INSERT INTO chunks (survey, number, kind, bytes, sum) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .execute(params![
            survey,
            number,
            kind,
            bytes,
            chunk_sum(survey, number, kind, bytes)
        ])
    };
    write().map(|_| number).map_err(doing("append changes"))
}

/// The survey's highest chunk number: outer none if there is no such survey, inner none if its
/// row is damaged.
fn last_number(db: &Connection, survey: &str) -> Result<Option<Option<i64>>, StoreError> {
    let row: Option<(i64, Vec<u8>)> = db
        .prepare_cached("SELECT last, sum FROM surveys WHERE id = ?1")
        .and_then(|mut query| {
            query
                .query_row([survey], |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()
        })
        .map_err(StoreError::sql("find a survey"))?;
    Ok(row.map(|(last, sum)| (survey_sum(survey, last) == sum).then_some(last)))
}

fn newest_snapshot(db: &Connection, survey: &str, before: i64) -> Result<Option<i64>, StoreError> {
    db.query_row(
        "SELECT max(number) FROM chunks WHERE survey = ?1 AND kind = ?2 AND number < ?3",
        params![survey, SNAPSHOT, before],
        |row| row.get(0),
    )
    .map_err(StoreError::sql("find a snapshot"))
}

fn numbers_after(db: &Connection, survey: &str, start: i64) -> Result<Vec<(i64, i64)>, StoreError> {
    db.prepare_cached(
        "SELECT number, kind FROM chunks WHERE survey = ?1 AND number > ?2 ORDER BY number",
    )
    .and_then(|mut query| {
        let rows = query.query_map(params![survey, start], |row| Ok((row.get(0)?, row.get(1)?)))?;
        rows.collect()
    })
    .map_err(StoreError::sql("read a document"))
}

fn chunk_sum(survey: &str, number: i64, kind: i64, bytes: &[u8]) -> Vec<u8> {
    row_sum(&[
        survey.as_bytes(),
        &number.to_le_bytes(),
        &kind.to_le_bytes(),
        bytes,
    ])
}

fn survey_sum(survey: &str, last: i64) -> Vec<u8> {
    row_sum(&[survey.as_bytes(), &last.to_le_bytes()])
}
