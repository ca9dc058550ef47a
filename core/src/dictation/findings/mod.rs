//! Findings: which condition belongs to which part, how sure, how grave, what to do.
//!
//! A condition looks for its part by the shapes of spoken English: said of a part before it
//! ("the belt is cracked"), before its part ("a cracked belt"), or with a place behind it
//! ("rust on the cabinet"). A condition without a part makes nothing.

mod ask;
mod denial;
mod joined;
mod likewise;
mod meant;
mod part;
mod place;
mod reach;
mod telling;
mod unnamed;

use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::{Part, Role};
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::{Break, Sentence, ends_in, says};
use crate::dictation::tokens::Gap;
use crate::survey::codes::{Action, Certainty, Component, Condition, EquipmentKind, Severity};

/// A finding as drafted, before its unit and evidence are written out.
#[derive(Debug, Clone)]
pub(crate) struct FindingDraft {
    pub(crate) who: usize,
    pub(crate) part: Component,
    pub(crate) fault: Condition,
    pub(crate) certainty: Certainty,
    pub(crate) severity: Severity,
    pub(crate) action: Option<Action>,
    pub(crate) first: usize,
    pub(crate) next: usize,
    /// The item that tells the condition.
    pub(crate) told: usize,
    pub(crate) confidence: f64,
    pub(crate) why: Option<&'static str>,
    /// It takes the place of the finding before it.
    pub(crate) corrects: bool,
    /// Severity or action were spoken, not taken from the defaults.
    pub(crate) spoken: bool,
    /// A "no" opened the sentence.
    pub(crate) denies: bool,
    /// The condition was called by its own name.
    pub(crate) plain: bool,
}

/// Why a finding is in doubt whose part nobody named.
const GUESSED_PART: &str = "the part was not named; it is a guess";

/// Work that was asked for on a part of which the sentence tells nothing.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Asked {
    pub(crate) who: usize,
    pub(crate) part: Component,
    pub(crate) action: Action,
    pub(crate) first: usize,
    pub(crate) next: usize,
}

/// Furthest that a condition looks for its part, in items.
const BACK: usize = 9;
const AHEAD: usize = 6;

/// The parts named last, newest first: what "it" may be.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct LastPart {
    recent: [Option<Component>; 3],
    /// The condition said last, unless it was denied.
    fault: Option<Condition>,
    /// The part named last of the unit before: "ten's belt is cracked. Eleven's is fine."
    of_before: Option<Component>,
}

impl LastPart {
    pub(crate) fn newest(&self) -> Option<Component> {
        self.recent[0]
    }

    /// What is left of it when the talk turns to another unit: "same with the belt on four".
    pub(crate) fn of_another(self) -> Self {
        Self {
            fault: self.fault,
            of_before: self.alike(),
            ..Self::default()
        }
    }

    /// The part that "the one on two" and "two's" mean.
    pub(super) fn alike(&self) -> Option<Component> {
        self.newest().or(self.of_before)
    }

    fn name(&mut self, part: Component) {
        let [a, b, _] = self.recent;
        if a != Some(part) {
            self.recent = [Some(part), a, b];
        }
    }

    /// The newest that makes sense.
    fn fitting(&self, sense: impl Fn(&Component) -> bool) -> Option<Component> {
        self.recent.into_iter().flatten().find(|part| sense(part))
    }
}

pub(crate) struct Finder<'s, 'a> {
    pub(crate) s: &'s mut Sentence<'a>,
    pub(crate) stream: Stream<'a>,
    /// Kind of the unit that each subject of the sentence is.
    pub(crate) kinds: &'s [Option<EquipmentKind>],
    pub(crate) last: LastPart,
    pub(crate) out: Vec<FindingDraft>,
    asked: Vec<Asked>,
    /// Parts that have a condition already, by item.
    taken: Vec<bool>,
}

impl<'s, 'a> Finder<'s, 'a> {
    pub(crate) fn new(
        s: &'s mut Sentence<'a>,
        stream: Stream<'a>,
        kinds: &'s [Option<EquipmentKind>],
        last: LastPart,
    ) -> Self {
        let taken = vec![false; s.items.len()];
        Self {
            s,
            stream,
            kinds,
            last,
            out: Vec::new(),
            asked: Vec::new(),
            taken,
        }
    }

