//! [`Storage`] in PostgreSQL and an S3-compatible object store, for several processes at once.
//!
//! Every change is a row, numbered within its survey by a transaction that also calls out the news
//! (`NOTIFY`). Changes of a document commute, so two processes may append without having read each
//! other's; only compaction makes sure that it has read everything. Files of photos are objects
//! named by their hash and kept in a folder of this machine once read; uploads under way are rows.

mod moving;
mod objects;
mod photos;
mod schema;

pub(crate) use moving::move_in;
pub(crate) use objects::Objects;

use super::{Held, Mark, Places, Storage};
use crate::error::AppError;
use crate::live::Live;
use crate::sql::{Database, Postgres, Row, values};
use scupper_core::document::{Actor, Change, SurveyDoc};
use scupper_core::store::{Damage, Limits, Part, PhotoRow, UploadHead, UploadState};
use sqlx::postgres::PgListener;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

const SNAPSHOT: i64 = 0;
const CHANGES: i64 = 1;
/// A document is compacted when this many chunks follow its snapshot, looked at now and then.
const TAIL: i64 = 500;
const NOW_AND_THEN: i64 = 50;
/// Where news is called out.
const CHANNEL: &str = "scupper_changed";

/// One contractor's rows and objects.
#[derive(Debug)]
pub(crate) struct SharedPlace {
    db: Postgres,
    objects: Objects,
    contractor: i64,
    limits: Limits,
    cache: PathBuf,
}

impl SharedPlace {
    /// Connects to a database and makes its tables.
    pub(crate) fn connect(url: &str) -> Result<Postgres, AppError> {
        let db = Postgres::connect(url)?;
        schema::ready(&db)?;
        Ok(db)
    }

    /// A contractor's place.
    pub(crate) fn new(
        db: Postgres,
        objects: Objects,
        contractor: i64,
        limits: Limits,
        cache: &Path,
    ) -> Self {
        Self {
            db,
            objects,
            contractor,
            limits,
            cache: cache.join(contractor.to_string()),
        }
    }

    /// Passes on news from other processes for as long as the database lives.
    pub(crate) fn listen(db: &Postgres, live: Arc<Live>) {
        let pool = db.pool();
        db.spawn(async move {
            loop {
                if let Ok(mut listener) = PgListener::connect_with(&pool).await
                    && listener.listen(CHANNEL).await.is_ok()
                {
                    // Whatever was called out while nobody listened.
                    live.call_everyone();
                    while let Ok(Some(news)) = listener.try_recv().await {
                        if let Some((contractor, survey)) = news.payload().split_once('/')
                            && let Ok(contractor) = contractor.parse()
                        {
                            live.call(contractor, survey);
                        }
                    }
                }
                tokio::time::sleep(Duration::from_secs(1)).await;
            }
        });
    }

    fn db(&self) -> &dyn Database {
        &self.db
    }

    /// Chunks of a survey from a number on, as (number, kind, bytes), and those that are damaged.
    fn chunks(&self, survey: &str, from: i64) -> Result<(Vec<Chunk>, Vec<String>), AppError> {
        let rows = self.db().rows(
            "SELECT number, kind, bytes, sum FROM chunk
             WHERE contractor = ?1 AND survey = ?2 AND number >= ?3 ORDER BY number",
            values![self.contractor, survey, from],
        )?;
        let (mut chunks, mut problems) = (Vec::new(), Vec::new());
        for row in rows {
            let chunk = Chunk::read(&row)?;
            match chunk.sum(survey) == row.bytes(3)? {
                true => chunks.push(chunk),
                false => problems.push(format!("chunk {} of {survey} is damaged", chunk.number)),
            }
        }
        Ok((chunks, problems))
    }

    fn newest_snapshot(&self, survey: &str) -> Result<i64, AppError> {
        let row = self.db().row(
            "SELECT max(number) FROM chunk WHERE contractor = ?1 AND survey = ?2 AND kind = ?3",
            values![self.contractor, survey, SNAPSHOT],
        )?;
        Ok(row.map_or(Ok(None), |row| row.opt_int(0))?.unwrap_or(0))
    }

    /// Keeps a survey that is not here yet, as one snapshot; false if it was here.
    fn begin(&self, survey: &str, snapshot: Vec<u8>) -> Result<bool, AppError> {
        self.db().within(|db| {
            let begun = db.execute(
                "INSERT INTO survey (contractor, id, last) VALUES (?1, ?2, 1)
                 ON CONFLICT DO NOTHING",
                values![self.contractor, survey],
            )?;
            if begun == 1 {
                Chunk::new(1, SNAPSHOT, snapshot).write(db, self.contractor, survey)?;
            }
            Ok(begun == 1)
        })
    }
}

