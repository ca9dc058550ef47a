//! What was read of a document, kept: after an edit only the entries that it wrote to are read
//! again, after changes from elsewhere all of them.
//!
//! Nothing here outlives the state of the document that it was read from: [`SurveyDoc`] tells of
//! every write. What follows from one entry alone is kept with it.

use super::conflict::Dispute;
use super::doc::SurveyDoc;
use super::schema::{ONLY, Table};
use super::units::{Units, edited_since_withdrawn};
use super::view::{Row, Tables, row, rows};
use automerge::{Automerge, ObjId, Prop, ReadDoc};
use std::any::Any;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Deref;
use std::sync::{Arc, OnceLock};

/// An entry, and what follows from it alone.
#[derive(Debug)]
pub(super) struct Entry {
    row: Row,
    /// Whether it is to be seen: not withdrawn, or edited since it was.
    pub(super) in_view: bool,
    typed: OnceLock<Box<dyn Any + Send + Sync>>,
    /// Its fields that hold several values.
    pub(super) disputes: OnceLock<Vec<Dispute>>,
}

impl Deref for Entry {
    type Target = Row;

    fn deref(&self) -> &Row {
        &self.row
    }
}

impl Entry {
    /// An entry as it stands in the document.
    pub(super) fn read(am: &Automerge, row: Row) -> Arc<Self> {
        let in_view = row.get("withdrawn_by").is_none() || edited_since_withdrawn(am, &row);
        Self::of(row, in_view)
    }

    /// Two entries read as one.
    pub(super) fn joined(&self, other: &Self) -> Arc<Self> {
        let mut row = self.row.clone();
        row.absorb(other);
        Self::of(row, self.in_view || other.in_view)
    }

    fn of(row: Row, in_view: bool) -> Arc<Self> {
        Arc::new(Self {
            row,
            in_view,
            typed: OnceLock::new(),
            disputes: OnceLock::new(),
        })
    }

    /// The entry as the plain type of its table, made once; none if it was made as another type.
    pub(super) fn typed<T: Any + Send + Sync>(&self, make: impl FnOnce() -> T) -> Option<&T> {
        self.typed
            .get_or_init(|| Box::new(make()))
            .downcast_ref::<T>()
    }
}

/// More maps than this written to at once, and all is read again when it is asked for.
const MANY: usize = 500;

type Entries = BTreeMap<String, Arc<Entry>>;

/// The entries of a document, each table read when it is first asked for.
pub(super) struct Held {
    tables: BTreeMap<Table, OnceLock<Entries>>,
    units: OnceLock<Arc<Units>>,
}

impl Held {
    /// Nothing read yet.
    pub(super) fn nothing() -> Self {
        let unread = Table::ALL.into_iter().map(|t| (t, OnceLock::new()));
        Self {
            tables: unread.collect(),
            units: OnceLock::new(),
        }
    }

    /// Which entries make up which unit, if that is known here.
    pub(super) fn units(&self) -> Option<&Arc<Units>> {
        self.units.get()
    }

    /// Reads again what an edit wrote to: the entries that these maps belong to.
    pub(super) fn renew(&mut self, am: &Automerge, tables: &Tables, written: &[ObjId]) {
        if written.len() > MANY {
            *self = Self::nothing();
            return;
        }
        let places = written.iter().filter_map(|at| place_of(am, tables, at));
        for (table, id) in places.collect::<BTreeSet<_>>() {
            if table == Table::Equipment {
                self.units.take();
            }
            let read = self.tables.get_mut(&table).and_then(OnceLock::get_mut);
            if let (Some(entries), Some(row)) = (read, row(am, tables, table, &id)) {
                entries.insert(id, Entry::read(am, row));
            }
        }
    }
}

/// The table and id of the entry that a map belongs to.
fn place_of(am: &Automerge, tables: &Tables, object: &ObjId) -> Option<(Table, String)> {
    let single = |table: &Table| table.is_single() && tables.object(*table) == object;
    if let Some(table) = Table::ALL.into_iter().find(single) {
        return Some((table, ONLY.to_owned()));
    }
    let above = am.parents(object).ok()?.next()?;
    let holds = |table: &Table| *tables.object(*table) == above.obj;
    let table = Table::ALL.into_iter().find(holds)?;
    match above.prop {
        Prop::Map(id) => Some((table, id)),
        Prop::Seq(_) => None,
    }
}

impl SurveyDoc {
    /// Every entry of a table in the order of their ids, withdrawn ones too.
    pub(super) fn entries(&self, table: Table) -> impl Iterator<Item = &Arc<Entry>> {
        let read = || {
            let all = rows(&self.am, &self.tables, table).into_iter();
            all.map(|row| (row.id.clone(), Entry::read(&self.am, row)))
                .collect()
        };
        let held = self.held.tables.get(&table);
        let entries = held.map(|held: &OnceLock<Entries>| held.get_or_init(read));
        entries.into_iter().flat_map(BTreeMap::values)
    }

    /// The entries of a table that are to be seen.
    pub(super) fn in_view(&self, table: Table) -> impl Iterator<Item = &Arc<Entry>> {
        self.entries(table).filter(|entry| entry.in_view)
    }

    /// The only entry of a table that has one.
    pub(super) fn only(&self, table: Table) -> Option<&Arc<Entry>> {
        self.entries(table).next()
    }

    /// Every unit with all its fields.
    pub(super) fn units(&self) -> &Arc<Units> {
        let read = || Arc::new(Units::of(self.entries(Table::Equipment).cloned()));
        self.held.units.get_or_init(read)
    }
}
