//! Two values that a recogniser, or a quick tongue, ran together into one number.

use super::Reader;
use crate::dictation::lexicon::meaning::Field;
use crate::dictation::numbers::counts::numbers_in;
use crate::dictation::numbers::{Number, joined, voltage};
use serde_json::json;

/// Why such a value is asked about.
const WHY: Option<&str> = Some("two numbers ran together");

/// Trust in each of them.
const SURE: f64 = 0.6;

/// Trust in a voltage, its phases and its hertz that were said in one breath.
const TRIO: f64 = 0.85;

impl Reader<'_, '_> {
    /// "max breaker thirty three ton": the tens are the fuse, the rest the tons.
    pub(super) fn fused_at(&mut self, at: usize, end: usize, value: f64) -> (usize, f64) {
        let (tens, ones) = ((value / 10.0).floor() * 10.0, value % 10.0);
        let words = self.s.get(at).map_or(0, |i| i.last - i.first);
        let waits = self.waiting(at);
        let fuse = waits.filter(|(f, _)| matches!(f, Field::Mocp | Field::Fuse));
        let Some((field, label)) = fuse.filter(|_| {
            let half = ones.fract() == 0.5 && value > 25.0;
            end - at == 1
                && (words == 2 && ones.fract() == 0.0 || half)
                && value < 100.0
                && ones >= 1.0
        }) else {
            return (at, value);
        };
        self.tens(field, label, at, tens);
        (at, ones)
    }

    /// The tens answer the label that stood before.
    fn tens(&mut self, field: Field, label: usize, at: usize, tens: f64) {
        self.push(field, json!(tens), (at, at + 1), SURE, WHY);
        self.s.use_up(label, label + 1);
        self.label = None;
    }

    /// "max fuse fifty four sixty three phase": the tens are the fuse, the rest the voltage. Gives
    /// the item after both.
    pub(super) fn fused_volts(&mut self, at: usize, end: usize) -> Option<usize> {
        let amps = |f: Field| matches!(f, Field::Mca | Field::Mocp | Field::Fuse);
        let (field, label) = self.waiting(at).filter(|(f, _)| amps(*f))?;
        let item = self.s.get(at).filter(|i| i.last - i.first == 2)?;
        let first = item.number?.value;
        let (tens, ones) = ((first / 10.0).floor() * 10.0, first % 10.0);
        let rest: Vec<f64> = (at + 1..end)
            .filter_map(|i| Some(self.s.get(i)?.number?.value))
            .collect();
        let rest = match rest[..] {
            [tens] if tens >= 10.0 => tens,
            [0.0, digit] => digit,
            _ => return None,
        };
        let volts = ones * 100.0 + rest;
        let fits = first < 100.0 && tens > 0.0 && voltage(volts) && self.phase_at(end);
        fits.then(|| {
            self.tens(field, label, at, tens);
            self.push(Field::Voltage, json!(volts), (at, end), SURE, WHY);
            end
        })
    }

    /// "four sixty three sixty": volts, phases and hertz in one breath.
    fn trio_of(pieces: &[Number]) -> Option<(f64, f64, f64)> {
        let [volts @ .., middle, last] = pieces else {
            return None;
        };
        let hertz = last.value;
        // "two thirty-three sixty": the phases are stuck to the tens of the volts.
        let phase = middle.value % 10.0;
        let mut volts = volts.to_vec();
        if middle.value > 10.0 {
            let value = middle.value - phase;
            volts.push(Number { value, ..*middle });
        }
        let whole = joined(&volts).filter(|v| voltage(*v))?;
        let fits = (hertz == 60.0 || hertz == 50.0) && (phase == 1.0 || phase == 3.0);
        fits.then_some((whole, phase, hertz))
    }

    pub(super) fn trio(&mut self, at: usize, end: usize) -> Option<usize> {
        let pieces = numbers_in(self.s.items, at..end);
        let (volts, phase, hertz) = Self::trio_of(&pieces)?;
        let whole = (at, end);
        self.push(Field::Voltage, json!(volts), whole, TRIO, None);
        self.push(Field::Phase, json!(phase), whole, TRIO, None);
        self.push(Field::Hertz, json!(hertz), whole, TRIO, None);
        Some(end)
    }

    /// "2083 phase": a voltage and its phases.
    pub(super) fn volts_and_phase(&mut self, at: usize) -> Option<usize> {
        let number = self.s.get(at)?.number.filter(|n| n.literal)?;
        let (volts, phase) = ((number.value / 10.0).floor(), number.value % 10.0);
        let word = self.s.get(at + 1)?.first as usize;
        let fits = voltage(volts) && volts >= 200.0 && (phase == 1.0 || phase == 3.0);
        (fits && self.stream.is(word, "phase")).then(|| {
            self.push(Field::Voltage, json!(volts), (at, at + 1), SURE, WHY);
            self.push(Field::Phase, json!(phase), (at, at + 2), SURE, WHY);
            at + 2
        })
    }
}
