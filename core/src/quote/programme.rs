//! The maintenance programme: which task, how often a year, for which kind and size of unit,
//! and what condition or age shifts it. Plain types and their reader.
//!
//! The built-in file follows ANSI/ASHRAE/ACCA Standard 180-2018 in our own words. Its tables
//! were not read when it was written, so every frequency is marked as from memory. A contractor
//! can hand in a file of the same form.

use super::lines::{Problem, Step, read, refuse};
use super::money::Percent;
use super::work::BRING_WATER;
use crate::survey::InputError;
use crate::survey::codes::{Component, Condition, EquipmentKind};
use crate::trade::{Basis, Source};
use serde::{Deserialize, Serialize};
use std::sync::OnceLock;

const BUILTIN: &str = include_str!("../../programme/standard-180.toml");

/// The whole programme.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Programme {
    /// Standard it follows.
    pub standard: String,
    /// Edition of that standard.
    pub edition: String,
    /// The tasks.
    #[serde(rename = "tasks")]
    pub tasks: Vec<Task>,
    /// What condition or age changes.
    #[serde(default)]
    pub adjustments: Vec<Adjustment>,
    /// Findings that the tasks take care of, so that they are no repair.
    #[serde(default)]
    pub covered: Vec<Covered>,
}

/// One task.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Task {
    /// Its code, such as `replace_filters`.
    pub task: String,
    /// What is done, for people.
    pub words: String,
    /// Kinds it holds for.
    pub kinds: Vec<EquipmentKind>,
    /// Times a year.
    pub per_year: u32,
    /// Cooling capacity it holds from; a unit of unknown capacity counts as large.
    #[serde(default)]
    pub from_tons: Option<u32>,
    /// What the unit must have for the task to make sense.
    #[serde(default)]
    pub needs: Needs,
    /// Which part of the scope it belongs to.
    #[serde(default)]
    pub part: Part,
    /// Section of the standard.
    pub section: String,
    /// How the frequency is known.
    pub basis: Basis,
}

/// What a unit must have for a task to make sense.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Needs {
    /// Nothing in particular.
    #[default]
    Nothing,
    /// Gas heat on the nameplate.
    Gas,
    /// Belts recorded.
    Belts,
}

/// Which part of the scope a task belongs to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// Always in.
    #[default]
    Programme,
    /// Washing coils.
    CoilCleaning,
    /// New belts.
    Belts,
}

/// What a finding, or age, changes in a task.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Adjustment {
    /// The part that was found so; absent when age is meant.
    #[serde(default)]
    pub component: Option<Component>,
    /// The conditions that count.
    #[serde(default)]
    pub conditions: Vec<Condition>,
    /// Whether being past the median service life is meant.
    #[serde(default)]
    pub past_median_life: bool,
    /// Tasks it changes; empty means all.
    #[serde(default)]
    pub tasks: Vec<String>,
    /// Added to the minutes.
    #[serde(default)]
    pub add_percent: Percent,
    /// Done at least this often.
    #[serde(default)]
    pub at_least_per_year: Option<u32>,
    /// Why, for people.
    pub because: String,
}

/// Findings that the tasks take care of.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Covered {
    /// The part.
    pub component: Component,
    /// The conditions.
    pub conditions: Vec<Condition>,
    /// The task that takes care of them.
    pub task: String,
}

impl Programme {
    /// Reads and checks a programme. The error's place is a line of the text.
    pub fn from_toml(text: &str) -> Result<Self, InputError> {
        read(text, |programme: &mut Self| programme.check())
    }

    /// The programme as a file that [`Programme::from_toml`] reads, without comments.
    ///
    /// # Errors
    /// In words, if a value cannot be written.
    pub fn to_toml(&self) -> Result<String, String> {
        toml::to_string_pretty(self).map_err(|error| error.to_string())
    }

    /// The programme shipped with Scupper.
    pub fn builtin() -> &'static Self {
        static PROGRAMME: OnceLock<Programme> = OnceLock::new();
        // A test proves that the shipped file reads; were it broken, an empty programme would
        // show at once as a quote without tasks.
        PROGRAMME.get_or_init(|| Self::from_toml(BUILTIN).unwrap_or_default())
    }

    pub(crate) fn builtin_owned() -> Self {
        Self::builtin().clone()
    }

    /// The codes of all tasks, each once.
    pub fn task_names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = self.tasks.iter().map(|task| task.task.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        names
    }

    /// The source of a task's frequency.
    pub fn source(&self, task: &Task) -> Source {
        Source {
            standard: self.standard.clone(),
            edition: self.edition.clone(),
            section: task.section.clone(),
            basis: task.basis,
        }
    }

    fn check(&self) -> Result<(), Problem> {
        for (i, task) in self.tasks.iter().enumerate() {
            let code = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
            if task.task.is_empty() || !task.task.chars().all(code) {
                return refuse(
                    &[&"tasks", &i, &"task"],
                    "give a code of small letters, digits and _, such as `replace_filters`",
                );
            }
            if task.task == BRING_WATER {
                return refuse(
                    &[&"tasks", &i, &"task"],
                    "comes by itself with every task of the part coil_cleaning; leave it out",
                );
            }
            often(task.per_year, &[&"tasks", &i, &"per_year"])?;
            if task.kinds.is_empty() {
                return refuse(
                    &[&"tasks", &i, &"kinds"],
                    "is empty; name at least one kind",
                );
            }
            let twice = self.tasks.iter().take(i).any(|earlier| {
                earlier.task == task.task && earlier.kinds.iter().any(|k| task.kinds.contains(k))
            });
            if twice {
                return refuse(
                    &[&"tasks", &i, &"task"],
                    format!(
                        "`{}` is given twice for the same kind; keep one of them",
                        task.task
                    ),
                );
            }
        }
        for (i, adjustment) in self.adjustments.iter().enumerate() {
            let found = adjustment.component.is_some() && !adjustment.conditions.is_empty();
            let either = adjustment.component.is_some() || !adjustment.conditions.is_empty();
            if adjustment.past_median_life == either || !(found || adjustment.past_median_life) {
                return refuse(
                    &[&"adjustments", &i],
                    "give a component and its conditions, or else past_median_life = true",
                );
            }
            if let Some(times) = adjustment.at_least_per_year {
                often(times, &[&"adjustments", &i, &"at_least_per_year"])?;
            }
            for task in &adjustment.tasks {
                self.known(task, &[&"adjustments", &i, &"tasks"])?;
            }
        }
        for (i, covered) in self.covered.iter().enumerate() {
            self.known(&covered.task, &[&"covered", &i, &"task"])?;
        }
        Ok(())
    }

    fn known(&self, task: &str, path: &[&dyn Step]) -> Result<(), Problem> {
        let names = self.task_names();
        if names.contains(&task) {
            return Ok(());
        }
        let known = names.join(", ");
        refuse(path, format!("`{task}` is no task; known are {known}"))
    }
}

fn often(times: u32, path: &[&dyn Step]) -> Result<(), Problem> {
    match times {
        1..=366 => Ok(()),
        _ => refuse(path, format!("{times} times a year: give 1 to 366")),
    }
}
