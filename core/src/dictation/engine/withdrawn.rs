//! What the speaker takes back: "scratch that", "forget the coil", "no, that's only a shadow".

use super::add::{RECENT, newest};
use super::{Engine, Stamped};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Part, Role};
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::{FORGET, Sentence, says_any};
use crate::dictation::tokens::Gap;
use crate::survey::codes::{Component, Condition};

/// Words that say that a thing is nothing of the trade's.
const ONLY: [&str; 9] = [
    "a",
    "an",
    "just",
    "only",
    "from",
    "some",
    "my",
    "somebodys",
    "merely",
];

/// Furthest that "no" stands from what it objects to, in tokens.
const OBJECTED: u32 = 8;

/// Furthest that "that's a plane" stands from its "no", in tokens.
const ANSWERED: u32 = 16;

impl Engine {
    /// Takes back what the sentence says is wrong.
    pub(super) fn withdraw(&mut self, s: &Sentence<'_>, stream: Stream<'_>) {
        self.scratch(s);
        self.forget(s, stream);
        self.mistaken(s, stream);
    }

    /// "scratch that" takes back the last draft before it.
    fn scratch(&mut self, s: &Sentence<'_>) {
        // "scratch that sixty", "scratch that, fused at sixty": a value is put right.
        let value = |i: usize| s.get(i).is_some_and(|x| x.number.is_some() || x.code);
        let label = |i: usize| {
            s.get(i)
                .is_some_and(|x| x.gap < Gap::Stop && x.meaning.label.is_some())
        };
        let valued = |at: usize| value(at + 1) || label(at + 1) && value(at + 2);
        let scratched = s.items.iter().enumerate();
        for (at, item) in scratched.filter(|(at, i)| i.is(Role::Scratch) && !valued(*at)) {
            // "scratch what I said about two": what follows puts that right.
            if (at + 1..at + 5).any(|i| s.is_name(i)) {
                continue;
            }
            let fact = newest(&self.facts, item.first);
            let finding = newest(&self.findings, item.first);
            let danger = newest(&self.hazards, item.first);
            let Some(last) = fact.max(finding).max(danger) else {
                continue;
            };
            // "I thought it was bent, but no, never mind": nothing was made of that.
            let silent = |i: usize| {
                let said = s.get(i).filter(|x| x.first >= last && s.is_muted(i));
                said.is_some_and(|x| x.meaning.fault.is_some())
            };
            if (0..at).any(silent) {
                continue;
            }
            take_back(&mut self.facts, last);
            take_back(&mut self.findings, last);
            take_back(&mut self.hazards, last);
        }
    }

    /// "forget the coil", "scratch the crack": the newest finding that this names.
    fn forget(&mut self, s: &Sentence<'_>, stream: Stream<'_>) {
        for (at, item) in s.items.iter().enumerate() {
            let denies = |b: &Item| b.is(Role::No) || says_any(stream, b, &["dont"]);
            let kept = || at > 0 && s.get(at - 1).is_some_and(denies);
            if !says_any(stream, item, &FORGET) || kept() {
                continue;
            }
            let target = (at + 1..at + 4).find(|i| {
                let small = |x: &Item| x.idle() || says_any(stream, x, &["about"]);
                !s.get(*i).is_some_and(small)
            });
            let Some(target) = target.filter(|i| s.get(*i).is_some()) else {
                continue;
            };
            let named = |part: Component, fault: Condition| match s.part(target) {
                Some(Part::Known(known)) => known == part,
                Some(head) => stream.lexicon.head(head).is_some_and(|h| h.can_be(part)),
                None => s
                    .get(target)
                    .is_some_and(|i| i.meaning.fault == Some(fault)),
            };
            let recent = self.findings.len().saturating_sub(RECENT);
            let last = self
                .findings
                .iter()
                .skip(recent)
                .rev()
                .find(|f| f.stamp <= item.first && named(f.item.component, f.item.condition));
            if let Some(last) = last.map(|f| f.stamp) {
                take_back(&mut self.findings, last);
            }
        }
    }

