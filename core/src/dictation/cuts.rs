//! Where speech may be cut: a note into sentences, a sentence into clauses.

use super::items::Item;
use super::lexicon::meaning::Role;
use super::numbers::Stream;
use super::sentence::{Break, FORGET, begins_in, says_any};
use super::tokens::Gap;

/// Furthest that a condition and its part are apart over a pause, in items.
const HALF: usize = 6;

/// How strongly speech may be cut before each item.
pub(super) fn breaks(items: &[Item]) -> Vec<Break> {
    let mut out = Vec::with_capacity(items.len());
    for (at, item) in items.iter().enumerate() {
        let before = at.checked_sub(1).and_then(|b| items.get(b));
        let m = &item.meaning;
        let fault_before =
            before.is_some_and(|b| b.meaning.fault.is_some() && b.meaning.part.is_none());
        // "behind the boiler flue".
        let before_article = before
            .filter(|b| b.is(Role::A) && !b.is(Role::At))
            .and_then(|_| items.get(at.checked_sub(2)?))
            .is_some_and(|b| b.any(&[Role::At, Role::Near]) && !b.is(Role::There));
        let at_before = before_article
            || before.is_some_and(|b| {
                b.any(&[
                    Role::At,
                    Role::Near,
                    Role::Same,
                    Role::Back,
                    Role::Except,
                    Role::Correct,
                    Role::Plan,
                ])
            });
        let aside = is_aside(items, at);
        let hard = item.is(Role::But) && !aside
            || (item.is(Role::There) && fault_before)
            || (m.kind.is_some()
                && (m.part.is_none() || items.get(at + 1).is_some_and(|n| n.number.is_some()))
                && !at_before
                && !item.is(Role::NumberOnly))
            || item.any(&[Role::Next, Role::Same]);
        let within = aside || at > 0 && is_aside(items, at - 1) && item.gap == Gap::Comma;
        let soft = item.gap >= Gap::Comma && !within || item.any(&[Role::And, Role::Or]);
        out.push(if hard {
            Break::Hard
        } else if soft {
            Break::Soft
        } else {
            Break::None
        });
    }
    out
}

/// "the belt, though, is frayed": a word between commas that cuts nothing.
fn is_aside(items: &[Item], at: usize) -> bool {
    let comma = |at: usize| items.get(at).is_some_and(|i| i.gap == Gap::Comma);
    items.get(at).is_some_and(|i| i.is(Role::But)) && comma(at) && comma(at + 1)
}

/// Cuts the items of a note into sentences: at full stops, unless what is before plainly goes on
/// ("the disconnect is." "30 amp"). Gives item ranges and whether a question mark ends them.
pub(crate) fn sentences(items: &[Item], stream: Stream<'_>) -> Vec<(usize, usize, bool)> {
    let mut out = Vec::new();
    let mut from = 0;
    for (at, item) in items.iter().enumerate().skip(1) {
        let dangling = item.meaning.kind.is_none()
            && items.get(at - 1).is_some_and(|b| {
                // "with the panels on." ends; "a hatch inside of." goes on.
                let ends = says_any(
                    stream,
                    b,
                    &[
                        "each", "some", "any", "several", "few", "another", "ones", "one", "on",
                        "off", "up", "down", "in", "out", "through", "over", "around", "under",
                    ],
                );
                !ends
                    && b.any(&[
                        Role::Is,
                        Role::ItIs,
                        Role::A,
                        Role::At,
                        Role::Need,
                        Role::No,
                        Role::Times,
                    ])
                    && b.meaning.fault.is_none()
                    && b.meaning.measure.is_none()
                    && b.number.is_none()
                    && !b.any(&[Role::There, Role::Height, Role::Filler, Role::It])
            });
        let topic = item.gap == Gap::Question && items.get(from..at).is_some_and(is_topic);
        if topic {
            continue;
        }
        let paused = stream.paused(item.first as usize);
        let anew = paused && begins_unit(items, stream, at);
        let paused = paused && !goes_on(items, stream, from, at);
        if item.gap == Gap::Question || ((item.gap == Gap::Stop || paused) && !dangling) || anew {
            // "Coil clean? Yep.": the answer makes it a statement.
            let yes = says_any(stream, item, &["yes", "yep", "yeah", "yup"]);
            out.push((from, at, item.gap == Gap::Question && !yes));
            from = at;
        }
    }
    if from < items.len() {
        out.push((from, items.len(), false));
    }
    out
}

