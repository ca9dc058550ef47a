//! Small words that a recogniser heard as others, by the place they stand in: "belts or glazed",
//! "the fan his not running".
//!
//! Only what stands before and behind decides, and only words that mean nothing of the trade are
//! touched. Called by `items`.

use super::items::Item;
use super::lexicon::meaning::{Meaning, Role, Roles};
use super::numbers::Stream;
use super::sentence::{begins_in, ends_in};
use super::tokens::Gap;

/// Heard for "are", "is" or "has".
const IS: [&str; 5] = ["or", "our", "his", "as", "her"];
/// Heard for "and".
const AND: [&str; 3] = ["in", "an", "end"];

/// Heard for "they're".
const THEY_ARE: [&str; 2] = ["there", "their"];

fn is_fault(items: &[Item], at: usize) -> bool {
    let said = |i: &Item| i.gap < Gap::Comma && i.meaning.fault.is_some() && !i.both();
    items.get(at).is_some_and(said)
}

/// Gives small words the meaning that their place asks for.
pub(super) fn mend(items: &mut [Item], stream: Stream<'_>) {
    for at in 1..items.len() {
        let Some(item) = items.get(at).filter(|i| i.number.is_none() && !i.code) else {
            continue;
        };
        let word = |words: &[&str]| begins_in(stream, item, words);
        let single = item.last - item.first == 1;
        // "the roof drain there is good".
        let there_is = item.is(Role::There)
            && word(&["there"])
            && item.gap <= Gap::Space
            && items
                .get(at - 1)
                .is_some_and(|i| i.meaning.part.is_some() && i.meaning.fault.is_none())
            && ends_in(stream, item, &["is"])
            && is_fault(items, at + 1);
        let role = if there_is || single && word(&IS) && links(items, at) {
            Role::Is
        } else if single && word(&THEY_ARE) && is_fault(items, at + 1) {
            Role::ItIs
        } else if single && word(&AND) && joins(items, at) {
            Role::And
        } else if word(&["as"]) && item.is(Role::If) && rated(items, at) {
            Role::There
        } else {
            continue;
        };
        let mut roles = Roles::default();
        roles.add(role);
        if let Some(item) = items.get_mut(at) {
            item.meaning = Meaning {
                roles,
                ..Meaning::default()
            };
        }
    }
}

/// A part or "all of them" before, a condition behind: "both or cracked", "fan his not running".
fn links(items: &[Item], at: usize) -> bool {
    let said_of = |i: &Item| {
        i.meaning.part.is_some() && i.meaning.fault.is_none() || i.any(&[Role::Both, Role::All])
    };
    let before = items.get(at - 1).is_some_and(said_of);
    let behind = items
        .get(at + 1..)
        .unwrap_or_default()
        .iter()
        .take(3)
        .take_while(|i| i.gap < Gap::Comma)
        .find(|i| !(i.idle() || i.any(&[Role::No, Role::Hedge])));
    before && behind.is_some_and(|i| i.meaning.fault.is_some())
}

/// A condition before, and behind a part of which something is said: "loose in the belt is worn".
fn joins(items: &[Item], at: usize) -> bool {
    let ended = items.get(at - 1).is_some_and(|i| i.meaning.fault.is_some());
    let behind = items.get(at + 1..).unwrap_or_default();
    let mut near = behind.iter().take(6).take_while(|i| i.gap < Gap::Comma);
    let part = near.position(|i| i.meaning.part.is_some() && i.meaning.fault.is_none());
    let said = part.filter(|p| *p <= 2).and_then(|p| {
        let verb = behind.get(p + 1)?.any(&[Role::Is, Role::ItIs]);
        let fault = behind
            .get(p + 2..)?
            .iter()
            .take(3)
            .any(|i| i.meaning.fault.is_some());
        (verb && fault).then_some(())
    });
    ended && said.is_some()
}

/// "unit four as a sixty amp disconnect": a number that measures something comes behind.
fn rated(items: &[Item], at: usize) -> bool {
    let number = items.get(at + 1).is_some_and(|i| i.number.is_some());
    let measured = items
        .get(at + 2)
        .is_some_and(|i| i.meaning.measure.is_some());
    number && measured
}
