//! Values: numbers with the label, unit or place in the sentence that says what they are.

use super::items::Item;
use super::lexicon::meaning::{Field, Measure, Part, Role};
use super::numbers::sizes::{self, run};
use super::numbers::{Number, Stream, joined, spelled};
use super::sentence::{Sentence, says};
use super::tokens::Gap;
use crate::survey::codes::Component;
use serde_json::{Value, json};

/// A value as drafted, before its unit and evidence are written out.
#[derive(Debug, Clone)]
pub(crate) struct FactDraft {
    pub(crate) who: usize,
    pub(crate) field: Field,
    pub(crate) value: Value,
    /// Item range.
    pub(crate) first: usize,
    pub(crate) next: usize,
    pub(crate) confidence: f64,
    pub(crate) why: Option<&'static str>,
    /// It takes the place of the last value of its field.
    pub(crate) corrects: bool,
}

/// Nominal supply voltages, and what plates print for them.
const VOLTAGES: [f64; 17] = [
    110.0, 115.0, 120.0, 200.0, 208.0, 220.0, 230.0, 240.0, 265.0, 277.0, 347.0, 380.0, 400.0,
    440.0, 460.0, 480.0, 575.0,
];

/// Standard switch ratings.
const SWITCHES: [f64; 9] = [30.0, 60.0, 100.0, 200.0, 400.0, 600.0, 800.0, 20.0, 40.0];

fn voltage(value: f64) -> bool {
    VOLTAGES.contains(&value) || value == 600.0
}

/// What the talk was about when a sentence began.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Carry {
    /// The sentence before ended on the word "disconnect".
    pub(crate) disconnect: bool,
    /// A label waited for its value.
    pub(crate) label: Option<Field>,
    /// Field of the last value, for corrections.
    pub(crate) last: Option<Field>,
}

struct Reader<'s, 'a> {
    s: &'s mut Sentence<'a>,
    stream: Stream<'a>,
    out: Vec<FactDraft>,
    /// Label waiting for its number, and where it stood.
    label: Option<(Field, usize)>,
    /// The disconnect is being described.
    disconnect: bool,
    /// Where the disconnect was named.
    named: Option<usize>,
    rated: bool,
    /// Items left in which a value corrects the last one.
    correcting: usize,
    last: Option<Field>,
}

/// Drafts every value of a sentence.
pub(crate) fn facts<'a>(
    s: &mut Sentence<'a>,
    stream: Stream<'a>,
    carry: &mut Carry,
) -> Vec<FactDraft> {
    let mut reader = Reader {
        s,
        stream,
        out: Vec::new(),
        label: carry.label.take().map(|field| (field, 0)),
        disconnect: carry.disconnect,
        named: None,
        rated: false,
        correcting: 0,
        last: carry.last,
    };
    let mut at = 0;
    while let Some(item) = reader.s.get(at) {
        at = reader.step(at, item).max(at + 1);
    }
    let end = reader.s.items.len();
    let ends_on = |at: usize| at + 1 == end;
    carry.label = reader
        .label
        .filter(|(_, at)| ends_on(*at))
        .map(|(field, _)| field);
    carry.disconnect =
        end > 0 && reader.disconnect && reader.s.known_part(end - 1) == Some(Component::Disconnect);
    carry.last = reader.last;
    reader.out
}

