//! "Filters same as two", "same tonnage": values that one unit has from another.
//!
//! Only values of the part or label that the words name are copied, and never a serial.

use super::{Engine, Stamped, round, tokens_of};
use crate::dictation::items::{Item, evidence};
use crate::dictation::lexicon::meaning::{Field, Measure, Role};
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::{Sentence, ends_in};
use crate::dictation::subjects::Subject;
use crate::dictation::tokens::Gap;
use crate::survey::codes::Component;
use crate::survey::spoken::Fact;

/// Trust left in a value that was copied.
const COPIED: f64 = 0.8;

const WHY: &str = "copied from another unit";

impl Engine {
    /// Finds "same tonnage", "same filters" with no unit named: the unit before is meant.
    pub(super) fn same_value(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        subjects: &[Subject],
        likened: &mut Vec<(usize, usize, Vec<String>)>,
    ) {
        for at in 0..s.items.len() {
            if !s.role(at, Role::SameWord) || s.is_muted(at) {
                continue;
            }
            let named = self.all_alike(s, stream, at)
                || (at + 1..at + 3).any(|i| {
                    s.get(i).is_some_and(|x| x.gap < Gap::Comma) && self.field(s, i).is_some()
                });
            // "same model B K R": its own value follows.
            let mut labels = 0;
            let told = (at + 1..at + 5)
                .take_while(|i| {
                    labels += usize::from(self.field(s, *i).is_some());
                    let serial = |x: &Item| x.meaning.label == Some(Field::Serial);
                    labels < 2 && s.get(*i).is_some_and(|x| x.gap < Gap::Comma && !serial(x))
                })
                .any(|i| {
                    let number = s.get(i).is_some_and(|x| x.code || x.number.is_some());
                    let named = s.is_name(i) && s.role(at, Role::SameWord);
                    // "same filters on RTU two".
                    let on = s.role(i, Role::At) && s.is_name(i + 1);
                    !named && !on && (number || s.any(i, &[Role::Same, Role::At]))
                });
            let who = s.who.get(at).copied().unwrap_or(0);
            // The unit before it in this sentence, else the one that the talk turned from.
            let earlier = who
                .checked_sub(1)
                .and_then(|before| subjects.get(before))
                .map(|x| x.tags.clone())
                .filter(|tags| {
                    !tags.is_empty() && subjects.get(who).is_some_and(|x| x.tags != *tags)
                });
            let of = earlier.unwrap_or_else(|| self.subjects.before().to_vec());
            if named && !told && !of.is_empty() {
                likened.push((at, who, of));
            }
        }
    }

    /// "Exhaust fan two, same thing.": a unit was just named, and nothing more is said of it.
    pub(super) fn same_thing(&self, s: &Sentence<'_>) -> Option<(usize, usize)> {
        let last = s.items.len().checked_sub(1)?;
        let at = (last.saturating_sub(2)..=last).find(|i| s.role(*i, Role::SameWord))?;
        let alone = (at + 1..=last).all(|i| s.get(i).is_some_and(Item::idle));
        let named = (at.saturating_sub(3)..at).rev().find(|i| s.is_name(*i))?;
        let told = (named + 1..at).all(|i| {
            s.get(i)
                .is_some_and(|x| x.idle() || x.any(&[Role::Is, Role::ItIs, Role::There]))
        });
        let who = s.who.get(named).copied().filter(|who| *who > 0)?;
        let fresh = s
            .items
            .iter()
            .all(|i| i.meaning.fault.is_none() && i.meaning.part.is_none());
        (alone && told && fresh && !s.is_muted(at)).then_some((at, who))
    }

    /// "all of that's the same", "everything the same".
    fn all_alike(&self, s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> bool {
        let ends = s.get(at + 1).is_none_or(|i| i.gap >= Gap::Comma);
        // "seven has the same exact numbers".
        let numbers = s
            .get(at)
            .is_some_and(|i| i.last - i.first > 1 && ends_in(stream, i, &["number", "plate"]));
        ends && (numbers || (at.saturating_sub(5)..at).any(|i| s.role(i, Role::Everything)))
    }

    fn field(&self, s: &Sentence<'_>, at: usize) -> Option<&'static str> {
        let meaning = s.get(at)?.meaning;
        if s.role(at, Role::Size) {
            return Some(Field::Tons.path());
        }
        match (meaning.label, s.known_part(at), meaning.measure) {
            (Some(Field::Serial | Field::Ignored), ..) => None,
            (Some(field), ..) => Some(field.path()),
            (_, Some(Component::Filter), _) => Some("filters"),
            (_, Some(Component::Belt), _) => Some("belts"),
            (_, Some(Component::Disconnect), _) => Some("disconnect."),
            (_, Some(Component::Nameplate), _) => Some("nameplate."),
            (_, _, Some(Measure::Ton)) => Some(Field::Tons.path()),
            (_, _, Some(Measure::Volt)) => Some(Field::Voltage.path()),
            _ => None,
        }
    }

    /// Copies to `subject` what the words around item `at` name, from the units `of`.
    pub(super) fn liken(
        &mut self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
        subject: &Subject,
        of: &[String],
    ) {
        let names: Vec<&str> = (at.saturating_sub(3)..at + 3)
            .filter(|i| s.get(*i).is_some())
            .filter_map(|i| self.field(s, i))
            .collect();
        let all = self.all_alike(s, stream, at);
        let (from, to) = tokens_of(s.items, at, at + 1);
        let copies: Vec<Fact> = self
            .facts
            .iter()
            .filter(|f| {
                of.contains(&f.item.about)
                    && f.item.field != Field::Serial.path()
                    && (all || names.iter().any(|n| f.item.field.starts_with(n)))
            })
            .map(|f| f.item.clone())
            .collect();
        for tag in &subject.tags {
            for old in &copies {
                if self
                    .facts
                    .iter()
                    .any(|f| f.item.about == *tag && f.item.field == old.field)
                {
                    continue;
                }
                let item = Fact {
                    about: tag.clone(),
                    evidence: evidence(stream.tokens, from, to),
                    confidence: round(old.confidence * COPIED),
                    needs_confirmation: Some(subject.doubt.unwrap_or(WHY).to_owned()),
                    ..old.clone()
                };
                self.facts.push(Stamped { stamp: to, item });
            }
        }
    }
}
