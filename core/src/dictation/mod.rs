//! From recogniser text to structured drafts with evidence.
//!
//! The pipeline, each stage one module: `tokens` cuts text into words; `lexicon` says what
//! phrases mean; `items` matches phrases and reads `numbers`; `sentence` mutes what must not
//! count (hearsay, conditionals, past repairs); `subjects` says which unit is meant; `facts`,
//! `findings` and `notes` draft values, findings, hazards and follow-ups; `engine` folds
//! sentences into output. Nothing here fails: what is not understood stays visible in
//! `unparsed`. `docs/dictation.md` is the grammar.

mod engine;
mod facts;
mod findings;
mod items;
mod lexicon;
mod notes;
mod numbers;
mod sentence;
mod subjects;
mod tokens;

pub use lexicon::{Lexicon, LexiconError};

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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::survey::codes::EquipmentKind;
    use crate::survey::spoken::Segment;

    #[test]
    fn both_means_the_units_this_note_spoke_of() {
        let known = [Mention {
            tag: "RTU-9".to_owned(),
            kind: EquipmentKind::PackagedRooftopUnit,
            number: Some(9),
        }];
        let said = "condensing units one and two side by side. model b k r six l, same on both.";
        let segment = Segment {
            text: said.to_owned(),
            ..Segment::default()
        };
        let transcript = Transcript {
            note_id: "n".to_owned(),
            author: None,
            recorded_at: None,
            segments: vec![segment],
        };
        let heard = interpret_among(&transcript, Lexicon::builtin(), &known);
        let about: Vec<&str> = heard.facts.iter().map(|fact| fact.about.as_str()).collect();
        assert!(
            about.contains(&"CU-1") && about.contains(&"CU-2"),
            "{about:?}"
        );
        assert!(!about.contains(&"RTU-9"), "{about:?}");
    }
}
