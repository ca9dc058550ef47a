//! Values that say by their own shape what they are: a year, a supply voltage, "a ton and a
//! half"; and whole numbers where a field holds no other.
//!
//! A shape alone is weak, so it counts only where a plate is being read.

use super::Reader;
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Field, Measure, Role};
use crate::dictation::numbers::counts::{numbers_in, run};
use crate::dictation::numbers::{Number, joined, voltage, year};
use crate::dictation::sentence::says;
use crate::dictation::tokens::Gap;
use crate::survey::codes::Component;
use serde_json::{Value, json};

/// Why one of two voltages is asked about.
const TWO_VOLTAGES: Option<&str> = Some("the plate gives two voltages; the first is taken");

/// Whether a nameplate holds this field.
pub(super) fn of_plate(field: Field) -> bool {
    field.path().starts_with("nameplate.")
}

/// The value as a whole number, where its field counts or names a year.
pub(super) fn whole(field: Field, value: Value) -> Value {
    match (field, value.as_f64()) {
        (Field::Phase | Field::Year, Some(n)) if n.fract() == 0.0 => json!(n as i64),
        _ => value,
    }
}

fn read_off_plate(item: &Item) -> bool {
    let m = &item.meaning;
    m.label.is_some_and(of_plate)
        || m.value.is_some_and(|(field, _)| of_plate(field))
        || matches!(
            m.measure,
            Some(Measure::Ton | Measure::Volt | Measure::Pound)
        ) && !item.is(Role::A)
        || item.code
}

impl Reader<'_, '_> {
    /// "208/230", "460-3-60".
    pub(super) fn slashed(&mut self, at: usize) -> Option<usize> {
        let items = self.s.items;
        let value = |i: usize| items.get(i).and_then(|x| x.number).map(|n| n.value);
        let tied = |i: usize| {
            items
                .get(i)
                .is_some_and(|x| matches!(x.gap, Gap::Slash | Gap::Hyphen) && x.number.is_some())
        };
        if let Some(next) = self.dashed(at) {
            return Some(next);
        }
        let first = value(at).filter(|v| voltage(*v))?;
        let mut next = at + 1;
        let spoken = items
            .get(next)
            .is_some_and(|i| i.is(Role::Through) || i.is(Role::Slash))
            && value(next + 1).is_some_and(|v| voltage(v) && v > first)
            && self.measure(next + 2).is_none_or(|m| m == Measure::Volt);
        next += usize::from(spoken);
        let mut why = None;
        if (tied(next) || spoken) && value(next).is_some_and(|v| voltage(v) && v > first) {
            why = TWO_VOLTAGES;
            next += 1;
        }
        let phase = value(next).filter(|v| tied(next) && (*v == 1.0 || *v == 3.0));
        if why.is_none() && phase.is_none() {
            return None;
        }
        let volt_end = next;
        let skip = usize::from(self.measure(next) == Some(Measure::Volt));
        let field = self.volts_of(at, next + skip);
        self.push(field, json!(first), (at, volt_end + skip), 0.85, why);
        next += skip;
        if let Some(phase) = phase {
            self.push(Field::Phase, json!(phase), (next, next + 1), 0.9, None);
            next += 1;
            if let Some(hertz) = value(next).filter(|v| tied(next) && (*v == 60.0 || *v == 50.0)) {
                self.push(Field::Hertz, json!(hertz), (next, next + 1), 0.9, None);
                next += 1;
            }
        }
        Some(next)
    }

    /// "460 dash 3 dash 60".
    fn dashed(&mut self, at: usize) -> Option<usize> {
        let value = |i: usize| self.s.get(i).and_then(|x| x.number).map(|n| n.value);
        let dash = |i: usize| self.s.any(i, &[Role::Dash, Role::Slash]);
        let volts = run(self.s.items, at);
        let first = joined(&numbers_in(self.s.items, at..volts)).filter(|v| voltage(*v))?;
        // "two oh eight slash two thirty".
        let other = run(self.s.items, volts + 1);
        let rest = numbers_in(self.s.items, volts + 1..other);
        let higher = joined(&rest).is_some_and(|v| voltage(v) && v > first);
        if dash(volts) && higher {
            let skip = usize::from(self.measure(other) == Some(Measure::Volt));
            let field = self.volts_of(at, other + skip);
            let range = (at, other + skip);
            self.push(field, json!(first), range, 0.85, TWO_VOLTAGES);
            return Some(other + skip);
        }
        let phase = value(volts + 1).filter(|v| dash(volts) && (*v == 1.0 || *v == 3.0))?;
        let hertz = value(volts + 3).filter(|v| dash(volts + 2) && (*v == 50.0 || *v == 60.0))?;
        self.push(Field::Voltage, json!(first), (at, volts), 0.85, None);
        self.push(
            Field::Phase,
            json!(phase),
            (volts + 1, volts + 2),
            0.85,
            None,
        );
        self.push(
            Field::Hertz,
            json!(hertz),
            (volts + 3, volts + 4),
            0.85,
            None,
        );
        Some(volts + 4)
    }

