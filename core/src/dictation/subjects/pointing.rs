//! Pointing, and names that come later: "the next one", "the cooling tower, that's tower two".

use super::tags::plain_numbers;
use super::{GUESSED_NEXT, GUESSED_POINT, Subject, Subjects};
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::{Sentence, ends_in, says};
use crate::dictation::tokens::Gap;
use crate::survey::codes::EquipmentKind;
use crate::survey::spoken::Mention;

impl Subjects {
    /// "what I said about two": a unit that this note spoke of.
    pub(super) fn said_about(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        at: usize,
    ) -> Option<(Subject, usize)> {
        let item = s.get(at).filter(|i| says(stream, i, "about"))?;
        let told = (at.saturating_sub(4)..at).any(|i| {
            s.any(i, &[Role::Scratch, Role::Correct])
                || s.get(i)
                    .is_some_and(|x| says(stream, x, "said") || says(stream, x, "scratch"))
        });
        let (numbers, next) = plain_numbers(s, at + 1).filter(|_| told && item.number.is_none())?;
        let one = self.only_spoken(f64::from(*numbers.first()?))?;
        let subject = Subject {
            tags: vec![one.tag.clone()],
            kind: Some(one.kind),
            doubt: None,
        };
        Some((subject, next))
    }

    /// "next one over is rooftop unit 11": the name that follows says more than the pointing.
    fn named_after(&self, s: &Sentence<'_>, at: usize) -> bool {
        (at + 1..at + 6)
            .map_while(|i| s.get(i))
            .take_while(|i| i.gap < Gap::Stop)
            .take_while(|i| {
                i.meaning.kind.is_some()
                    || i.idle()
                    || i.any(&[Role::Is, Role::ItIs, Role::A, Role::At, Role::Unit])
            })
            .any(|i| i.meaning.kind.is_some())
    }

    /// "the cooling tower, that's cooling tower two".
    pub(super) fn named_soon(&self, s: &Sentence<'_>, at: usize, kind: EquipmentKind) -> bool {
        (at + 1..at + 9)
            .take_while(|i| s.get(*i).is_some_and(|x| x.gap < Gap::Stop))
            .any(|i| s.unit_at(i) == Some(kind))
    }

    /// "same as two": where to copy from, not whom the talk is about.
    pub(super) fn likened(&self, s: &Sentence<'_>, stream: Stream<'_>, item: &Item) -> bool {
        let at = s.items.partition_point(|i| i.first < item.first);
        let same = (at.saturating_sub(4)..at).any(|i| s.role(i, Role::SameWord));
        says(stream, item, "as") && same || item.is(Role::Same) && ends_in(stream, item, &["as"])
    }

    pub(super) fn pointing(&self, s: &Sentence<'_>, at: usize) -> Option<Subject> {
        let item = s.get(at)?;
        // "could be the next unit over".
        let doubted = (at.saturating_sub(2)..at)
            .rev()
            .find(|i| !s.role(*i, Role::A))
            .is_some_and(|i| s.role(i, Role::Hedge));
        if doubted {
            return None;
        }
        let number = self
            .current
            .tags
            .last()
            .and_then(|t| self.called(t))
            .and_then(|m| m.number);
        let kind = self.current.kind?;
        let named = at > 0 && s.is_name(at - 1);
        if item.is(Role::Next) && (named || self.named_after(s, at)) {
            return None;
        }
        if item.is(Role::Next) {
            return Some(self.named(kind, &[number? + 1], Some(GUESSED_NEXT)));
        }
        // "the newest took some hail"; "all but the newest" is another matter.
        let left_out = (at.saturating_sub(3)..at).any(|i| s.role(i, Role::Except));
        if item.any(&[Role::Newest, Role::Oldest]) && !left_out && self.years.len() > 1 {
            let by = |a: &&(String, f64), b: &&(String, f64)| a.1.total_cmp(&b.1);
            let dated = self.years.iter();
            let tag = match item.is(Role::Newest) {
                true => dated.max_by(by)?.0.clone(),
                false => dated.min_by(by)?.0.clone(),
            };
            let kind = self.called(&tag).map(|m| m.kind);
            return Some(Subject {
                tags: vec![tag],
                kind,
                doubt: None,
            });
        }
        if item.is(Role::Previous) && !self.previous.tags.is_empty() {
            return Some(Subject {
                doubt: Some(GUESSED_POINT),
                ..self.previous.clone()
            });
        }
        if item.is(Role::OtherOne) {
            let others: Vec<&Mention> = self
                .of_kind(kind)
                .into_iter()
                .filter(|m| !self.current.tags.contains(&m.tag))
                .collect();
            if let [other] = others.as_slice() {
                return Some(Subject {
                    tags: vec![other.tag.clone()],
                    kind: Some(kind),
                    doubt: None,
                });
            }
        }
        None
    }
}
