//! The bakery as the office sees it, for the tests of the page: made by core from the fixtures,
//! with two people who were offline at once. Nothing here opens a socket or a store.

use chrono::{DateTime, FixedOffset};
use scupper_core::assess::{AssessOptions, Assessment, assess};
use scupper_core::dictation::{Lexicon, interpret};
use scupper_core::document::{
    Actor, Conflict, Edit, SameUnitOffer, Stamp, SurveyDoc, Table, UuidIds,
};
use scupper_core::plan::draw;
use scupper_core::quote::{Quote, RateBook, quote};
use scupper_core::survey::spoken::{Evidence, Transcript};
use scupper_core::survey::{Survey, read};
use scupper_server::page::plan_options;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Everything that a page of the bakery is made from.
pub(crate) struct Sample {
    pub(crate) survey: Survey,
    pub(crate) assessment: Assessment,
    pub(crate) quote: Quote,
    pub(crate) conflicts: Vec<Conflict>,
    pub(crate) offers: Vec<SameUnitOffer>,
    pub(crate) unparsed: BTreeMap<String, Vec<Evidence>>,
    pub(crate) people: BTreeMap<String, String>,
    pub(crate) arrived: BTreeSet<String>,
    pub(crate) plan: String,
}

type Words = UuidIds<Box<dyn FnMut() -> [u8; 8]>>;

fn ids(seed: u64) -> Words {
    let mut state = seed;
    UuidIds::new(Box::new(move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        state.to_be_bytes()
    }))
}

pub(crate) fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/bakery")
}

