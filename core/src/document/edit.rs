//! Edits that a person makes. Each is one change, whole or not at all.

use super::change::Change;
use super::check::{normalise, retype};
use super::doc::SurveyDoc;
use super::error::DocumentError;
use super::place::Place;
use super::reopen::open_key;
use super::schema::{MAIN_ROOF, Table, flatten, same_value};
use super::stamp::{Means, Stamp};
use super::units::Units;
use crate::survey::SITE;
use automerge::{ObjId, ReadDoc};
use serde_json::{Value, json};

/// One edit. `about` is a tag, [`SITE`], or the id of any entry.
#[derive(Debug, Clone, PartialEq)]
pub enum Edit {
    /// Gives a field a value; null clears it. Also how a conflict is settled and how an earlier
    /// value is brought back.
    Set {
        /// The entry.
        about: String,
        /// The field's path, such as `nameplate.mca_a`; on the site also `roof.height_ft`.
        field: String,
        /// The value.
        value: Value,
    },
    /// Opens a settled conflict again, which takes a choice back. The field shows the first of
    /// the values and the others stand against it, until someone sets it.
    Reopen {
        /// The entry.
        about: String,
        /// The field's path.
        field: String,
        /// Two values or more.
        values: Vec<Value>,
    },
    /// Adds an entry in the contract's JSON shape. `ref` may be a tag. A part of a roof may
    /// name it by `roof`; without, it is on the main roof.
    Add {
        /// Where to.
        table: Table,
        /// Its id, fresh from [`super::Ids`].
        id: String,
        /// The entry.
        entry: Value,
    },
    /// Stands behind a dictated entry. A confirmed draft's value becomes the field's value.
    Confirm {
        /// The entry.
        id: String,
    },
    /// Takes a person's confirmation back; the value that it gave a field stays.
    Unconfirm {
        /// The entry.
        id: String,
        /// Whose word it was.
        who: String,
    },
    /// Takes an entry out of view. It stays in the document.
    Withdraw {
        /// The entry.
        about: String,
    },
    /// Takes a withdrawal back.
    Reinstate {
        /// The entry's id.
        about: String,
    },
    /// Declares two units one and the same.
    Join {
        /// The unit.
        keep: String,
        /// Its double.
        other: String,
    },
    /// Takes a [`Edit::Join`] back.
    Unjoin {
        /// The double, by its id.
        other: String,
    },
    /// Declares two units different, so that they are not offered as one again.
    KeepApart {
        /// One.
        one: String,
        /// The other.
        other: String,
    },
    /// Stands behind a unit's value that looks wrong, or no longer does. It holds for the value
    /// that the field has now.
    Stand {
        /// The unit.
        about: String,
        /// The field's path.
        field: String,
        /// Whether it is right as it is.
        holds: bool,
    },
}

impl SurveyDoc {
    /// Makes an edit. Returns the change to be stored, or none if the document says so already.
    ///
    /// # Errors
    /// [`DocumentError`] naming the entry and field; nothing was changed.
    pub fn edit(&mut self, stamp: &Stamp, edit: Edit) -> Result<Option<Change>, DocumentError> {
        let units = self.index();
        match edit {
            Edit::Set {
                about,
                field,
                value,
            } => self.set(stamp, &units, &about, &field, &value),
            Edit::Reopen {
                about,
                field,
                values,
            } => self.reopen(stamp, &units, (&about, &field), &values),
            Edit::Add { table, id, entry } => self.add(stamp, &units, table, &id, entry),
            Edit::Confirm { id } => self.confirm(stamp, &units, &id),
            Edit::Unconfirm { id, who } => {
                let objects = self.whole_entry(&units, &id)?;
                self.put_each(
                    stamp,
                    &objects,
                    &format!("confirmed_by.{who}"),
                    &Value::Null,
                )
            }
            Edit::Withdraw { about } => {
                let objects = self.whole_entry(&units, &about)?;
                self.put_each(stamp, &objects, "withdrawn_by", &json!(stamp.author))
            }
            Edit::Reinstate { about } => {
                let objects = self.whole_entry(&units, &about)?;
                self.put_each(stamp, &objects, "withdrawn_by", &Value::Null)
            }
            Edit::Join { keep, other } => self.join(stamp, &units, &keep, &other),
            Edit::Unjoin { other } => self.unjoin(stamp, &units, &other),
            Edit::Stand {
                about,
                field,
                holds,
            } => self.stand(stamp, &units, (&about, &field), holds),
            Edit::KeepApart { one, other } => {
                let (one, other) = (self.unit_id(&units, &one)?, self.unit_id(&units, &other)?);
                let at = self.object(Table::Equipment, &one)?;
                self.put_each(stamp, &[at], &format!("apart_from.{other}"), &json!(true))
            }
        }
    }

    fn set(
        &mut self,
        stamp: &Stamp,
        units: &Units,
        about: &str,
        field: &str,
        value: &Value,
    ) -> Result<Option<Change>, DocumentError> {
        let place = self.place(units, about, field)?;
        let mut value = normalise(place.table, about, &place.field, value)?;
        if place.field == "ref" {
            value = stored_ref(units, value);
        }
        let same = place
            .row
            .fields
            .get(&place.field)
            .is_some_and(|v| same_value(v, &value));
        let open = open_key(&place.field);
        let was_open = place.row.get(&open).is_some();
        if same && !was_open && !place.row.contested.contains(&place.field) {
            return self.stand_behind(stamp, &place, &value);
        }
        let objects = self.holding(&place)?;
        self.commit(stamp, Means::Typed, |edits| {
            for object in &objects {
                edits.put(object, &place.field, &value)?;
            }
            if was_open {
                for object in &place.row.objects {
                    edits.put(object, &open, &Value::Null)?;
                }
            }
            Ok(())
        })
    }

