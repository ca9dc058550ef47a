//! Which units a sentence names, and whom each of its words is about.

use super::Engine;
use crate::dictation::aside::Told;
use crate::dictation::items::Item;
use crate::dictation::lexicon::meaning::Role;
use crate::dictation::numbers::Stream;
use crate::dictation::sentence::{Break, Sentence, ends_in, says, says_any};
use crate::dictation::subjects::{Found, GUESSED_NEXT, Subject};
use crate::dictation::tokens::Gap;
use crate::survey::codes::EquipmentKind;

impl Engine {
    /// Finds the units that the sentence names and says for each item whom it is about.
    pub(super) fn mentions(
        &mut self,
        s: &mut Sentence<'_>,
        stream: Stream<'_>,
        subjects: &mut Vec<Subject>,
        sharing: &mut Vec<(usize, usize)>,
        likened: &mut Vec<(usize, usize, Vec<String>)>,
    ) {
        // "Exhaust fans. One: ...": what the numbers that follow are of.
        let first = (0..s.items.len()).find(|i| !s.get(*i).is_some_and(Item::idle));
        if let Some(kind) = first.and_then(|i| put_up(s, stream, i)) {
            self.subjects.heading = Some(kind);
        }
        let mut at = 0;
        let mut content = 0;
        let mut who = 0;
        let mut last: Option<usize> = None;
        // Units that the last mention was the first to name.
        let mut fresh: Vec<String> = Vec::new();
        while at < s.items.len() {
            if let Some(slot) = s.who.get_mut(at) {
                *slot = who;
            }
            if s.cut(at) == Break::Hard && s.role(at, Role::But) {
                content = at;
            }
            // "well, supply fan one now, my uncle ..." names the unit before the story begins.
            let opens = s.elsewhere == Told::Begun
                && s.unit_at(at).is_some()
                && !s.role(at + 2, Role::At)
                && (0..at).all(|i| s.get(i).is_some_and(Item::idle));
            let away = s.is_muted(at) && s.elsewhere != Told::No && !opens;
            let Some(found) = (!away)
                .then(|| self.subjects.mention(s, stream, at))
                .flatten()
            else {
                at += 1;
                continue;
            };
            let Found {
                first,
                next,
                subject,
                same,
                aside,
            } = found;
            let next = next.max(first + 1);
            s.use_up(first, next);
            if let Some(names) = s.names.get_mut(first..next) {
                names.fill(true);
            }
            // "noisy on this one, not on RTU 2": that unit is left out.
            let left_out = (first.saturating_sub(2)..first).any(|i| {
                s.get(i).is_some_and(|x| says(stream, x, "not"))
                    && (i + 1 == first || s.role(i + 1, Role::At))
            });
            if left_out && s.has_fault(0, first) {
                self.subjects.learn(&subject);
                if let Some(muted) = s.muted.get_mut(first.saturating_sub(2)..next) {
                    muted.fill(true);
                }
                at = next;
                continue;
            }
            let slip = last.replace(first);
            if aside {
                let landmark =
                    first > 0 && s.get(first - 1).is_some_and(|x| says(stream, x, "between"));
                if landmark {
                    at = next;
                    continue;
                }
                self.subjects.learn(&subject);
                if s.role(first, Role::Same) || first > 1 && s.role(first - 2, Role::SameWord) {
                    likened.push((first, who, subject.tags));
                } else {
                    subjects.push(subject);
                    let beside = subjects.len() - 1;
                    if let Some(slots) = s.beside.get_mut(first..next) {
                        slots.fill(Some(beside));
                    }
                }
                if let Some(slots) = s.who.get_mut(first..next) {
                    slots.fill(who);
                }
                at = next;
                continue;
            }
            // "RTU three no trap, RTU four ..." puts nothing right.
            let answers = |i: usize| {
                let alone = i + 1 == first || s.get(i + 1).is_some_and(|x| x.gap >= Gap::Comma);
                s.get(i).is_some_and(|x| says(stream, x, "no"))
                    && (alone || s.any(i + 1, &[Role::It, Role::ItIs, Role::This]))
            };
            let corrected = (first.saturating_sub(3)..first)
                .any(|i| s.role(i, Role::Correct) || answers(i))
                && (slip.is_some() || !self.subjects.current.tags.is_empty());
            let mut from = first;
            if corrected {
                // The unit named before was a slip: what was said since is of this one.
                let old = self.subjects.current.tags.clone();
                from = slip.unwrap_or(first);
                if !self.spoken_of(&old) && slip.is_some() {
                    fresh.retain(|t| !subject.tags.contains(t));
                    self.subjects.unlearn(&fresh);
                }
            } else if !same && self.looks_back(s, stream, (first, next), content) {
                // What was said before a pause was said of the unit before.
                from = (content + 1..first)
                    .rev()
                    .find(|i| s.get(*i).is_some_and(|x| stream.paused(x.first as usize)))
                    .unwrap_or(content);
                // "the belt on five is worn, the one on six ...": that is said already.
                if slip.is_some() && s.role(content, Role::Is) {
                    from = (from..first)
                        .find(|i| s.has_fault(*i, i + 1))
                        .map_or(from, |i| i + 1);
                }
                // "..., the fan is noisy on three": no further than the part that this is said of.
                let on = s.role(first, Role::At)
                    || first > 0 && s.get(first - 1).is_some_and(|x| says(stream, x, "on"));
                let part = (from..first).rev().find(|i| {
                    s.part(*i).is_some() || s.get(*i).is_some_and(|x| x.meaning.label.is_some())
                });
                // "nothing wrong with the belt on five".
                let said = part.map(|p| {
                    let fault = |i: &usize| {
                        s.get(*i).is_some_and(|x| {
                            x.meaning.fault.is_some() && ends_in(stream, x, &["with"])
                        })
                    };
                    (p.saturating_sub(3).max(from)..p)
                        .rev()
                        .find(fault)
                        .unwrap_or(p)
                });
                // "..., and the one on HP-5 is rusted": that one alone.
                let the_one = first > 1
                    && s.role(first - 1, Role::At)
                    && s.get(first - 2).is_some_and(|x| says(stream, x, "one"));
                if the_one {
                    from = first - 2;
                }
                from = match said.filter(|_| on && !the_one) {
                    Some(part) => described_from(s, from, warned_from(s, from, part)),
                    None => from,
                };
            }
            // "same disconnect on two": from that word on.
            let alike = (content..first)
                .rev()
                .take(8)
                .find(|i| s.any(*i, &[Role::SameWord, Role::Same]));
            if on_number(s, first) && !same {
                from = alike.unwrap_or(from);
            }
            subjects.push(subject);
            who = subjects.len() - 1;
            if let Some(slots) = s.who.get_mut(from..next) {
                slots.fill(who);
            }
            if let Some(subject) = subjects.get(who) {
                if !same && subject.tags != self.subjects.current.tags {
                    self.turned = self.facts.len();
                }
                fresh = self.subjects.unheard(&subject.tags);
                if subject.doubt == Some(GUESSED_NEXT) {
                    self.pointed.extend(fresh.iter().cloned());
                } else {
                    self.pointed.retain(|tag| !subject.tags.contains(tag));
                }
                self.subjects.turn_to(subject);
            }
            if same {
                sharing.push((first, who));
            }
            content = next;
            at = next;
        }
    }