/// The place of every contractor of a shared office, with its name.
pub(crate) fn every_place(url: &str, objects: &str, data: &Path) -> Result<Places, AppError> {
    let db = SharedPlace::connect(url)?;
    let objects = Objects::open(objects)?;
    let rows: &dyn Database = &db;
    let rows = rows.rows("SELECT id, name FROM contractor ORDER BY id", Vec::new())?;
    let place = |row: &Row| {
        let (id, name) = (row.int(0)?, row.text(1)?);
        let (db, objects, cache) = (db.clone(), objects.clone(), data.join("cache"));
        let place = SharedPlace::new(db, objects, id, Limits::default(), &cache);
        Ok((name, Box::new(place) as Box<dyn Storage>))
    };
    rows.iter().map(place).collect()
}

/// A piece of a document.
struct Chunk {
    number: i64,
    kind: i64,
    bytes: Vec<u8>,
}

impl Chunk {
    fn new(number: i64, kind: i64, bytes: Vec<u8>) -> Self {
        Self {
            number,
            kind,
            bytes,
        }
    }

    fn read(row: &Row) -> Result<Self, AppError> {
        Ok(Self::new(row.int(0)?, row.int(1)?, row.bytes(2)?))
    }

    /// BLAKE3 over the chunk and its place.
    fn sum(&self, survey: &str) -> Vec<u8> {
        let mut hasher = blake3::Hasher::new_derive_key("scupper 2026 chunk of a shared office");
        hasher.update(&(survey.len() as u64).to_le_bytes());
        hasher.update(survey.as_bytes());
        hasher.update(&self.number.to_le_bytes());
        hasher.update(&self.kind.to_le_bytes());
        hasher.update(&self.bytes);
        hasher.finalize().as_bytes().to_vec()
    }

    fn write(
        self,
        db: &mut dyn crate::sql::Link,
        contractor: i64,
        survey: &str,
    ) -> Result<(), AppError> {
        let sum = self.sum(survey);
        db.execute(
            "INSERT INTO chunk (contractor, survey, number, kind, bytes, sum)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            values![contractor, survey, self.number, self.kind, self.bytes, sum],
        )?;
        Ok(())
    }
}

impl Storage for SharedPlace {
    fn survey_ids(&self) -> Result<Vec<String>, AppError> {
        let rows = self.db().rows(
            "SELECT id FROM survey WHERE contractor = ?1 ORDER BY id COLLATE \"C\"",
            values![self.contractor],
        )?;
        rows.iter().map(|row| row.text(0)).collect()
    }

    fn has(&self, survey: &str) -> Result<bool, AppError> {
        Ok(self.mark(survey)? > 0)
    }

    fn mark(&self, survey: &str) -> Result<Mark, AppError> {
        let row = self.db().row(
            "SELECT last FROM survey WHERE contractor = ?1 AND id = ?2",
            values![self.contractor, survey],
        )?;
        row.map_or(Ok(0), |row| row.int(0))
    }

    fn document_bytes(&self, survey: &str) -> Result<u64, AppError> {
        let row = self.db().row(
            "SELECT CAST(coalesce(sum(length(bytes)), 0) AS BIGINT) FROM chunk
             WHERE contractor = ?1 AND survey = ?2",
            values![self.contractor, survey],
        )?;
        let sum = row.map_or(Ok(0), |row| row.int(0))?;
        Ok(u64::try_from(sum).unwrap_or(0))
    }

    fn stands(&self, survey: &str) -> Result<i64, AppError> {
        self.mark(survey)
    }

    fn load(&self, survey: &str, actor: Actor) -> Result<Option<Held>, AppError> {
        let from = self.newest_snapshot(survey)?;
        let (mut chunks, mut problems) = self.chunks(survey, from)?;
        if chunks.first().is_none_or(|chunk| chunk.kind != SNAPSHOT) && from > 0 {
            // The newest snapshot is damaged: the one before it and all changes are still there.
            (chunks, problems) = self.chunks(survey, 0)?;
        }
        let Some(mark) = chunks.iter().map(|chunk| chunk.number).max() else {
            return Ok(None);
        };
        let bytes: Vec<Vec<u8>> = chunks.into_iter().map(|chunk| chunk.bytes).collect();
        let doc = SurveyDoc::load(survey, &bytes, actor)?;
        if doc.waiting() {
            problems.push(format!("some changes of {survey} wait for others"));
        }
        Ok(Some(Held {
            doc,
            mark,
            problems,
        }))
    }

    fn create(&self, survey: &str, actor: Actor) -> Result<Held, AppError> {
        if let Some(held) = self.load(survey, actor)? {
            return Ok(held);
        }
        let doc = SurveyDoc::create(survey, actor)?;
        if self.begin(survey, doc.save())? {
            return Ok(Held {
                doc,
                mark: 1,
                problems: Vec::new(),
            });
        }
        let held = self.load(survey, actor)?;
        held.ok_or(AppError::NotFound("this survey"))
    }

