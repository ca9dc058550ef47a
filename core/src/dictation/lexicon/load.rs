//! Reads the lexicon's data files into phrases and meanings.
//!
//! Called once by [`super::Lexicon`]. The built-in files are part of the program; that they
//! parse and hold no clash is proven by a test, and a reader of other files gets the place in
//! the error.

use super::meaning::{Field, Meaning, Measure, Part, Role, Roles};
use super::trie::{UNKNOWN, Word};
use super::words::WordTable;
use super::{Defaults, Head, Lexicon, LexiconError};
use crate::survey::codes::{Action, Component, Condition, EquipmentKind, HazardKind, Severity};
use std::collections::BTreeMap;
use toml::{Table, Value};

/// The texts of the data files.
pub(super) struct Sources<'a> {
    pub(super) equipment: &'a str,
    pub(super) parts: &'a str,
    pub(super) conditions: &'a str,
    pub(super) actions: &'a str,
    pub(super) hazards: &'a str,
    pub(super) values: &'a str,
    pub(super) speech: &'a str,
    pub(super) numbers: &'a str,
    pub(super) garbles: &'a str,
    pub(super) sounds: &'a str,
    pub(super) defaults: &'a str,
    pub(super) plausible: &'a str,
}

struct Loader {
    lexicon: Lexicon,
    file: &'static str,
}

pub(super) fn load(sources: &Sources<'_>) -> Result<Lexicon, LexiconError> {
    let numbers = table("numbers.toml", sources.numbers)?;
    let mut loader = Loader {
        lexicon: Lexicon::empty(WordTable::new(&numbers)),
        file: "equipment.toml",
    };
    loader.coded(
        sources.equipment,
        "kinds",
        EquipmentKind::from_code,
        |m, v| put(&mut m.kind, v),
    )?;
    loader.file = "parts.toml";
    loader.coded(sources.parts, "parts", Component::from_code, |m, v| {
        put(&mut m.part, Part::Known(v))
    })?;
    loader.heads(sources.parts)?;
    loader.file = "conditions.toml";
    loader.coded(
        sources.conditions,
        "conditions",
        Condition::from_code,
        |m, v| put(&mut m.fault, v),
    )?;
    loader.both(sources.conditions)?;
    loader.file = "actions.toml";
    loader.coded(sources.actions, "say", Action::from_code, |m, v| {
        put(&mut m.say, v)
    })?;
    loader.coded(sources.actions, "done", Action::from_code, |m, v| {
        put(&mut m.done, v)
    })?;
    loader.file = "hazards.toml";
    loader.coded(sources.hazards, "", HazardKind::from_code, |m, v| {
        put(&mut m.danger, v)
    })?;
    loader.file = "values.toml";
    loader.coded(sources.values, "labels", label, |m, v| put(&mut m.label, v))?;
    loader.coded(sources.values, "measures", Measure::from_code, |m, v| {
        put(&mut m.measure, v)
    })?;
    for (section, field) in [
        ("phases", Field::Phase),
        ("refrigerants", Field::Refrigerant),
        ("membranes", Field::Membrane),
        ("access", Field::Access),
        ("water", Field::Water),
    ] {
        loader.named(sources.values, section, field)?;
    }
    loader.file = "speech.toml";
    loader.coded(sources.speech, "", Role::from_code, |m, v| {
        m.roles.add(v);
        true
    })?;
    loader.file = "garbles.toml";
    loader.garbles(sources.garbles)?;
    loader.defaults(sources)?;
    loader.plausible(sources.plausible)?;
    let sounds = loader.sounds(sources.sounds)?;
    loader.lexicon.finish(&sounds);
    Ok(loader.lexicon)
}

fn label(path: &str) -> Option<Field> {
    Field::from_path(path)
}

/// Fills a slot; false when it held something else.
fn put<T: PartialEq>(slot: &mut Option<T>, value: T) -> bool {
    match slot {
        Some(old) => *old == value,
        None => {
            *slot = Some(value);
            true
        }
    }
}

fn table(file: &'static str, text: &str) -> Result<Table, LexiconError> {
    text.parse::<Table>()
        .map_err(|error| LexiconError::Unreadable {
            file,
            reason: error.to_string(),
        })
}

fn section<'a>(table: &'a Table, name: &str) -> Option<&'a Table> {
    if name.is_empty() {
        Some(table)
    } else {
        table.get(name).and_then(Value::as_table)
    }
}

fn strings(value: &Value) -> impl Iterator<Item = &str> {
    value
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
}

