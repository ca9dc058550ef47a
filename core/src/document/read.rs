//! The plain survey that a document says: what the office, the rules and the page read.
//!
//! Reading never fails. A register whose value does not fit its field, from a newer program or a
//! broken one, is left out and named in [`Reading::problems`].

use super::doc::SurveyDoc;
use super::held::Entry;
use super::reopen::is_open_key;
use super::schema::{Fields, MAIN_ROOF, Table, unflatten};
use super::stand::is_stand_key;
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
        let mut reader = Reader {
            doc: self,
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
        let photos = self.entries(Table::Photos);
        let mut hashes: Vec<String> = photos
            .filter_map(|entry| entry.text("hash").map(str::to_owned))
            .collect();
        hashes.sort();
        hashes.dedup();
        hashes
    }
}

/// What a plain type may hold besides its fields.
trait Plain: DeserializeOwned + Clone + Send + Sync + 'static {
    /// What it refers to, as stored.
    fn about(&mut self) -> Option<&mut String> {
        None
    }
}

impl Plain for Site {}
impl Plain for Roof {}
impl Plain for Opening {}
impl Plain for Obstacle {}
impl Plain for WaterSource {}
impl Plain for Receptacle {}
impl Plain for AirPoint {}
impl Plain for Equipment {}
impl Plain for Note {}

impl Plain for Finding {
    fn about(&mut self) -> Option<&mut String> {
        Some(&mut self.about)
    }
}

impl Plain for FollowUp {
    fn about(&mut self) -> Option<&mut String> {
        Some(&mut self.about)
    }
}

impl Plain for Draft {
    fn about(&mut self) -> Option<&mut String> {
        Some(&mut self.about)
    }
}

impl Plain for Hazard {
    fn about(&mut self) -> Option<&mut String> {
        self.about.as_mut()
    }
}

impl Plain for Photo {
    fn about(&mut self) -> Option<&mut String> {
        self.about.as_mut()
    }
}

struct Reader<'a> {
    doc: &'a SurveyDoc,
    problems: Vec<String>,
}

impl Reader<'_> {
    fn survey(&mut self) -> Survey {
        let about = self.doc.only(Table::Survey);
        let text = |field| about.and_then(|entry| entry.text(field));
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
        let units = &self.doc.units().units;
        let read = units.iter().filter_map(|unit| {
            self.typed(Table::Equipment, &unit.row, |fields| {
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
            })
        });
        read.collect()
    }

    fn site(&mut self) -> Site {
        let about = self.doc.only(Table::Site);
        let site = about.and_then(|entry| self.typed(Table::Site, entry, |_| ()));
        let mut site: Site = site.unwrap_or_default();
        let mut roofs = Vec::new();
        for entry in self.doc.in_view(Table::Roofs) {
            if let Some(roof) = self.typed::<Roof>(Table::Roofs, entry, |_| ()) {
                roofs.push((entry.id.as_str(), roof));
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

    fn part<T: Plain>(
        &mut self,
        table: Table,
        roofs: &mut [(&str, Roof)],
        add: impl Fn(&mut Roof, T),
    ) {
        for entry in self.doc.in_view(table) {
            let on = entry.fields.get("roof").and_then(Value::as_str);
            let on = on.unwrap_or(MAIN_ROOF);
            let Some((_, roof)) = roofs.iter_mut().find(|(id, _)| *id == on) else {
                self.problems
                    .push(format!("{}/{}: no roof {on}", table.name(), entry.id));
                continue;
            };
            let bare = |fields: &mut Fields| {
                fields.remove("roof");
            };
            if let Some(part) = self.typed(table, entry, bare) {
                add(roof, part);
            }
        }
    }

    fn entries<T: Plain>(&mut self, table: Table) -> Vec<T> {
        let units = self.doc.units();
        let entries = self.doc.in_view(table);
        let read = entries.filter_map(|entry| {
            let mut typed = self.typed::<T>(table, entry, |fields| {
                // In view means that it counts; see `withdrawn_but_edited` for whose word it is
                // against.
                fields.remove("withdrawn_by");
                fields.insert("id".to_owned(), Value::from(entry.id.as_str()));
            })?;
            if let Some(about) = typed.about() {
                let tag = units.tag_of(about);
                if tag != about.as_str() {
                    *about = tag.to_owned();
                }
            }
            Some(typed)
        });
        read.collect()
    }

    /// An entry as its plain type, its fields prepared for that once.
    fn typed<T: Plain>(
        &mut self,
        table: Table,
        entry: &Entry,
        prepare: impl FnOnce(&mut Fields),
    ) -> Option<T> {
        let made = entry.typed(|| {
            let mut fields = entry.fields.clone();
            prepare(&mut fields);
            Typed::<T>::of(table, &entry.id, fields)
        })?;
        self.problems.extend(made.problems.iter().cloned());
        made.entry.clone()
    }
}

/// An entry as its plain type, and what of it could not be read.
struct Typed<T> {
    entry: Option<T>,
    problems: Vec<String>,
}

impl<T: DeserializeOwned> Typed<T> {
    /// Reads an entry; fields that do not fit are left out one by one.
    fn of(table: Table, id: &str, mut fields: Fields) -> Self {
        let mut problems = Vec::new();
        fields.retain(|field, _| !is_open_key(field) && !is_stand_key(field));
        loop {
            let entry = Value::Object(with_id(table, id, unflatten(table, fields.clone())));
            let InputError {
                place: path,
                problem,
            } = match from_value(&entry) {
                Ok(read) => {
                    return Self {
                        entry: Some(read),
                        problems,
                    };
                }
                Err(error) => error,
            };
            let before = fields.len();
            let top = path.split('[').next().unwrap_or(&path);
            let inner = format!("{top}.");
            fields.retain(|field, _| field != top && !field.starts_with(&inner));
            let place = format!("{}/{id}.{path}", table.name());
            if fields.len() == before {
                problems.push(format!("{place}: {problem}; entry left out"));
                return Self {
                    entry: None,
                    problems,
                };
            }
            problems.push(format!("{place}: {problem}; field left out"));
        }
    }
}

fn with_id(table: Table, id: &str, mut entry: Map<String, Value>) -> Map<String, Value> {
    if table == Table::Equipment {
        entry.insert("id".to_owned(), Value::from(id));
    }
    entry
}
