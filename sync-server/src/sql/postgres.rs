//! [`Database`] over a pool of PostgreSQL connections.
//!
//! sqlx wants a runtime to wait on and its callers here are plain threads, so it has a small one
//! of its own; a call hands its work over and waits.

use super::{Database, Done, Link, Row, Value, Work};
use crate::error::AppError;
use sqlx::postgres::{PgArguments, PgPool, PgPoolOptions, PgRow};
use sqlx::query::Query;
use sqlx::{Column, Executor, Postgres as Pg, Row as _, Transaction, TypeInfo};
use std::future::Future;
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::sync_channel;
use std::time::Duration;
use tokio::runtime::{Builder, Runtime};

/// Connections that one process takes at most.
const CONNECTIONS: u32 = 8;

/// A PostgreSQL database; cheap to clone.
#[derive(Clone)]
pub(crate) struct Postgres {
    pool: PgPool,
    runtime: Arc<Ending>,
}

impl std::fmt::Debug for Postgres {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Postgres")
    }
}

/// A runtime that may be dropped anywhere, also where waiting is not allowed.
struct Ending(Option<Runtime>);

impl Drop for Ending {
    fn drop(&mut self) {
        if let Some(runtime) = self.0.take() {
            runtime.shutdown_background();
        }
    }
}

impl Postgres {
    /// Connects by a `postgres://` URL.
    pub(crate) fn connect(url: &str) -> Result<Self, AppError> {
        let runtime = Builder::new_multi_thread()
            .worker_threads(2)
            .thread_name("postgres")
            .enable_all()
            .build()?;
        let runtime = Arc::new(Ending(Some(runtime)));
        let options = PgPoolOptions::new()
            .max_connections(CONNECTIONS)
            .acquire_timeout(Duration::from_secs(20));
        let url = url.to_owned();
        let pool = wait(&runtime, async move { options.connect(&url).await })?;
        Ok(Self { pool, runtime })
    }

    /// The pool, for those who listen.
    pub(crate) fn pool(&self) -> PgPool {
        self.pool.clone()
    }

    /// Runs something on the runtime in the background.
    pub(crate) fn spawn(&self, work: impl Future<Output = ()> + Send + 'static) {
        if let Some(runtime) = &self.runtime.0 {
            runtime.spawn(work);
        }
    }

    /// Waits for something on the runtime.
    pub(crate) fn wait<T: Send + 'static>(
        &self,
        work: impl Future<Output = T> + Send + 'static,
    ) -> Result<T, AppError> {
        wait_for(&self.runtime, work)
    }

    /// Runs statements without placeholders, such as a schema.
    pub(crate) fn script(&self, sql: &'static str) -> Result<(), AppError> {
        let pool = self.pool.clone();
        wait(
            &self.runtime,
            async move { pool.execute(sql).await.map(|_| ()) },
        )
    }
}

fn wait_for<T: Send + 'static>(
    runtime: &Ending,
    work: impl Future<Output = T> + Send + 'static,
) -> Result<T, AppError> {
    let gone = || AppError::internal("PostgreSQL", "the runtime has ended");
    let (tell, told) = sync_channel(1);
    runtime.0.as_ref().ok_or_else(gone)?.spawn(async move {
        let _ = tell.send(work.await);
    });
    told.recv().map_err(|_| gone())
}

fn wait<T: Send + 'static>(
    runtime: &Ending,
    work: impl Future<Output = Result<T, sqlx::Error>> + Send + 'static,
) -> Result<T, AppError> {
    Ok(wait_for(runtime, work)??)
}

impl From<sqlx::Error> for AppError {
    fn from(error: sqlx::Error) -> Self {
        // 53100: disk full.
        let code = error.as_database_error().and_then(|e| e.code());
        match code.as_deref() {
            Some("53100") => Self::Full("the database's disk is full; try again later".to_owned()),
            _ => Self::internal("PostgreSQL", error),
        }
    }
}

/// `?1` as PostgreSQL writes it.
fn numbered(sql: &str) -> String {
    sql.replace('?', "$")
}

fn bound(sql: &str, values: Vec<Value>) -> Query<'_, Pg, PgArguments> {
    values
        .into_iter()
        .fold(sqlx::query(sql), |query, value| match value {
            Value::Int(number) => query.bind(number),
            Value::Text(text) => query.bind(text),
            Value::Bytes(bytes) => query.bind(bytes),
        })
}

fn read(row: &PgRow) -> Result<Row, sqlx::Error> {
    let value = |column: &sqlx::postgres::PgColumn| {
        let at = column.ordinal();
        Ok(match column.type_info().name() {
            "INT8" => Value::Int(row.try_get(at)?),
            "INT4" => Value::Int(row.try_get::<Option<i32>, _>(at)?.map(i64::from)),
            "BOOL" => Value::Int(row.try_get::<Option<bool>, _>(at)?.map(i64::from)),
            "BYTEA" => Value::Bytes(row.try_get(at)?),
            "VOID" => Value::Text(None),
            _ => Value::Text(row.try_get(at)?),
        })
    };
    row.columns()
        .iter()
        .map(value)
        .collect::<Result<_, _>>()
        .map(Row)
}

async fn run<'e>(
    at: impl Executor<'e, Database = Pg>,
    sql: &str,
    values: Vec<Value>,
) -> Result<Done, sqlx::Error> {
    let question = sql.trim_start().starts_with("SELECT") || sql.contains("RETURNING");
    let query = bound(sql, values);
    if !question {
        return Ok((query.execute(at).await?.rows_affected(), Vec::new()));
    }
    let rows = query.fetch_all(at).await?;
    let rows: Vec<Row> = rows.iter().map(read).collect::<Result<_, _>>()?;
    Ok((rows.len() as u64, rows))
}

struct Open<'p> {
    runtime: &'p Ending,
    change: Option<Transaction<'static, Pg>>,
}

impl Link for Open<'_> {
    fn run(&mut self, sql: &str, values: Vec<Value>) -> Result<Done, AppError> {
        let sql = numbered(sql);
        let gone = || AppError::internal("PostgreSQL", "the transaction failed before");
        let mut change = self.change.take().ok_or_else(gone)?;
        let (change, done) = wait_for(self.runtime, async move {
            let done = run(&mut *change, &sql, values).await;
            (change, done)
        })?;
        self.change = Some(change);
        Ok(done?)
    }
}

impl Database for Postgres {
    fn run(&self, sql: &str, values: Vec<Value>) -> Result<Done, AppError> {
        let (pool, sql) = (self.pool.clone(), numbered(sql));
        wait(&self.runtime, async move { run(&pool, &sql, values).await })
    }

    fn transaction(&self, work: &mut Work<'_>) -> Result<(), AppError> {
        let pool = self.pool.clone();
        let change = wait(&self.runtime, async move { pool.begin().await })?;
        let mut open = Open {
            runtime: &self.runtime,
            change: Some(change),
        };
        let worked = work(&mut open);
        let Some(change) = open.change.take() else {
            return worked;
        };
        match worked {
            Ok(()) => wait(&self.runtime, change.commit()),
            Err(error) => {
                let _ = wait(&self.runtime, change.rollback());
                Err(error)
            }
        }
    }

    fn holds_word(&self, _: &str, n: usize) -> String {
        // Whole words by the index; a piece of a serial number by looking.
        format!("(words @@ plainto_tsquery('simple', ?{n}) OR body ILIKE '%' || ?{n} || '%')")
    }

    fn backup(&self, _: &Path) -> Result<(), AppError> {
        Err(AppError::Unusable(
            "accounts in PostgreSQL are copied with pg_dump".to_owned(),
        ))
    }
}
