//! Entering a whole plain survey: an office's preparation, a plan drawn beforehand, a last visit.
//!
//! The inverse of reading. What the survey does not say is left as it is; units are found by id
//! or tag before they are made; parts of a roof that are there already are not made twice.

use super::change::Change;
use super::check::write;
use super::doc::SurveyDoc;
use super::edit::stored_ref;
use super::error::DocumentError;
use super::ids::Ids;
use super::schema::{Fields, MAIN_ROOF, Table, flatten, same_value};
use super::stamp::{Means, Stamp};
use super::units::compared;
use crate::survey::{Readings, Roof, Survey, read};
use serde::Serialize;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// One entry to be written: where, under which id, which fields.
struct Entry {
    table: Table,
    id: String,
    fields: Fields,
}

impl SurveyDoc {
    /// Enters a plain survey as one change. Its `survey_id` is not looked at.
    ///
    /// # Errors
    /// [`DocumentError::BadValue`] for a survey that no building could have; nothing is changed.
    pub fn import(
        &mut self,
        stamp: &Stamp,
        survey: &Survey,
        ids: &mut dyn Ids,
    ) -> Result<Option<Change>, DocumentError> {
        let bad = |error: read::InputError| DocumentError::BadValue {
            place: error.place,
            problem: error.problem,
        };
        read::check(survey).map_err(bad)?;
        let mut plan = Plan {
            doc: self,
            ids,
            at_ms: stamp.at_ms(),
            entries: Vec::new(),
            units: BTreeMap::new(),
        };
        plan.site(survey);
        plan.equipment(survey);
        plan.list(Table::Findings, &survey.findings);
        plan.list(Table::Hazards, &survey.hazards);
        plan.list(Table::FollowUps, &survey.follow_ups);
        plan.list(Table::Drafts, &survey.drafts);
        plan.list(Table::Notes, &survey.notes);
        plan.list(Table::Photos, &survey.photos);
        let entries = plan.entries;
        self.commit(stamp, Means::Typed, |edits| {
            for entry in &entries {
                let object = match edits.at(entry.table, &entry.id) {
                    Some(object) => object,
                    None => edits.make(entry.table, &entry.id)?,
                };
                edits.put_all(&object, &entry.fields)?;
            }
            Ok(())
        })
    }

    /// What the next visit starts from: the site and the register of this one, naming this one as
    /// its parent, to be imported into a new document. Findings, hazards, notes, photos and
    /// instrument readings were of that day and stay behind.
    pub fn next_visit(&self) -> Survey {
        let last = self.survey();
        let mut equipment = last.equipment;
        for unit in &mut equipment {
            unit.readings = Readings::default();
        }
        Survey {
            parent: Some(last.survey_id),
            site: last.site,
            equipment,
            ..Survey::default()
        }
    }
}

struct Plan<'a> {
    doc: &'a SurveyDoc,
    ids: &'a mut dyn Ids,
    at_ms: i64,
    entries: Vec<Entry>,
    /// Ids of units, by compared tag and by given id.
    units: BTreeMap<String, String>,
}

