//! Reading a contractor's TOML file so that every error names its line and the mend.
//!
//! Used by rate book and programme. What one value cannot know of itself they check on their
//! own, and say where by a path of keys, which is turned into a line here, however it is written.

use crate::survey::InputError;
use serde::de::DeserializeOwned;
use toml::de::{DeTable, DeValue};

/// What is wrong: the keys that lead there, and what would be right.
pub(super) struct Problem {
    path: Vec<String>,
    mend: String,
}

/// A key, or a place in a list, on the way to a value.
pub(super) trait Step {
    fn step(&self) -> String;
}

impl Step for &str {
    fn step(&self) -> String {
        (*self).to_owned()
    }
}

impl Step for usize {
    fn step(&self) -> String {
        self.to_string()
    }
}

/// Refuses the value at the end of a path.
pub(super) fn refuse<T>(path: &[&dyn Step], mend: impl Into<String>) -> Result<T, Problem> {
    Err(Problem {
        path: path.iter().map(|step| step.step()).collect(),
        mend: mend.into(),
    })
}

/// Reads a text and checks what was read.
pub(super) fn read<T: DeserializeOwned>(
    text: &str,
    check: impl FnOnce(&mut T) -> Result<(), Problem>,
) -> Result<T, InputError> {
    let mut value: T = toml::from_str(text).map_err(|error| {
        let place = match error.span() {
            Some(span) => format!("line {}", line_at(text, span.start)),
            None => "the file".to_owned(),
        };
        InputError::at(place, plain(error.message()))
    })?;
    check(&mut value).map_err(|problem| {
        let keys = problem.path.join(".");
        let place = match find(text, &problem.path) {
            Some(byte) => format!("line {} ({keys})", line_at(text, byte)),
            None => keys,
        };
        InputError::at(place, problem.mend)
    })?;
    Ok(value)
}

/// The line of the n-th entry of a list of tables, counted from 1.
pub(super) fn line_of(text: &str, list: &str, n: usize) -> usize {
    let path = [list.to_owned(), n.to_string()];
    find(text, &path).map_or(0, |byte| line_at(text, byte))
}

fn line_at(text: &str, byte: usize) -> usize {
    text.bytes().take(byte).filter(|b| *b == b'\n').count() + 1
}

/// Where the value at the end of a path is written, or else what is nearest on the way to it.
fn find(text: &str, path: &[String]) -> Option<usize> {
    let root = DeTable::parse(text).ok()?.into_inner();
    let mut value = DeValue::Table(root);
    let mut at = None;
    for step in path {
        let next = match value {
            DeValue::Table(table) => table
                .into_iter()
                .find(|(key, _)| key.get_ref() == step)
                .map(|(key, value)| (key.span().start, value.into_inner())),
            DeValue::Array(list) => step
                .parse()
                .ok()
                .and_then(|n: usize| list.into_iter().nth(n))
                .map(|value| (value.span().start, value.into_inner())),
            _ => None,
        };
        let Some((start, inner)) = next else { break };
        at = Some(start);
        value = inner;
    }
    at
}

/// What the reader complains of, in words for whoever edits the file.
fn plain(message: &str) -> String {
    let mut plain = message.trim().to_owned();
    for (from, to) in [
        ("expected u32", "give a whole number, 0 or more"),
        ("expected a boolean", "give true or false"),
        ("expected a string", "give a text in quotes"),
        ("expected f64", "give a number"),
    ] {
        plain = plain.replace(from, to);
    }
    if plain.starts_with("missing field") {
        plain.push_str("; add it, as in core/programme");
    }
    plain.replace('\n', "; ")
}
