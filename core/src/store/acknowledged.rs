//! How far each survey was acknowledged, noted beside the database.
//!
//! SQLite ends its write-ahead log at the first frame whose sum is wrong and says nothing, so a log
//! that rotted would show an earlier moment as if it were the last. The number of a survey's newest
//! chunk is therefore also noted in a small file, after the chunk is on disk. The note is not
//! flushed: after a power cut it may lag behind the database, never lead.

use super::schema::{DATABASE, Store, row_sum};
use super::verify::Damage;
use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;

/// Folder of the notes, one a survey.
const FOLDER: &str = "acknowledged";

impl Store {
    fn note_of(&self, survey: &str) -> PathBuf {
        let name = blake3::hash(survey.as_bytes()).to_hex();
        self.dir().join(FOLDER).join(name.as_str())
    }

    /// Notes that the survey's chunks up to `number` are on disk. A note that cannot be written is
    /// no failure of the work: it lags behind.
    pub(super) fn note_acknowledged(&self, survey: &str, number: i64) {
        let path = self.note_of(survey);
        let bytes = number.to_le_bytes();
        let note = [bytes.as_slice(), &sum(survey, number)].concat();
        if fs::write(&path, &note).is_err() {
            let made = path.parent().map(fs::create_dir_all);
            let _ = made.map(|_| fs::write(&path, &note));
        }
    }

    /// How far the survey was acknowledged; none without a sound note.
    fn acknowledged(&self, survey: &str) -> Option<i64> {
        let note = fs::read(self.note_of(survey)).ok()?;
        let (number, rest) = note.split_first_chunk::<8>()?;
        let number = i64::from_le_bytes(*number);
        (rest == sum(survey, number)).then_some(number)
    }

    /// What to say if the survey was acknowledged further than its chunk `last`.
    pub(super) fn fell_back(&self, survey: &str, last: i64) -> Option<String> {
        let lost = self.acknowledged(survey)? - last;
        (lost > 0).then(|| {
            format!(
                "{lost} acknowledged changes of {survey} are not in the database any more; an \
                 exchange gives back those that the office or another device has"
            )
        })
    }

    /// The notes of surveys that the database has nothing of.
    pub(super) fn vanished(&self, surveys: &[String]) -> Vec<Damage> {
        let here: BTreeSet<PathBuf> = surveys.iter().map(|id| self.note_of(id)).collect();
        let notes = fs::read_dir(self.dir().join(FOLDER));
        let paths = notes
            .into_iter()
            .flatten()
            .flatten()
            .map(|note| note.path());
        let gone = paths.filter(|path| !here.contains(path));
        gone.map(|_| Damage {
            what: DATABASE.to_owned(),
            problem: "a survey that was acknowledged is not in it any more".to_owned(),
        })
        .collect()
    }
}

fn sum(survey: &str, number: i64) -> Vec<u8> {
    row_sum(&[FOLDER.as_bytes(), survey.as_bytes(), &number.to_le_bytes()])
}