    /// Whether a plate is being read around the items `[at, end)`.
    fn plate_near(&self, at: usize, end: usize) -> bool {
        let said = self
            .out
            .iter()
            .rev()
            .take(4)
            .any(|draft| of_plate(draft.field) && draft.next + 6 > at && draft.first < at);
        let around = (at.saturating_sub(5)..at)
            .chain(end..end + 5)
            .any(|i| self.s.get(i).is_some_and(read_off_plate));
        let begins = at == 0
            || self
                .s
                .get(at)
                .is_some_and(|i| i.gap >= Gap::Comma || self.stream.paused(i.first as usize))
            || self.s.role(at - 1, Role::And)
            || self.s.get(at - 1).is_some_and(Item::idle);
        said || around || self.plate && begins
    }

    /// Whether the number at `[at, end)` stands by itself: nothing that it could count follows.
    fn alone(&self, at: usize, end: usize) -> bool {
        let after = self.s.get(end).is_none_or(|i| {
            i.gap >= Gap::Comma
                || self.stream.paused(i.first as usize)
                || i.is(Role::And)
                || i.is(Role::Same)
                || i.is(Role::But)
                || i.any(&[Role::ItIs, Role::There])
                || read_off_plate(i)
                || i.meaning.kind.is_some()
                || i.meaning.part.is_some()
                // "four sixty on the plate".
                || i.is(Role::At)
                    && (end + 1..end + 3).any(|n| self.s.known_part(n) == Some(Component::Nameplate))
        });
        let before = at.checked_sub(1).and_then(|b| self.s.get(b));
        let counted = before.is_some_and(|b| {
            b.any(&[Role::At, Role::Near, Role::Height, Role::Unit]) && !b.is(Role::A)
        });
        after && !counted
    }

    /// "ten ton, twenty sixteen", "R-22, 2009", "2009 on the plate".
    pub(super) fn bare_year(&mut self, at: usize, end: usize, pieces: &[Number]) -> Option<usize> {
        let (from, year) = match year(pieces) {
            Some(year) => (at, year),
            None => {
                // The year may close a run of other numbers.
                let first = pieces.len().checked_sub(2)?;
                (
                    at + first,
                    year(pieces.get(first..)?)
                        .filter(|_| first > 0 && pieces.get(first).is_some_and(|p| !p.literal))?,
                )
            }
        };
        let plated = (end..end + 4).any(|i| {
            self.s.get(i).is_some_and(|x| {
                self.s.known_part(i) == Some(Component::Nameplate) && x.gap < Gap::Stop
            })
        });
        // A year is the whole sentence.
        let whole = from == 0 && end == self.s.items.len();
        let before = from.checked_sub(1).and_then(|b| self.s.get(b));
        let made = before.is_some_and(|b| says(self.stream, b, "made"));
        let fits = made
            || plated
            || whole
            || self.of_unit_too(from)
            || self.plate_near(from, end) && self.alone(from, end);
        if !fits
            || self
                .out
                .iter()
                .any(|d| d.field == Field::Year && d.who == self.who(at))
        {
            return None;
        }
        self.push(Field::Year, json!(year), (from, end), 0.8, None);
        Some(end)
    }

    /// "RTU one was made in 2008, RTU two in 2011": after a year, the year of a further unit.
    fn of_unit_too(&self, from: usize) -> bool {
        self.last == Some(Field::Year) && self.name_before(from).is_some()
    }