    /// Drafts every finding of the sentence, and says what work was asked for by itself.
    pub(crate) fn run(mut self) -> (Vec<FindingDraft>, Vec<Asked>, LastPart) {
        let mut correcting = 0usize;
        for at in 0..self.s.items.len() {
            let Some(item) = self.s.get(at) else { break };
            correcting = correcting.saturating_sub(1);
            if item.is(Role::Correct) && !self.s.is_muted(at) {
                correcting = 7;
                self.second_thought(at);
            }
            if self.s.is_muted(at) || self.named(at) {
                continue;
            }
            let before = self.out.len();
            if let Some(fault) = item.meaning.fault.or_else(|| self.neglected(at, item)) {
                self.condition(at, item, fault);
            } else if item.meaning.part.is_some() {
                self.denied_part(at);
                if self.out.len() == before {
                    self.likewise(at);
                }
            }
            let said = self.out.get(before..).and_then(<[_]>::last);
            // "howling pretty good": not what is alike.
            if let Some(said) = said.filter(|f| f.fault != Condition::Good) {
                let fault = Some(said.fault);
                self.last.fault = fault.filter(|_| said.certainty != Certainty::Absent);
            }
            if self.out.len() > before {
                if correcting > 0 {
                    if let Some(draft) = self.out.get_mut(before) {
                        draft.corrects = true;
                    }
                    correcting = 0;
                }
            } else if item.meaning.say.is_some() || item.meaning.done.is_some() {
                self.request(at, item);
            }
            let subject = self.s.told.contains_key(&at) || !self.locative(at) && !self.beyond(at);
            // A rating tells of the disconnect, but the talk stays with what it was of.
            let told =
                item.meaning.part.is_none() && self.s.known_part(at) == Some(Component::Disconnect);
            if let Some(Part::Known(part)) = self.s.part(at).filter(|_| subject && !told) {
                self.last.name(part);
            }
        }
        self.weights();
        self.most_telling();
        (self.out, self.asked, self.last)
    }

    /// "it's dented, damaged I mean": the word before replaces the one before that.
    fn second_thought(&mut self, at: usize) {
        let ends = self.s.get(at + 1).is_none_or(|i| i.gap >= Gap::Comma);
        if let [.., before, last] = self.out.as_mut_slice()
            && ends
            && last.next == at
            && before.part == last.part
        {
            last.corrects = true;
        }
    }

    fn named(&self, at: usize) -> bool {
        self.s.is_name(at)
    }

    fn is_part(&self, at: usize) -> bool {
        self.s.part(at).is_some() && !self.named(at) && self.s.get(at).is_some_and(|i| !i.both())
    }

    fn condition(&mut self, at: usize, item: &Item, fault: Condition) {
        let fault = self.by_hail(at, fault);
        let dents = |i: usize| {
            let bent = |x: &Item| x.meaning.fault == Some(Condition::Bent);
            self.s.get(i).is_some_and(bent) && self.s.cut(i) < Break::Hard
        };
        if says(self.stream, item, "hail") && (at + 1..at + 7).any(dents) {
            return;
        }
        if fault == Condition::Good && !self.said_good(at) {
            return;
        }
        let made_of = fault != Condition::Ponding && !item.both() && self.substance(at);
        if made_of || self.no_fault(at, item) || self.tells_why(at) || self.taken_back(at) {
            return;
        }
        if item.both() {
            let part = self.s.known_part(at);
            if let Some(part) = part.filter(|part| {
                *part != Component::RoofSurface || !self.is_danger(at, fault, &[(at, *part)])
            }) {
                self.draft(at, &[(at, part)], fault);
            }
            return;
        }
        let parts = self.parts_of(at, fault);
        if !parts.is_empty() && !self.is_danger(at, fault, &parts) {
            self.draft(at, &parts, fault);
        }
    }

