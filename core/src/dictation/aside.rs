//! Talk that is not of what is seen here: other places, stories, papers read aloud.
//!
//! Such talk goes on from sentence to sentence until the speaker comes back to this roof, so a
//! note carries an [`Aside`] along. Used by `sentence` only. It never decides what a single
//! sentence is about; that is said by the roles of its words.

use super::items::Item;
use super::lexicon::meaning::Role;
use super::numbers::Stream;

/// Sentences that a paper being read goes on for, unless the speaker looks again.
const PAPER: u8 = 4;

/// Sentences that talk of another place goes on for, unless the speaker comes back.
const STORY: u8 = 4;

/// Words that a speaker comes back with when a sentence begins with them.
const TURNS: [&str; 10] = [
    "okay", "ok", "anyway", "anyhow", "alright", "right", "now", "today", "back", "so",
];

/// Words that say that this roof is meant, wherever they stand.
const HERE: [&str; 3] = ["here", "ours", "today"];

/// What the sentences before were about.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Aside {
    /// Sentences left of talk about somewhere else.
    pub(crate) away: u8,
    /// Sentences left of a paper being read aloud.
    pub(crate) paper: u8,
}

impl Aside {
    /// After a sentence that was about somewhere `else_where`, read from a paper, or in which the
    /// speaker looked for themself.
    pub(crate) fn after(self, elsewhere: Told, reading: bool, seen: bool) -> Self {
        Self {
            away: match elsewhere {
                Told::Begun => STORY,
                Told::GoesOn => self.away.saturating_sub(1),
                Told::No => 0,
            },
            paper: match (reading, seen) {
                (true, _) => PAPER,
                (_, true) => 0,
                _ => self.paper.saturating_sub(1),
            },
        }
    }
}

/// Whether a sentence is about somewhere else.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Told {
    No,
    /// Because the one before was.
    GoesOn,
    /// By its own words.
    Begun,
}

/// Whether a sentence after one about somewhere else still is.
pub(crate) fn stays(items: &[Item], stream: Stream<'_>) -> bool {
    // "Their unit ..."; "... over there" may stand further on.
    let theirs = |(at, i): (usize, &Item)| i.is(Role::Theirs) && (at < 2 || i.last - i.first > 1);
    if items.iter().enumerate().take(6).any(theirs) {
        return true;
    }
    let word =
        |i: &Item, words: &[&str]| (i.first..i.last).any(|t| stream.is_any(t as usize, words));
    let named = items.windows(2).any(|pair| match pair {
        [unit, number] => unit.meaning.kind.is_some() && number.number.is_some(),
        _ => false,
    });
    // "there's this one fella" points at nobody.
    let person = |at: usize| items.get(at + 1).is_some_and(|i| i.is(Role::Person));
    let pointed = items.iter().enumerate().any(|(at, i)| {
        // "This roof is a metal one."
        let roof = i.is(Role::Site) && stream.is(i.first as usize, "this");
        i.any(&[Role::This, Role::Next, Role::Back, Role::Seen]) && !person(at)
            || roof
            || word(i, &HERE)
    });
    let turned = items.iter().take(2).any(|i| word(i, &TURNS));
    !(named || pointed || turned)
}
