//! A sum for every row of `office.sqlite`: what rots is named and never read in silence.
//!
//! Triggers of each connection keep the BLAKE3 of every row in `row_sum`. A row without its sum, or
//! a sum without its row, is damage. Rows are known by their content, so a copy that numbers them
//! anew is sound. The index of words (`found`) is derived and has none.

use crate::error::AppError;
use rusqlite::functions::{Context, FunctionFlags};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, params};

/// Teaches a connection to add up a row.
pub(super) fn define(db: &Connection) -> Result<(), AppError> {
    let flags = FunctionFlags::SQLITE_UTF8
        | FunctionFlags::SQLITE_DETERMINISTIC
        | FunctionFlags::SQLITE_INNOCUOUS;
    Ok(db.create_scalar_function("sum_of_row", -1, flags, |row| sum(row))?)
}

/// Has the sums kept from now on, as long as this connection is open.
pub(super) fn keep(db: &Connection) -> Result<(), AppError> {
    for table in tables(db)? {
        let (old, new) = (row(db, &table, "OLD.")?, row(db, &table, "NEW.")?);
        let gone = format!("DELETE FROM row_sum WHERE sum = {old};");
        let come = format!("INSERT INTO row_sum VALUES ({new});");
        for (event, work) in [
            ("INSERT", come.clone()),
            ("UPDATE", format!("{gone} {come}")),
            ("DELETE", gone),
        ] {
            db.execute_batch(&format!(
                "CREATE TEMP TRIGGER {table}_{event} AFTER {event} ON main.{table}
                 BEGIN {work} END"
            ))?;
        }
    }
    Ok(())
}

/// Makes the sums of all rows anew, after a step of the schema.
pub(super) fn make(db: &Connection) -> Result<(), AppError> {
    db.execute("DELETE FROM row_sum", [])?;
    for table in tables(db)? {
        let row = row(db, &table, "")?;
        db.execute_batch(&format!("INSERT INTO row_sum SELECT {row} FROM {table}"))?;
    }
    Ok(())
}

/// Looks at every row and at what finds it.
///
/// # Errors
/// [`AppError::Unusable`] names the table that is not what was written.
pub(super) fn check(db: &Connection) -> Result<(), AppError> {
    let damaged = |what: &str| {
        Err(AppError::Unusable(format!(
            "office.sqlite: {what}; stop the server and restore a backup (docs/operations.md)"
        )))
    };
    let count = |sql: &str| db.query_row(sql, [], |row| row.get::<_, i64>(0));
    let mut rows = 0;
    for table in tables(db)? {
        let found: String = db
            .prepare("SELECT integrity_check FROM pragma_integrity_check(?1) LIMIT 1")?
            .query_row(params![table], |row| row.get(0))?;
        if found != "ok" {
            return damaged(&format!("table {table} is damaged: {found}"));
        }
        let row = row(db, &table, "")?;
        let wrong = count(&format!(
            "SELECT count(*) FROM {table} WHERE {row} NOT IN (SELECT sum FROM row_sum)"
        ))?;
        if wrong > 0 {
            return damaged(&format!("{wrong} rows of {table} are not what was written"));
        }
        rows += count(&format!("SELECT count(*) FROM {table}"))?;
    }
    match count("SELECT count(*) FROM row_sum")? {
        sums if sums == rows => Ok(()),
        sums => damaged(&format!("has {rows} rows and {sums} sums of rows")),
    }
}

/// Tables whose rows have sums.
fn tables(db: &Connection) -> Result<Vec<String>, AppError> {
    let mut names = db.prepare(
        "SELECT name FROM main.sqlite_master WHERE type = 'table' AND name <> 'row_sum'
             AND name NOT LIKE 'sqlite%' AND name <> 'found' AND name NOT LIKE 'found\\_%' ESCAPE '\\'
         ORDER BY name",
    )?;
    let names = names.query_map([], |row| row.get(0))?;
    Ok(names.collect::<Result<_, _>>()?)
}

/// The sum of a row as SQL, its columns behind a prefix.
fn row(db: &Connection, table: &str, prefix: &str) -> Result<String, AppError> {
    let mut columns = db.prepare("SELECT name FROM pragma_table_info(?1) ORDER BY cid")?;
    let columns = columns.query_map([table], |row| row.get::<_, String>(0))?;
    let columns: Vec<String> = columns.collect::<Result<_, _>>()?;
    let columns = columns.iter().map(|name| format!(", {prefix}\"{name}\""));
    Ok(format!(
        "sum_of_row('{table}'{})",
        columns.collect::<String>()
    ))
}

/// BLAKE3 over values, each with its kind and length, so that no two rows run together.
fn sum(context: &Context<'_>) -> rusqlite::Result<Vec<u8>> {
    let mut hasher = blake3::Hasher::new_derive_key("scupper 2026 row of the office");
    for n in 0..context.len() {
        let number;
        let (kind, bytes): (u8, &[u8]) = match context.get_raw(n) {
            ValueRef::Null => (0, &[]),
            ValueRef::Integer(value) => {
                number = value.to_le_bytes();
                (1, &number)
            }
            ValueRef::Real(value) => {
                number = value.to_le_bytes();
                (2, &number)
            }
            ValueRef::Text(text) => (3, text),
            ValueRef::Blob(bytes) => (4, bytes),
        };
        hasher.update(&[kind]);
        hasher.update(&(bytes.len() as u64).to_le_bytes());
        hasher.update(bytes);
    }
    Ok(hasher.finalize().as_bytes().to_vec())
}
