//! The fold over sentences: subjects move, drafts become output, corrections win.
//!
//! An [`Engine`] holds all that a note has said so far, so a session can keep one and feed it
//! what comes next. Output is in the order spoken.

mod add;
mod liken;
mod mentions;
mod withdrawn;

use crate::dictation::aside::Aside;
use crate::dictation::cuts::sentences;
use crate::dictation::facts::{Carry, facts};
use crate::dictation::findings::{Finder, LastPart};
use crate::dictation::follow_up::follow_ups;
use crate::dictation::hazards::hazards;
use crate::dictation::items::{Item, evidence, evidence_of, items};
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::Sentence;
use crate::dictation::subjects::{Subject, Subjects};
use crate::survey::SITE;
use crate::survey::codes::{Component, Condition, HazardKind};
use crate::survey::spoken::{
    Evidence, Fact, Interpretation, Mention, SpokenFinding, SpokenFollowUp, SpokenHazard,
};
use std::collections::BTreeSet;

/// Furthest apart, in tokens, that two mentions of a danger are one.
const SAME_DANGER: u32 = 40;
/// How many dangers back a repeated one is looked for.
const RECENT_HAZARDS: usize = 20;

/// Why a value is in doubt that was said after several units were named.
const SEVERAL: &str = "several units were named before; it may be of one of them only";

/// Trust left in a draft whose unit is in doubt.
const DOUBTFUL_UNIT: f64 = 0.6;

/// An output item and the token it ends on.
#[derive(Debug, Clone)]
struct Stamped<T> {
    stamp: u32,
    item: T,
}

/// What a note has said so far.
#[derive(Debug, Clone)]
pub(crate) struct Engine {
    subjects: Subjects,
    carry: Carry,
    last: LastPart,
    /// The units that those parts are of.
    last_of: Vec<String>,
    aside: Aside,
    facts: Vec<Stamped<Fact>>,
    findings: Vec<Stamped<SpokenFinding>>,
    hazards: Vec<Stamped<SpokenHazard>>,
    follow_ups: Vec<Stamped<SpokenFollowUp>>,
    unparsed: Vec<Evidence>,
    /// Where the drafts of the sentence before begin, for "same on four".
    statement: (usize, usize),
    /// How many values there were when the talk turned to the current unit.
    turned: usize,
    /// Units that something was drafted for.
    spoken: BTreeSet<String>,
    /// Units that were only pointed at as the next one.
    pointed: BTreeSet<String>,
    /// Where a "no" stands that may take back what was said before it.
    objected: Option<u32>,
    /// Keys of the drafts so far, so that only a repeated one is looked for.
    keys: BTreeSet<(String, &'static str)>,
}

impl Engine {
    /// A fresh note; `known` are units that the survey holds already.
    pub(crate) fn new(known: &[Mention]) -> Self {
        Self {
            subjects: Subjects::new(known),
            carry: Carry::default(),
            last: LastPart::default(),
            last_of: Vec::new(),
            aside: Aside::default(),
            facts: Vec::new(),
            findings: Vec::new(),
            hazards: Vec::new(),
            follow_ups: Vec::new(),
            unparsed: Vec::new(),
            statement: (0, 0),
            turned: 0,
            spoken: BTreeSet::new(),
            pointed: BTreeSet::new(),
            objected: None,
            keys: BTreeSet::new(),
        }
    }

    /// Reads a stream to its end.
    pub(crate) fn run(&mut self, stream: Stream<'_>) {
        let all = items(stream);
        for (from, to, asked) in sentences(&all, stream) {
            if let Some(items) = all.get(from..to) {
                self.sentence(stream, items, asked);
            }
        }
    }

    /// Everything drafted.
    pub(crate) fn finish(self, note_id: &str, given: usize) -> Interpretation {
        // "Next unit.", and nothing said of one: it is no unit yet.
        let (pointed, spoken) = (self.pointed, self.spoken);
        let equipment = self.subjects.known.into_iter().skip(given);
        let equipment = equipment.filter(|m| !pointed.contains(&m.tag) || spoken.contains(&m.tag));
        let items = |list: Vec<Stamped<SpokenHazard>>| list.into_iter().map(|s| s.item).collect();
        Interpretation {
            note_id: note_id.to_owned(),
            equipment: equipment.collect(),
            facts: self.facts.into_iter().map(|s| s.item).collect(),
            findings: self.findings.into_iter().map(|s| s.item).collect(),
            hazards: items(self.hazards),
            follow_ups: self.follow_ups.into_iter().map(|s| s.item).collect(),
            unparsed: self.unparsed,
        }
    }

