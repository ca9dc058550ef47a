//! The plain survey that a document says: what the office, the rules and the page read.
//!
//! Reading never fails. A register whose value does not fit its field, from a newer program or a
//! broken one, is left out and named in [`Reading::problems`].

use super::doc::SurveyDoc;
use super::reopen::is_open_key;
use super::schema::{Fields, MAIN_ROOF, ONLY, Table, unflatten};
use super::stand::is_stand_key;
use super::units::{Units, in_view};
use super::view::{Row, row, rows};
use crate::survey::read::{InputError, from_value};
use crate::survey::{
    AirPoint, Draft, Equipment, Finding, FollowUp, Hazard, Note, Obstacle, Opening, Photo,
    Receptacle, Roof, Site, Survey, WaterSource,
};
use chrono::NaiveDate;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

/// A survey and what could not be read of it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Reading {
    /// The survey.
    pub survey: Survey,
    /// Fields and entries that were left out, each in one line.
    pub problems: Vec<String>,
}

impl SurveyDoc {
    /// The survey as it stands: joined units as one, withdrawn entries left out unless someone
    /// edited them since without knowing; those count again, and
    /// [`SurveyDoc::withdrawn_but_edited`] lists them.
    pub fn survey(&self) -> Survey {
        self.read().survey
    }

    /// The survey, and what of the document could not be read.
    pub fn read(&self) -> Reading {
        let units = Units::read(&self.am, &self.tables);
        let mut reader = Reader {
            doc: self,
            units: &units,
            problems: Vec::new(),
        };
        let mut survey = reader.survey();
        reader.mend(&mut survey);
        Reading {
            survey,
            problems: reader.problems,
        }
    }

    /// The stored originals that the survey's photos name, withdrawn ones too.
    pub fn photo_hashes(&self) -> Vec<String> {
        let photos = rows(&self.am, &self.tables, Table::Photos);
        let mut hashes: Vec<String> = photos
            .iter()
            .filter_map(|row| row.text("hash").map(str::to_owned))
            .collect();
        hashes.sort();
        hashes.dedup();
        hashes
    }
}

struct Reader<'a> {
    doc: &'a SurveyDoc,
    units: &'a Units,
    problems: Vec<String>,
}