    fn draft(&mut self, at: usize, parts: &[(usize, Component)], heard: Condition) {
        let denied = self.denied(at, parts);
        let opens_with_no = self
            .s
            .get(0)
            .is_some_and(|i| i.is(Role::Correct) || says(self.stream, i, "no"));
        let hedged = self.s.hedged.get(at).copied().unwrap_or(false);
        for (named, part) in parts {
            // "the roof is PVC, with branches lying on it": what lies there lies on the roof.
            let lies = heard == Condition::Debris && *part == Component::RoofMembrane;
            let part = match lies {
                true => Component::RoofSurface,
                false => *part,
            };
            let both = self.s.get(at).is_some_and(Item::both);
            let sense = self.stream.lexicon.sense(part, heard);
            let named_so = self.by_name(at, heard) && *named != at;
            let said = (both || named_so).then_some(heard);
            let Some(mut fault) = sense.filter(|_| !named_so).or(said) else {
                continue;
            };
            // "it isn't leaking, no vibration": a denial of nothing in particular.
            if denied
                && *named == at
                && !both
                && fault != Condition::Ponding
                && (!at.checked_sub(1).is_some_and(|b| self.s.role(b, Role::No))
                    || self.last.newest() != Some(part) && self.is_implied(at, fault, part))
            {
                continue;
            }
            // "skylights with no screens": none of the unit's.
            let dome = part == Component::OutdoorAirScreen
                && fault == Condition::Missing
                && (at.saturating_sub(14)..at + 3)
                    .any(|i| self.s.known_part(i) == Some(Component::Skylight));
            if dome {
                continue;
            }
            // "the light by the hatch is not working".
            let works = |i: &Item| ends_in(self.stream, i, &["working", "work"]);
            if part == Component::Lighting && self.s.get(at).is_some_and(works) {
                fault = Condition::NotRunning;
            }
            if self.fastens(*named)
                && matches!(
                    heard,
                    Condition::Missing
                        | Condition::Loose
                        | Condition::Worn
                        | Condition::Broken
                        | Condition::Disconnected
                )
                && !(heard == Condition::Broken && self.catches(*named))
            {
                fault = Condition::LooseFasteners;
            }
            let (mut certainty, mut said) = if denied {
                (Certainty::Absent, fault)
            } else if hedged && fault != Condition::Good {
                (Certainty::Suspected, fault)
            } else {
                (Certainty::Observed, fault)
            };
            if denied && fault == Condition::Good {
                // "not good" is bad, in a way that was not said; "no ... good" is nothing.
                if !self.s.undone(at) {
                    continue;
                }
                certainty = Certainty::Observed;
                said = Condition::Damaged;
            }
            // "looks stuck, probably broken": said again with a doubt, it is doubted.
            let again = self.out.iter_mut().rev().take(3).find(|f| {
                f.who == self.s.who.get(at).copied().unwrap_or(0)
                    && f.part == part
                    && f.fault == said
                    && f.certainty == Certainty::Observed
            });
            if certainty == Certainty::Suspected
                && let Some(before) = again
            {
                before.certainty = Certainty::Suspected;
                continue;
            }
            let (severity, action) = if certainty == Certainty::Absent {
                (Severity::Note, None)
            } else {
                self.stream.lexicon.consequence(part, said)
            };
            // The whole size or rating that told of the part.
            let named_from = self.s.told.get(named).map_or(*named, |(_, first)| *first);
            let (first, next) = (named_from.min(at), (*named).max(at) + 1);
            let trust = self
                .s
                .items
                .get(first..next)
                .unwrap_or_default()
                .iter()
                .map(|i| i.trust)
                .fold(1.0, f32::min);
            let guessed = *named == at
                && fault != Condition::Ponding
                && self.s.get(at).is_some_and(|i| !i.both());
            let odd = sense.is_none() && !both;
            let (sure, why) = match (guessed, odd) {
                (true, _) => (0.6, Some(GUESSED_PART)),
                (_, true) => (0.7, Some("this is seldom said of such a part")),
                _ => (0.9, None),
            };
            if let Some(taken) = self.taken.get_mut(*named) {
                *taken = true;
            }
            self.s.use_up(first, next);
            self.out.push(FindingDraft {
                who: self.s.who.get(at).copied().unwrap_or(0),
                part,
                fault: said,
                certainty,
                severity,
                action,
                first,
                next,
                told: at,
                confidence: sure * f64::from(trust),
                why,
                corrects: false,
                spoken: false,
                denies: opens_with_no,
                plain: self.by_name(at, said) && said != Condition::Good,
            });
        }
        if let Some((_, part)) = parts.first() {
            self.last.name(*part);
        }
    }
}

impl Item {
    fn weight_only(&self) -> bool {
        self.meaning.weight().is_some()
    }
}
