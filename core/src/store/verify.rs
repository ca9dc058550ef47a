//! Looking over a whole store: is every document and photo still what was written?

use super::error::StoreError;
use super::files::{hash_file, settle};
use super::photos::PhotoRow;
use super::schema::{DATABASE, Store, sound};
use super::uploads::Part;

/// Something that is not what was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// The file or row.
    pub what: String,
    /// What is wrong, and what was done about it.
    pub problem: String,
}

impl Store {
    /// Checks every chunk, original and thumbnail. A damaged original is set aside and no longer
    /// counts as here, so that it is asked for again from any device that has it; a damaged
    /// thumbnail is dropped, since it can be made again. Returns what was found, in order.
    pub fn verify(&self) -> Result<Vec<Damage>, StoreError> {
        let mut found = Vec::new();
        if let Err(StoreError::Damaged { what, problem }) = sound(&*self.db()?) {
            found.push(Damage { what, problem });
        }
        let surveys = self.surveys()?;
        let ids: Vec<String> = surveys.iter().map(|survey| survey.id.clone()).collect();
        found.extend(self.vanished(&ids));
        for survey in surveys {
            let parts = self.parts(&survey.id)?.unwrap_or_default();
            found.extend(parts.problems.into_iter().map(|problem| Damage {
                what: DATABASE.to_owned(),
                problem,
            }));
        }
        for row in self.all_photos()? {
            self.verify_photo(&row, &mut found)?;
        }
        Ok(found)
    }

    fn verify_photo(&self, row: &PhotoRow, found: &mut Vec<Damage>) -> Result<(), StoreError> {
        let hash = &row.meta.hash;
        let original = self.files.of(Part::Original, hash)?;
        let held = hash_file(&original)?;
        if row.original_here && held.as_deref() != Some(hash) {
            let problem = match held {
                Some(other) => {
                    settle(&original, &self.files.damaged(hash))?;
                    format!("hashes to {other}; set aside, and asked for again")
                }
                None => "is not there; asked for again".to_owned(),
            };
            self.note_photo("", hash, |row| row.original_here = false)?;
            found.push(Damage {
                what: format!("photo {hash}"),
                problem,
            });
        }
        let thumbnail = hash_file(&self.files.of(Part::Thumbnail, hash)?)?;
        if row.thumbnail.is_some() && thumbnail != row.thumbnail {
            self.note_photo("", hash, |row| row.thumbnail = None)?;
            found.push(Damage {
                what: format!("thumbnail of {hash}"),
                problem: "is not what was written; made or asked for again".to_owned(),
            });
        }
        Ok(())
    }
}