    fn keep(&self, held: &mut Held, changes: &[Change]) -> Result<(), AppError> {
        if changes.is_empty() {
            return Ok(());
        }
        let bytes: Vec<u8> = changes.iter().flat_map(Change::bytes).copied().collect();
        let survey = held.doc.survey_id();
        let number = self.db().within(|db| {
            let row = db.row(
                "UPDATE survey SET last = last + 1 WHERE contractor = ?1 AND id = ?2
                 RETURNING last",
                values![self.contractor, survey],
            )?;
            let number = row.ok_or(AppError::NotFound("this survey"))?.int(0)?;
            Chunk::new(number, CHANGES, bytes).write(db, self.contractor, survey)?;
            db.execute(
                "SELECT pg_notify(?1, ?2)",
                values![CHANNEL, format!("{}/{survey}", self.contractor)],
            )?;
            Ok(number)
        })?;
        // If another process wrote in between the mark stays behind, and the document is loaded
        // again at its next use.
        if number == held.mark + 1 {
            held.mark = number;
        }
        Ok(())
    }

    fn tidy(&self, held: &mut Held) -> Result<(), AppError> {
        if held.mark % NOW_AND_THEN != 0 {
            return Ok(());
        }
        let survey = held.doc.survey_id();
        let newest = self.newest_snapshot(survey)?;
        if held.mark - newest < TAIL {
            return Ok(());
        }
        let (seen, whole) = (held.mark, held.doc.save());
        held.mark = self.db().within(|db| {
            let row = db.row(
                "SELECT last FROM survey WHERE contractor = ?1 AND id = ?2 FOR UPDATE",
                values![self.contractor, survey],
            )?;
            // Only a snapshot of everything may stand for everything.
            if row.map_or(Ok(0), |row| row.int(0))? != seen {
                return Ok(seen);
            }
            db.execute(
                "UPDATE survey SET last = ?3 WHERE contractor = ?1 AND id = ?2",
                values![self.contractor, survey, seen + 1],
            )?;
            Chunk::new(seen + 1, SNAPSHOT, whole).write(db, self.contractor, survey)?;
            db.execute(
                "DELETE FROM chunk WHERE contractor = ?1 AND survey = ?2 AND number < ?3",
                values![self.contractor, survey, newest],
            )?;
            Ok(seen + 1)
        })?;
        Ok(())
    }

    fn fact_or(&self, name: &str, fresh: &[u8]) -> Result<Vec<u8>, AppError> {
        self.db().within(|db| {
            db.execute(
                "INSERT INTO fact (contractor, name, value) VALUES (?1, ?2, ?3)
                 ON CONFLICT DO NOTHING",
                values![self.contractor, name, fresh],
            )?;
            let row = db.row(
                "SELECT value FROM fact WHERE contractor = ?1 AND name = ?2",
                values![self.contractor, name],
            )?;
            row.ok_or_else(|| AppError::internal("a fact", "is gone"))?
                .bytes(0)
        })
    }

    fn photo(&self, hash: &str) -> Result<Option<PhotoRow>, AppError> {
        self.photo_row(hash)
    }

    fn surveys_of_photo(&self, hash: &str) -> Result<Vec<String>, AppError> {
        let rows = self.db().rows(
            "SELECT survey FROM photo_survey WHERE contractor = ?1 AND hash = ?2
             ORDER BY survey COLLATE \"C\"",
            values![self.contractor, hash],
        )?;
        rows.iter().map(|row| row.text(0)).collect()
    }

    fn wanting(&self, hashes: &[String]) -> Result<(Vec<String>, Vec<String>), AppError> {
        self.wanted(hashes)
    }

    fn path(&self, hash: &str, part: Part) -> Result<Option<PathBuf>, AppError> {
        self.cached(hash, part)
    }

    fn begin_upload(&self, head: &UploadHead, now: i64) -> Result<UploadState, AppError> {
        self.begin_one(head, now)
    }

    fn upload_head(&self, hash: &str, part: Part) -> Result<Option<UploadHead>, AppError> {
        Ok(self.upload(hash, part)?.map(|(head, _)| head))
    }

    fn upload_state(&self, hash: &str, part: Part) -> Result<Option<UploadState>, AppError> {
        match self.upload(hash, part)? {
            Some((_, state)) => Ok(Some(state)),
            None => self.over(hash, part),
        }
    }

    fn append_upload(
        &self,
        hash: &str,
        part: Part,
        offset: u64,
        bytes: &[u8],
    ) -> Result<UploadState, AppError> {
        self.append(hash, part, offset, bytes)
    }

    fn drop_upload(&self, hash: &str, part: Part) -> Result<(), AppError> {
        self.forget(hash, part)
    }

    fn verify(&self) -> Result<Vec<Damage>, AppError> {
        let mut found = Vec::new();
        for survey in self.survey_ids()? {
            let (_, problems) = self.chunks(&survey, 0)?;
            let what = "PostgreSQL".to_owned();
            found.extend(problems.into_iter().map(|problem| Damage {
                what: what.clone(),
                problem,
            }));
        }
        self.verify_photos(&mut found)?;
        Ok(found)
    }
}