    fn sentence(&mut self, stream: Stream<'_>, items: &[Item], asked: bool) {
        let mut s = Sentence::new(items, stream, asked, self.aside);
        self.aside = s.aside(self.aside);
        let mut subjects = vec![self.subjects.current.clone()];
        let mut sharing: Vec<(usize, usize)> = Vec::new();
        let mut likened = Vec::new();
        self.mentions(&mut s, stream, &mut subjects, &mut sharing, &mut likened);
        let before = (self.facts.len(), self.findings.len());

        let values = facts(&mut s, stream, &mut self.carry);
        let kinds: Vec<_> = subjects.iter().map(|subject| subject.kind).collect();
        // "That's exhaust fan two. It's not running": "it" is no part of the unit before.
        if self.subjects.current.tags != self.last_of {
            self.last = self.last.of_another();
        }
        let before_part = self.last.newest();
        let (found, asked, last) = Finder::new(&mut s, stream, &kinds, self.last).run();
        self.last = last;
        self.last_of.clone_from(&self.subjects.current.tags);
        let dangers = hazards(&mut s, stream, before_part, &kinds);
        let later = follow_ups(&mut s, stream, before_part);

        let at = |first: usize, next: usize| tokens_of(items, first, next);
        let carried = carried_over(subjects.first(), items);
        for draft in values {
            let (from, to) = at(draft.first, draft.next);
            let evidence = evidence(stream.tokens, from, to);
            let subject = carried.as_ref().filter(|_| draft.who == 0);
            let subject = subject.or(subjects.get(draft.who));
            if !self.add_fact(&draft, subject, to, evidence) {
                s.leave(draft.first, draft.next);
            }
        }
        for draft in found {
            let (from, to) = at(draft.first, draft.next);
            let (told, _) = at(draft.told, draft.told + 1);
            let evidence = evidence_of(stream.tokens, (from, to), told);
            let subject = subjects.get(draft.who);
            if !self.add_finding(&draft, subject, stream.lexicon, to, evidence) {
                s.leave(draft.first, draft.next);
            }
        }
        for work in asked {
            if self.ask(&work, subjects.get(work.who)) {
                s.use_up(work.first, work.next);
            }
        }
        for draft in dangers {
            let (from, to) = at(draft.first, draft.next);
            let tags = draft
                .who
                .and_then(|who| subjects.get(who))
                .map(|x| x.tags.clone())
                .unwrap_or_default();
            let abouts: Vec<Option<String>> = if tags.is_empty() {
                vec![None]
            } else {
                tags.into_iter().map(Some).collect()
            };
            for about in abouts {
                if self.warned(draft.kind, about.as_ref(), to) {
                    continue;
                }
                let item = SpokenHazard {
                    kind: draft.kind,
                    about,
                    evidence: evidence(stream.tokens, from, to),
                    confidence: round(draft.confidence),
                };
                self.hazards.push(Stamped { stamp: to, item });
            }
        }
        for draft in later {
            let (from, to) = at(draft.first, draft.next);
            let site = draft.what.starts_with("site.")
                || Component::from_code(draft.what)
                    .is_some_and(|c| stream.lexicon.site_parts.contains(&c));
            let tags = subjects
                .get(draft.who)
                .filter(|x| !site && !x.tags.is_empty())
                .map_or_else(|| vec![SITE.to_owned()], |x| x.tags.clone());
            for about in tags {
                if self
                    .follow_ups
                    .iter()
                    .any(|f| f.item.about == about && f.item.what == draft.what)
                {
                    continue;
                }
                // The narrower of two about one plate tells more.
                if draft.what.starts_with("nameplate.") {
                    self.follow_ups
                        .retain(|f| f.item.about != about || f.item.what != "nameplate");
                }
                let item = SpokenFollowUp {
                    about,
                    what: draft.what.to_owned(),
                    evidence: evidence(stream.tokens, from, to),
                };
                self.follow_ups.push(Stamped { stamp: to, item });
            }
        }
        self.same_value(&s, stream, &subjects, &mut likened);
        for (at, who, of) in likened {
            if let Some(subject) = subjects.get(who) {
                self.liken(&s, stream, at, subject, &of);
            }
        }
        sharing.extend(self.same_thing(&s));
        for (at, who) in sharing {
            if let Some(subject) = subjects.get(who) {
                let of = at
                    .checked_sub(1)
                    .and_then(|b| s.who.get(b))
                    .copied()
                    .unwrap_or(0);
                // "EF 2, same thing.": what was said of the unit before.
                let of = match of == who {
                    true => of.saturating_sub(1),
                    false => of,
                };
                let of = subjects.get(of).map_or(&[][..], |x| x.tags.as_slice());
                self.share(&s, stream, at, subject, of, before);
            }
        }
        self.withdraw(&s, stream);
        self.leave(&s, stream);
        if (self.facts.len(), self.findings.len()) != before {
            self.statement = before;
        }
    }

