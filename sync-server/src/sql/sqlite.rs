//! [`Database`] over one SQLite connection.

use super::{Database, Done, Link, Row, Value, Work};
use crate::error::AppError;
use rusqlite::types::{ToSqlOutput, ValueRef};
use rusqlite::{Connection, ToSql, TransactionBehavior};
use std::path::Path;
use std::sync::{Mutex, MutexGuard};

/// A SQLite database, one caller at a time.
#[derive(Debug)]
pub(crate) struct Sqlite(Mutex<Connection>);

impl Sqlite {
    /// Over a connection that is set up.
    pub(crate) fn new(db: Connection) -> Self {
        Self(Mutex::new(db))
    }

    pub(crate) fn db(&self) -> Result<MutexGuard<'_, Connection>, AppError> {
        self.0
            .lock()
            .map_err(|_| AppError::internal("accounts", "a thread died while it held the database"))
    }
}

impl ToSql for Value {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match self {
            Self::Int(Some(number)) => ValueRef::Integer(*number),
            Self::Text(Some(text)) => ValueRef::Text(text.as_bytes()),
            Self::Bytes(Some(bytes)) => ValueRef::Blob(bytes),
            Self::Int(None) | Self::Text(None) | Self::Bytes(None) => ValueRef::Null,
        }))
    }
}

fn run(db: &Connection, sql: &str, values: &[Value]) -> Result<Done, AppError> {
    let mut statement = db.prepare_cached(sql)?;
    let columns = statement.column_count();
    if columns == 0 {
        let changed = statement.execute(rusqlite::params_from_iter(values))?;
        return Ok((changed as u64, Vec::new()));
    }
    let mut rows = statement.query(rusqlite::params_from_iter(values))?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let read = |column| -> Result<Value, AppError> {
            Ok(match row.get_ref(column)? {
                ValueRef::Null => Value::Int(None),
                ValueRef::Integer(number) => Value::Int(Some(number)),
                ValueRef::Text(text) => Value::Text(Some(String::from_utf8_lossy(text).into())),
                ValueRef::Blob(bytes) => Value::Bytes(Some(bytes.to_vec())),
                ValueRef::Real(_) => {
                    return Err(AppError::internal("reading a row", "a fraction"));
                }
            })
        };
        found.push(Row((0..columns).map(read).collect::<Result<_, _>>()?));
    }
    drop(rows);
    Ok((db.changes(), found))
}

struct Direct<'c>(&'c Connection);

impl Link for Direct<'_> {
    fn run(&mut self, sql: &str, values: Vec<Value>) -> Result<Done, AppError> {
        run(self.0, sql, &values)
    }
}

impl Database for Sqlite {
    fn run(&self, sql: &str, values: Vec<Value>) -> Result<Done, AppError> {
        run(&*self.db()?, sql, &values)
    }

    fn transaction(&self, work: &mut Work<'_>) -> Result<(), AppError> {
        let mut db = self.db()?;
        let change = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
        work(&mut Direct(&change))?;
        Ok(change.commit()?)
    }

    fn holds_word(&self, word: &str, n: usize) -> String {
        // The index is of three letters in a row, so that a piece of a serial number is found.
        match word.chars().count() {
            0..=2 => format!("body LIKE '%' || ?{n} || '%'"),
            _ => format!(
                "rowid IN (SELECT rowid FROM found
                     WHERE found MATCH '\"' || replace(?{n}, '\"', '\"\"') || '\"')"
            ),
        }
    }

    fn backup(&self, to: &Path) -> Result<(), AppError> {
        let mut copy = Connection::open(to.join("office.sqlite"))?;
        let db = self.db()?;
        let backup = rusqlite::backup::Backup::new(&db, &mut copy)?;
        backup.run_to_completion(256, std::time::Duration::ZERO, None)?;
        Ok(())
    }
}