impl Loader {
    fn unknown(&self, code: &str) -> LexiconError {
        LexiconError::UnknownCode {
            file: self.file,
            code: code.to_owned(),
        }
    }

    fn phrase(
        &mut self,
        phrase: &str,
        fill: impl Fn(&mut Meaning) -> bool,
    ) -> Result<(), LexiconError> {
        if self.lexicon.define(phrase, fill) {
            Ok(())
        } else {
            Err(LexiconError::Clash {
                file: self.file,
                phrase: phrase.to_owned(),
            })
        }
    }

    fn coded<T: Copy>(
        &mut self,
        text: &str,
        name: &str,
        read: impl Fn(&str) -> Option<T>,
        fill: impl Fn(&mut Meaning, T) -> bool,
    ) -> Result<(), LexiconError> {
        let whole = table(self.file, text)?;
        for (code, phrases) in section(&whole, name).into_iter().flatten() {
            let value = read(code).ok_or_else(|| self.unknown(code))?;
            for phrase in strings(phrases) {
                self.phrase(phrase, |meaning| fill(meaning, value))?;
            }
        }
        Ok(())
    }

    fn heads(&mut self, text: &str) -> Result<(), LexiconError> {
        let whole = table(self.file, text)?;
        for head in section(&whole, "heads").into_iter().flat_map(Table::values) {
            let Some(entry) = head.as_table() else {
                continue;
            };
            let part = |key: &str| {
                entry
                    .get(key)
                    .and_then(Value::as_str)
                    .and_then(Component::from_code)
            };
            let beside = section(entry, "beside")
                .into_iter()
                .flatten()
                .filter_map(|(with, gives)| {
                    let gives = gives.as_str().and_then(Component::from_code)?;
                    Some((Component::from_code(with)?, gives))
                })
                .collect();
            let default = part("default").ok_or_else(|| self.unknown("heads.default"))?;
            let number = self.lexicon.heads.len() as u8;
            self.lexicon.heads.push(Head {
                default,
                site: part("site"),
                fan_unit: part("fan_unit"),
                beside,
                fastener: entry.get("fastener").and_then(Value::as_bool) == Some(true),
            });
            for phrase in entry.get("words").into_iter().flat_map(strings) {
                self.phrase(phrase, |m| put(&mut m.part, Part::Head(number)))?;
            }
        }
        let listed = |name| -> Vec<Component> {
            let parts = section(&whole, name).and_then(|t| t.get("parts"));
            let codes = parts.into_iter().flat_map(strings);
            codes.filter_map(Component::from_code).collect()
        };
        self.lexicon.site_parts = listed("site");
        self.lexicon.once_parts = listed("once");
        Ok(())
    }

    fn both(&mut self, text: &str) -> Result<(), LexiconError> {
        let whole = table(self.file, text)?;
        for (phrase, pair) in section(&whole, "both").into_iter().flatten() {
            let codes: Vec<&str> = strings(pair).collect();
            let (Some(part), Some(fault)) = (
                codes.first().and_then(|c| Component::from_code(c)),
                codes.get(1).and_then(|c| Condition::from_code(c)),
            ) else {
                return Err(self.unknown(phrase));
            };
            self.phrase(phrase, |m| {
                put(&mut m.part, Part::Known(part)) && put(&mut m.fault, fault)
            })?;
        }
        for (code, part) in section(&whole, "implied").into_iter().flatten() {
            let fault = Condition::from_code(code).ok_or_else(|| self.unknown(code))?;
            let part = part.as_str().and_then(Component::from_code);
            self.lexicon
                .implied
                .insert(fault, part.ok_or_else(|| self.unknown(code))?);
        }
        Ok(())
    }

    fn named(&mut self, text: &str, name: &str, field: Field) -> Result<(), LexiconError> {
        let whole = table(self.file, text)?;
        for (code, phrases) in section(&whole, name).into_iter().flatten() {
            let index = self.lexicon.named.len() as u16;
            self.lexicon.named.push(code.as_str().into());
            for phrase in strings(phrases) {
                self.phrase(phrase, |m| put(&mut m.value, (field, index)))?;
            }
        }
        Ok(())
    }

