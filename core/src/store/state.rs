//! Small facts of this device or server, by name: what the server was last seen to know, the
//! clock's offset, a dictation under way.

use super::error::StoreError;
use super::schema::{Store, row_sum};
use rusqlite::{Connection, OptionalExtension, params};

impl Store {
    /// The fact with this name; none if there is none, or if it is not what was written.
    pub fn fact(&self, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
        let db = self.db()?;
        let row: Option<(Vec<u8>, Vec<u8>)> = db
            .query_row(
                "SELECT value, sum FROM notes_to_self WHERE name = ?1",
                [name],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .optional()
            .map_err(StoreError::sql("read a fact"))?;
        Ok(row.and_then(|(value, sum)| (fact_sum(name, &value) == sum).then_some(value)))
    }

    /// Keeps a fact under a name. On disk when it returns.
    pub fn set_fact(&self, name: &str, value: &[u8]) -> Result<(), StoreError> {
        put_fact(&*self.writable()?, name, value)
    }

    /// Forgets a fact.
    pub fn forget_fact(&self, name: &str) -> Result<(), StoreError> {
        self.writable()?
            .execute("DELETE FROM notes_to_self WHERE name = ?1", [name])
            .map_err(StoreError::sql("forget a fact"))?;
        Ok(())
    }

    /// Names of the facts that begin with `prefix`, in order.
    pub fn fact_names(&self, prefix: &str) -> Result<Vec<String>, StoreError> {
        let db = self.db()?;
        db.prepare_cached("SELECT name FROM notes_to_self ORDER BY name")
            .and_then(|mut query| {
                let rows = query.query_map([], |row| row.get::<_, String>(0))?;
                rows.filter(|name| name.as_ref().map_or(true, |name| name.starts_with(prefix)))
                    .collect()
            })
            .map_err(StoreError::sql("list facts"))
    }
}

pub(super) fn put_fact(db: &Connection, name: &str, value: &[u8]) -> Result<(), StoreError> {
    db.execute(
        "INSERT OR REPLACE INTO notes_to_self (name, value, sum) VALUES (?1, ?2, ?3)",
        params![name, value, fact_sum(name, value)],
    )
    .map(|_| ())
    .map_err(StoreError::sql("keep a fact"))
}

fn fact_sum(name: &str, value: &[u8]) -> Vec<u8> {
    row_sum(&[name.as_bytes(), value])
}
