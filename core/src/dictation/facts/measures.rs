//! Numbers with a unit of measure: amps, volts, tons, pounds, BTU, feet.

use super::{Reader, SWITCHES};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Field, Measure, Part, Role};
use crate::dictation::numbers::{Number, joined, voltage};
use crate::dictation::sentence::{Break, says, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::Component;
use serde_json::json;

impl Reader<'_, '_> {
    pub(super) fn measured(
        &mut self,
        at: usize,
        end: usize,
        pieces: &[Number],
        measure: Measure,
    ) -> Option<usize> {
        let next = end + 1;
        let value = joined(pieces)?;
        // "max fuse fifty, volts two oh eight": the word for volts begins what follows.
        let amps = |field| matches!(field, Field::Mca | Field::Mocp | Field::Fuse);
        if measure == Measure::Volt
            && !voltage(value)
            && self.waiting(at).is_some_and(|(field, _)| amps(field))
            && let Some(found) = self.answer(at, end, value, pieces)
        {
            return Some(found);
        }
        match measure {
            Measure::Amp => self.amps(at, end, pieces, value),
            Measure::Volt => self.volts(at, end, pieces, value),
            Measure::Hertz => {
                (value == 60.0 || value == 50.0)
                    .then(|| self.push(Field::Hertz, json!(value), (at, next), 0.92, None))?;
                Some(next)
            }
            Measure::Ton => {
                let (at, value) = self.fused_at(at, end, value);
                let value = pieces
                    .last()
                    .filter(|_| pieces.len() > 1 && pieces.first().is_some_and(|f| f.value > 99.0))
                    .map_or(value, |last| last.value);
                let ok = (0.5..=250.0).contains(&value);
                ok.then(|| self.push(Field::Tons, json!(value), (at, next), 0.92, None))?;
                Some(next)
            }
            Measure::Pound => self.pounds(at, next, value),
            // "22 ounces of R-290".
            Measure::Ounce if self.of_charge(next, next + 4) => {
                let pounds = (value / 16.0 * 1e4).round() / 1e4;
                self.push(Field::Charge, json!(pounds), (at, next), 0.85, None);
                self.label = None;
                Some(next)
            }
            Measure::Btu | Measure::Mbh => self.gas(at, next, value, measure),
            Measure::Foot => self.feet(at, next, value),
            _ => {
                // Measures that no field holds keep the label from taking the next number.
                if self.waiting(at).is_some() {
                    self.label = None;
                }
                Some(next)
            }
        }
    }

    fn fuses_behind(&self, at: usize) -> bool {
        self.s.get(at).is_some_and(|i| {
            let plural = self
                .stream
                .get(i.first as usize)
                .map(|t| self.stream.raw(t));
            i.meaning.label == Some(Field::Fuse) && plural.is_some_and(|w| w.ends_with('s'))
        })
    }

    pub(super) fn amps(
        &mut self,
        at: usize,
        end: usize,
        pieces: &[Number],
        value: f64,
    ) -> Option<usize> {
        let next = end + 1;
        let (at, value) = if value > 1200.0 {
            (end - 1, pieces.last()?.value)
        } else {
            (at, value)
        };
        // "three forty amp fuses": how many, and their size.
        let (at, value) = match pieces {
            [count, size] if self.fuses_behind(next) && counts_fuses(*count, *size) => {
                (at + 1, size.value)
            }
            _ => (at, value),
        };
        let sane = (1.0..=1200.0).contains(&value);
        let field = match self.waiting(at) {
            Some((
                field @ (Field::Mca
                | Field::Mocp
                | Field::Fuse
                | Field::DisconnectRating
                | Field::Ignored),
                _,
            )) => Some(field),
            _ => None,
        };
        let mut used = next;
        // "thirty amp fuses in a sixty amp disconnect".
        let in_switch = self
            .s
            .get(next)
            .is_some_and(|i| i.gap < Gap::Comma && i.meaning.label == Some(Field::Fuse))
            && self
                .s
                .get(next + 1)
                .is_some_and(|i| says(self.stream, i, "in"))
            && self.s.role(next + 2, Role::A);
        if in_switch {
            used = next + 1;
        }
        let field = field.or(in_switch.then_some(Field::Fuse));
        let field = field.or_else(|| {
            let (field, label) = self.following(next)?;
            if matches!(
                field,
                Field::Mca | Field::Mocp | Field::Fuse | Field::Ignored
            ) {
                used = label + 1;
                Some(field)
            } else {
                None
            }
        });
        let field = field.or_else(|| {
            if self.disconnect_after(next)
                || self.disconnect && !self.rated
                || self.switch_later(next, value)
            {
                Some(Field::DisconnectRating)
            } else if self.correcting > 0 {
                self.last.filter(|f| {
                    matches!(
                        f,
                        Field::Mca | Field::Mocp | Field::Fuse | Field::DisconnectRating
                    )
                })
            } else {
                None
            }
        })?;
        if !sane {
            return Some(next);
        }
        self.rated |= field == Field::DisconnectRating;
        let odd = field == Field::DisconnectRating && !SWITCHES.contains(&value);
        let why = odd.then_some("not a usual switch rating");
        let plate = matches!(field, Field::Mca | Field::Mocp);
        self.push(
            field,
            json!(value),
            (at, used),
            if odd { 0.75 } else { 0.92 },
            why,
        );
        if field == Field::Fuse {
            self.disconnect = true;
        } else if plate {
            self.disconnect = false;
        }
        self.label = None;
        Some(used)
    }

    /// "sixty amp, fused at sixty", "a thirty amp on it, so that disconnect is too small": a
    /// rating without its word, which the sentence says later.
    fn switch_later(&self, next: usize, value: f64) -> bool {
        let end = (next + 18).min(self.s.items.len());
        let turned = (next..end)
            .find(|i| {
                self.s.is_name(*i) || self.s.cut(*i) == Break::Hard && !self.s.role(*i, Role::But)
            })
            .unwrap_or(end);
        // "a 60 amp, 240 volt switch".
        let of_volts = self.s.get(next).is_some_and(|i| i.number.is_some())
            && self.measure(next + 1) == Some(Measure::Volt)
            && self
                .s
                .get(next + 2)
                .is_some_and(|i| says(self.stream, i, "switch"));
        let named = of_volts
            || (next..turned).any(|i| {
                self.s.known_part(i) == Some(Component::Disconnect)
                    && self.s.get(i + 1).is_none_or(|x| x.number.is_none())
                    || self
                        .s
                        .get(i)
                        .is_some_and(|x| x.meaning.label == Some(Field::Fuse))
                        && i < next + 3
            });
        named && !self.rated && SWITCHES.contains(&value)
    }

    pub(super) fn volts(
        &mut self,
        at: usize,
        end: usize,
        pieces: &[Number],
        value: f64,
    ) -> Option<usize> {
        let next = end + 1;
        let adjacent = self
            .s
            .get(next)
            .filter(|i| i.gap <= Gap::Space)
            .and_then(|i| i.meaning.part);
        // "one twenty volt outlet", "twenty four volt wiring": no supply of the unit.
        let fed = [
            Component::Receptacle,
            Component::Wiring,
            Component::ControlWiring,
            Component::ControlCover,
            Component::Lighting,
            Component::Motor,
        ];
        if adjacent.is_some_and(|p| fed.iter().any(|c| p == Part::Known(*c))) {
            return Some(next);
        }
        let mut from = at;
        let mut value = value;
        let mut why = None;
        if !voltage(value) {
            // Two voltages run together, or a sound-alike for the hundreds: "to forty volts".
            let split = (1..pieces.len()).find_map(|n| {
                let (a, b) = (joined(pieces.get(..n)?)?, joined(pieces.get(n..)?)?);
                (voltage(a) && voltage(b)).then_some(a)
            });
            let tail = (1..pieces.len()).find_map(|n| {
                joined(pieces.get(n..)?)
                    .filter(|v| voltage(*v))
                    .map(|v| (v, n))
            });
            let sound = at
                .checked_sub(1)
                .and_then(|b| self.s.get(b))
                .and_then(|i| self.stream.lexicon.worth(i.word).sound);
            let zero = (10.0..100.0)
                .contains(&value)
                .then(|| (value / 10.0).floor() * 100.0 + value % 10.0)
                .filter(|v| voltage(*v));
            let point = (value.fract() != 0.0)
                .then(|| (value * 100.0).round())
                .filter(|v| voltage(*v));
            let hundreds = sound.filter(|n| voltage(f64::from(*n) * 100.0 + value));
            if let Some(fixed) = point.or(zero.filter(|_| hundreds.is_none())) {
                value = fixed;
                why = Some("part of the number was guessed from its sound");
            } else if let Some(first) = split {
                value = first;
                why = Some("the plate gives two voltages; the first is taken");
            } else if let Some(hundreds) = hundreds {
                value += f64::from(hundreds) * 100.0;
                from = at - 1;
                why = Some("part of the number was guessed from its sound");
            } else if let Some((found, n)) = tail {
                value = found;
                from = at + n;
            } else if !(100.0..=700.0).contains(&value) {
                return Some(next);
            } else {
                why = Some("not a usual voltage");
            }
        }
        let field = self.volts_of(from, next);
        let sure = if why.is_some() { 0.65 } else { 0.92 };
        self.push(field, json!(value), (from, next), sure, why);
        if self.waiting(at).is_some_and(|(f, _)| f == Field::Voltage) {
            self.label = None;
        }
        Some(next)
    }

    /// Whether a refrigerant or its charge is named among these items.
    fn of_charge(&self, from: usize, to: usize) -> bool {
        (from..to).filter_map(|i| self.s.get(i)).any(|x| {
            let value = x.meaning.value.map(|(field, _)| field);
            value == Some(Field::Refrigerant)
                || matches!(x.meaning.label, Some(Field::Charge | Field::Refrigerant))
        })
    }

    pub(super) fn pounds(&mut self, at: usize, next: usize, value: f64) -> Option<usize> {
        let mut total = value;
        let mut end = next;
        let from = if self.s.role(end, Role::And) {
            end + 1
        } else {
            end
        };
        let ounces = self.s.get(from).and_then(|i| {
            let sound = self.stream.lexicon.worth(i.word).sound.map(f64::from);
            i.number.map(|n| n.value).or(sound)
        });
        if let Some(ounces) = ounces
            && self.measure(from + 1) == Some(Measure::Ounce)
            && ounces < 16.0
        {
            total += ounces / 16.0;
            end = from + 2;
        } else if from == end
            && let Some(ounces) = self.s.get(end).filter(|i| i.gap <= Gap::Space)
            && let Some(ounces) = ounces_only(ounces)
            && self.s.get(end + 1).is_none_or(|i| i.gap >= Gap::Comma)
        {
            // "seven pounds twelve".
            total += ounces / 16.0;
            end += 1;
        }
        // "R-22. Eleven pounds.", "the charge on seven is nine pounds, and eight is ten pounds".
        let spoken = matches!(self.last, Some(Field::Refrigerant | Field::Charge));
        let goes_on = spoken && (at < 2 || self.s.role(at - 1, Role::Is));
        let about = goes_on
            || self.of_charge(at.saturating_sub(8), at)
            || self.of_charge(end, end + 6)
            || end > next;
        let part = self
            .s
            .get(end)
            .is_some_and(|i| i.meaning.part.is_some() && i.gap < Gap::Comma);
        if part && !about || !(0.5..=2000.0).contains(&total) {
            return Some(end);
        }
        if !about {
            return Some(end);
        }
        self.push(
            Field::Charge,
            json!((total * 1e4).round() / 1e4),
            (at, end),
            0.9,
            None,
        );
        self.label = None;
        Some(end)
    }

    pub(super) fn gas(
        &mut self,
        at: usize,
        next: usize,
        value: f64,
        measure: Measure,
    ) -> Option<usize> {
        let label = self
            .waiting(at)
            .map(|(f, _)| f)
            .or_else(|| self.following(next).map(|(f, _)| f));
        if label == Some(Field::Ignored) {
            self.label = None;
            return Some(next);
        }
        let mut value = if measure == Measure::Mbh {
            value * 1000.0
        } else {
            value
        };
        if value < 2000.0 {
            value *= 1000.0;
        }
        if !(10_000.0..=5_000_000.0).contains(&value) {
            return Some(next);
        }
        let cooling = (at.saturating_sub(3)..next + 3).any(|i| {
            self.s
                .get(i)
                .is_some_and(|x| says(self.stream, x, "cooling"))
        });
        let cooling = cooling || self.waiting(at).is_some_and(|(f, _)| f == Field::Tons);
        if cooling {
            self.push(
                Field::Tons,
                json!((value / 12_000.0 * 100.0).round() / 100.0),
                (at, next),
                0.7,
                Some("worked out from BTU per hour of cooling"),
            );
        } else {
            let sure = if label == Some(Field::GasInput) {
                0.92
            } else {
                0.82
            };
            self.push(Field::GasInput, json!(value), (at, next), sure, None);
        }
        self.label = None;
        Some(next)
    }

    pub(super) fn feet(&mut self, at: usize, next: usize, value: f64) -> Option<usize> {
        let label = self.waiting(at).map(|(f, _)| f) == Some(Field::Height);
        let roof = (at.saturating_sub(3)..at).any(|i| {
            self.s
                .get(i)
                .is_some_and(|x| x.meaning.value.is_some_and(|(f, _)| f == Field::Membrane))
        });
        let goes_on = at == 0
            && matches!(
                self.last,
                Some(Field::Membrane | Field::Access | Field::Water)
            );
        let cue = roof
            || goes_on
            || (at.saturating_sub(6)..next + 5).any(|i| {
                i < self.s.items.len()
                    && self.s.role(i, Role::Height)
                    && (self.s.cut(i) < Break::Hard || i <= at)
            });
        let danger = (at.saturating_sub(4)..next + 5)
            .any(|i| self.s.get(i).is_some_and(|x| x.meaning.danger.is_some()));
        let near = (next..next + 1).any(|i| {
            self.s.role(i, Role::Near) || self.s.role(i, Role::At) && !self.s.role(i, Role::Height)
        });
        let part = (at.saturating_sub(3)..next + 2).any(|i| {
            self.s.known_part(i).is_some_and(|p| {
                !matches!(
                    p,
                    Component::RoofSurface | Component::Ladder | Component::RoofMembrane
                )
            })
        });
        let sane = (7.0..=300.0).contains(&value);
        if sane && (label || cue && !danger && !near && !part) {
            self.push(
                Field::Height,
                json!(value),
                (at, next),
                if label { 0.92 } else { 0.85 },
                None,
            );
            self.label = None;
            return Some(next);
        }
        self.distance(at, next, value, danger);
        Some(next)
    }

    /// "about four feet off", "within three feet of the unit", while the disconnect is the talk.
    fn distance(&mut self, at: usize, next: usize, value: f64, danger: bool) {
        let named = |i: usize| self.s.known_part(i) == Some(Component::Disconnect);
        let other = |i: usize| self.s.part(i).is_some() && !named(i);
        let from = self.s.clause_start(at, Break::Hard);
        let before = (from..at).rev().find(|i| self.s.part(*i).is_some());
        let told = self.disconnect && !before.is_some_and(other)
            || before.is_some_and(named)
            || (next..next + 3).any(named);
        let away = (at.saturating_sub(3)..next + 3).any(|i| {
            self.s.get(i).is_some_and(|x| {
                x.any(&[Role::At, Role::Near])
                    || says_any(self.stream, x, &["off", "away", "from", "within", "over"])
            })
        });
        let edge = (next..next + 5).any(other);
        if told && !danger && !edge && (0.0..=300.0).contains(&value) {
            let sure = if away { 0.85 } else { 0.65 };
            self.push(Field::Distance, json!(value), (at, next), sure, None);
        }
    }
}

/// A switch holds two or three fuses: "three forty", and no 340.
fn counts_fuses(count: Number, size: Number) -> bool {
    let few = count.value == 2.0 || count.value == 3.0;
    few && !count.literal && (15.0..100.0).contains(&size.value)
}

/// "seven pounds twelve": ounces without their name.
fn ounces_only(item: &Item) -> Option<f64> {
    let number = item.number.filter(|n| !n.plural)?.value;
    (number.fract() == 0.0 && (1.0..16.0).contains(&number)).then_some(number)
}
