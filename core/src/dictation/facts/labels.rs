//! Numbers without a unit of measure: the label that waits for them or stands behind them.

use super::{Reader, SWITCHES};
use crate::dictation::lexicon::meaning::{Field, Meaning, Measure, Part, Role};
use crate::dictation::numbers::counts::{numbers_in, run};
use crate::dictation::numbers::{Number, joined, voltage};
use crate::dictation::sentence::{ends_in, says};
use crate::dictation::tokens::Gap;
use crate::survey::codes::Component;
use serde_json::json;

impl Reader<'_, '_> {
    /// Whether a label waits shortly before item `at`, with nothing but connectors between.
    pub(super) fn waiting(&self, at: usize) -> Option<(Field, usize)> {
        let (field, label) = self.label?;
        // One word that nobody knows may stand between: the label's own tail, misheard.
        let mut strangers = 0;
        let connected = at >= label
            && at - label <= 6
            && (label + 1..at).all(|i| {
                strangers += usize::from(self.stranger(i));
                strangers <= 1 && self.stranger(i)
                    || self.s.is_name(i)
                    || self.s.get(i).is_some_and(|x| {
                        x.idle()
                            || x.any(&[
                                Role::Is,
                                Role::ItIs,
                                Role::At,
                                Role::It,
                                Role::There,
                                Role::Unit,
                                Role::Correct,
                                Role::Hedge,
                                Role::Spell,
                                Role::Everything,
                                Role::This,
                            ])
                            || x.meaning.label == Some(field)
                            || field == Field::Fuse
                                && self.s.known_part(i) == Some(Component::Disconnect)
                            || x.meaning.part == Some(Part::Known(Component::Nameplate))
                    })
            });
        connected.then_some((field, label))
    }

    /// "max over current fifty | eight ton": numbers run together across a pause, of which the
    /// first answer the label that waits. Gives where the measured ones begin.
    pub(super) fn answered(
        &mut self,
        at: usize,
        end: usize,
        measure: Measure,
        pieces: &[Number],
    ) -> usize {
        let pause = (at + 1..end).find(|i| {
            self.s
                .get(*i)
                .is_some_and(|x| self.stream.paused(x.first as usize))
        });
        // "max fuse forty ten ton", "year is twenty nineteen sixty ton": two numbers, of which the
        // last is measured.
        let fits = |value: f64| match measure {
            Measure::Ton => (0.5..=250.0).contains(&value),
            Measure::Volt => voltage(value),
            Measure::Amp => value <= 1200.0,
            _ => true,
        };
        // "max fuse forty six ton": a fuse has a usual size.
        let fused = self
            .waiting(at)
            .is_some_and(|(f, _)| matches!(f, Field::Mocp | Field::Fuse))
            && measure == Measure::Ton;
        let torn = if joined(pieces).is_some_and(fits) && !fused {
            None
        } else {
            let whole = |part: Option<&[Number]>| joined(part?);
            (1..pieces.len())
                .find(|n| {
                    whole(pieces.get(..*n)).is_some() && whole(pieces.get(*n..)).is_some_and(fits)
                })
                .map(|n| at + n)
        };
        let (Some(pause), Some((field, _))) = (pause.or(torn), self.waiting(at)) else {
            return at;
        };
        let amps = matches!(
            field,
            Field::Mca | Field::Mocp | Field::Fuse | Field::DisconnectRating
        );
        if amps && measure == Measure::Amp {
            return at;
        }
        let first = pieces.get(..pause - at).unwrap_or_default();
        let found = joined(first).and_then(|value| self.answer(at, pause, value, first));
        found.map_or(at, |_| pause)
    }

    /// Gives the label that waits its value, if that fits.
    pub(super) fn answer(
        &mut self,
        at: usize,
        end: usize,
        value: f64,
        pieces: &[Number],
    ) -> Option<usize> {
        let (field, label) = self.waiting(at)?;
        let found = self.of_label(at, end, field, value, pieces)?;
        self.s.use_up(label, label + 1);
        self.label = None;
        Some(found)
    }