impl Plan<'_> {
    fn push(&mut self, table: Table, id: String, fields: Fields) {
        self.entries.push(Entry { table, id, fields });
    }

    fn fresh(&mut self) -> String {
        self.ids.next_id(self.at_ms)
    }

    fn site(&mut self, survey: &Survey) {
        let mut about = Fields::new();
        if let Some(day) = survey.surveyed_on {
            about.insert("surveyed_on".to_owned(), json!(day));
        }
        if let Some(parent) = &survey.parent {
            about.insert("parent".to_owned(), json!(parent));
        }
        self.push(Table::Survey, String::new(), about);
        let mut site = write(&survey.site);
        site.remove("roof");
        site.remove("more_roofs");
        if survey.site.name.is_empty() {
            site.remove("name");
        }
        self.push(Table::Site, String::new(), flatten(Table::Site, &site));
        let known = self.doc.entries(Table::Roofs);
        let known: Vec<(Option<String>, String)> = known
            .map(|row| (row.text("id").map(str::to_owned), row.id.clone()))
            .collect();
        if let Some(roof) = &survey.site.roof {
            self.roof(roof, MAIN_ROOF.to_owned());
        }
        for roof in &survey.site.more_roofs {
            let named = |(name, _): &&(Option<String>, String)| name.is_some() && *name == roof.id;
            let id = known.iter().find(named).map(|(_, id)| id.clone());
            let id = id.unwrap_or_else(|| self.fresh());
            self.roof(roof, id);
        }
    }

    fn roof(&mut self, roof: &Roof, id: String) {
        let mut fields = write(roof);
        for part in Table::PARTS {
            fields.remove(part.name());
        }
        self.push(Table::Roofs, id.clone(), flatten(Table::Roofs, &fields));
        self.parts(Table::Openings, &id, &roof.openings);
        self.parts(Table::Obstacles, &id, &roof.obstacles);
        self.parts(Table::WaterSources, &id, &roof.water_sources);
        self.parts(Table::Receptacles, &id, &roof.receptacles);
        self.parts(Table::AirPoints, &id, &roof.air_points);
    }

    fn parts<T: Serialize>(&mut self, table: Table, roof: &str, parts: &[T]) {
        let mut known: Vec<Fields> = self.fields_of(table);
        for part in parts {
            let mut fields = flatten(table, &write(part));
            fields.insert("roof".to_owned(), json!(roof));
            let twin = known.iter().position(|known| holds(known, &fields));
            match twin {
                Some(twin) => {
                    known.swap_remove(twin);
                }
                None => {
                    let id = self.fresh();
                    self.push(table, id, fields);
                }
            }
        }
    }

    fn equipment(&mut self, survey: &Survey) {
        let units = self.doc.index();
        for unit in &survey.equipment {
            let by_id = units.find(&unit.id).filter(|_| !unit.id.is_empty());
            let known = by_id.or_else(|| {
                let by_tag = units.find(&unit.tag)?;
                unit.id.is_empty().then_some(by_tag)
            });
            let id = match known {
                Some(known) => known.row.id.clone(),
                None if unit.id.is_empty() => self.fresh(),
                None => unit.id.clone(),
            };
            self.units
                .entry(compared(&unit.tag))
                .or_insert_with(|| id.clone());
            self.units.insert(id.clone(), id.clone());
            let mut fields = write(unit);
            fields.remove("id");
            self.push(Table::Equipment, id, flatten(Table::Equipment, &fields));
        }
    }

    fn list<T: Serialize>(&mut self, table: Table, entries: &[T]) {
        if entries.is_empty() {
            return;
        }
        let units = self.doc.index();
        let mut known: Vec<Fields> = self.fields_of(table);
        for entry in entries {
            let mut entry: Map<String, Value> = write(entry);
            let given = entry.remove("id");
            let mut fields = flatten(table, &entry);
            if let Some(about) = fields.remove("ref") {
                let own = about
                    .as_str()
                    .and_then(|tag| self.units.get(&compared(tag)));
                let stored = own.map(|id| json!(id));
                let stored = stored.unwrap_or_else(|| stored_ref(&units, about));
                fields.insert("ref".to_owned(), stored);
            }
            let given = given
                .as_ref()
                .and_then(Value::as_str)
                .filter(|id| !id.is_empty());
            let id = match given {
                Some(id) => id.to_owned(),
                None => match known.iter().position(|known| holds(known, &fields)) {
                    Some(twin) => {
                        known.swap_remove(twin);
                        continue;
                    }
                    None => self.fresh(),
                },
            };
            self.push(table, id, fields);
        }
    }

    fn fields_of(&self, table: Table) -> Vec<Fields> {
        let entries = self.doc.entries(table);
        entries.map(|entry| entry.fields.clone()).collect()
    }
}

/// Whether an entry says all that `fields` say.
fn holds(known: &Fields, fields: &Fields) -> bool {
    fields
        .iter()
        .all(|(field, value)| known.get(field).is_some_and(|held| same_value(held, value)))
}
