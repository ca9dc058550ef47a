//! From recogniser text to structured drafts with evidence.
//!
//! The pipeline, each stage one module: `tokens` cuts text into words; `lexicon` says what
//! phrases mean; `items` matches phrases and reads `numbers`; `sentence` and `aside` mute what must not
//! count (hearsay, conditionals, past repairs, other places); `subjects` says which unit is meant; `facts`,
//! `findings`, `hazards` and `follow_up` draft values, findings, hazards and follow-ups; `engine` folds
//! sentences into output. Nothing here fails: what is not understood stays visible in
//! `unparsed`. `docs/dictation.md` is the grammar.

mod alternatives;
mod aside;
mod cuts;
mod engine;
mod facts;
mod findings;
mod follow_up;
mod guards;
mod hazards;
mod items;
mod lexicon;
mod numbers;
pub mod photos;
#[cfg(test)]
mod plain;
#[cfg(test)]
mod said;
#[cfg(test)]
mod sayings;
mod sentence;
mod session;
#[cfg(test)]
mod several;
mod slips;
mod slots;
mod soundalike;
mod subjects;
#[cfg(test)]
mod tests;
mod tokens;

pub use lexicon::{Lexicon, LexiconError};
pub use session::{Event, Session};

use crate::survey::spoken::{Interpretation, Mention, Transcript};
use engine::Engine;
use numbers::Stream;

/// Reads one voice note: values, findings, hazards and follow-ups, each with its evidence.
///
/// Deterministic and total: any text gives an interpretation. Time is linear in the text.
pub fn interpret(transcript: &Transcript, lexicon: &Lexicon) -> Interpretation {
    interpret_among(transcript, lexicon, &[])
}

/// Like [`interpret`], where the survey already knows some units: "unit two" is then the known
/// unit with that number. Known units are not repeated in the output's `equipment`.
pub fn interpret_among(
    transcript: &Transcript,
    lexicon: &Lexicon,
    known: &[Mention],
) -> Interpretation {
    let tokens = tokens::tokens(&transcript.segments, lexicon);
    let mut engine = Engine::new(known);
    engine.run(Stream {
        tokens: &tokens,
        lexicon,
        segments: &transcript.segments,
    });
    engine.finish(&transcript.note_id, known.len())
}