    /// "cracked. No. That's a strip of tape.": what was seen is nothing.
    fn mistaken(&mut self, s: &Sentence<'_>, stream: Stream<'_>) {
        for (at, item) in s.items.iter().enumerate() {
            if item.is(Role::Scratch) || says_any(stream, item, &FORGET) {
                self.objected = None;
                continue;
            }
            let recent = |objected: &u32| item.first - objected <= ANSWERED;
            self.objected = self.objected.filter(recent);
            // "No, that's ...", not "no fuses".
            let alone = |x: &Item| x.gap >= Gap::Comma || x.any(&[Role::ItIs, Role::Correct]);
            let no =
                says_any(stream, item, &["no", "nope", "wait"]) && s.get(at + 1).is_none_or(alone);
            if no || item.is(Role::Correct) && !says_any(stream, item, &["no"]) {
                self.objected = self.objected.or(Some(item.first));
                continue;
            }
            let Some(objected) = self.objected else {
                continue;
            };
            // "wait, no, just paint": an answer, where "there is just one" is none.
            let just = item.gap == Gap::Comma && says_any(stream, item, &["just", "only"]);
            let turns = item.is(Role::ItIs) || just;
            if turns && is_nothing(s, stream, at) {
                let last = newest(&self.findings, objected);
                if let Some(last) = last.filter(|last| objected - last <= OBJECTED) {
                    take_back(&mut self.findings, last);
                }
            }
            if turns || of_trade(item) {
                self.objected = None;
            }
        }
    }
}

fn of_trade(item: &Item) -> bool {
    let m = item.meaning;
    let unit = [
        Role::Unit,
        Role::This,
        Role::OtherOne,
        Role::Next,
        Role::Previous,
    ];
    m.of_trade() || item.number.is_some() || item.any(&unit)
}

/// "that's a plane going over": a thing that the trade has no word for.
fn is_nothing(s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> bool {
    let only = (at..at + 3).any(|i| s.get(i).is_some_and(|x| says_any(stream, x, &ONLY)));
    let behind = || (at + 1..at + 7).map_while(|i| s.get(i));
    let counts = behind().any(|x| x.number.is_some() || x.code);
    let mut said = behind()
        .filter(|x| !x.idle() && !says_any(stream, x, &ONLY))
        .take(2);
    let first = said.next();
    only && !counts && first.is_some_and(|x| !of_trade(x)) && said.all(|x| !of_trade(x))
}

/// Drops the drafts that end on this token, from among the newest.
fn take_back<T>(list: &mut Vec<Stamped<T>>, stamp: u32) {
    let recent = list.len().saturating_sub(RECENT);
    let tail = list.split_off(recent);
    list.extend(tail.into_iter().filter(|draft| draft.stamp != stamp));
}

#[cfg(test)]
mod tests {
    use crate::dictation::said::{note, told};
    use crate::dictation::{Lexicon, interpret};

    /// What is said, and the findings that are left.
    #[rustfmt::skip]
    const TAKEN_BACK: &[(&str, &str)] = &[
        ("CU-1. Condenser coil dirty, wait, no, just paint on the cabinet, forget the coil.", ""),
        ("RTU 1, the compressor is noisy, oh wait, that's a plane going over.", ""),
        ("RTU 3. Heat exchanger's cracked. No. Sorry. That's a spider's web.", ""),
        ("RTU 9, I got a cracked drain pan. Hold on, let me wipe it. No. That's a strip of old tape.", ""),
        ("RTU 9. The belt is worn. The bearing is noisy. Forget the bearing.", "RTU-9 belt worn"),
        ("RTU 9. The curb is rusted. The belt is worn. Scratch the rust.", "RTU-9 belt worn"),
        ("RTU 9. The belt is worn, no, that's a frayed belt.", "RTU-9 belt frayed"),
        ("RTU 9. The belt is worn. The curb's split, no, I take that back, that's a shadow.", "RTU-9 belt worn"),
        ("RTU 9. The belt is worn. Don't forget the belt.", "RTU-9 belt worn"),
        ("RTU 9. The belt is worn. No leaks. That's a ten ton unit.", "RTU-9 belt worn"),
    ];

    #[test]
    fn what_is_taken_back_is_gone() {
        for (said, wanted) in TAKEN_BACK {
            let heard = interpret(&note(said), Lexicon::builtin());
            let findings: Vec<String> = heard.findings.iter().map(told).collect();
            assert_eq!(findings.join("; "), *wanted, "{said}");
        }
    }
}