    fn garbles(&mut self, text: &str) -> Result<(), LexiconError> {
        for (heard, meant) in &table(self.file, text)? {
            let meant = meant.as_str().unwrap_or_default();
            let meaning = self
                .lexicon
                .meaning_of(meant)
                .ok_or_else(|| self.unknown(meant))?;
            let mut number_only = Roles::default();
            number_only.add(Role::NumberOnly);
            self.lexicon.define(heard, |m| {
                let roles = m.roles;
                let free = Meaning {
                    roles: Roles::default(),
                    ..*m
                } == Meaning::default();
                if free && (roles == Roles::default() || roles == number_only) {
                    *m = meaning.as_garbled();
                    if roles == number_only {
                        m.roles.add(Role::NumberOnly);
                    }
                }
                true
            });
        }
        Ok(())
    }

    /// Words of the trade and what is heard for them, checked: what is meant must be known, and
    /// what is heard must not be a word of the trade itself.
    fn sounds(&mut self, text: &str) -> Result<Vec<(Word, String)>, LexiconError> {
        self.file = "sounds.toml";
        let mut all = Vec::new();
        let whole = table(self.file, text)?;
        for (meant, heard) in section(&whole, "meant").into_iter().flatten() {
            let word = self.lexicon.word(meant);
            if word == UNKNOWN {
                return Err(self.unknown(meant));
            }
            for heard in strings(heard) {
                if self.lexicon.meaning_of(heard).is_some_and(|m| m.of_trade()) {
                    return Err(LexiconError::Clash {
                        file: self.file,
                        phrase: heard.to_owned(),
                    });
                }
                all.push((word, heard.to_owned()));
            }
        }
        let common = section(&whole, "common").and_then(|t| t.get("words"));
        let common = common.into_iter().flat_map(strings);
        all.extend(common.map(|word| (UNKNOWN, word.to_owned())));
        Ok(all)
    }

    fn defaults(&mut self, sources: &Sources<'_>) -> Result<(), LexiconError> {
        self.file = "defaults.toml";
        let whole = table(self.file, sources.defaults)?;
        let mut defaults = Defaults::default();
        for (code, entry) in whole.iter().filter(|(code, _)| *code != "parts") {
            let fault = Condition::from_code(code).ok_or_else(|| self.unknown(code))?;
            defaults.of_fault.insert(fault, self.consequence(entry)?);
        }
        for (code, parts) in section(&whole, "parts").into_iter().flatten() {
            let fault = Condition::from_code(code).ok_or_else(|| self.unknown(code))?;
            for (part, entry) in parts.as_table().into_iter().flatten() {
                let part = Component::from_code(part).ok_or_else(|| self.unknown(part))?;
                defaults
                    .of_part
                    .insert((fault, part), self.consequence(entry)?);
            }
        }
        self.file = "actions.toml";
        let actions = table(self.file, sources.actions)?;
        let mut implies = BTreeMap::new();
        for (code, fault) in section(&actions, "implies").into_iter().flatten() {
            let action = Action::from_code(code).ok_or_else(|| self.unknown(code))?;
            let fault = fault.as_str().and_then(Condition::from_code);
            implies.insert(action, fault.ok_or_else(|| self.unknown(code))?);
        }
        defaults.implies = implies;
        self.lexicon.defaults = defaults;
        Ok(())
    }

    /// Which part can be in which condition, and what a loose word means of the others.
    fn plausible(&mut self, text: &str) -> Result<(), LexiconError> {
        self.file = "plausible.toml";
        for (code, entry) in &table(self.file, text)? {
            let fault = Condition::from_code(code).ok_or_else(|| self.unknown(code))?;
            for code in entry.get("parts").into_iter().flat_map(strings) {
                let part = Component::from_code(code).ok_or_else(|| self.unknown(code))?;
                self.lexicon.plausible.insert((fault, part), fault);
            }
            let instead = entry.get("instead").and_then(Value::as_table);
            for (code, meant) in instead.into_iter().flatten() {
                let part = Component::from_code(code).ok_or_else(|| self.unknown(code))?;
                let meant = meant.as_str().and_then(Condition::from_code);
                let meant = meant.ok_or_else(|| self.unknown(code))?;
                if self
                    .lexicon
                    .plausible
                    .insert((fault, part), meant)
                    .is_some()
                {
                    return Err(LexiconError::Clash {
                        file: self.file,
                        phrase: code.clone(),
                    });
                }
            }
        }
        Ok(())
    }

    fn consequence(&self, entry: &Value) -> Result<(Severity, Option<Action>), LexiconError> {
        let text = |key: &str| entry.get(key).and_then(Value::as_str);
        let severity = text("severity")
            .and_then(Severity::from_code)
            .ok_or_else(|| self.unknown("severity"))?;
        Ok((severity, text("action").and_then(Action::from_code)))
    }
}