    /// A single word that means nothing here, not cut off by punctuation.
    fn stranger(&self, at: usize) -> bool {
        self.s.get(at).is_some_and(|x| {
            let m = x.meaning;
            let common = Meaning {
                roles: Default::default(),
                ..m
            } == Meaning::default()
                && (m.roles == Default::default() || m.roles.has(Role::Common));
            common && x.number.is_none() && !x.code && x.gap <= Gap::Space && x.last - x.first == 1
        })
    }

    pub(super) fn volts_of(&self, at: usize, next: usize) -> Field {
        match self.waiting(at) {
            Some((Field::Voltage, _)) => return Field::Voltage,
            Some((Field::Ignored, _)) => return Field::Ignored,
            _ => {}
        }
        // "a sixty amp two forty volt": one switch.
        let of_switch = self
            .out
            .last()
            .filter(|d| d.field == Field::DisconnectRating)
            .is_some_and(|d| d.next == at || d.next + 1 == at && self.switch(d.next));
        // "..., two oh eight volt single phase": no switch is described so.
        let phase = self.phase_at(next);
        // "the disconnect has no label, one fifteen volt": that talk is over.
        let told = self.named.is_some_and(|from| self.s.has_fault(from, at));
        let here = self.disconnect && !phase && !told;
        if of_switch && !phase
            || (here && self.label.is_none_or(|(f, _)| f == Field::Fuse))
            || self.disconnect_after(next) && !phase
        {
            Field::DisconnectVoltage
        } else {
            Field::Voltage
        }
    }

    /// "a thirty amp switch, 480 volts".
    fn switch(&self, at: usize) -> bool {
        self.s
            .get(at)
            .is_some_and(|i| says(self.stream, i, "switch"))
    }

    /// "three phase" stands at `at`.
    pub(super) fn phase_at(&self, at: usize) -> bool {
        let item = self.s.get(at);
        item.is_some_and(|i| i.meaning.value.is_some_and(|(f, _)| f == Field::Phase))
    }

