//! Writing: one change at a time, whole or not at all.

use super::change::Change;
use super::doc::SurveyDoc;
use super::error::DocumentError;
use super::schema::{Fields, Table, same_value, to_scalar};
use super::stamp::{Means, Message, Stamp};
use super::units::is_link;
use super::view::{Tables, plain};
use automerge::transaction::{CommitOptions, Transactable, Transaction};
use automerge::{ObjId, ObjType, ReadDoc};
use serde_json::Value;

/// The edits of a change under way.
pub(super) struct Edits<'a, 'b> {
    tx: &'a mut Transaction<'b>,
    tables: &'a Tables,
    /// The maps written to.
    written: Vec<ObjId>,
    relinked: bool,
}

impl Edits<'_, '_> {
    /// Puts a value into a field unless it is there already, undisputed.
    pub(super) fn put(
        &mut self,
        object: &ObjId,
        field: &str,
        value: &Value,
    ) -> Result<(), DocumentError> {
        let all = self.tx.get_all(object, field)?;
        let same = |held| same_value(&plain(held), value);
        if all.len() == 1 && all.iter().all(|(held, _)| same(held)) {
            return Ok(());
        }
        self.relinked |= is_link(field);
        self.tx.put(object, field, to_scalar(value))?;
        if self.written.last() != Some(object) {
            self.written.push(object.clone());
        }
        Ok(())
    }

    /// Puts all of an entry's fields.
    pub(super) fn put_all(&mut self, object: &ObjId, fields: &Fields) -> Result<(), DocumentError> {
        let mut fields = fields.iter();
        fields.try_for_each(|(field, value)| self.put(object, field, value))
    }

    /// Makes an entry.
    pub(super) fn make(&mut self, table: Table, id: &str) -> Result<ObjId, DocumentError> {
        self.relinked |= table == Table::Equipment;
        let made = self
            .tx
            .put_object(self.tables.object(table), id, ObjType::Map)?;
        self.written.push(made.clone());
        Ok(made)
    }

    /// The map of an entry that is there.
    pub(super) fn at(&self, table: Table, id: &str) -> Option<ObjId> {
        if table.is_single() {
            return Some(self.tables.object(table).clone());
        }
        let (value, object) = self.tx.get(self.tables.object(table), id).ok()??;
        value.is_object().then_some(object)
    }
}

impl SurveyDoc {
    /// Runs `work` as one change; an error undoes all of it. None if nothing was written.
    pub(super) fn commit(
        &mut self,
        stamp: &Stamp,
        means: Means,
        work: impl FnOnce(&mut Edits<'_, '_>) -> Result<(), DocumentError>,
    ) -> Result<Option<Change>, DocumentError> {
        let message = serde_json::to_string(&Message {
            stamp: stamp.clone(),
            means,
        });
        let message = message.map_err(|error| DocumentError::Internal {
            problem: error.to_string(),
        })?;
        let mut tx = self.am.transaction();
        let mut edits = Edits {
            tx: &mut tx,
            tables: &self.tables,
            written: Vec::new(),
            relinked: false,
        };
        let worked = work(&mut edits);
        let (written, relinked) = (edits.written, edits.relinked);
        if let Err(error) = worked {
            tx.rollback();
            return Err(error);
        }
        let options = CommitOptions::default()
            .with_message(message)
            .with_time(stamp.at.timestamp());
        let (hash, _) = tx.commit_with(options);
        self.held.renew(&self.am, &self.tables, &written);
        self.reindex(relinked);
        Ok(hash.and_then(|hash| self.committed(hash)))
    }
}