impl<'a> Reader<'_, 'a> {
    fn step(&mut self, at: usize, item: &'a Item) -> usize {
        self.correcting = self.correcting.saturating_sub(1);
        if item.is(Role::Correct) || self.plain_no(at) {
            self.correcting = 8;
        }
        if self.s.is_used(at) || self.s.is_muted(at) {
            return at + 1;
        }
        if let Some(next) = self.belt(at) {
            return next;
        }
        if item.number.is_some() {
            return self.number(at);
        }
        if let Some(field) = item.meaning.label {
            return self.labelled(at, field);
        }
        if let Some((field, index)) = item.meaning.value {
            self.named(at, field, index);
        }
        if let Some(part) = item.meaning.part {
            self.about(at, part);
        }
        at + 1
    }

    /// "thirty amp, no, sixty amp".
    fn plain_no(&self, at: usize) -> bool {
        let number = |i: usize| self.s.get(i).is_some_and(|x| x.number.is_some());
        self.s.get(at).is_some_and(|i| says(self.stream, i, "no"))
            && (number(at + 1)
                || (self.s.role(at + 1, Role::A) || self.s.any(at + 1, &[Role::ItIs]))
                    && number(at + 2))
            && !self.out.is_empty()
    }

    fn push(
        &mut self,
        field: Field,
        value: Value,
        range: (usize, usize),
        sure: f64,
        why: Option<&'static str>,
    ) {
        self.last = Some(field);
        let (first, next) = range;
        if field == Field::Ignored {
            self.s.use_up(first, next);
            return;
        }
        let trust = self
            .s
            .items
            .get(first..next)
            .unwrap_or_default()
            .iter()
            .map(|i| i.trust)
            .fold(1.0, f32::min);
        let who = self.s.who.get(first).copied().unwrap_or(0);
        self.s.use_up(first, next);
        if matches!(
            field,
            Field::DisconnectRating | Field::DisconnectVoltage | Field::Fuse
        ) && let Some(named) = self.named
        {
            self.s.use_up(named, named + 1);
        }
        let corrects = std::mem::take(&mut self.correcting) > 0;
        self.out.push(FactDraft {
            who,
            field,
            value,
            first,
            next,
            confidence: sure * f64::from(trust),
            why,
            corrects,
        });
    }

    fn about(&mut self, at: usize, part: Part) {
        if part == Part::Known(Component::Disconnect) {
            self.disconnect = true;
            self.named = Some(at);
            self.rated = false;
            self.label = None;
        } else if at == 0
            || !self.s.role(at - 1, Role::At) && !self.s.role(at.saturating_sub(2), Role::At)
        {
            self.disconnect = false;
        }
        match part {
            Part::Known(Component::WaterSource) => self.water(at),
            Part::Known(Component::Hatch | Component::Ladder) => self.way_up(at, part),
            _ => {}
        }
    }

    /// "access is by the hatch", "the way up is a ladder".
    fn way_up(&mut self, at: usize, part: Part) {
        let cue = (at.saturating_sub(4)..at).any(|i| self.s.role(i, Role::Access));
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

    fn water(&mut self, at: usize) {
        let start = self.s.clause_start(at, super::sentence::Break::Hard);
        let none = (start.max(at.saturating_sub(4))..at).any(|i| self.s.role(i, Role::No));
        let fault = (at + 1..self.s.clause_end(at, super::sentence::Break::Hard))
            .filter_map(|i| self.s.get(i)?.meaning.fault)
            .find(|f| {
                !self
                    .stream
                    .lexicon
                    .never
                    .contains(&(Component::WaterSource, *f))
            });
        let bad = fault.is_some_and(|f| f != crate::survey::codes::Condition::Good);
        if !bad && !(at..at + 4).any(|i| self.s.role(i, Role::Need)) {
            let value = if none { "none" } else { "hose_bib" };
            self.push(Field::Water, json!(value), (at, at + 1), 0.85, None);
        }
    }

    fn labelled(&mut self, at: usize, field: Field) -> usize {
        match field {
            Field::Model | Field::Serial => return self.string(at, field),
            Field::Fuse => self.disconnect = true,
            Field::Filters | Field::Belts | Field::Ignored => {}
            _ if self.s.get(at).is_some_and(|i| i.meaning.part.is_none()) => {
                if !matches!(
                    field,
                    Field::Voltage | Field::Phase | Field::DisconnectRating
                ) {
                    self.disconnect = false;
                }
            }
            _ => {}
        }
        // A value may have stood before its label: "24 MCA".
        self.label = Some((field, at));
        at + 1
    }

    fn string(&mut self, at: usize, field: Field) -> usize {
        let mut from = at + 1;
        while let Some(item) = self.s.get(from) {
            // "the model on RTU 4 is".
            if item.is(Role::At) || self.s.is_used(from) {
                from += 1;
                continue;
            }
            let one = item.last - item.first == 1;
            let letter = self.stream.lexicon.worth(item.word).letter.is_some() && one;
            if item.gap >= Gap::Stop
                || letter && !(item.is(Role::A) && from == at + 1) && item.number.is_none()
                || !spelled::connector(item.meaning.roles)
                || item.number.is_some()
            {
                break;
            }
            // "is A B 4": the article may be the first letter.
            if letter
                && self.s.get(from + 1).is_some_and(|i| {
                    i.number.is_some() || self.stream.lexicon.worth(i.word).letter.is_some()
                })
            {
                break;
            }
            from += 1;
        }
        let Some(item) = self.s.get(from) else {
            self.label = Some((field, at));
            return at + 1;
        };
        let Some(read) = spelled::spelled(self.stream, item.first as usize) else {
            self.label = Some((field, at));
            return at + 1;
        };
        let next = self
            .s
            .items
            .iter()
            .position(|i| i.first as usize >= read.next)
            .unwrap_or(self.s.items.len());
        let why = read
            .doubtful
            .then_some("a character was guessed from its sound");
        let sure = if read.doubtful { 0.55 } else { 0.85 };
        self.s.use_up(at, from);
        self.push(
            field,
            json!(read.text),
            (from, next.max(from + 1)),
            sure,
            why,
        );
        self.label = None;
        next
    }

    fn named(&mut self, at: usize, field: Field, index: u16) {
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
                if self.s.get(at).is_some_and(|i| i.gap < Gap::Stop) || at == 0 || length > 1 {
                    self.push(field, json!(code), (at, at + 1), 0.92, None);
                    self.label = None;
                }
            }
            Field::Membrane => {
                let clear = length > 1 || matches!(code, "tpo" | "epdm" | "modified_bitumen");
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
                let cue = near(at.saturating_sub(8), at + 5, &[Role::Access]);
                let bare = matches!(code, "portable_ladder" | "fixed_ladder" | "hatch") && !part;
                let fault = (at + 1..at + 5)
                    .any(|i| self.s.get(i).is_some_and(|x| x.meaning.fault.is_some()));
                if cue || (bare && !fault) {
                    self.push(
                        field,
                        json!(code),
                        (at, at + 1),
                        if cue { 0.9 } else { 0.75 },
                        None,
                    );
                }
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

    fn belt(&mut self, at: usize) -> Option<usize> {
        let near = self.talk_of(at, Component::Belt, Field::Belts)
            || self.out.iter().any(|f| f.field == Field::Belts);
        let belt = sizes::belt(self.s.items, self.stream, at, near, self.floor(at))?;
        if self.s.is_used(belt.first) {
            return None;
        }
        let why = belt
            .quantity
            .is_none()
            .then_some("no count of belts was said; one is assumed");
        let sure = if belt.quantity.is_some() { 0.9 } else { 0.8 };
        let value =
            json!({"designation": belt.designation, "quantity": belt.quantity.unwrap_or(1)});
        self.push(Field::Belts, value, (belt.first, belt.next), sure, why);
        Some(belt.next)
    }

    /// First item before `at` that nothing was made of yet.
    fn floor(&self, at: usize) -> usize {
        (at.saturating_sub(8)..at)
            .rev()
            .find(|i| self.s.is_used(*i))
            .map_or(0, |i| i + 1)
    }

    fn talk_of(&self, at: usize, part: Component, field: Field) -> bool {
        let here = |i: usize| {
            self.s.known_part(i) == Some(part)
                || self
                    .s
                    .get(i)
                    .is_some_and(|x| x.meaning.label == Some(field))
        };
        (at.saturating_sub(10)..at + 9).any(here)
    }

    fn filter(&mut self, at: usize) -> Option<usize> {
        let near = self.talk_of(at, Component::Filter, Field::Filters);
        let set = sizes::filter(self.s.items, at, near, self.floor(at))?;
        let (sure, why) = match (set.quantity, set.cut) {
            (Some(_), false) => (0.92, None),
            (Some(_), true) => (0.7, Some("the size was run together")),
            (None, _) => (0.75, Some("no count of filters was said; one is assumed")),
        };
        let value = json!({
            "width_in": set.width, "height_in": set.height, "depth_in": set.depth,
            "quantity": set.quantity.unwrap_or(1),
        });
        self.push(Field::Filters, value, (set.first, set.next), sure, why);
        Some(set.next)
    }

    fn number(&mut self, at: usize) -> usize {
        if let Some(next) = self.filter(at) {
            return next;
        }
        if let Some(next) = self.slashed(at) {
            return next;
        }
        let end = run(self.s.items, at);
        let pieces: Vec<Number> = self
            .s
            .items
            .get(at..end)
            .unwrap_or_default()
            .iter()
            .filter_map(|i| i.number)
            .collect();
        let measure = self.measure(end);
        let taken = match measure {
            Some(measure) => self.measured(at, end, &pieces, measure),
            None => self.bare(at, end, &pieces),
        };
        taken.unwrap_or(end)
    }

    fn measure(&self, at: usize) -> Option<Measure> {
        let item = self.s.get(at).filter(|i| i.gap <= Gap::Space)?;
        let measure = item.meaning.measure?;
        let single = item.last - item.first == 1
            && self.stream.raw(self.stream.get(item.first as usize)?).len() == 1;
        let weak = item.any(&[Role::A, Role::Times]) || single;
        (!weak || item.gap <= Gap::Hyphen).then_some(measure)
    }

    /// "208/230", "460-3-60".
    fn slashed(&mut self, at: usize) -> Option<usize> {
        let items = self.s.items;
        let value = |i: usize| items.get(i).and_then(|x| x.number).map(|n| n.value);
        let tied = |i: usize| {
            items
                .get(i)
                .is_some_and(|x| matches!(x.gap, Gap::Slash | Gap::Hyphen) && x.number.is_some())
        };
        let first = value(at).filter(|v| voltage(*v))?;
        let mut next = at + 1;
        let spoken = items
            .get(next)
            .is_some_and(|i| i.is(Role::Through) || i.is(Role::Slash))
            && value(next + 1).is_some_and(|v| voltage(v) && v > first)
            && self.measure(next + 2) == Some(Measure::Volt);
        next += usize::from(spoken);
        let mut why = None;
        if (tied(next) || spoken) && value(next).is_some_and(|v| voltage(v) && v > first) {
            why = Some("the plate gives two voltages; the first is taken");
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

    /// Whether a label waits shortly before item `at`, with nothing but connectors between.
    fn waiting(&self, at: usize) -> Option<(Field, usize)> {
        let (field, label) = self.label?;
        let connected = at >= label
            && at - label <= 6
            && (label + 1..at).all(|i| {
                self.s.get(i).is_some_and(|x| {
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
                        ])
                        || x.meaning.label == Some(field)
                })
            });
        connected.then_some((field, label))
    }

    /// A label right behind the value, when it is not the next value's: "24 MCA 30 MOCP".
    fn following(&self, next: usize) -> Option<(Field, usize)> {
        let mut at = next;
        while self
            .s
            .get(at)
            .is_some_and(|i| i.idle() && !i.is(Role::A) && i.gap < Gap::Comma)
            && at < next + 2
        {
            at += 1;
        }
        let item = self.s.get(at).filter(|i| i.gap < Gap::Comma)?;
        let field = item.meaning.label?;
        let after = self.s.get(at + 1).filter(|i| i.gap < Gap::Comma);
        let mut skip = at + 1;
        while self
            .s
            .get(skip)
            .is_some_and(|i| i.idle() || i.any(&[Role::Is, Role::At]))
        {
            skip += 1;
        }
        let number_after = self
            .s
            .get(skip)
            .is_some_and(|i| i.number.is_some() && i.gap < Gap::Comma);
        let end = run(self.s.items, skip);
        let its_own = number_after
            && after.is_some()
            && self
                .s
                .get(end + usize::from(self.measure(end).is_some()))
                .is_none_or(|i| i.meaning.label.is_none() || i.gap >= Gap::Comma);
        (!its_own).then_some((field, at))
    }

    /// The disconnect that a value stands before: "thirty amp two forty volt disconnect".
    fn disconnect_after(&self, next: usize) -> bool {
        let mut at = next;
        while let Some(item) = self.s.get(at).filter(|i| i.gap < Gap::Stop) {
            if item.meaning.part == Some(Part::Known(Component::Disconnect)) {
                // Not when that disconnect is followed by its own rating.
                return !self
                    .s
                    .get(at + 1)
                    .is_some_and(|i| i.number.is_some() && i.gap < Gap::Comma);
            }
            let measure = item
                .meaning
                .measure
                .is_some_and(|m| matches!(m, Measure::Amp | Measure::Volt));
            let fuse = item.meaning.label == Some(Field::Fuse)
                && self.s.get(at + 1).is_none_or(|i| i.number.is_none());
            if !(item.idle()
                || item.number.is_some()
                || measure
                || fuse
                || item.meaning.value.is_some())
                || at > next + 6
                || item.gap >= Gap::Comma
            {
                return false;
            }
            at += 1;
        }
        false
    }

    fn volts_of(&self, at: usize, next: usize) -> Field {
        match self.waiting(at) {
            Some((Field::Voltage, _)) => return Field::Voltage,
            Some((Field::Ignored, _)) => return Field::Ignored,
            _ => {}
        }
        if (self.disconnect && self.label.is_none_or(|(f, _)| f == Field::Fuse))
            || self.disconnect_after(next)
        {
            Field::DisconnectVoltage
        } else {
            Field::Voltage
        }
    }

    fn measured(
        &mut self,
        at: usize,
        end: usize,
        pieces: &[Number],
        measure: Measure,
    ) -> Option<usize> {
        let next = end + 1;
        let value = joined(pieces)?;
        match measure {
            Measure::Amp => self.amps(at, end, pieces, value),
            Measure::Volt => self.volts(at, end, pieces, value),
            Measure::Hertz => {
                (value == 60.0 || value == 50.0)
                    .then(|| self.push(Field::Hertz, json!(value), (at, next), 0.92, None))?;
                Some(next)
            }
            Measure::Ton => {
                let value = self.sound_before(at, pieces).unwrap_or(value);
                let ok = (0.5..=250.0).contains(&value);
                ok.then(|| self.push(Field::Tons, json!(value), (at, next), 0.92, None))?;
                Some(next)
            }
            Measure::Pound => self.pounds(at, next, value),
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

    /// "for ton": a sound-alike in place of the number.
    fn sound_before(&self, _at: usize, pieces: &[Number]) -> Option<f64> {
        (pieces.len() > 1)
            .then(|| pieces.last().map(|n| n.value))
            .flatten()
            .filter(|v| *v >= 1.0 && pieces.first().is_some_and(|f| f.value > 99.0))
    }

    fn amps(&mut self, at: usize, end: usize, pieces: &[Number], value: f64) -> Option<usize> {
        let next = end + 1;
        let (at, value) = if value > 1200.0 {
            (end - 1, pieces.last()?.value)
        } else {
            (at, value)
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
            if self.disconnect_after(next) {
                Some(Field::DisconnectRating)
            } else if self.disconnect && !self.rated {
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

    fn volts(&mut self, at: usize, end: usize, pieces: &[Number], value: f64) -> Option<usize> {
        let next = end + 1;
        let adjacent = self
            .s
            .get(next)
            .filter(|i| i.gap <= Gap::Space)
            .and_then(|i| i.meaning.part);
        if adjacent.is_some_and(|p| p != Part::Known(Component::Disconnect)) {
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
            if let Some(fixed) = point.or(zero) {
                value = fixed;
                why = Some("part of the number was guessed from its sound");
            } else if let Some(first) = split {
                value = first;
                why = Some("the plate gives two voltages; the first is taken");
            } else if let Some(hundreds) = sound.filter(|n| voltage(f64::from(*n) * 100.0 + value))
            {
                value += f64::from(hundreds) * 100.0;
                from = at - 1;
                why = Some("part of the number was guessed from its sound");
            } else if let Some((found, n)) = tail {
                value = found;
                from = at + n;
            } else if value == 24.0 || value < 100.0 || value > 700.0 {
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

    fn pounds(&mut self, at: usize, next: usize, value: f64) -> Option<usize> {
        let mut total = value;
        let mut end = next;
        let from = if self.s.role(end, Role::And) {
            end + 1
        } else {
            end
        };
        if let Some(ounces) = self.s.get(from).and_then(|i| i.number)
            && self.measure(from + 1) == Some(Measure::Ounce)
            && ounces.value < 16.0
        {
            total += ounces.value / 16.0;
            end = from + 2;
        }
        let near = |i: usize| {
            self.s.get(i).is_some_and(|x| {
                x.meaning
                    .value
                    .is_some_and(|(f, _)| f == Field::Refrigerant)
                    || matches!(x.meaning.label, Some(Field::Charge | Field::Refrigerant))
            })
        };
        let about = (at.saturating_sub(8)..at).any(near) || (end..end + 6).any(near) || end > next;
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

    fn gas(&mut self, at: usize, next: usize, value: f64, measure: Measure) -> Option<usize> {
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

    fn feet(&mut self, at: usize, next: usize, value: f64) -> Option<usize> {
        let label = self.waiting(at).map(|(f, _)| f) == Some(Field::Height);
        let cue = (at.saturating_sub(6)..next + 5).any(|i| {
            i < self.s.items.len()
                && self.s.role(i, Role::Height)
                && (self.s.cut(i) < super::sentence::Break::Hard || i <= at)
        });
        let danger = (at.saturating_sub(4)..next + 5)
            .any(|i| self.s.get(i).is_some_and(|x| x.meaning.danger.is_some()));
        let near = (next..next + 2).any(|i| {
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
        }
        Some(next)
    }

    /// A number without a unit of measure.
    fn bare(&mut self, at: usize, end: usize, pieces: &[Number]) -> Option<usize> {
        let value = joined(pieces)?;
        if let Some((field, label)) = self.waiting(at) {
            let found = self.of_label(at, end, field, value, pieces);
            if found.is_some() {
                self.s.use_up(label, label + 1);
                self.label = None;
                return found;
            }
        }
        // "460 three phase".
        let phase = self
            .s
            .get(end)
            .is_some_and(|i| i.meaning.value.is_some_and(|(f, _)| f == Field::Phase));
        if phase {
            let split = (1..=pieces.len()).rev().find_map(|n| {
                let value = joined(pieces.get(..n)?)?;
                voltage(value).then_some((value, n))
            });
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
                Field::Mca | Field::Mocp | Field::GasInput | Field::Fuse | Field::Year | Field::Ignored
            )
            && let Some(next) = self.of_label(at, end, field, value, pieces)
        {
            self.s.use_up(label, label + 1);
            return Some(next.max(label + 1));
        }
        if self.correcting > 0
            && let Some(last) = self
                .last
                .filter(|f| !f.many() && !matches!(f, Field::Model | Field::Serial))
            && let Some(next) = self.of_label(at, end, last, value, pieces)
        {
            return Some(next);
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
            self.push(Field::Year, json!(value as i64), (at, end), 0.78, None);
            return Some(end);
        }
        None
    }

    /// "it's a two thousand nine", "a 2009 unit".
    fn dated(&self, at: usize, end: usize) -> bool {
        let before = at > 0
            && self.s.role(at - 1, Role::A)
            && (at < 2 || self.s.any(at - 2, &[Role::Is, Role::ItIs]));
        let after = self.s.get(end).is_some_and(|i| {
            i.meaning.kind.is_some()
                || i.is(Role::Unit)
                || i.meaning.label == Some(Field::Model)
                || i.meaning.label == Some(Field::Year)
        });
        let from = at > 0 && self.s.get(at - 1).is_some_and(|i| says(self.stream, i, "from"))
            && self.s.get(end).is_none_or(|i| i.gap >= Gap::Comma || i.any(&[Role::And, Role::But]) || i.meaning.part.is_some());
        before || after || from
    }

    fn of_label(
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

    fn year(&mut self, at: usize, end: usize, value: f64, pieces: &[Number]) -> Option<usize> {
        // "March 2015", "03/2015", "oh nine", "ninety eight".
        let mut value = value;
        let mut end = end;
        let second = self
            .s
            .get(end)
            .filter(|i| matches!(i.gap, Gap::Slash | Gap::Hyphen))
            .and_then(|i| i.number);
        if let Some(year) = second.filter(|_| value <= 12.0) {
            value = year.value;
            end += 1;
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
        self.push(Field::Year, json!(year as i64), (at, end), sure, None);
        Some(end)
    }
}