    /// Whether a danger was told of already: of this unit or place, or just now without one, which
    /// is then named.
    fn warned(&mut self, kind: HazardKind, about: Option<&String>, stamp: u32) -> bool {
        let recent = self.hazards.iter_mut().rev().take(RECENT_HAZARDS);
        for old in recent.filter(|old| old.item.kind == kind) {
            let near = stamp.saturating_sub(old.stamp) < SAME_DANGER;
            match (&old.item.about, about) {
                (old, new) if old.as_ref() == new => return true,
                (Some(_), None) if near => return true,
                (None, Some(new)) if near => {
                    old.item.about = Some(new.clone());
                    return true;
                }
                _ => {}
            }
        }
        false
    }

    /// Keeps the words that nothing was made of, segment by segment.
    fn leave(&mut self, s: &Sentence<'_>, stream: Stream<'_>) {
        let mut at = 0;
        while at < s.items.len() {
            if s.is_used(at) {
                at += 1;
                continue;
            }
            let mut end = at;
            let mut content = false;
            while end < s.items.len() && !s.is_used(end) {
                content |= s.get(end).is_some_and(|i| {
                    i.number.is_some()
                        || i.meaning == Default::default()
                        || i.meaning.fault.is_some_and(|f| f != Condition::Good)
                        || i.meaning.part.is_some()
                        || i.meaning.label.is_some()
                });
                end += 1;
            }
            if content {
                let (from, to) = tokens_of(s.items, at, end);
                self.unparsed.extend(per_segment(stream, from, to));
            }
            at = end;
        }
    }
}

/// The units that a sentence before named together, unless this one says that it means each.
fn carried_over(subject: Option<&Subject>, items: &[Item]) -> Option<Subject> {
    let each = [
        Role::Both,
        Role::All,
        Role::SameWord,
        Role::Same,
        Role::Everything,
    ];
    let several = subject.filter(|s| s.tags.len() > 1)?;
    let each = items.iter().any(|i| i.any(&each));
    (!each).then(|| Subject {
        doubt: several.doubt.or(Some(SEVERAL)),
        ..several.clone()
    })
}

/// Parts that stand on the roof without a unit of their own.
fn of_building(part: Component) -> bool {
    matches!(
        part,
        Component::Conduit
            | Component::Receptacle
            | Component::Flashing
            | Component::Wiring
            | Component::GasPiping
            | Component::Duct
            | Component::DuctInsulation
            | Component::CondensateDrain
            | Component::Curb
    )
}

fn round(value: f64) -> f64 {
    (value.clamp(0.0, 1.0) * 100.0).round() / 100.0
}

fn tokens_of(items: &[Item], first: usize, next: usize) -> (u32, u32) {
    let from = items.get(first).map_or(0, |i| i.first);
    let to = next
        .checked_sub(1)
        .and_then(|i| items.get(i.min(items.len().saturating_sub(1))))
        .map_or(from, |i| i.last);
    (from, to.max(from))
}

fn per_segment(stream: Stream<'_>, from: u32, to: u32) -> Vec<Evidence> {
    let mut out: Vec<Evidence> = Vec::new();
    for token in stream
        .tokens
        .get(from as usize..to as usize)
        .unwrap_or_default()
    {
        let place = token.evidence();
        match out.last_mut() {
            Some(last) if last.segment == place.segment => last.end = place.end,
            _ => out.push(place),
        }
    }
    out
}