fn json_of(name: &str) -> Value {
    let text = fs::read_to_string(fixtures().join(name)).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn time(text: &str) -> DateTime<FixedOffset> {
    DateTime::parse_from_rfc3339(text).unwrap()
}

struct Tech {
    name: &'static str,
    device: &'static str,
    doc: SurveyDoc,
    ids: Words,
}

impl Tech {
    fn new(name: &'static str, device: &'static str, from: &SurveyDoc) -> Self {
        let actor = Actor::of_device(device, [1; 6]);
        Self {
            name,
            device,
            doc: SurveyDoc::load(from.survey_id(), &[from.save()], actor).unwrap(),
            ids: ids(device.bytes().map(u64::from).sum()),
        }
    }

    fn stamp(&self, at: &str) -> Stamp {
        Stamp {
            author: self.name.to_owned(),
            device: self.device.to_owned(),
            at: time(at),
            clock_offset_ms: None,
        }
    }
}

impl Sample {
    /// The bakery after both devices came back.
    pub(crate) fn bakery() -> Self {
        let site = json_of("site.json");
        let survey_id = site["survey_id"].as_str().unwrap();
        let mut doc = SurveyDoc::create(survey_id, Actor::of_device("office", [0; 6])).unwrap();
        let office = Stamp {
            author: "office-1".into(),
            device: "office".into(),
            at: time("2026-04-13T16:00:00-08:00"),
            clock_offset_ms: None,
        };
        for prepared in [site.clone(), json_of("plan.json")] {
            let survey = read::survey_from_json(&prepared.to_string()).unwrap();
            doc.import(&office, &survey, &mut ids(1)).unwrap();
        }
        let mut techs = [
            Tech::new("tech-1", "phone-a", &doc),
            Tech::new("tech-2", "phone-b", &doc),
        ];
        let mut unparsed = BTreeMap::new();
        let mut notes: Vec<PathBuf> = fs::read_dir(fixtures().join("notes"))
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .collect();
        notes.sort();
        for path in notes {
            let note: Transcript = read::from_json(&fs::read_to_string(path).unwrap()).unwrap();
            let tech = techs
                .iter_mut()
                .find(|t| note.author.as_deref() == Some(t.name));
            let tech = tech.unwrap();
            let heard = interpret(&note, Lexicon::builtin());
            unparsed.insert(note.note_id.clone(), heard.unparsed.clone());
            let stamp = tech.stamp(&note.recorded_at.unwrap().to_rfc3339());
            tech.doc
                .add_interpretation(&stamp, &note, &heard, &mut tech.ids)
                .unwrap();
        }
        for edit in json_of("edits.json").as_array().unwrap() {
            make(&mut techs, edit);
        }
        let mut arrived = BTreeSet::new();
        for (i, photo) in json_of("photos.json")
            .as_array()
            .unwrap()
            .iter()
            .enumerate()
        {
            let bytes = fs::read(
                fixtures()
                    .join("photos")
                    .join(photo["file"].as_str().unwrap()),
            );
            let hash = blake3::hash(&bytes.unwrap()).to_string();
            let mut entry = photo.clone();
            entry["hash"] = json!(hash);
            entry.as_object_mut().unwrap().remove("file");
            if i % 9 != 8 {
                arrived.insert(hash);
            }
            let tech = techs
                .iter_mut()
                .find(|t| entry["author"] == t.name)
                .unwrap();
            let id = scupper_core::document::Ids::next_id(&mut tech.ids, i64::try_from(i).unwrap());
            let stamp = tech.stamp("2026-04-14T09:00:00-08:00");
            let table = Table::Photos;
            tech.doc
                .edit(&stamp, Edit::Add { table, id, entry })
                .unwrap();
        }
        for tech in &techs {
            doc.apply_changes(&tech.doc.changes_since(&[]).unwrap())
                .unwrap();
        }
        let people = json_of("people.json");
        let people = people.as_array().unwrap().iter().map(|p| {
            let text = |key: &str| p[key].as_str().unwrap().to_owned();
            (text("id"), text("name"))
        });
        let survey = doc.survey();
        Self {
            conflicts: doc.conflicts(),
            offers: doc.same_unit_offers(),
            ..Self::of(survey, unparsed, people.collect(), arrived)
        }
    }

    /// Everything that follows from a plain survey.
    fn of(
        survey: Survey,
        unparsed: BTreeMap<String, Vec<Evidence>>,
        people: BTreeMap<String, String>,
        arrived: BTreeSet<String>,
    ) -> Self {
        let assessment = assess(&survey, &AssessOptions::default());
        Self {
            quote: quote(&survey, &assessment, &RateBook::builtin_example()),
            plan: draw(&survey, &plan_options(&survey.survey_id)),
            conflicts: Vec::new(),
            offers: Vec::new(),
            survey,
            assessment,
            unparsed,
            people,
            arrived,
        }
    }

    /// The bakery grown to 500 units and 1,000 photos: the same plates, words and faults over
    /// and over on a roof that is long enough for them.
    pub(crate) fn huge() -> Self {
        let small = Self::bakery();
        let mut survey = small.survey.clone();
        let first = survey.equipment.clone();
        let (drafts, findings) = (survey.drafts.clone(), survey.findings.clone());
        let photo = survey.photos.first().cloned().unwrap();
        if let Some(roof) = &mut survey.site.roof {
            roof.outline_ft = [[0.0, 0.0], [4200.0, 0.0], [4200.0, 120.0], [0.0, 120.0]]
                .map(Into::into)
                .to_vec();
            roof.edges.clear();
        }
        survey.site.more_roofs.clear();
        survey.equipment.clear();
        survey.drafts.clear();
        survey.findings.clear();
        survey.photos.clear();
        for n in 0..500 {
            let (round, model) = (n / first.len(), &first[n % first.len()]);
            let tag = format!("{}-{}", model.kind.tag_prefix(), 100 + n);
            let mut unit = model.clone();
            unit.tag = tag.clone();
            unit.id = format!("u-{n}");
            unit.roof = None;
            unit.at_ft = unit.at_ft.map(|mut at| {
                at.x = at.x * 0.6 + round as f64 * 120.0;
                at
            });
            survey.equipment.push(unit);
            let mine = |about: &str| about == model.tag;
            survey
                .drafts
                .extend(drafts.iter().filter(|d| mine(&d.about)).map(|d| {
                    let mut d = d.clone();
                    (d.about, d.id) = (tag.clone(), format!("{}-{n}", d.id));
                    d
                }));
            survey
                .findings
                .extend(findings.iter().filter(|f| mine(&f.about)).map(|f| {
                    let mut f = f.clone();
                    (f.about, f.id) = (tag.clone(), format!("{}-{n}", f.id));
                    f
                }));
            for k in 0..2 {
                let mut photo = photo.clone();
                photo.about = Some(tag.clone());
                photo.id = format!("p-{n}-{k}");
                survey.photos.push(photo);
            }
        }
        Self::of(survey, small.unparsed, small.people, small.arrived)
    }
}

fn make(techs: &mut [Tech], edit: &Value) {
    let tech = techs.iter_mut().find(|t| edit["author"] == t.name).unwrap();
    let stamp = tech.stamp(edit["at"].as_str().unwrap());
    let text = |key: &str| edit[key].as_str().unwrap().to_owned();
    let edit = if edit["add"].is_object() {
        Edit::Add {
            table: Table::Equipment,
            id: scupper_core::document::Ids::next_id(&mut tech.ids, stamp.at.timestamp_millis()),
            entry: edit["add"].clone(),
        }
    } else {
        Edit::Set {
            about: text("ref"),
            field: text("field"),
            value: edit["value"].clone(),
        }
    };
    tech.doc.edit(&stamp, edit).unwrap();
}