    /// "the belt is cracked on RTU 3": the unit comes behind what is said of it.
    fn looks_back(
        &self,
        s: &Sentence<'_>,
        stream: Stream<'_>,
        (first, next): (usize, usize),
        content: usize,
    ) -> bool {
        // "the fan is noisy on three": the name begins with its preposition.
        let on = on_number(s, first);
        let mut prep = first + usize::from(on);
        // "twenty by twenty by two, quantity for | RTU three": the name begins anew.
        let anew = !on
            && s.get(first)
                .is_some_and(|x| stream.paused(x.first as usize));
        if anew {
            return false;
        }
        for _ in 0..3 {
            let Some(before) = prep.checked_sub(1).filter(|b| *b >= content) else {
                return false;
            };
            let Some(item) = s.get(before) else {
                return false;
            };
            // "a puddle between two and three", "the hatch by unit four": landmarks.
            let landmark = ["between", "by", "near", "beside", "behind"];
            if says_any(stream, item, &landmark) {
                return false;
            }
            let ends = s.get(next).is_none_or(|x| x.gap >= Gap::Comma);
            let named_last = item.is(Role::ItIs) && ends && self.subjects.current.tags.is_empty();
            if named_last {
                return true;
            }
            if item.any(&[Role::At, Role::Plan]) {
                let fresh = before == content
                    || s.role(before - 1, Role::And)
                    || s.role(before - 1, Role::But);
                let said = (content..before).any(|i| {
                    s.get(i).is_some_and(|x| {
                        x.meaning.fault.is_some()
                            || x.meaning.part.is_some()
                            || x.meaning.label.is_some()
                            || x.meaning.measure.is_some()
                            || x.meaning.danger.is_some()
                    })
                });
                let comma = item.gap == Gap::Comma
                    && s.items.get(first + 1..).is_some_and(|rest| {
                        rest.iter().take(20).any(|x| x.meaning.fault.is_some())
                    });
                return said && !fresh && !comma;
            }
            if !item.is(Role::A) && !item.idle() {
                return false;
            }
            prep = before;
        }
        false
    }

