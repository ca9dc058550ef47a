//! Of several conditions that one sentence gives a part, which tell the most.

use super::{Finder, FindingDraft, GUESSED_PART};
use crate::dictation::lexicon::meaning::Role;
use crate::survey::codes::{Certainty, Component, Condition};
use std::collections::{BTreeMap, BTreeSet};

/// Furthest behind a guess that its part is named, in items.
const SOON: usize = 2;

impl Finder<'_, '_> {
    /// Of several conditions that one sentence gives a part, the vaguer are left out: dirt in
    /// what is clogged, damage that is a tear.
    pub(super) fn most_telling(&mut self) {
        // What was said before "scratch that" says nothing of what comes behind it.
        let scratch = self.s.items.iter().rposition(|i| i.is(Role::Scratch));
        let anew = |f: &FindingDraft| scratch.is_some_and(|at| f.first > at);
        let mut all: BTreeMap<(usize, Component, bool), Vec<Condition>> = BTreeMap::new();
        for f in self.out.iter().filter(|f| f.certainty != Certainty::Absent) {
            all.entry((f.who, f.part, anew(f)))
                .or_default()
                .push(f.fault);
        }
        // "the insulation is gone, bare copper", "bare wire out of the conduit": said of the other.
        let bare = |f: &FindingDraft| {
            let (part, of) = match f.part {
                Component::RefrigerantLine => (Component::LineInsulation, Condition::Missing),
                Component::Conduit => (Component::Wiring, Condition::Exposed),
                _ => return false,
            };
            let key = (f.who, part, anew(f));
            f.fault == Condition::Exposed
                && all
                    .get(&key)
                    .is_some_and(|faults| faults.iter().take(40).any(|fault| *fault == of))
        };
        // "it's froze up, the evaporator coil is a block of frost": the guess was another part.
        let guess = |f: &FindingDraft| f.why == Some(GUESSED_PART);
        let told = |[a, b]: &[FindingDraft; 2]| {
            let again = a.who == b.who && a.fault == b.fault && b.first < a.next + SOON;
            (guess(a) && !guess(b) && again).then_some(a.next)
        };
        let named: BTreeSet<usize> = self.out.array_windows().filter_map(told).collect();
        let guessed = |f: &FindingDraft| guess(f) && named.contains(&f.next);
        // "the bearings are quiet, no noise": the denial says it better.
        let quiet: Vec<(usize, Component)> = self
            .out
            .iter()
            .filter(|f| f.certainty == Certainty::Absent && f.fault == Condition::Noisy)
            .take(40)
            .map(|f| (f.who, f.part))
            .collect();
        let denied = |f: &FindingDraft| quiet.contains(&(f.who, f.part));
        self.out.retain(|f| {
            let faults = all.get(&(f.who, f.part, anew(f))).map(Vec::as_slice);
            let others = |wanted: &dyn Fn(Condition) -> bool| {
                // One part has few conditions; a text that goes on for ever has no more.
                faults
                    .unwrap_or_default()
                    .iter()
                    .take(40)
                    .any(|fault| *fault != f.fault && wanted(*fault))
            };
            // Said behind one of these, a condition only tells more of it.
            let behind = |wanted: &[Condition]| {
                let said = faults.unwrap_or_default().iter().take(40);
                said.take_while(|fault| **fault != f.fault)
                    .any(|fault| wanted.contains(fault))
            };
            let vague = match f.fault {
                Condition::Good => others(&|c| c != Condition::Good) || denied(f),
                // "dented in on one corner, damaged": the word for the whole comes last.
                Condition::Damaged => {
                    others(&|c| !matches!(c, Condition::Good | Condition::Bent))
                        || faults.and_then(<[_]>::last) == Some(&Condition::Bent)
                }
                Condition::Dirty | Condition::Ponding => {
                    others(&|c| c == Condition::Clogged) || behind(&[Condition::Debris])
                }
                // "filthy with fluff".
                Condition::Debris => {
                    others(&|c| c == Condition::Clogged) || behind(&[Condition::Dirty])
                }
                // "loose at the top, bolts pulled out".
                Condition::LooseFasteners => behind(&[Condition::Loose]),
                Condition::Missing => others(&|c| {
                    matches!(
                        c,
                        Condition::LooseFasteners | Condition::Weathered | Condition::Disconnected
                    )
                }),
                // "just sitting there, not turning".
                Condition::Unsecured => {
                    others(&|c| matches!(c, Condition::Unsupported | Condition::NotRunning))
                        || behind(&[Condition::Disconnected])
                }
                // "disconnected, the arm just hangs there", "not turning, it hums".
                Condition::Loose => {
                    behind(&[Condition::Disconnected, Condition::Broken, Condition::Torn])
                }
                Condition::Noisy => {
                    let told = [
                        Condition::NotRunning,
                        Condition::Loose,
                        Condition::Vibrating,
                    ];
                    behind(&told)
                }
                // "missing, wide open to the rain".
                Condition::Exposed if f.part != Component::Wiring => {
                    behind(&[Condition::Missing, Condition::LooseFasteners])
                }
                Condition::Obstructed => {
                    behind(&[Condition::Frosted, Condition::Clogged, Condition::Dirty])
                }
                Condition::Split => behind(&[Condition::Broken]),
                // "just leaning there unsecured".
                Condition::Bent => {
                    others(&|c| matches!(c, Condition::HailDented | Condition::Unsecured))
                        || faults.and_then(<[_]>::last) == Some(&Condition::Damaged)
                }
                Condition::Worn => others(&|c| {
                    matches!(
                        c,
                        Condition::Broken
                            | Condition::Cracked
                            | Condition::NotRunning
                            | Condition::Frayed
                            | Condition::Torn
                    )
                }),
                _ => false,
            };
            let kept =
                f.certainty == Certainty::Absent || f.corrects || !vague && !bare(f) || f.plain;
            kept && !guessed(f)
        });
    }
}