    /// Where a field is to be set: a joined unit's double may disagree, so in every entry that
    /// has the field.
    pub(super) fn holding(&self, place: &Place) -> Result<Vec<ObjId>, DocumentError> {
        let mut objects = vec![place.object.clone()];
        for object in &place.row.objects {
            let has = !self.am.get_all(object, place.field.as_str())?.is_empty();
            if has && !objects.contains(object) {
                objects.push(object.clone());
            }
        }
        Ok(objects)
    }

    /// A person enters what was already dictated: that confirms the drafts that said so.
    fn stand_behind(
        &mut self,
        stamp: &Stamp,
        place: &Place,
        value: &Value,
    ) -> Result<Option<Change>, DocumentError> {
        let ids = self.drafts_saying(place, value);
        if ids.is_empty() {
            return Ok(None);
        }
        let author = stamp.author.clone();
        self.commit(stamp, Means::Typed, |edits| {
            for id in &ids {
                if let Some(draft) = edits.at(Table::Drafts, id) {
                    edits.put(&draft, &format!("confirmed_by.{author}"), &json!(true))?;
                }
            }
            Ok(())
        })
    }

    fn add(
        &mut self,
        stamp: &Stamp,
        units: &Units,
        table: Table,
        id: &str,
        entry: Value,
    ) -> Result<Option<Change>, DocumentError> {
        let not_allowed = |problem: &str| DocumentError::NotAllowed {
            about: format!("{}/{id}", table.name()),
            problem: problem.to_owned(),
        };
        if table.is_single() {
            return Err(not_allowed("there is one only; set its fields"));
        }
        if id.is_empty() || self.object(table, id).is_ok() {
            return Err(not_allowed("the id is empty or taken; give a fresh one"));
        }
        let roof = entry.get("roof").and_then(Value::as_str).map(str::to_owned);
        let typed = retype(table, &entry).map_err(|error| DocumentError::BadValue {
            place: format!("{}.{}", table.name(), error.place),
            problem: error.problem,
        })?;
        let mut fields = flatten(table, &typed);
        fields.remove("id").filter(|_| table != Table::Roofs);
        if Table::PARTS.contains(&table) {
            let roof = roof.unwrap_or_else(|| MAIN_ROOF.to_owned());
            self.object(Table::Roofs, &roof)?;
            fields.insert("roof".to_owned(), json!(roof));
        }
        if let Some(about) = fields.remove("ref") {
            fields.insert("ref".to_owned(), stored_ref(units, about));
        }
        if table == Table::Roofs
            && let Some(name) = typed.get("id")
        {
            fields.insert("id".to_owned(), name.clone());
        }
        self.commit(stamp, Means::Typed, |edits| {
            let made = edits.make(table, id)?;
            edits.put_all(&made, &fields)
        })
    }

    fn confirm(
        &mut self,
        stamp: &Stamp,
        units: &Units,
        id: &str,
    ) -> Result<Option<Change>, DocumentError> {
        let (table, row) = self.entry(id)?;
        if !matches!(
            table,
            Table::Drafts | Table::Findings | Table::Hazards | Table::FollowUps
        ) {
            return Err(DocumentError::NotAllowed {
                about: id.to_owned(),
                problem: "only what was dictated or reported is confirmed".to_owned(),
            });
        }
        let mut target = None;
        if table == Table::Drafts
            && let (Some(about), Some(field), Some(value)) =
                (row.text("ref"), row.text("field"), row.get("value"))
        {
            let place = self.place(units, about, field)?;
            let current = place.row.get(&place.field);
            if !current.is_some_and(|current| says(current, value)) {
                let value = normalise(place.table, about, &place.field, value)?;
                let open =
                    Some(open_key(&place.field)).filter(|open| place.row.get(open).is_some());
                target = Some((place.object, place.field, value, open));
            }
        }
        let author = stamp.author.clone();
        let object = self.object(table, id)?;
        self.commit(stamp, Means::Typed, |edits| {
            edits.put(&object, &format!("confirmed_by.{author}"), &json!(true))?;
            if row.get("needs_confirmation").is_some() {
                edits.put(&object, "needs_confirmation", &Value::Null)?;
            }
            if let Some((object, field, value, open)) = &target {
                edits.put(object, field, value)?;
                if let Some(open) = open {
                    edits.put(object, open, &Value::Null)?;
                }
            }
            Ok(())
        })
    }

    /// Puts one value into the same field of several entries.
    pub(super) fn put_each(
        &mut self,
        stamp: &Stamp,
        objects: &[ObjId],
        field: &str,
        value: &Value,
    ) -> Result<Option<Change>, DocumentError> {
        self.commit(stamp, Means::Typed, |edits| {
            let mut objects = objects.iter();
            objects.try_for_each(|object| edits.put(object, field, value))
        })
    }
}

/// Whether a field's value bears out a dictated one: equal, or a list that holds it.
pub fn says(current: &Value, dictated: &Value) -> bool {
    let listed = || {
        current
            .as_array()
            .is_some_and(|all| all.iter().any(|v| same_value(v, dictated)))
    };
    same_value(current, dictated) || listed()
}

/// How a reference is kept: units by id, so that it follows a tag that is corrected.
pub(super) fn stored_ref(units: &Units, about: Value) -> Value {
    match about.as_str() {
        Some(tag) if tag != SITE => match units.find(tag) {
            Some(unit) => json!(unit.row.id),
            None => about,
        },
        _ => about,
    }
}
