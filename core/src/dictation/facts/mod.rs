//! Values: numbers with the label, unit or place in the sentence that says what they are.

mod behind;
mod corrections;
mod fused;
mod labels;
mod measures;
mod plate;
mod sets;
mod site;
#[cfg(test)]
mod table;

use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Field, Measure, Part, Role};
use crate::dictation::numbers::counts::{numbers_in, run};
use crate::dictation::numbers::{Stream, joined, spelled, voltage};
use crate::dictation::sentence::{Sentence, says, says_any};
use crate::dictation::tokens::Gap;
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

/// Standard switch ratings.
const SWITCHES: [f64; 9] = [30.0, 60.0, 100.0, 200.0, 400.0, 600.0, 800.0, 20.0, 40.0];

/// What the talk was about when a sentence began.
#[derive(Debug, Clone, Default)]
pub(crate) struct Carry {
    /// The sentence before ended on the word "disconnect".
    pub(crate) disconnect: bool,
    /// A label waited for its value.
    pub(crate) label: Option<Field>,
    /// Field of the last value, for corrections.
    pub(crate) last: Option<Field>,
    /// The last filters or belts, whose count may be corrected.
    pub(crate) set: Option<(Field, Value)>,
    /// The sentence before spoke of belts or of filters.
    pub(crate) sets: Option<Component>,
    /// "Filters are six.": a count whose size comes in the next sentence.
    pub(crate) count: Option<u32>,
    /// Voltages, ratings and the like were just read off a plate.
    pub(crate) plate: bool,
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
    /// As in [`Carry`].
    set: Option<(Field, Value)>,
    sets: Option<Component>,
    count: Option<u32>,
    plate: bool,
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
        set: carry.set.take(),
        sets: carry.sets,
        count: carry.count.take(),
        plate: carry.plate,
    };
    let mut at = 0;
    while let Some(item) = reader.s.get(at) {
        at = reader.step(at, item).max(at + 1);
    }
    reader.doubt_beside();
    let end = reader.s.items.len();
    let ends_on = |at: usize| at + 1 == end;
    carry.label = reader
        .label
        .filter(|(_, at)| ends_on(*at))
        .map(|(field, _)| field);
    carry.disconnect =
        end > 0 && reader.disconnect && reader.s.known_part(end - 1) == Some(Component::Disconnect);
    carry.last = reader.last;
    let turned = reader.s.names.iter().rposition(|named| *named);
    carry.plate = reader.plate && turned.is_none()
        || reader
            .out
            .iter()
            .any(|d| plate::of_plate(d.field) && turned.is_none_or(|at| d.first > at));
    carry.count = reader.last_count();
    carry.sets = reader.set_talk().or(reader.sets.filter(|_| end < 4));
    carry.set = reader.set;
    for draft in &reader.out {
        let told = match draft.field {
            Field::Belts => Component::Belt,
            Field::Filters => Component::Filter,
            Field::DisconnectRating | Field::DisconnectVoltage => Component::Disconnect,
            // "the roof is spray foam, weathered".
            Field::Membrane => Component::RoofMembrane,
            Field::Access if draft.value.as_str().is_some_and(|v| v.ends_with("ladder")) => {
                Component::Ladder
            }
            _ => continue,
        };
        let last = draft.next.saturating_sub(1);
        reader.s.told.insert(last, (told, draft.first));
    }
    reader.out
}

/// How near talk that does not count casts doubt on a value, in items.
const NEAR: usize = 3;

/// Most trust in a value that its place or its sound puts in doubt.
const RECALLED: f64 = 0.7;

