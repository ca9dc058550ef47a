//! A small door to a relational database, so that the accounts are written once for SQLite and
//! for PostgreSQL.
//!
//! Statements keep to what both understand: numbered placeholders `?1`, whole numbers, text and
//! bytes, truth as 0 and 1, `ON CONFLICT`, `RETURNING`. Calls block; they are made from threads
//! that may wait.

mod sqlite;

pub(crate) use sqlite::Sqlite;

#[cfg(feature = "postgres")]
mod postgres;
#[cfg(feature = "postgres")]
pub(crate) use postgres::Postgres;

use crate::error::AppError;

/// A value that goes in or comes out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Value {
    /// A whole number.
    Int(Option<i64>),
    /// Text.
    Text(Option<String>),
    /// Bytes.
    Bytes(Option<Vec<u8>>),
}

macro_rules! value_from {
    ($($from:ty => $variant:ident ($x:ident) $made:expr;)*) => {
        $(impl From<$from> for Value {
            fn from($x: $from) -> Self {
                Self::$variant($made)
            }
        })*
    };
}

value_from! {
    i64 => Int(x) Some(x);
    Option<i64> => Int(x) x;
    bool => Int(x) Some(i64::from(x));
    u32 => Int(x) Some(i64::from(x));
    &str => Text(x) Some(x.to_owned());
    String => Text(x) Some(x);
    &String => Text(x) Some(x.clone());
    Option<&str> => Text(x) x.map(str::to_owned);
    Option<String> => Text(x) x;
    Vec<u8> => Bytes(x) Some(x);
    &[u8] => Bytes(x) Some(x.to_vec());
    Option<Vec<u8>> => Bytes(x) x;
}

/// Values for the placeholders of a statement, in order.
macro_rules! values {
    ($($value:expr),* $(,)?) => { vec![$($crate::sql::Value::from($value)),*] };
}
pub(crate) use values;

/// One row of an answer.
#[derive(Debug, Clone)]
pub(crate) struct Row(pub(crate) Vec<Value>);

impl Row {
    fn at(&self, column: usize) -> Result<&Value, AppError> {
        let value = self.0.get(column);
        value.ok_or_else(|| AppError::internal("reading a row", format!("no column {column}")))
    }

    fn odd(column: usize) -> AppError {
        AppError::internal(
            "reading a row",
            format!("column {column} is of another kind"),
        )
    }

    /// A whole number or nothing.
    pub(crate) fn opt_int(&self, column: usize) -> Result<Option<i64>, AppError> {
        match self.at(column)? {
            Value::Int(number) => Ok(*number),
            // SQLite does not tell of what kind a null would be.
            Value::Text(None) | Value::Bytes(None) => Ok(None),
            _ => Err(Self::odd(column)),
        }
    }

    /// A whole number.
    pub(crate) fn int(&self, column: usize) -> Result<i64, AppError> {
        self.opt_int(column)?.ok_or_else(|| Self::odd(column))
    }

    /// A truth value.
    pub(crate) fn truth(&self, column: usize) -> Result<bool, AppError> {
        Ok(self.int(column)? != 0)
    }

    /// Text or nothing.
    pub(crate) fn opt_text(&self, column: usize) -> Result<Option<String>, AppError> {
        match self.at(column)? {
            Value::Text(text) => Ok(text.clone()),
            Value::Int(None) | Value::Bytes(None) => Ok(None),
            _ => Err(Self::odd(column)),
        }
    }

    /// Text.
    pub(crate) fn text(&self, column: usize) -> Result<String, AppError> {
        self.opt_text(column)?.ok_or_else(|| Self::odd(column))
    }

    /// Bytes.
    pub(crate) fn bytes(&self, column: usize) -> Result<Vec<u8>, AppError> {
        match self.at(column)? {
            Value::Bytes(Some(bytes)) => Ok(bytes.clone()),
            _ => Err(Self::odd(column)),
        }
    }
}

/// What a statement did: rows changed, rows answered.
pub(crate) type Done = (u64, Vec<Row>);

/// Where statements go: a database by itself or one transaction.
pub(crate) trait Link {
    /// Runs one statement.
    fn run(&mut self, sql: &str, values: Vec<Value>) -> Result<Done, AppError>;
}

impl dyn Link + '_ {
    /// Runs a statement; how many rows it changed.
    pub(crate) fn execute(&mut self, sql: &str, values: Vec<Value>) -> Result<u64, AppError> {
        Ok(self.run(sql, values)?.0)
    }

    /// The first row, if there is one.
    pub(crate) fn row(&mut self, sql: &str, values: Vec<Value>) -> Result<Option<Row>, AppError> {
        Ok(self.run(sql, values)?.1.into_iter().next())
    }
}

/// Work within one transaction.
pub(crate) type Work<'w> = dyn FnMut(&mut dyn Link) -> Result<(), AppError> + 'w;

/// A database.
pub(crate) trait Database: Send + Sync + std::fmt::Debug {
    /// Runs one statement by itself.
    fn run(&self, sql: &str, values: Vec<Value>) -> Result<Done, AppError>;

    /// Does work in one transaction: all of it is on disk when this returns, or none of it counts.
    fn transaction(&self, work: &mut Work<'_>) -> Result<(), AppError>;

    /// A condition on rows of a table `found` whose `body` holds the word that placeholder `?n`
    /// stands for, by whatever text search the database has.
    fn holds_word(&self, word: &str, n: usize) -> String;

    /// Copies all of it into a folder, if it is a file that can be copied.
    fn backup(&self, to: &std::path::Path) -> Result<(), AppError>;
}

impl dyn Database + '_ {
    /// The rows of a question.
    pub(crate) fn rows(&self, sql: &str, values: Vec<Value>) -> Result<Vec<Row>, AppError> {
        Ok(self.run(sql, values)?.1)
    }

    /// The first row, if there is one.
    pub(crate) fn row(&self, sql: &str, values: Vec<Value>) -> Result<Option<Row>, AppError> {
        Ok(self.run(sql, values)?.1.into_iter().next())
    }

    /// Runs a statement; how many rows it changed.
    pub(crate) fn execute(&self, sql: &str, values: Vec<Value>) -> Result<u64, AppError> {
        Ok(self.run(sql, values)?.0)
    }

    /// [`Database::transaction`] with an answer.
    pub(crate) fn within<T>(
        &self,
        work: impl FnOnce(&mut dyn Link) -> Result<T, AppError>,
    ) -> Result<T, AppError> {
        let (mut work, mut answer) = (Some(work), None);
        self.transaction(&mut |link| {
            if let Some(work) = work.take() {
                answer = Some(work(link)?);
            }
            Ok(())
        })?;
        answer.ok_or_else(|| AppError::internal("a transaction", "was not begun"))
    }
}
