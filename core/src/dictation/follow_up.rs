//! Follow-ups: what to come back for.

use super::lexicon::meaning::{Field, Role};
use super::numbers::Stream;
use super::sentence::{Break, Sentence, ends_in};
use super::tokens::Gap;
use crate::survey::codes::Component;

/// A follow-up as drafted.
#[derive(Debug, Clone)]
pub(crate) struct FollowDraft {
    pub(crate) who: usize,
    pub(crate) what: &'static str,
    pub(crate) first: usize,
    pub(crate) next: usize,
}

/// Drafts the follow-ups of a sentence.
pub(crate) fn follow_ups(
    s: &mut Sentence<'_>,
    stream: Stream<'_>,
    last: Option<Component>,
) -> Vec<FollowDraft> {
    let mut out: Vec<FollowDraft> = Vec::new();
    for at in 0..s.items.len() {
        let Some(item) = s.get(at).filter(|i| i.any(&[Role::FollowUp, Role::Unread])) else {
            continue;
        };
        if s.is_muted(at) && !item.is(Role::Past) {
            continue;
        }
        // "couldn't read": only a label or what is written on one is worth coming back for.
        let unread = item.is(Role::Unread);
        // "return with a ladder to see the filters": what to bring.
        let brought = |i: usize| {
            let before = i - 1 - usize::from(i > 1 && s.role(i - 1, Role::A));
            s.get(before).is_some_and(|x| ends_in(stream, x, &["with"]))
        };
        let wanted = |i: usize| {
            let bring = i > at && i > 0 && brought(i);
            target(s, i).filter(|what| !bring && (!unread || readable(what)))
        };
        let pronoun = s.role(at + 1, Role::It);
        let ahead = (at + 1..at + 9)
            .take_while(|i| {
                s.get(*i)
                    .is_some_and(|x| x.gap < Gap::Comma && !x.is(Role::But))
            })
            .find_map(|i| Some((i, wanted(i)?)))
            .filter(|_| !pronoun);
        // "too dark to read the plate without a light, come back for that": what is read.
        let that = s.role(at + 1, Role::It);
        // "come back with a light and read it".
        let far = that || (at + 1..at + 7).any(|i| s.role(i, Role::It));
        let back = || {
            let mut before = (at.saturating_sub(if far { 14 } else { 8 })..at)
                .rev()
                .take_while(|i| !unread || s.cut(i + 1) < Break::Hard)
                .filter_map(|i| Some((i, wanted(i)?)));
            let read = before.clone().find(|(_, what)| that && readable(what));
            read.or_else(|| before.next())
        };
        // "come back for it": what the sentence before was about.
        let before = || {
            let it = (at + 1..at + 4).any(|i| s.role(i, Role::It));
            last.filter(|_| it && !unread).map(|part| (at, part.code()))
        };
        // "couldn't get the serial, come back for that": said already.
        if pronoun && !out.is_empty() {
            continue;
        }
        // "I'll get the model off the back panel next trip": one thing to come back for.
        let answered = ahead.is_none()
            && out
                .last()
                .is_some_and(|f| f.first < at && at < f.first + 16);
        if answered {
            continue;
        }
        let Some((place, what)) = ahead.or_else(back).or_else(before) else {
            continue;
        };
        let who = s.who.get(place).copied().unwrap_or(0);
        if out
            .iter()
            .rev()
            .take(20)
            .any(|f| f.what == what && f.who == who)
        {
            continue;
        }
        let (first, next) = (at.min(place), at.max(place) + 1);
        s.use_up(at, at + 1);
        s.use_up(place, place + 1);
        // "the model and serial".
        let second = place + 1 + usize::from(s.role(place + 1, Role::And));
        let second = second + usize::from(s.role(second, Role::A));
        if place > at
            && second > place + 1
            && let Some(also) = target(s, second).filter(|w| *w != what)
        {
            s.use_up(second, second + 1);
            out.push(FollowDraft {
                who,
                what: also,
                first: at,
                next: second + 1,
            });
        }
        out.push(FollowDraft {
            who,
            what,
            first,
            next,
        });
    }
    // "couldn't read the plate, come back for the serial": the closer one tells more; "couldn't get
    // the serial, come back for the plate" asks for the whole of it.
    let asked = |f: &FollowDraft| (f.first..f.next).any(|i| s.role(i, Role::FollowUp));
    let whole = out.iter().any(|f| f.what == "nameplate" && asked(f));
    if whole {
        out.retain(|f| !f.what.starts_with("nameplate.") || asked(f));
    }
    if out.iter().any(|f| f.what.starts_with("nameplate.")) {
        out.retain(|f| f.what != "nameplate");
    }
    out
}

/// What cannot be read or counted from outside.
fn readable(what: &str) -> bool {
    what.contains('.')
        || [
            "nameplate",
            "filters",
            "belts",
            "filter",
            "belt",
            "disconnect",
        ]
        .contains(&what)
}

/// What a follow-up can be about: a field or a part.
fn target(s: &Sentence<'_>, at: usize) -> Option<&'static str> {
    let meaning = &s.get(at)?.meaning;
    match meaning.label.filter(|f| *f != Field::Ignored) {
        Some(Field::Filters) => return Some(Component::Filter.code()),
        Some(Field::Belts) => return Some(Component::Belt.code()),
        // "faces the wall" is no phase.
        Some(field) if !meaning.garbled => return Some(field.path()),
        _ => {}
    }
    s.known_part(at).map(Component::code)
}