impl<'a> Reader<'_, 'a> {
    /// Whether a unit is named before item `at`, with nothing but small words between; and whether
    /// a verb is among those.
    fn name_before(&self, at: usize) -> Option<bool> {
        let verb = |i: usize| self.s.any(i, &[Role::Is, Role::ItIs]);
        let small = |i: &usize| {
            let idle = self.s.get(*i).is_some_and(|x| x.idle() || x.is(Role::At));
            (idle || verb(*i)) && !self.s.is_name(*i)
        };
        let from = at - (0..at).rev().take_while(small).take(3).count();
        let name = from.checked_sub(1)?;
        self.s.is_name(name).then(|| (from..at).any(verb))
    }

    /// "I said MCA was forty, it's fourteen": what is comes behind what was said.
    fn said_before(&self, at: usize) -> bool {
        let number = |i: usize| self.s.get(i).is_some_and(|x| x.number.is_some());
        let said = |i: usize| {
            self.s
                .get(i)
                .is_some_and(|x| says_any(self.stream, x, &["said", "told", "wrote", "had"]))
        };
        let from = at.saturating_sub(10);
        // "Disconnect hundred amp. It's sixty.", and no more.
        let again = at == 0
            && self.last.is_some_and(|f| !f.many())
            && self.s.role(at, Role::ItIs)
            && number(1)
            && run(self.s.items, 1) == self.s.items.len();
        again
            || self.s.role(at, Role::ItIs)
                && self.s.get(at).is_some_and(|i| i.gap >= Gap::Comma)
                && number(at + 1)
                && (from..at).any(number)
                && (from..at).any(said)
    }

    fn step(&mut self, at: usize, item: &'a Item) -> usize {
        self.correcting = self.correcting.saturating_sub(1);
        // "scratch what I said about two".
        let taken_back = self.s.is_name(at) && says(self.stream, item, "about");
        if item.any(&[Role::Correct, Role::Scratch])
            || self.plain_no(at)
            || self.no_but(at)
            || self.no_plate(at)
            || self.said_before(at)
            || taken_back
        {
            self.correcting = 8;
        }
        if self.s.is_used(at) || self.s.is_muted(at) {
            return at + 1;
        }
        if self.not_that(at, item) {
            self.correcting = 8;
            return at + 2;
        }
        if let Some(next) = self.belt(at) {
            return next;
        }
        if item.number.is_some() {
            return self.number(at);
        }
        if let Some(next) = self.recount(at) {
            return next;
        }
        if let Some(field) = item.meaning.label {
            return self.labelled(at, field);
        }
        if let Some((field, index)) = item.meaning.value {
            self.named(at, field, index);
        }
        if let Some(part) = item.meaning.part {
            self.about(at, part);
            self.counted_part(at, part);
        }
        if let Some(next) = self.one_and_a_half(at) {
            return next;
        }
        at + 1
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
        if field.many() {
            self.set = Some((field, value.clone()));
        }
        let value = plate::whole(field, value);
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
        // "nineteen, correction, ...": if nothing takes its place, it is in doubt.
        let recalled = (next..next + 2).any(|i| self.s.any(i, &[Role::Correct, Role::Scratch]));
        // Beside hearsay, a question or a plan a value may be of that.
        let muted = (first.saturating_sub(NEAR)..next + NEAR).filter_map(|i| self.s.muted.get(i));
        let doubts = [
            (recalled, "it was put right behind it"),
            (
                self.by_sound(first, next),
                "a number was guessed from its sound",
            ),
            (
                muted.copied().any(|muted| muted),
                "it stands beside talk that makes no value",
            ),
        ];
        let mut found = doubts.into_iter().filter_map(|(so, why)| so.then_some(why));
        let (sure, why) = match found.next() {
            Some(doubt) => (sure.min(RECALLED), why.or(Some(doubt))),
            None => (sure, why),
        };
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
            // "fuses in the disconnect are 40".
            let within = (at.saturating_sub(2)..at).any(|i| self.s.role(i, Role::At));
            self.label = self.label.filter(|(f, _)| *f == Field::Fuse && within);
        } else if at == 0
            || !self.s.role(at - 1, Role::At) && !self.s.role(at.saturating_sub(2), Role::At)
        {
            self.disconnect = false;
        }
        match part {
            // "a roof hydrant" has its value already.
            Part::Known(Component::WaterSource) if !self.s.is_used(at) => self.water(at),
            Part::Known(Component::Hatch | Component::Ladder) => self.way_up(at, part),
            _ => {}
        }
    }

    fn labelled(&mut self, at: usize, field: Field) -> usize {
        match field {
            Field::Model | Field::Serial => return self.string(at, field),
            // "Thirty five on the breaker": the plate's, unless a disconnect is the talk.
            Field::Fuse if !self.disconnect && self.breaker(at) => {
                self.label = Some((Field::Mocp, at));
                return at + 1;
            }
            Field::Fuse | Field::DisconnectRating => self.disconnect = true,
            Field::Filters | Field::Belts | Field::Ignored => {}
            Field::Voltage | Field::Phase => {}
            _ => self.disconnect = false,
        }
        if let Some(next) = self.year_behind(at, field) {
            return next;
        }
        // A value may have stood before its label: "24 MCA".
        self.label = Some((field, at));
        at + 1
    }

    fn breaker(&self, at: usize) -> bool {
        self.s
            .get(at)
            .is_some_and(|i| says(self.stream, i, "breaker"))
    }

    /// The code behind its label, or the code that is its own.
    fn string(&mut self, at: usize, field: Field) -> usize {
        let code = (at..at + 9)
            .take_while(|i| *i == at || self.s.get(*i).is_some_and(|x| x.meaning.label.is_none()))
            .find(|i| self.s.get(*i).is_some_and(|x| x.code));
        let read = code.and_then(|from| {
            let first = self.s.get(from)?.first as usize;
            Some((from, spelled::spelled(self.stream, first)?))
        });
        let Some((from, read)) = read else {
            self.label = Some((field, at));
            return at + 1;
        };
        let next = from + 1;
        let why = read
            .doubtful
            .then_some("a character was guessed from its sound");
        let why =
            why.or((from == at).then_some("its label was not said; it stood beside another's"));
        let sure = match (read.doubtful, from == at) {
            (true, _) => 0.55,
            (_, true) => 0.7,
            _ => 0.85,
        };
        self.s.use_up(at, from);
        self.push(field, json!(read.text), (from, next), sure, why);
        self.label = None;
        next
    }

    fn number(&mut self, at: usize) -> usize {
        if self.to_come(at) {
            return run(self.s.items, at);
        }
        if let Some(next) = self.filter(at).or_else(|| self.same_set(at)) {
            return next;
        }
        if let Some(next) = self.slashed(at).or_else(|| self.recount(at)) {
            return next;
        }
        let mut end = run(self.s.items, at);
        // "six hundred thousand two belts": the last counts what follows.
        let last = |back: usize| self.s.get(end.checked_sub(back)?)?.number;
        if end > at + 1
            && self
                .s
                .get(end)
                .is_some_and(|i| i.gap <= Gap::Space && i.meaning.part.is_some())
            && last(2).is_some_and(|n| n.value >= 1000.0)
            && last(1).is_some_and(|n| n.value < 20.0)
        {
            end -= 1;
        }
        let pieces = numbers_in(self.s.items, at..end);
        let fused = self
            .fused_volts(at, end)
            .or_else(|| self.volts_and_phase(at))
            .or_else(|| self.trio(at, end));
        if let Some(next) = fused {
            return next;
        }
        let measure = self.measure(end);
        let taken = match measure {
            Some(measure) => {
                let from = self.answered(at, end, measure, &pieces);
                let from = if from == at && joined(&pieces).is_none() {
                    end - 1
                } else {
                    from
                };
                let rest = pieces.get(from - at..).unwrap_or_default();
                self.measured(from, end, rest, measure)
            }
            None => self.bare(at, end, &pieces),
        };
        taken.unwrap_or(end)
    }

    fn measure(&self, at: usize) -> Option<Measure> {
        let item = self.s.get(at).filter(|i| i.gap <= Gap::Space)?;
        // "mocp 30 | hp 2 ...": a unit, and no horsepower.
        let unit = item.meaning.kind.is_some() && self.stream.paused(item.first as usize);
        let measure = item.meaning.measure.filter(|_| !unit)?;
        let single = item.last - item.first == 1
            && self.stream.raw(self.stream.get(item.first as usize)?).len() == 1;
        let weak = item.any(&[Role::A, Role::Times]) || single;
        // "115 V".
        let volts = measure == Measure::Volt
            && at.checked_sub(1).is_some_and(|b| {
                let number = self.s.get(b).and_then(|i| i.number);
                number.is_some_and(|n| voltage(n.value))
            })
            && self.s.get(at + 1).is_none_or(|i| i.number.is_none());
        (!weak || item.gap <= Gap::Hyphen || volts).then_some(measure)
    }
}
