//! A scenario folder, read and checked before anything starts: who, where, what was said,
//! typed and photographed. Its format is told in `fixtures/README.md`.

use crate::cli::Failure;
use chrono::{DateTime, FixedOffset};
use scupper_core::survey::read::{from_json, survey_from_json};
use scupper_core::survey::spoken::Transcript;
use scupper_core::survey::{InputError, Survey};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use std::path::{Path, PathBuf};

/// Everything the demo runs on.
#[derive(Debug)]
pub(super) struct Scenario {
    pub(super) dir: PathBuf,
    /// The survey as the office opens it.
    pub(super) site: Survey,
    /// What a technician enters from the drawings before going up.
    pub(super) plan: Survey,
    /// Technicians, each with a device, and office people without.
    pub(super) people: Vec<Person>,
    /// Dictations, in the order of recording.
    pub(super) notes: Vec<Transcript>,
    /// Typed edits, in the order of the devices' clocks.
    pub(super) edits: Vec<Entry>,
    /// Photos, in the order they were taken.
    pub(super) photos: Vec<Shot>,
    /// The rate book's text.
    pub(super) rates: String,
}

/// Someone in the scenario.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Person {
    /// Author of their entries.
    pub(super) id: String,
    /// Their name, for people.
    pub(super) name: String,
    /// Their device; office people have none.
    #[serde(default)]
    pub(super) device: Option<String>,
    /// How far their device's clock is ahead of the server's.
    #[serde(default)]
    pub(super) device_clock_ahead_s: i64,
}

/// Something typed: a value of a field, or a unit added.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Entry {
    pub(super) author: String,
    pub(super) at: DateTime<FixedOffset>,
    /// A unit to add, in the shape of a survey's equipment.
    #[serde(default)]
    pub(super) add: Option<Map<String, Value>>,
    #[serde(default, rename = "ref")]
    pub(super) about: String,
    #[serde(default)]
    pub(super) field: String,
    #[serde(default)]
    pub(super) value: Value,
}

/// A photo.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Shot {
    pub(super) file: String,
    pub(super) author: String,
    #[serde(rename = "ref")]
    pub(super) about: Option<String>,
    #[serde(default)]
    pub(super) caption: Option<String>,
}

impl Scenario {
    /// Reads a folder; the error names the file and the place in it.
    pub(super) fn read(dir: &Path) -> Result<Self, Failure> {
        let scenario = Self {
            dir: dir.to_owned(),
            site: survey(&dir.join("site.json"))?,
            plan: survey(&dir.join("plan.json"))?,
            people: json(&dir.join("people.json"))?,
            notes: notes(&dir.join("notes"))?,
            edits: json(&dir.join("edits.json"))?,
            photos: json(&dir.join("photos.json"))?,
            rates: text(&dir.join("rates.toml"))?,
        };
        scenario.check()?;
        Ok(scenario)
    }

    /// The people who go up, in the file's order.
    pub(super) fn technicians(&self) -> impl Iterator<Item = (&Person, &str)> {
        self.people
            .iter()
            .filter_map(|p| Some((p, p.device.as_deref()?)))
    }

    /// The hour before the first thing that happens, by the clock of whoever it happens to.
    pub(super) fn begins(&self) -> Option<DateTime<FixedOffset>> {
        let spoken = self.notes.iter().filter_map(|note| note.recorded_at);
        let first = spoken.chain(self.edits.iter().map(|edit| edit.at)).min();
        first.map(|at| at - chrono::Duration::hours(1))
    }

    fn check(&self) -> Result<(), Failure> {
        if self.technicians().count() < 2 {
            let place = self.dir.join("people.json");
            return Err(Failure::Input(format!(
                "{}: two people need a `device`, so that two devices can exchange",
                place.display()
            )));
        }
        let known = |who: &str| self.technicians().any(|(person, _)| person.id == who);
        let authors = self
            .edits
            .iter()
            .enumerate()
            .map(|(i, edit)| {
                (
                    format!("edits.json: [{i}].author"),
                    Some(edit.author.as_str()),
                )
            })
            .chain(self.photos.iter().enumerate().map(|(i, shot)| {
                (
                    format!("photos.json: [{i}].author"),
                    Some(shot.author.as_str()),
                )
            }))
            .chain(self.notes.iter().map(|note| {
                (
                    format!("notes: {}: author", note.note_id),
                    note.author.as_deref(),
                )
            }));
        for (place, author) in authors {
            if !author.is_some_and(known) {
                return Err(Failure::Input(format!(
                    "{}: {place}: must be the id of someone with a device in people.json",
                    self.dir.display()
                )));
            }
        }
        for (i, shot) in self.photos.iter().enumerate() {
            if shot.file.contains(['/', '\\']) || shot.file.starts_with('.') {
                return Err(Failure::Input(format!(
                    "{}: photos.json: [{i}].file: must be a name in the folder photos",
                    self.dir.display()
                )));
            }
        }
        Ok(())
    }
}

/// Where the bundled scenario is: below the current folder, or in the sources this was built of.
pub(super) fn default_dir() -> PathBuf {
    let here = PathBuf::from("fixtures/bakery");
    if here.is_dir() {
        return here;
    }
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/bakery")
}

fn text(path: &Path) -> Result<String, Failure> {
    std::fs::read_to_string(path)
        .map_err(|error| Failure::Input(format!("{}: cannot be read: {error}", path.display())))
}

fn json<T: DeserializeOwned>(path: &Path) -> Result<T, Failure> {
    from_json(&text(path)?).map_err(|error| in_file(path, &error))
}

fn survey(path: &Path) -> Result<Survey, Failure> {
    survey_from_json(&text(path)?).map_err(|error| in_file(path, &error))
}

fn in_file(path: &Path, error: &InputError) -> Failure {
    Failure::Input(format!("{}: {error}", path.display()))
}

fn notes(dir: &Path) -> Result<Vec<Transcript>, Failure> {
    let unreadable = |error: std::io::Error| Failure::Input(format!("{}: {error}", dir.display()));
    let mut files: Vec<PathBuf> = std::fs::read_dir(dir)
        .map_err(unreadable)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<Result<_, _>>()
        .map_err(unreadable)?;
    files.retain(|path| path.extension().is_some_and(|ext| ext == "json"));
    files.sort();
    let mut notes: Vec<Transcript> = files
        .iter()
        .map(|path| json(path))
        .collect::<Result<_, _>>()?;
    notes.sort_by_key(|note| note.recorded_at);
    Ok(notes)
}