    /// A number without a unit of measure.
    pub(super) fn bare(&mut self, at: usize, end: usize, pieces: &[Number]) -> Option<usize> {
        // "250000 BTU input 480 three phase": the label is answered before, a voltage stands here.
        let supply = self.phase_at(end) && joined(pieces).is_some_and(voltage);
        if supply && self.label.is_some_and(|(field, _)| field != Field::Voltage) {
            self.label = None;
        }
        // "the disconnect has three 25s in it".
        if let [count, fuse] = pieces
            && self.disconnect
            && fuse.plural
            && count.value <= 3.0
            && (15.0..=600.0).contains(&fuse.value)
        {
            self.push(Field::Fuse, json!(fuse.value), (at, end), 0.75, None);
            return Some(end);
        }
        let Some(value) = joined(pieces) else {
            // "fifteen two": not one number, so the first stands by itself.
            let first = pieces.get(..1).filter(|_| pieces.len() > 1)?;
            return self.bare(at, at + 1, first);
        };
        if let Some(found) = self.answer(at, end, value, pieces) {
            return Some(found);
        }
        // "three phase two thirty mca twenty six".
        if voltage(value) && at > 0 && self.phase_at(at - 1) && self.label.is_none() {
            let field = self.volts_of(at, end);
            self.push(field, json!(value), (at, end), 0.85, None);
            return Some(end);
        }
        // "460 three phase".
        let phase = self.phase_at(end);
        if phase && let Some((_, label)) = self.waiting(at) {
            // "max fuse fifty four eighty three phase".
            let split = (1..pieces.len()).find(|n| {
                let tail = pieces.get(*n..).and_then(joined);
                tail.is_some_and(voltage) && pieces.get(..*n).and_then(joined).is_some()
            });
            if let Some(n) = split
                && let Some(head) = pieces.get(..n)
                && let Some(next) = self.bare(at, at + n, head)
            {
                self.s.use_up(label, label + 1);
                return Some(next);
            }
        }
        if phase {
            let split = (1..=pieces.len()).rev().find_map(|n| {
                let value = joined(pieces.get(..n)?)?;
                voltage(value).then_some((value, n))
            });
            // "too oh eight three phase", "for sixty three phase".
            let hundreds = at
                .checked_sub(1)
                .and_then(|b| self.stream.lexicon.worth(self.s.get(b)?.word).sound)
                .map(|n| f64::from(n) * 100.0 + value)
                .filter(|v| split.is_none() && voltage(*v));
            if let Some(value) = hundreds {
                let why = Some("part of the number was guessed from its sound");
                self.push(
                    self.volts_of(at, end),
                    json!(value),
                    (at - 1, end),
                    0.65,
                    why,
                );
                return Some(end);
            }
            if let Some((value, n)) = split {
                let dual = n < pieces.len();
                let why = dual.then_some("the plate gives two voltages; the first is taken");
                let field = self.volts_of(at, end);
                self.push(
                    field,
                    json!(value),
                    (at, end),
                    if dual { 0.7 } else { 0.9 },
                    why,
                );
                return Some(end);
            }
        }
        if self.label.is_none()
            && let Some((field, label)) = self.following(end)
            && matches!(
                field,
                Field::Mca
                    | Field::Mocp
                    | Field::GasInput
                    | Field::Fuse
                    | Field::Year
                    | Field::Ignored
            )
            && let Some(next) = self.of_label(at, end, field, value, pieces)
        {
            self.s.use_up(label, label + 1);
            return Some(next.max(label + 1));
        }
        // "scratch that, eight is ten pounds": a unit's number.
        let named =
            self.s.role(end, Role::Is) && self.s.get(end + 1).is_some_and(|x| x.number.is_some());
        if (self.correcting > 0 || self.of_next_unit(at, end, value))
            && !named
            && let Some(last) = self
                .last
                .filter(|f| !f.many() && !matches!(f, Field::Model | Field::Serial))
            && let Some(next) = self.of_label(at, end, last, value, pieces)
        {
            return Some(next);
        }
        let fuses = pieces.last().is_some_and(|n| n.plural)
            && self.disconnect
            && at > 0
            && self
                .s
                .get(at - 1)
                .is_some_and(|i| says(self.stream, i, "with"));
        if fuses {
            self.push(Field::Fuse, json!(value), (at, end), 0.82, None);
            return Some(end);
        }
        let just_now = self.disconnect
            && !self.rated
            && (at.saturating_sub(4)..at)
                .any(|i| self.s.known_part(i) == Some(Component::Disconnect));
        if SWITCHES.contains(&value)
            && (just_now || self.disconnect_after(end) && self.s.known_part(end).is_some())
        {
            self.rated = true;
            self.push(Field::DisconnectRating, json!(value), (at, end), 0.82, None);
            return Some(end);
        }
        if (1985.0..=2030.0).contains(&value) && value.fract() == 0.0 && self.dated(at, end) {
            self.push(Field::Year, json!(value), (at, end), 0.78, None);
            return Some(end);
        }
        self.bare_year(at, end, pieces)
            .or_else(|| self.bare_voltage(at, end, pieces))
    }

    /// "six's MCA is 24.6 and seven's is 26.1": the value that was just told of another unit.
    fn of_next_unit(&self, at: usize, end: usize, value: f64) -> bool {
        let told = self.name_before(at) == Some(true);
        let Some(last) = self.out.last().filter(|_| told) else {
            return false;
        };
        let near = last
            .value
            .as_f64()
            .is_some_and(|old| (0.4..=2.5).contains(&(value / old)));
        let ends = self
            .s
            .get(end)
            .is_none_or(|x| x.gap >= Gap::Comma || x.is(Role::And));
        let who = self.s.who.get(at).copied().unwrap_or(0);
        near && ends && Some(last.field) == self.last && last.who != who
    }

    /// "it's a two thousand nine", "a 2009 unit".
    pub(super) fn dated(&self, at: usize, end: usize) -> bool {
        // "is a" is one phrase.
        let article = at > 0
            && self.s.get(at - 1).is_some_and(|i| {
                i.is(Role::A) || i.is(Role::Is) && ends_in(self.stream, i, &["a"])
            });
        let before = article
            && (at < 2
                || self.s.role(at - 1, Role::Is)
                || self.s.any(at - 2, &[Role::Is, Role::ItIs])
                || self.s.get(at - 2).is_some_and(|i| i.apostrophe));
        let after = self.s.get(end).is_some_and(|i| {
            i.meaning.kind.is_some()
                || i.is(Role::Unit)
                || i.meaning.label == Some(Field::Model)
                || i.meaning.label == Some(Field::Year)
        });
        let from = at > 0
            && self
                .s
                .get(at - 1)
                .is_some_and(|i| says(self.stream, i, "from"))
            && self.s.get(end).is_none_or(|i| {
                i.gap >= Gap::Comma || i.any(&[Role::And, Role::But]) || i.meaning.part.is_some()
            });
        before || after || from
    }

