//! Drafts into output: one row a unit, corrections in place of what they correct, "same on".

use super::{DOUBTFUL_UNIT, Engine, Stamped, of_building, round, tokens_of};
use crate::dictation::facts::FactDraft;
use crate::dictation::findings::FindingDraft;
use crate::dictation::items::evidence;
use crate::dictation::lexicon::Lexicon;
use crate::dictation::lexicon::meaning::{Field, Role};
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::{Break, Sentence};
use crate::dictation::subjects::Subject;
use crate::survey::SITE;
use crate::survey::codes::{Component, Condition, EquipmentKind};
use crate::survey::spoken::{Evidence, Fact, SpokenFinding};

impl Engine {
    pub(super) fn add_fact(
        &mut self,
        draft: &FactDraft,
        subject: Option<&Subject>,
        stamp: u32,
        evidence: Evidence,
    ) {
        let nobody = Subject::nobody();
        let subject = subject.unwrap_or(&nobody);
        let (tags, doubt) = if draft.field.of_site() {
            (vec![SITE.to_owned()], None)
        } else {
            (subject.tags.clone(), subject.doubt)
        };
        for about in tags {
            let field = draft.field.path();
            if draft.corrects
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
            let old = self.facts.iter().rposition(|f| {
                f.item.about == about
                    && f.item.field == field
                    && (!draft.field.many() || f.item.value == draft.value)
            });
            if let Some(old) = old {
                let same = self
                    .facts
                    .get(old)
                    .is_some_and(|f| f.item.value == draft.value);
                if same {
                    continue;
                }
                if self
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
    }

    pub(super) fn add_finding(
        &mut self,
        draft: &FindingDraft,
        subject: Option<&Subject>,
        lexicon: &Lexicon,
        stamp: u32,
        evidence: Evidence,
    ) {
        let nobody = Subject::nobody();
        let subject = subject.unwrap_or(&nobody);
        // A tower and a chiller have ladders and rails of their own.
        let own = matches!(draft.part, Component::Ladder | Component::Guardrail)
            && matches!(
                subject.kind,
                Some(EquipmentKind::CoolingTower | EquipmentKind::AirCooledChiller)
            );
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
        for about in tags {
            if draft.corrects {
                let slip = self.findings.iter().rposition(|f| {
                    f.item.about == about
                        && (f.item.component == draft.part || f.item.condition == draft.fault)
                });
                if let Some(slip) = slip {
                    self.findings.remove(slip);
                }
            }
            if draft.implied
                && let Some(old) = self.findings.iter_mut().rev().find(|f| {
                    f.item.about == about
                        && f.item.component == draft.part
                        && f.item.condition != Condition::Good
                })
            {
                old.item.action = draft.action;
                continue;
            }
            let same = self.findings.iter_mut().find(|f| {
                f.item.about == about
                    && f.item.component == draft.part
                    && f.item.condition == draft.fault
            });
            if let Some(old) = same {
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
    }

    /// Copies what was just said to the units that share it.
    pub(super) fn share(
        &mut self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
        subject: &Subject,
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
        let findings: Vec<SpokenFinding> = self
            .findings
            .iter()
            .skip(findings_from)
            .filter(|f| {
                within(f.stamp) && named(parts.contains(&f.item.component)) && f.item.about != SITE
            })
            .map(|f| f.item.clone())
            .collect();
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
                within(f.stamp)
                    && named(part_of(&f.item.field).is_some_and(|p| parts.contains(&p)))
                    && f.item.about != SITE
                    && !f.item.field.ends_with(".serial")
            })
            .map(|f| f.item.clone())
            .collect();
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

    /// "scratch that" takes back the last draft before it.
    pub(super) fn scratch(&mut self, s: &Sentence<'_>) {
        for item in s.items.iter().filter(|i| i.is(Role::Scratch)) {
            let fact = self
                .facts
                .iter()
                .map(|f| f.stamp)
                .filter(|t| *t <= item.first)
                .max();
            let finding = self
                .findings
                .iter()
                .map(|f| f.stamp)
                .filter(|t| *t <= item.first)
                .max();
            let Some(last) = fact.max(finding) else {
                continue;
            };
            self.facts.retain(|f| f.stamp != last);
            self.findings.retain(|f| f.stamp != last);
            self.hazards.retain(|h| h.stamp != last);
        }
    }
}
