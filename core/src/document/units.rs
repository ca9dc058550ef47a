//! Units as people mean them: entries joined as one and the same, withdrawn ones set aside.
//!
//! `same_as` on one entry names another; entries linked so, in whatever direction and order,
//! read as one unit under the smallest id. Joining moves no data and can be undone.

use super::held::Entry;
use super::schema::Table;
use super::view::{Row, Tables, plain, rows_without_fields};
use automerge::{Automerge, ReadDoc};
use std::collections::BTreeMap;
use std::sync::Arc;

/// A unit: one entry or several joined ones.
pub(super) struct Unit {
    /// The merged entry; its id is the smallest of the members. In an index it holds only what
    /// links entries.
    pub(super) row: Arc<Entry>,
    /// The members as they stand in the document.
    pub(super) members: Vec<Arc<Entry>>,
}

/// All units of a survey that are in view.
pub(super) struct Units {
    pub(super) units: Vec<Unit>,
    /// Unit that each entry's id belongs to, withdrawn entries included.
    place: BTreeMap<String, usize>,
    /// Unit in view by its tag as compared; the first entered if a tag is there twice.
    by_tag: BTreeMap<String, usize>,
    /// Tags of withdrawn entries, for what still refers to them.
    withdrawn: BTreeMap<String, String>,
}

/// The fields that decide which entry belongs where.
const LINKS: [&str; 3] = ["tag", "same_as", "withdrawn_by"];

/// Whether a new value of this field can move entries between units, or out of view.
pub(super) fn is_link(field: &str) -> bool {
    LINKS.contains(&field)
}

impl Units {
    /// Which entries make up which unit, without their other fields.
    pub(super) fn index(am: &Automerge, tables: &Tables) -> Self {
        let mut entries = rows_without_fields(am, tables, Table::Equipment);
        for row in &mut entries {
            for object in &row.objects {
                for field in LINKS {
                    if let Ok(Some((value, _))) = am.get(object, field) {
                        let free = row.fields.entry(field.to_owned());
                        free.or_insert_with(|| plain(&value));
                    }
                }
            }
        }
        Self::of(entries.into_iter().map(|row| Entry::read(am, row)))
    }

    /// Whether any entry is withdrawn and out of view.
    pub(super) fn any_hidden(&self) -> bool {
        !self.withdrawn.is_empty()
    }

    /// The units that these entries make up.
    pub(super) fn of(entries: impl Iterator<Item = Arc<Entry>>) -> Self {
        let (seen, hidden): (Vec<_>, Vec<_>) = entries.partition(|entry| entry.in_view);
        let mut units = Self::group(seen);
        units.withdrawn = hidden
            .into_iter()
            .filter_map(|row| Some((row.id.clone(), row.text("tag")?.to_owned())))
            .collect();
        units
    }

    fn group(entries: Vec<Arc<Entry>>) -> Self {
        let index: BTreeMap<&str, usize> = entries
            .iter()
            .enumerate()
            .map(|(i, row)| (row.id.as_str(), i))
            .collect();
        let mut root: Vec<usize> = (0..entries.len()).collect();
        for (i, row) in entries.iter().enumerate() {
            if let Some(&j) = row.text("same_as").and_then(|id| index.get(id)) {
                let (a, b) = (find(&mut root, i), find(&mut root, j));
                if let Some(slot) = root.get_mut(a.max(b)) {
                    *slot = a.min(b);
                }
            }
        }
        let mut units: Vec<Unit> = Vec::new();
        let mut at: BTreeMap<usize, usize> = BTreeMap::new();
        let mut place = BTreeMap::new();
        for (i, row) in entries.into_iter().enumerate() {
            let unit = *at.entry(find(&mut root, i)).or_insert(units.len());
            place.insert(row.id.clone(), unit);
            match units.get_mut(unit) {
                Some(unit) => {
                    unit.row = unit.row.joined(&row);
                    unit.members.push(row);
                }
                None => units.push(Unit {
                    row: Arc::clone(&row),
                    members: vec![row],
                }),
            }
        }
        let mut by_tag = BTreeMap::new();
        for (i, unit) in units.iter().enumerate() {
            for member in &unit.members {
                if let Some(tag) = member.text("tag") {
                    by_tag.entry(compared(tag)).or_insert(i);
                }
            }
        }
        Self {
            units,
            place,
            by_tag,
            withdrawn: BTreeMap::new(),
        }
    }

    /// The unit with this tag or entry id.
    pub(super) fn find(&self, tag_or_id: &str) -> Option<&Unit> {
        let by_tag = || self.by_tag.get(&compared(tag_or_id));
        self.units.get(*self.place.get(tag_or_id).or_else(by_tag)?)
    }

    /// What a person calls the entry that a stored reference means: a tag, or as stored.
    pub(super) fn tag_of<'a>(&'a self, stored: &'a str) -> &'a str {
        let unit = self.place.get(stored).and_then(|&i| self.units.get(i));
        let hidden = || self.withdrawn.get(stored).map(String::as_str);
        let tag = unit.and_then(|unit| unit.row.text("tag"));
        tag.or_else(hidden).unwrap_or(stored)
    }
}

fn find(root: &mut [usize], mut i: usize) -> usize {
    while let Some(&up) = root.get(i)
        && up != i
    {
        let above = root.get(up).copied().unwrap_or(up);
        if let Some(slot) = root.get_mut(i) {
            *slot = above;
        }
        i = above;
    }
    i
}

/// A tag as compared: letters and digits only, in capitals, so `rtu 2` is RTU-2.
pub(super) fn compared(tag: &str) -> String {
    tag.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_uppercase)
        .collect()
}

/// Whether a withdrawn entry has changed in any way that the person who withdrew it had not seen.
pub(super) fn edited_since_withdrawn(am: &Automerge, row: &Row) -> bool {
    row.objects.iter().any(|object| {
        let withdrawals = am.get_all(object, "withdrawn_by").unwrap_or_default();
        let heads: Vec<_> = withdrawals
            .iter()
            .filter(|(value, _)| value.as_str().is_some())
            .filter_map(|(_, op)| am.hash_for_opid(op))
            .collect();
        let seen = |at: Option<&[automerge::ChangeHash]>| {
            let fields = match at {
                Some(heads) => am.map_range_at(object, .., heads),
                None => am.map_range(object, ..),
            };
            fields
                .filter(|item| item.key != "withdrawn_by")
                .map(|item| (item.key.clone().into_owned(), item.id()))
                .collect::<Vec<_>>()
        };
        !heads.is_empty() && seen(Some(&heads)) != seen(None)
    })
}