    pub(super) fn of_label(
        &mut self,
        at: usize,
        end: usize,
        field: Field,
        value: f64,
        pieces: &[Number],
    ) -> Option<usize> {
        let (value, fits, sure) = match field {
            Field::Mca | Field::Mocp | Field::Fuse | Field::DisconnectRating => {
                (value, (1.0..=1200.0).contains(&value), 0.9)
            }
            Field::Voltage | Field::DisconnectVoltage => {
                let found = (1..=pieces.len())
                    .rev()
                    .find_map(|n| joined(pieces.get(..n)?).filter(|v| voltage(*v)));
                (found.unwrap_or(value), found.is_some(), 0.9)
            }
            Field::Phase => (value, value == 1.0 || value == 3.0, 0.9),
            Field::Hertz => (value, value == 60.0 || value == 50.0, 0.9),
            Field::Year => return self.year(at, end, value, pieces),
            Field::Charge => (value, (0.5..=2000.0).contains(&value), 0.8),
            Field::Tons => (value, (0.5..=250.0).contains(&value), 0.85),
            Field::GasInput => {
                let btuh = if value < 2000.0 {
                    value * 1000.0
                } else {
                    value
                };
                (btuh, (10_000.0..=5_000_000.0).contains(&btuh), 0.82)
            }
            Field::Height => (value, (7.0..=300.0).contains(&value), 0.85),
            Field::Refrigerant => return self.refrigerant(at, end, value),
            Field::Ignored => (value, true, 0.0),
            _ => return None,
        };
        if !fits {
            return None;
        }
        self.rated |= field == Field::DisconnectRating;
        self.push(field, json!(value), (at, end), sure, None);
        Some(end)
    }

    pub(super) fn year(
        &mut self,
        at: usize,
        end: usize,
        value: f64,
        pieces: &[Number],
    ) -> Option<usize> {
        // "March 2015", "03/2015", "oh nine", "ninety eight".
        let mut value = value;
        let mut end = end;
        let second = self
            .s
            .get(end)
            .filter(|i| matches!(i.gap, Gap::Slash | Gap::Hyphen))
            .and_then(|i| i.number);
        let of = self
            .s
            .get(end)
            .is_some_and(|i| says(self.stream, i, "of") || says(self.stream, i, "slash"));
        if let Some(year) = second.filter(|_| value <= 12.0) {
            value = year.value;
            end += 1;
        } else if of && value <= 53.0 {
            // "oh seven of twenty thirteen", "week 22 of 2016": a month or week and a year.
            let last = run(self.s.items, end + 1);
            value = joined(&numbers_in(self.s.items, end + 1..last))?;
            end = last;
        }
        // "two thousand nine and" heard as "2000 I N": what follows was part of the year.
        let torn = self.s.get(end).is_some_and(|i| {
            let letter = self.stream.lexicon.worth(i.word).letter.is_some();
            i.gap <= Gap::Space && letter && i.last - i.first == 1 && !i.is(Role::A)
        });
        let torn = torn || self.s.role(end, Role::And);
        if value == 2000.0 && torn {
            return None;
        }
        let zero = pieces.first().is_some_and(|p| p.value == 0.0);
        let year = match value {
            v if (1970.0..=2035.0).contains(&v) => v,
            v if zero && v < 30.0 => 2000.0 + v,
            v if (10.0..=30.0).contains(&v) => 2000.0 + v,
            v if (70.0..=99.0).contains(&v) => 1900.0 + v,
            _ => return None,
        };
        let sure = if value == year { 0.92 } else { 0.8 };
        self.push(Field::Year, json!(year), (at, end), sure, None);
        Some(end)
    }
}
