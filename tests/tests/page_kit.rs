//! The bakery as the office sees it, for the tests of the page: made by core from the fixtures,
//! with two people who were offline at once. Nothing here opens a socket or a store.

use chrono::{DateTime, FixedOffset};
use scupper_core::assess::{AssessOptions, Assessment, assess};
use scupper_core::document::{
    Actor, Conflict, Edit, SameUnitOffer, Stamp, SurveyDoc, Table, UuidIds,
};
use scupper_core::quote::{Quote, RateBook, quote};
use scupper_core::survey::spoken::{Evidence, Interpretation, Transcript};
use scupper_core::survey::{Survey, read};
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
        let meant = json_of("meant.json");
        for heard in meant.as_array().unwrap() {
            let id = heard["note_id"].as_str().unwrap();
            let note: Transcript =
                serde_json::from_value(json_of(&format!("notes/{id}.json"))).unwrap();
            let tech = techs
                .iter_mut()
                .find(|t| note.author.as_deref() == Some(t.name))
                .unwrap();
            let heard: Interpretation = serde_json::from_value(placed(heard, &note)).unwrap();
            unparsed.insert(id.to_owned(), heard.unparsed.clone());
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
        Self::of(&doc, unparsed, people.collect(), arrived)
    }

    /// Everything that follows from a document.
    fn of(
        doc: &SurveyDoc,
        unparsed: BTreeMap<String, Vec<Evidence>>,
        people: BTreeMap<String, String>,
        arrived: BTreeSet<String>,
    ) -> Self {
        let survey = doc.survey();
        let assessment = assess(&survey, &AssessOptions::default());
        Self {
            quote: quote(&survey, &assessment, &RateBook::builtin_example()),
            conflicts: doc.conflicts(),
            offers: doc.same_unit_offers(),
            plan: String::new(),
            survey,
            assessment,
            unparsed,
            people,
            arrived,
        }
    }
}

fn make(techs: &mut [Tech], edit: &Value) {
    let tech = techs.iter_mut().find(|t| edit["author"] == t.name).unwrap();
    let stamp = tech.stamp(edit["at"].as_str().unwrap());
    let text = |key: &str| edit[key].as_str().unwrap().to_owned();
    let edit = if edit["add"].is_object() {
        let mut entry = edit["add"].clone();
        entry.as_object_mut().unwrap().remove("roof");
        Edit::Add {
            table: Table::Equipment,
            id: scupper_core::document::Ids::next_id(&mut tech.ids, stamp.at.timestamp_millis()),
            entry,
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

/// What was meant, each entry with the segment that says most of it as its evidence.
fn placed(meant: &Value, note: &Transcript) -> Value {
    let mut out = meant.clone();
    let mut kinds: BTreeMap<String, Value> = BTreeMap::new();
    for list in ["facts", "findings", "hazards", "follow_ups"] {
        for entry in out[list].as_array_mut().unwrap() {
            let mut words = entry.to_string().to_lowercase();
            words.retain(|c| c.is_alphanumeric() || c == ' ' || c == '"' || c == '_');
            let words: Vec<&str> = words
                .split(['"', '_', ' '])
                .filter(|w| w.len() > 2)
                .collect();
            let hits = |text: &str| {
                let text = text.to_lowercase();
                words.iter().filter(|word| text.contains(**word)).count()
            };
            let best = (0..note.segments.len())
                .max_by_key(|i| (hits(&note.segments[*i].text), usize::MAX - i))
                .unwrap();
            let text = &note.segments[best].text;
            entry["evidence"] = json!({"segment": best, "start": 0, "end": text.len()});
            entry["confidence"] = json!(0.9);
            if list == "findings" && entry["severity"].is_null() {
                entry["severity"] = json!("repair");
            }
            let tag = entry["ref"].as_str().unwrap_or("site").to_owned();
            if let Some(kind) = kind_of(&tag) {
                kinds.insert(tag.clone(), json!({"ref": tag, "kind": kind}));
            }
        }
    }
    out["equipment"] = json!(kinds.into_values().collect::<Vec<_>>());
    out
}

fn kind_of(tag: &str) -> Option<&'static str> {
    use scupper_core::survey::codes::EquipmentKind;
    let prefix = tag.split('-').next()?;
    let kind = EquipmentKind::ALL
        .iter()
        .find(|k| k.tag_prefix() == prefix)?;
    Some(kind.code())
}