    fn spoken_of(&self, tags: &[String]) -> bool {
        tags.iter().any(|tag| self.spoken.contains(tag))
    }
}

/// "Exhaust fans.", "Ductless outdoors.": a kind in the plural, and no more.
fn put_up(s: &Sentence<'_>, stream: Stream<'_>, at: usize) -> Option<EquipmentKind> {
    let item = s.get(at)?;
    let last = stream.get(item.last as usize - 1).map(|t| stream.raw(t));
    let plural = last.is_some_and(|w| w.ends_with(['s', 'S']) && !w.contains(['\'', '’']));
    let alone = s
        .get(at + 1)
        .is_none_or(|x| x.gap >= Gap::Comma && x.number.is_none());
    item.meaning
        .kind
        .filter(|_| plural && alone && !s.is_muted(at))
}

/// "on two": a preposition and no name of a unit.
fn on_number(s: &Sentence<'_>, at: usize) -> bool {
    s.get(at)
        .is_some_and(|x| x.is(Role::At) && x.meaning.kind.is_none())
}

/// Where a danger begins that is said to be at a part: "a wasp nest under the disconnect on HP 4".
fn warned_from(s: &Sentence<'_>, floor: usize, part: usize) -> usize {
    let danger = (floor..part)
        .rev()
        .take_while(|i| s.cut(i + 1) == Break::None)
        .find(|i| s.get(*i).is_some_and(|x| x.meaning.danger.is_some()));
    danger.unwrap_or(part)
}

/// Where the words before a part that describe it begin, if nothing before them may own them: "a
/// sixty amp disconnect", "cracked belt".
fn described_from(s: &Sentence<'_>, floor: usize, part: usize) -> usize {
    let describes = |i: usize| {
        s.cut(i + 1) == Break::None
            && s.get(i).is_some_and(|x| {
                x.number.is_some()
                    || x.meaning.measure.is_some()
                    || x.meaning.fault.is_some()
                    || x.idle()
            })
    };
    let mut from = part;
    while from > floor && describes(from - 1) {
        from -= 1;
    }
    let apart = from == floor || s.cut(from) > Break::None;
    if apart { from } else { part }
}
