//! Values that are words and not numbers: phases, refrigerants, and of the site its membrane, its
//! water and the way up.

use super::Reader;
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Field, Part, Role};
use crate::dictation::sentence::{Break, begins_in, ends_in, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::{Component, Condition};
use serde_json::json;

impl Reader<'_, '_> {
    /// "access is by the hatch", "the way up is a ladder".
    pub(super) fn way_up(&mut self, at: usize, part: Part) {
        // "that hatch is how you get up".
        let how = (at + 1..at + 4)
            .any(|i| self.s.get(i).is_some_and(|x| says(self.stream, x, "how")))
            && (at + 2..at + 7).any(|i| self.s.role(i, Role::Access));
        let cue = how || (at.saturating_sub(4)..at).any(|i| self.s.role(i, Role::Access));
        if cue && self.s.get(at).is_some_and(|i| i.meaning.value.is_none()) {
            let hatch = part == Part::Known(Component::Hatch);
            let (code, sure, why) = if hatch {
                ("hatch", 0.9, None)
            } else {
                ("fixed_ladder", 0.6, Some("the sort of ladder was not said"))
            };
            self.push(Field::Access, json!(code), (at, at + 1), sure, why);
        }
    }

    pub(super) fn water(&mut self, at: usize) {
        let start = self.s.clause_start(at, Break::Hard);
        let none = (start.max(at.saturating_sub(4))..at).any(|i| self.s.role(i, Role::No));
        // "hose bib at grade by the meter roof drain is clogged": of the drain.
        let fault = (at + 1..self.s.clause_end(at, Break::Hard))
            .take_while(|i| self.s.part(*i).is_none())
            .filter_map(|i| self.s.get(i)?.meaning.fault)
            .find(|f| {
                let sense = self.stream.lexicon.sense(Component::WaterSource, *f);
                sense.is_some()
            });
        // A tap that leaks gives water; one that is broken or shut off does not.
        let bad = fault.is_some_and(|f| f != Condition::Good && f != Condition::Leaking);
        if !bad && !(at..at + 4).any(|i| self.s.role(i, Role::Need)) {
            let value = if none { "none" } else { "hose_bib" };
            self.push(Field::Water, json!(value), (at, at + 1), 0.85, None);
        }
    }

    /// A value that is a word: phases, a refrigerant, what the roof is made of.
    pub(super) fn named(&mut self, at: usize, field: Field, index: u16) {
        let named = &self.stream.lexicon.named;
        let code = named.get(index as usize).map_or("", |s| s);
        let (value, sure) = match field {
            Field::Phase => (json!(code.parse().unwrap_or(0.0)), Some(0.93)),
            Field::Refrigerant => (json!(code), Some(0.92)),
            Field::Membrane => (json!(code), self.of_roof(at, code)),
            Field::Access => (json!(code), self.leads_up(at, code)),
            // "couldn't find any water up here".
            Field::Water if code != "none" && self.near(at.saturating_sub(3), at, &[Role::No]) => {
                (json!("none"), Some(0.85))
            }
            Field::Water => (json!(code), self.gives_water(at, code)),
            _ => return,
        };
        if let Some(sure) = sure {
            self.push(field, value, (at, at + 1), sure, None);
        }
        if field == Field::Refrigerant {
            self.label = None;
        }
    }

    /// "refrigerant is twenty two": called by its number alone.
    pub(super) fn refrigerant(&mut self, at: usize, end: usize, number: f64) -> Option<usize> {
        let numbered = |code: &&str| {
            let digits = code.strip_prefix("R-");
            let digits = digits.map(|d| d.trim_end_matches(char::is_alphabetic));
            digits.and_then(|d| d.parse().ok()) == Some(number)
        };
        let named = self.stream.lexicon.named.iter().map(Box::as_ref);
        let code = named.into_iter().find(numbered)?;
        self.push(Field::Refrigerant, json!(code), (at, end), 0.8, None);
        Some(end)
    }

    fn near(&self, from: usize, to: usize, roles: &[Role]) -> bool {
        (from..to).any(|i| self.s.any(i, roles))
    }

    /// How sure it is that a word says what the roof is made of; "the isolator rubber" does only
    /// where one is spoken of.
    fn of_roof(&self, at: usize, code: &str) -> Option<f64> {
        let item = self.s.get(at)?;
        let clear = matches!(code, "tpo" | "epdm" | "modified_bitumen")
            && !says(self.stream, item, "rubber");
        let clear = clear || item.last - item.first > 1;
        let around = at.saturating_sub(6)..at + 5;
        let roof = self.near(around.start, around.end, &[Role::Site])
            || around.into_iter().any(|i| {
                let part = self.s.known_part(i);
                matches!(part, Some(Component::RoofMembrane | Component::RoofSurface))
            });
        match roof {
            true => Some(0.92),
            false => clear.then_some(0.82),
        }
    }

    /// How sure it is that a ladder, hatch or stair is named as the way up.
    fn leads_up(&self, at: usize, code: &str) -> Option<f64> {
        let item = self.s.get(at)?;
        let said = begins_in(self.stream, item, &["access"]);
        if said || self.near(at.saturating_sub(8), at + 14, &[Role::Access]) {
            return Some(0.9);
        }
        let ladder = matches!(code, "portable_ladder" | "fixed_ladder");
        let bare = ladder && self.s.part(at).is_none();
        // "Fixed ladder on the south wall."
        let there = |i: usize| self.s.role(i, Role::There);
        let first = at == 0 || at < 3 && there(at - 1) || at == 2 && there(0);
        let first = first || item.gap >= Gap::Comma;
        let ends = |i: &Item| i.gap >= Gap::Comma;
        let placed = self.s.role(at + 1, Role::At) || self.s.get(at + 1).is_none_or(ends);
        let to_roof = ends_in(self.stream, item, &["roof"]);
        let opens = first && item.last - item.first > 1 && placed || to_roof;
        // "took the stair up", "came through the hatch".
        let moves = ["took", "came", "through", "via", "up"];
        let moves = begins_in(self.stream, item, &moves);
        let fault = self.s.has_fault(at + 1, at + 5);
        ((bare || opens || moves) && !fault).then_some(0.75)
    }

    /// How sure it is that a source of water, or that there is none, is said of the site.
    fn gives_water(&self, at: usize, code: &str) -> Option<f64> {
        let none = code == "none";
        // "no water standing".
        let lies = ["standing", "sitting", "in", "ponding", "lying"];
        let lies = |i: &Item| says_any(self.stream, i, &lies);
        let elsewhere = (at + 1..at + 5)
            .any(|i| self.s.part(i).is_some_and(|_| !self.s.role(i, Role::Site)))
            && self.s.role(at + 1, Role::At);
        if none && (self.s.get(at + 1).is_some_and(lies) || elsewhere) {
            return None;
        }
        let said = none || self.s.part(at).is_none() || code == "roof_hydrant";
        said.then_some(0.88)
    }
}
