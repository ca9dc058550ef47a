//! Labels and switches that stand behind their values: "24 MCA", "27.5, that's the MCA", "a sixty
//! amp disconnect".

use super::Reader;
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Field, Measure, Part, Role};
use crate::dictation::numbers::counts::run;
use crate::dictation::sentence::{ends_in, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::Component;

/// Most labels of a row.
const ROW: usize = 8;

impl Reader<'_, '_> {
    /// A label right behind the value, when it is not the next value's: "24 MCA 30 MOCP".
    pub(super) fn following(&self, next: usize) -> Option<(Field, usize)> {
        if let Some(named) = self.named_behind(next) {
            return Some(named);
        }
        let mut at = next;
        // "forty on the max fuse".
        if self.of_the(at) {
            at += 2;
        } else if self.for_label(at) {
            at += 1;
        }
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
            .is_some_and(|i| i.number.is_some() && i.gap < Gap::Comma)
            && !self.s.is_name(skip);
        let end = run(self.s.items, skip);
        // "sixty amps fused at thirty".
        let fused = field == Field::Fuse
            && number_after
            && ends_in(self.stream, item, &["at", "with", "for"]);
        let its_own = fused
            || number_after && self.ends_in_number(end)
            || number_after
                && after.is_some()
                && self
                    .s
                    .get(end + usize::from(self.measure(end).is_some()))
                    .is_none_or(|i| i.meaning.label.is_none() || i.gap >= Gap::Comma);
        (!its_own).then_some((field, at))
    }

    /// "460 mca 148 max fuse 200": a row of labels and numbers, from behind the second number on,
    /// that ends in a number. Each label stands before its own.
    fn ends_in_number(&self, from: usize) -> bool {
        let beside = |i: usize| self.s.get(i).filter(|x| x.gap < Gap::Comma);
        let mut at = from + usize::from(self.measure(from).is_some());
        for _ in 0..ROW {
            let label = beside(at).is_some_and(|i| i.meaning.label.is_some());
            let next = run(self.s.items, at + 1);
            if !label || beside(at + 1).is_none_or(|i| i.number.is_none()) {
                return false;
            }
            at = next + usize::from(self.measure(next).is_some());
            if beside(at).is_none_or(|i| i.meaning.label.is_none()) {
                return true;
            }
        }
        false
    }

    /// "on the max fuse", "for the breaker".
    fn of_the(&self, at: usize) -> bool {
        self.s.role(at + 1, Role::A)
            && self
                .s
                .get(at)
                .is_some_and(|i| i.gap < Gap::Comma && says_any(self.stream, i, &["on", "for"]))
    }

    /// "24 for MCA".
    fn for_label(&self, at: usize) -> bool {
        let says = |i: &Item| i.gap < Gap::Comma && says_any(self.stream, i, &["for"]);
        self.s.get(at).is_some_and(says)
            && self
                .s
                .get(at + 1)
                .is_some_and(|i| i.gap < Gap::Comma && i.meaning.label.is_some())
    }

    /// "27.5, that's the MCA": the value was given before it was named.
    fn named_behind(&self, next: usize) -> Option<(Field, usize)> {
        let that = self.s.get(next)?;
        let names = that.is(Role::ItIs) && that.gap <= Gap::Comma;
        let at = next + 1 + usize::from(self.s.role(next + 1, Role::A));
        let label = self.s.get(at).filter(|i| names && i.gap < Gap::Comma)?;
        let unanswered = self.s.get(at + 1).is_none_or(|i| {
            i.gap >= Gap::Comma || i.is(Role::At) && self.s.unit_at(at + 2).is_some()
        });
        label
            .meaning
            .label
            .filter(|_| unanswered)
            .map(|field| (field, at))
    }

    /// The disconnect that a value stands before: "thirty amp two forty volt disconnect".
    pub(super) fn disconnect_after(&self, next: usize) -> bool {
        let mut at = next;
        while let Some(item) = self.s.get(at).filter(|i| i.gap < Gap::Stop) {
            // "one fifteen volt the disconnect is ...": a new thing.
            let article = says_any(self.stream, item, &["the", "this", "that", "its"]);
            if item.gap >= Gap::Comma || article {
                return false;
            }
            let switch = says_any(self.stream, item, &["switch"]);
            if switch || item.meaning.part == Some(Part::Known(Component::Disconnect)) {
                // Not when that disconnect is followed by its own rating.
                let own = self
                    .s
                    .get(at + 1)
                    .is_some_and(|i| i.number.is_some() && i.gap < Gap::Comma);
                let volts = self.measure(run(self.s.items, at + 1)) == Some(Measure::Volt);
                return !own || volts;
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
            {
                return false;
            }
            at += 1;
        }
        false
    }
}