/// "max breaker thirty | one has hail damage", "... | six's drain is fine": a unit by its number.
fn begins_unit(items: &[Item], stream: Stream<'_>, at: usize) -> bool {
    let tells =
        |x: &Item| x.any(&[Role::Is, Role::There]) || begins_in(stream, x, &["has", "is", "needs"]);
    items.get(at).is_some_and(|item| {
        item.number.is_some() && (item.apostrophe || items.get(at + 1).is_some_and(tells))
    })
}

/// Whether a sentence goes on over the pause before `at`: "the belt | is cracked", "sixty two |
/// pounds", "on four | and five".
fn goes_on(items: &[Item], stream: Stream<'_>, from: usize, at: usize) -> bool {
    let (Some(before), Some(item)) = (items.get(at - 1), items.get(at)) else {
        return false;
    };
    // "... thirty | on five the fan is cracked".
    let of = |i: usize| {
        items
            .get(i)
            .is_some_and(|x| x.gap < Gap::Comma && (x.meaning.part.is_some() || x.is(Role::A)))
    };
    let number = items.get(at + 1).is_some_and(|x| x.number.is_some());
    if item.is(Role::At) && number && of(at + 2) {
        return false;
    }
    // "... | and scratch what I said about two".
    let scratch = items
        .get(at + 1)
        .is_some_and(|x| x.is(Role::Scratch) || says_any(stream, x, &FORGET));
    if item.is(Role::And) && scratch {
        return false;
    }
    let (b, m) = (before.meaning, item.meaning);
    let joins = [
        Role::Is,
        Role::At,
        Role::And,
        Role::Or,
        Role::Times,
        Role::Near,
        Role::Quantity,
    ];
    // "I think it's a bearing | grease all over": that is said.
    let is = |i: usize| items.get(i).is_some_and(|x| x.any(&[Role::Is, Role::ItIs]));
    let said = at >= 3 && items.get(at - 2).is_some_and(|x| x.is(Role::A)) && is(at - 3);
    let waits = b.part.is_some() && b.fault.is_none() && !said || b.label.is_some();
    let halved = is_halved(items, from, at);
    let counts = item.number.is_some() || item.code || m.measure.is_some();
    let unfinished = before.any(&[Role::And, Role::Or, Role::Times, Role::SameWord]);
    waits || halved || counts || unfinished || item.any(&joins)
}

/// "a cracked | belt", "rust all over | the cabinet", "the bearing is really | noisy": a condition
/// on one side of the pause and its part on the other.
fn is_halved(items: &[Item], from: usize, at: usize) -> bool {
    let said = items
        .get(from.max(at.saturating_sub(HALF))..at)
        .unwrap_or_default();
    let part = |i: &Item| i.meaning.part.is_some();
    let fault = |i: &Item| i.meaning.fault.is_some();
    let named = at + usize::from(items.get(at).is_some_and(|i| i.is(Role::A)));
    let tells = items
        .get(named + 1)
        .is_some_and(|i| i.any(&[Role::Is, Role::ItIs]));
    let bare = |i: &Item| part(i) && !fault(i) && !i.apostrophe;
    let behind = items.get(named).is_some_and(bare) && !tells;
    let before = items.get(at).is_some_and(|i| fault(i) && !part(i));
    match (said.iter().any(part), said.iter().any(fault)) {
        // "the flex is split | conduit pulled out" has told its own.
        (false, true) => match said {
            [.., is, _] if is.any(&[Role::Is, Role::ItIs]) => false,
            [.., last] => behind && fault(last),
            [] => false,
        },
        (true, false) => before,
        _ => false,
    }
}

/// "The bearings? Worn.": a part held up for what follows, not a question.
fn is_topic(items: &[Item]) -> bool {
    let [before @ .., last] = items else {
        return false;
    };
    before.len() < 3
        && before.iter().all(Item::idle)
        && last.meaning.part.is_some()
        && last.meaning.fault.is_none()
}
