//! Drafts into output: one row a unit, corrections in place of what they correct, "same on".

use super::{DOUBTFUL_UNIT, Engine, Stamped, of_building, round, tokens_of};
use crate::dictation::facts::FactDraft;
use crate::dictation::findings::{Asked, FindingDraft};
use crate::dictation::items::evidence;
use crate::dictation::lexicon::Lexicon;
use crate::dictation::lexicon::meaning::Field;
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::{Break, Sentence};
use crate::dictation::subjects::Subject;
use crate::survey::SITE;
use crate::survey::codes::{Component, Condition};
use crate::survey::spoken::{Evidence, Fact, SpokenFinding};

impl Engine {
    /// False if there is no unit that the value could be of.
    pub(super) fn add_fact(
        &mut self,
        draft: &FactDraft,
        subject: Option<&Subject>,
        stamp: u32,
        evidence: Evidence,
    ) -> bool {
        let nobody = Subject::nobody();
        let subject = subject.unwrap_or(&nobody);
        let (tags, doubt) = if draft.field.of_site() {
            (vec![SITE.to_owned()], None)
        } else {
            (subject.tags.clone(), subject.doubt)
        };
        let placed = !tags.is_empty();
        for about in tags {
            let field = draft.field.path();
            let known = self.note_key(&about, field);
            if draft.corrects
                && known
                && let Some(old) = self
                    .facts
                    .iter()
                    .rposition(|f| f.item.about == about && f.item.field == field)
            {
                self.facts.remove(old);
            }
            let mut confidence = draft.confidence;
            let mut why = draft.why;
            if let Some(doubt) = doubt {
                confidence *= DOUBTFUL_UNIT;
                why = Some(doubt);
            }
            let repeats = |f: &Stamped<Fact>| {
                f.item.about == about
                    && f.item.field == field
                    && (!draft.field.many() || f.item.value == draft.value)
            };
            let old = known
                .then(|| self.facts.iter().rposition(repeats))
                .flatten();
            if let Some(old) = old {
                let same = self
                    .facts
                    .get(old)
                    .is_some_and(|f| f.item.value == draft.value);
                if same {
                    continue;
                }
                // "one hose bib by the store, and no water up here": none up here, but some.
                let no_more = draft.field == Field::Water && draft.value == "none";
                if no_more
                    || self
                        .facts
                        .get(old)
                        .is_some_and(|f| f.item.confidence > confidence + 0.15)
                {
                    continue;
                }
                self.facts.remove(old);
                confidence *= 0.75;
                why = Some("another value was heard before");
            }
            if draft.field == Field::Year
                && let Some(year) = draft.value.as_f64()
            {
                self.subjects.years.retain(|(tag, _)| *tag != about);
                self.subjects.years.push((about.clone(), year));
            }
            let item = Fact {
                about,
                field: field.to_owned(),
                value: draft.value.clone(),
                evidence,
                confidence: round(confidence),
                needs_confirmation: why.map(str::to_owned),
            };
            self.facts.push(Stamped { stamp, item });
        }
        placed
    }

    /// False if there is no unit that the finding could be of.
    pub(super) fn add_finding(
        &mut self,
        draft: &FindingDraft,
        subject: Option<&Subject>,
        lexicon: &Lexicon,
        stamp: u32,
        evidence: Evidence,
    ) -> bool {
        let nobody = Subject::nobody();
        let subject = subject.unwrap_or(&nobody);
        let own = matches!(draft.part, Component::Ladder | Component::Guardrail)
            && Subject::is_climbed(subject.kind);
        let site = lexicon.site_parts.contains(&draft.part) && !own;
        let mut doubt = subject.doubt;
        let tags = if site {
            doubt = None;
            vec![SITE.to_owned()]
        } else if subject.tags.is_empty() && of_building(draft.part) {
            vec![SITE.to_owned()]
        } else {
            subject.tags.clone()
        };
        let placed = !tags.is_empty();
        for about in tags {
            let known = self.note_key(&about, draft.part.code());
            if draft.corrects {
                let recent = self.findings.len().saturating_sub(RECENT);
                let slip = (recent..self.findings.len()).rev().find(|at| {
                    self.findings.get(*at).is_some_and(|f| {
                        f.item.about == about
                            && (f.item.component == draft.part || f.item.condition == draft.fault)
                    })
                });
                if let Some(slip) = slip {
                    self.findings.remove(slip);
                }
            }
            // "no, not the blower, the blower is good".
            if draft.fault == Condition::Good && draft.denies {
                let recent = self.findings.len().saturating_sub(3);
                let tail = self.findings.split_off(recent);
                self.findings.extend(
                    tail.into_iter()
                        .filter(|f| f.item.about != about || f.item.component != draft.part),
                );
            }
            let same = |f: &&mut Stamped<SpokenFinding>| {
                f.item.about == about
                    && f.item.component == draft.part
                    && f.item.condition == draft.fault
            };
            if known && let Some(old) = self.findings.iter_mut().find(same) {
                if draft.spoken {
                    old.item.severity = draft.severity;
                    old.item.action = draft.action;
                }
                continue;
            }
            let (confidence, why) = match doubt {
                Some(doubt) => (draft.confidence * DOUBTFUL_UNIT, Some(doubt)),
                None => (draft.confidence, draft.why),
            };
            let item = SpokenFinding {
                about,
                component: draft.part,
                condition: draft.fault,
                certainty: draft.certainty,
                severity: draft.severity,
                action: draft.action,
                evidence,
                confidence: round(confidence),
                needs_confirmation: why.map(str::to_owned),
            };
            self.findings.push(Stamped { stamp, item });
        }
        placed
    }