    /// "date code says week 22 of 2016": the year behind its label, whatever stands between.
    pub(super) fn year_behind(&mut self, at: usize, field: Field) -> Option<usize> {
        let joined = |i: &usize| self.s.get(*i).is_some_and(|x| x.gap < Gap::Stop);
        let (from, end, year) = (at + 1..at + 10)
            .take_while(joined)
            .filter(|_| field == Field::Year)
            .find_map(|i| {
                let item = self.s.get(i).filter(|x| x.number.is_some())?;
                let end = run(self.s.items, i);
                let run = self.s.items.get(i..end).unwrap_or_default();
                let pieces: Vec<Number> = run.iter().filter_map(|x| x.number).collect();
                let value = year(&pieces).filter(|_| !item.code)?;
                Some((i, end, value))
            })?;
        // Another label's number is not passed.
        let free = (at + 1..from).all(|i| {
            self.s.get(i).is_some_and(|x| {
                let other = x.meaning.label.is_some_and(|f| f != Field::Year);
                !other && !self.s.is_muted(i) && !self.s.is_used(i)
            })
        });
        free.then(|| {
            self.s.use_up(at, from);
            self.push(Field::Year, json!(year), (from, end), 0.85, None);
            end
        })
    }

    fn who(&self, at: usize) -> usize {
        self.s.who.get(at).copied().unwrap_or(0)
    }

    /// "three phase, four eighty"; "two oh eight, M C A twelve".
    pub(super) fn bare_voltage(
        &mut self,
        at: usize,
        end: usize,
        pieces: &[Number],
    ) -> Option<usize> {
        let value = joined(pieces).filter(|v| voltage(*v) && *v >= 200.0 && *v != 600.0)?;
        let phase = |i: usize| {
            self.s.get(i).is_some_and(|x| {
                x.meaning
                    .value
                    .is_some_and(|(field, _)| field == Field::Phase)
            })
        };
        let by_phase = (at.saturating_sub(2)..at).any(phase) || (end..end + 2).any(phase);
        let put_right = self.correcting > 0 && self.last == Some(Field::Voltage);
        if !(by_phase || put_right || self.plate_near(at, end)) || !self.alone(at, end) {
            return None;
        }
        let field = if by_phase {
            Field::Voltage
        } else {
            self.volts_of(at, end)
        };
        if self
            .out
            .iter()
            .any(|d| d.field == field && d.who == self.who(at))
        {
            return None;
        }
        self.push(
            field,
            json!(value),
            (at, end),
            if by_phase { 0.88 } else { 0.7 },
            None,
        );
        Some(self.bare_row(end).unwrap_or(end))
    }

    /// "four sixty, three, sixty", "two thirty, single": phases and hertz read off in a row.
    fn bare_row(&mut self, at: usize) -> Option<usize> {
        let alone = |i: usize| {
            let ends = self.s.get(i + 1).is_none_or(|x| x.gap >= Gap::Comma);
            self.s.get(i).filter(|x| x.gap == Gap::Comma && ends)
        };
        let number = |i: usize| alone(i)?.number.map(|n| n.value);
        let single = alone(at).is_some_and(|x| says(self.stream, x, "single"));
        let phases = match (single, number(at)) {
            (true, _) => 1,
            (_, Some(3.0)) => 3,
            _ => return None,
        };
        let hertz = number(at + 1).filter(|hz| matches!(*hz, 50.0 | 60.0));
        self.push(Field::Phase, json!(phases), (at, at + 1), 0.8, None);
        let Some(hertz) = hertz else {
            return Some(at + 1);
        };
        self.push(Field::Hertz, json!(hertz), (at + 1, at + 2), 0.8, None);
        Some(at + 2)
    }

    /// "ton and a half", "a ton and a quarter": the unit of measure comes first.
    pub(super) fn one_and_a_half(&mut self, at: usize) -> Option<usize> {
        let item = self.s.get(at)?;
        let and = self.s.role(at + 1, Role::And) || self.s.role(at + 1, Role::A);
        if item.meaning.measure != Some(Measure::Ton) || !and {
            return None;
        }
        let article = usize::from(self.s.role(at + 2, Role::A));
        let part = self.s.get(at + 2 + article)?.number?.value;
        if part != 0.5 && part != 0.25 {
            return None;
        }
        let next = at + 3 + article;
        self.push(Field::Tons, json!(1.0 + part), (at, next), 0.85, None);
        Some(next)
    }
}