impl Reader<'_> {
    fn survey(&mut self) -> Survey {
        let about = row(&self.doc.am, &self.doc.tables, Table::Survey, ONLY);
        let text = |field| about.as_ref().and_then(|row: &Row| row.text(field));
        Survey {
            survey_id: self.doc.survey_id().to_owned(),
            surveyed_on: text("surveyed_on").and_then(|day| day.parse::<NaiveDate>().ok()),
            parent: text("parent").map(str::to_owned),
            site: self.site(),
            equipment: self.equipment(),
            findings: self.entries::<Finding>(Table::Findings),
            hazards: self.entries::<Hazard>(Table::Hazards),
            follow_ups: self.entries::<FollowUp>(Table::FollowUps),
            drafts: self.entries::<Draft>(Table::Drafts),
            notes: self.entries::<Note>(Table::Notes),
            photos: self.entries::<Photo>(Table::Photos),
        }
    }

    /// Leaves out what no longer fits together after edits that did not know of each other.
    fn mend(&mut self, survey: &mut Survey) {
        let site = &mut survey.site;
        for roof in site.roof.iter_mut().chain(&mut site.more_roofs) {
            let corners = roof.outline_ft.len();
            roof.edges.retain(|edge| {
                let fits = edge.from < corners;
                if !fits {
                    let from = edge.from;
                    self.problems.push(format!(
                        "edge {from}: the outline has {corners} corners; left out"
                    ));
                }
                fits
            });
        }
        for unit in &mut survey.equipment {
            let named = |id: &&mut String| !site.roofs().any(|roof| roof.id.as_ref() == Some(id));
            if let Some(id) = unit.roof.as_mut().filter(named) {
                self.problems.push(format!(
                    "{}.roof: no roof is named {id}; left out",
                    unit.tag
                ));
                unit.roof = None;
            }
        }
    }

    fn equipment(&mut self) -> Vec<Equipment> {
        let units = self.units;
        let read = units.units.iter().filter_map(|unit| {
            let mut fields = unit.row.fields.clone();
            for own in ["same_as", "withdrawn_by"] {
                fields.remove(own);
            }
            fields.retain(|field, _| !field.starts_with("apart_from."));
            fields
                .entry("tag".to_owned())
                .or_insert_with(|| Value::from(unit.row.id.as_str()));
            fields
                .entry("kind".to_owned())
                .or_insert_with(|| Value::from("other"));
            self.typed(Table::Equipment, &unit.row.id, fields)
        });
        read.collect()
    }

    fn site(&mut self) -> Site {
        let about = row(&self.doc.am, &self.doc.tables, Table::Site, ONLY);
        let fields = about.map(|row| row.fields).unwrap_or_default();
        let mut site: Site = self.typed(Table::Site, ONLY, fields).unwrap_or_default();
        let mut roofs = Vec::new();
        for row in self.rows(Table::Roofs) {
            if let Some(roof) = self.typed::<Roof>(Table::Roofs, &row.id, row.fields) {
                roofs.push((row.id, roof));
            }
        }
        self.part(Table::Openings, &mut roofs, |r: &mut Roof, p: Opening| {
            r.openings.push(p);
        });
        self.part(Table::Obstacles, &mut roofs, |r, p: Obstacle| {
            r.obstacles.push(p);
        });
        self.part(Table::WaterSources, &mut roofs, |r, p: WaterSource| {
            r.water_sources.push(p);
        });
        self.part(Table::Receptacles, &mut roofs, |r, p: Receptacle| {
            r.receptacles.push(p);
        });
        self.part(Table::AirPoints, &mut roofs, |r, p: AirPoint| {
            r.air_points.push(p);
        });
        for (id, roof) in roofs {
            if id != MAIN_ROOF {
                site.more_roofs.push(roof);
            } else if roof != Roof::default() {
                site.roof = Some(roof);
            }
        }
        site
    }

    fn part<T: DeserializeOwned>(
        &mut self,
        table: Table,
        roofs: &mut [(String, Roof)],
        add: impl Fn(&mut Roof, T),
    ) {
        for mut row in self.rows(table) {
            let on = row.fields.remove("roof");
            let on = on.as_ref().and_then(Value::as_str).unwrap_or(MAIN_ROOF);
            let Some((_, roof)) = roofs.iter_mut().find(|(id, _)| id == on) else {
                self.problems
                    .push(format!("{}/{}: no roof {on}", table.name(), row.id));
                continue;
            };
            if let Some(part) = self.typed(table, &row.id, row.fields) {
                add(roof, part);
            }
        }
    }

    fn rows(&self, table: Table) -> Vec<Row> {
        let mut rows = rows(&self.doc.am, &self.doc.tables, table);
        rows.retain(|row| in_view(&self.doc.am, row));
        rows
    }

    fn entries<T: DeserializeOwned>(&mut self, table: Table) -> Vec<T> {
        let rows = self.rows(table).into_iter();
        rows.filter_map(|mut row| {
            if let Some(Value::String(about)) = row.fields.get_mut("ref") {
                let tag = self.units.tag_of(about).to_owned();
                *about = tag;
            }
            // In view means that it counts; see `withdrawn_but_edited` for whose word it is against.
            row.fields.remove("withdrawn_by");
            row.fields
                .insert("id".to_owned(), Value::from(row.id.as_str()));
            self.typed(table, &row.id, row.fields)
        })
        .collect()
    }

    /// Reads an entry; fields that do not fit are left out one by one.
    fn typed<T: DeserializeOwned>(
        &mut self,
        table: Table,
        id: &str,
        mut fields: Fields,
    ) -> Option<T> {
        fields.retain(|field, _| !is_open_key(field) && !is_stand_key(field));
        loop {
            let entry = Value::Object(with_id(table, id, unflatten(table, fields.clone())));
            let InputError {
                place: path,
                problem,
            } = match from_value(&entry) {
                Ok(read) => return Some(read),
                Err(error) => error,
            };
            let before = fields.len();
            let top = path.split('[').next().unwrap_or(&path);
            let inner = format!("{top}.");
            fields.retain(|field, _| field != top && !field.starts_with(&inner));
            let place = format!("{}/{id}.{path}", table.name());
            if fields.len() == before {
                self.problems
                    .push(format!("{place}: {problem}; entry left out"));
                return None;
            }
            self.problems
                .push(format!("{place}: {problem}; field left out"));
        }
    }
}

fn with_id(table: Table, id: &str, mut entry: Map<String, Value>) -> Map<String, Value> {
    if table == Table::Equipment {
        entry.insert("id".to_owned(), Value::from(id));
    }
    entry
}