    /// "Replace the belt.", when the belt was told of before: its action. False if it was not.
    pub(super) fn ask(&mut self, asked: &Asked, subject: Option<&Subject>) -> bool {
        let tags = subject.map_or(&[][..], |s| s.tags.as_slice());
        let recent = self.findings.len().saturating_sub(RECENT);
        let mut answered = false;
        for tag in tags {
            let told = self.findings.iter_mut().skip(recent).rev().find(|f| {
                let of_it = f.item.about == *tag && f.item.component == asked.part;
                of_it && f.item.condition != Condition::Good
            });
            if let Some(told) = told {
                told.item.action = Some(asked.action);
                answered = true;
            }
        }
        answered
    }

    /// Copies what was just said to the units that share it.
    pub(super) fn share(
        &mut self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
        subject: &Subject,
        of: &[String],
        before: (usize, usize),
    ) {
        let start = s.clause_start(at, Break::Hard).min(at);
        let parts: Vec<Component> = (start.saturating_sub(4)..at + 8)
            .filter_map(|i| s.known_part(i))
            .collect();
        let here = (self.facts.len(), self.findings.len()) != before;
        let (mut facts_from, findings_from) = if here { before } else { self.statement };
        if !here && self.findings.len() == findings_from {
            // Nothing but values was said last: all of the unit's values are meant.
            facts_from = facts_from.min(self.turned);
        }
        let (from, to) = s.get(at).map_or((0, 0), |i| {
            tokens_of(s.items, at, at + 1).max((i.first, i.last))
        });
        let place = evidence(stream.tokens, from, to);
        let within = |stamp: u32| !here || stamp <= from;
        let named = |fits: bool| here || parts.is_empty() || fits;
        let findings_from = findings_from.max(self.findings.len().saturating_sub(RECENT));
        let facts_from = facts_from.max(self.facts.len().saturating_sub(RECENT));
        let findings: Vec<SpokenFinding> = self
            .findings
            .iter()
            .skip(findings_from)
            .filter(|f| {
                within(f.stamp)
                    && named(parts.contains(&f.item.component))
                    && of.contains(&f.item.about)
            })
            .map(|f| f.item.clone())
            .collect();
        // "..., the insulation is torn, same on four": that, and not the plate before it.
        let finding_last = here && newest(&self.findings, from) > newest(&self.facts, from);
        let part_of = |field: &str| match field {
            "filters" => Some(Component::Filter),
            "belts" => Some(Component::Belt),
            f if f.starts_with("disconnect.") => Some(Component::Disconnect),
            _ => None,
        };
        let facts: Vec<Fact> = self
            .facts
            .iter()
            .skip(facts_from)
            .filter(|f| {
                !finding_last
                    && within(f.stamp)
                    && named(part_of(&f.item.field).is_some_and(|p| parts.contains(&p)))
                    && of.contains(&f.item.about)
                    && !f.item.field.ends_with(".serial")
            })
            .map(|f| f.item.clone())
            .collect();
        for tag in &subject.tags {
            for old in &findings {
                self.note_key(tag, old.component.code());
            }
        }
        let why = |old: &Option<String>| subject.doubt.map(str::to_owned).or_else(|| old.clone());
        for tag in &subject.tags {
            for old in &findings {
                if self.findings.iter().any(|f| {
                    f.item.about == *tag
                        && f.item.component == old.component
                        && f.item.condition == old.condition
                }) {
                    continue;
                }
                let item = SpokenFinding {
                    about: tag.clone(),
                    evidence: place,
                    confidence: round(old.confidence * 0.9),
                    needs_confirmation: why(&old.needs_confirmation),
                    ..old.clone()
                };
                self.findings.push(Stamped { stamp: to, item });
            }
            for old in &facts {
                if self.facts.iter().any(|f| {
                    f.item.about == *tag
                        && f.item.field == old.field
                        && (f.item.value == old.value
                            || !matches!(old.field.as_str(), "filters" | "belts"))
                }) {
                    continue;
                }
                let item = Fact {
                    about: tag.clone(),
                    evidence: place,
                    confidence: round(old.confidence * 0.9),
                    needs_confirmation: why(&old.needs_confirmation),
                    ..old.clone()
                };
                self.facts.push(Stamped { stamp: to, item });
            }
        }
    }

    /// Notes that a draft of this sort was made; true if one was before.
    fn note_key(&mut self, about: &str, sort: &'static str) -> bool {
        if !self.spoken.contains(about) {
            self.spoken.insert(about.to_owned());
        }
        !self.keys.insert((about.to_owned(), sort))
    }
}

/// How many of the newest drafts a correction or a sharing looks back over.
pub(super) const RECENT: usize = 64;

/// The token that the newest draft before `until` ends on.
pub(super) fn newest<T>(list: &[Stamped<T>], until: u32) -> Option<u32> {
    let recent = list.iter().rev().take(RECENT);
    recent
        .map(|draft| draft.stamp)
        .filter(|stamp| *stamp <= until)
        .max()
}
