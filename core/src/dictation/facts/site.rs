//! Values that are words and not numbers: phases, refrigerants, and of the site its membrane, its
//! water and the way up.

use super::Reader;
use crate::dictation::lexicon::meaning::{Field, Part, Role};
use crate::dictation::sentence::{Break, says, says_any};
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
        let fault = (at + 1..self.s.clause_end(at, Break::Hard))
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
        let code = self
            .stream
            .lexicon
            .named
            .get(index as usize)
            .map_or("", |s| s);
        let near =
            |from: usize, to: usize, roles: &[Role]| (from..to).any(|i| self.s.any(i, roles));
        let length = self.s.get(at).map_or(0, |i| i.last - i.first);
        let part = self.s.part(at).is_some();
        match field {
            Field::Phase => {
                let value: f64 = code.parse().unwrap_or(0.0);
                self.push(field, json!(value), (at, at + 1), 0.93, None);
            }
            Field::Refrigerant => {
                self.push(field, json!(code), (at, at + 1), 0.92, None);
                self.label = None;
            }
            Field::Membrane => {
                // "the isolator rubber": a roof only where one is spoken of.
                let rubber = self
                    .s
                    .get(at)
                    .is_some_and(|i| says(self.stream, i, "rubber"));
                let clear =
                    length > 1 || matches!(code, "tpo" | "epdm" | "modified_bitumen") && !rubber;
                let roof = near(at.saturating_sub(6), at + 5, &[Role::Site])
                    || (at.saturating_sub(6)..at + 5).any(|i| {
                        matches!(
                            self.s.known_part(i),
                            Some(Component::RoofMembrane | Component::RoofSurface)
                        )
                    });
                if clear || roof {
                    self.push(
                        field,
                        json!(code),
                        (at, at + 1),
                        if roof { 0.92 } else { 0.82 },
                        None,
                    );
                }
            }
            Field::Access => {
                let cue = near(at.saturating_sub(8), at + 14, &[Role::Access]);
                let bare = matches!(code, "portable_ladder" | "fixed_ladder") && !part;
                let fault = (at + 1..at + 5)
                    .any(|i| self.s.get(i).is_some_and(|x| x.meaning.fault.is_some()));
                // "Fixed ladder on the south wall."
                let first = at == 0 || at < 3 && self.s.role(at - 1, Role::There);
                let first = first || at == 2 && self.s.role(0, Role::There);
                let placed = self.s.role(at + 1, Role::At);
                let to_roof = self
                    .s
                    .get(at)
                    .is_some_and(|i| self.stream.is(i.last as usize - 1, "roof"));
                let opens = first && length > 1 && placed || to_roof;
                // "took the stair up", "came through the hatch".
                let moves = self.s.get(at).is_some_and(|i| {
                    ["took", "came", "through", "via", "up"]
                        .iter()
                        .any(|word| self.stream.is(i.first as usize, word))
                });
                if cue || ((bare || opens || moves) && !fault) {
                    self.push(
                        field,
                        json!(code),
                        (at, at + 1),
                        if cue { 0.9 } else { 0.75 },
                        None,
                    );
                }
            }
            // "no water standing".
            Field::Water
                if self.s.get(at + 1).is_some_and(|i| {
                    says_any(
                        self.stream,
                        i,
                        &["standing", "sitting", "in", "ponding", "lying"],
                    )
                }) && code == "none" => {}
            // "couldn't find any water up here".
            Field::Water if code != "none" && near(at.saturating_sub(3), at, &[Role::No]) => {
                self.push(field, json!("none"), (at, at + 1), 0.85, None);
            }
            Field::Water => {
                let elsewhere = code == "none"
                    && (at + 1..at + 5)
                        .any(|i| self.s.part(i).is_some_and(|_| !self.s.role(i, Role::Site)))
                    && self.s.role(at + 1, Role::At);
                if elsewhere {
                    return;
                }
                if code == "none" || self.s.part(at).is_none() || code == "roof_hydrant" {
                    self.push(field, json!(code), (at, at + 1), 0.88, None);
                }
            }
            _ => {}
        }
    }
}
