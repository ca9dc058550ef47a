//! What holds for any text: no panic, evidence that can be cut, the same drafts however the
//! text is segmented. That time grows with the text and no faster is tested outside core, which
//! reads no clock.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::said::{note, told};
use super::{Interpretation, Lexicon, Mention, Session, Transcript, interpret, interpret_among};
use crate::survey::codes::EquipmentKind;
use crate::survey::spoken::{Evidence, Segment};
use proptest::prelude::*;
use serde_json::{Value, json};

fn segment(n: u64, text: &str) -> Segment {
    Segment {
        start_ms: n * 1000,
        end_ms: n * 1000 + 900,
        text: text.to_owned(),
        ..Segment::default()
    }
}

fn transcript(texts: &[&str]) -> Transcript {
    Transcript {
        note_id: "n".into(),
        author: None,
        recorded_at: None,
        segments: texts
            .iter()
            .zip(0..)
            .map(|(text, n)| segment(n, text))
            .collect(),
    }
}

fn evidence(heard: &Interpretation) -> Vec<Evidence> {
    let facts = heard.facts.iter().map(|f| f.evidence);
    let findings = heard.findings.iter().map(|f| f.evidence);
    let hazards = heard.hazards.iter().map(|h| h.evidence);
    let later = heard.follow_ups.iter().map(|f| f.evidence);
    facts
        .chain(findings)
        .chain(hazards)
        .chain(later)
        .chain(heard.unparsed.iter().copied())
        .collect()
}

/// Every range must cut words out of its own segment.
fn check_evidence(transcript: &Transcript, heard: &Interpretation) {
    for place in evidence(heard) {
        let text = &transcript.segments[place.segment].text;
        let cut = text.get(place.start..place.end);
        assert!(
            cut.is_some_and(|c| !c.trim().is_empty()),
            "{place:?} of {text:?}"
        );
    }
}

/// All drafts, without the places they came from.
fn drafts(heard: &Interpretation) -> Value {
    let mut value = serde_json::to_value(heard).unwrap();
    value.as_object_mut().unwrap().remove("unparsed");
    for list in ["facts", "findings", "hazards", "follow_ups"] {
        for item in value[list].as_array_mut().unwrap() {
            item.as_object_mut().unwrap().remove("evidence");
        }
    }
    value
}

#[test]
fn evidence_is_where_the_condition_was_told() {
    let said = "RTU 8 takes six 16 by 20 by 2 filters | they are dirty";
    let heard = interpret(&note(said), Lexicon::builtin());
    let segments: Vec<usize> = heard.findings.iter().map(|f| f.evidence.segment).collect();
    assert_eq!(segments, [1], "{heard:?}");
}

#[test]
fn a_pause_inside_a_phrase_parts_nothing() {
    for (said, found) in [
        ("RTU 1 has a cracked | belt", "RTU-1 belt cracked"),
        ("RTU 1 the bearing is really | noisy", "RTU-1 bearing noisy"),
        (
            "RTU 1 there's a crack | in the pan",
            "RTU-1 drain_pan cracked",
        ),
        ("RTU 1 dirty | filters", "RTU-1 filter dirty"),
    ] {
        let heard = interpret(&note(said), Lexicon::builtin());
        let findings: Vec<String> = heard.findings.iter().map(told).collect();
        assert_eq!(findings, [found], "{said}");
    }
}

#[test]
fn what_is_of_no_unit_stays_in_view() {
    for said in [
        "The belt is cracked.",
        "MCA is 24.",
        "Two A42s and the motor is noisy.",
    ] {
        let heard = interpret(&note(said), Lexicon::builtin());
        let drafts = heard.facts.len() + heard.findings.len();
        assert!(
            drafts == 0 && !heard.unparsed.is_empty(),
            "{said}: {heard:?}"
        );
    }
}

/// Words that a dictation is made of, and some that it is not.
const WORDS: [&str; 64] = [
    "RTU",
    "2",
    "two",
    "unit",
    "three",
    "EF",
    "one",
    "next",
    "one",
    "same",
    "on",
    "four",
    "and",
    "belt",
    "belts",
    "is",
    "cracked",
    "torn",
    "screen",
    "filters",
    "20",
    "by",
    "25",
    "x",
    "2s",
    "A42",
    "disconnect",
    "thirty",
    "amp",
    "240V",
    "volt",
    "three",
    "phase",
    "MCA",
    "max",
    "fuse",
    "no",
    "wait",
    "make",
    "that",
    "sixty",
    "might",
    "be",
    "not",
    "missing",
    "model",
    "serial",
    "B",
    "as",
    "in",
    "boy",
    "double",
    "dash",
    "point",
    "half",
    "scratch",
    "that",
    "they",
    "replaced",
    "if",
    "roof",
    "TPO.",
    "leaks?",
    "couldn't",
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_text_is_read(texts in proptest::collection::vec(".{0,120}", 0..5)) {
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        let transcript = transcript(&texts);
        check_evidence(&transcript, &interpret(&transcript, Lexicon::builtin()));
    }

    #[test]
    fn any_order_of_trade_words_is_read(
        picks in proptest::collection::vec(0..WORDS.len(), 0..60),
        cuts in proptest::collection::vec(any::<bool>(), 60),
    ) {
        let words: Vec<&str> = picks.iter().map(|n| WORDS[*n]).collect();
        let whole = transcript(&[&words.join(" ")]);
        let expected = interpret(&whole, Lexicon::builtin());
        check_evidence(&whole, &expected);
        // The same words in pieces, each heard twice and the late ones first.
        let mut pieces = vec![String::new()];
        for (word, cut) in words.iter().zip(&cuts) {
            if *cut {
                pieces.push(String::new());
            }
            let last = pieces.last_mut().unwrap();
            last.push_str(word);
            last.push(' ');
        }
        let mut session = Session::new("n", &[], Lexicon::builtin());
        for (n, piece) in pieces.iter().enumerate().rev() {
            session.feed(segment(n as u64, piece));
            session.feed(segment(n as u64, piece));
        }
        prop_assert_eq!(drafts(session.interpretation()), drafts(&expected));
    }
}

#[test]
fn odd_texts_do_no_harm() {
    let long = "a".repeat(100_000);
    let digits = "9".repeat(10_000);
    for text in [
        "",
        " ",
        "🙂🙂 belt 🙂 cracked",
        "שלום RTU 2 חגורה",
        "\u{0}\u{1b}[2J\u{7f}",
        "’’’ '' ' s",
        "RTU RTU RTU 2 2 2 by by by",
        "model model serial",
        "no no no no",
        "1/0 208/ /230 -3-60",
        "0x0x0 99999999999x9x9",
        &long,
        &digits,
        "e\u{301}conomizer screen torn",
        "\u{feff}RTU-2\u{200b}3",
        "ß ẞ ı İ ǆ belt’s",
        "double double double",
        "and a half and a half",
        "point point five",
    ] {
        let transcript = transcript(&[text, text]);
        check_evidence(&transcript, &interpret(&transcript, Lexicon::builtin()));
    }
}

#[test]
fn a_low_confidence_segment_is_believed_less() {
    let mut heard = transcript(&["RTU 2 MCA 24"]);
    let sure = interpret(&heard, Lexicon::builtin()).facts[0].confidence;
    heard.segments[0].confidence = Some(0.5);
    let doubtful = interpret(&heard, Lexicon::builtin()).facts[0].confidence;
    assert!(doubtful < sure * 0.6);
}

#[test]
fn the_shape_is_the_published_one() {
    let heard = interpret(&transcript(&["RTU 2 MCA 24"]), Lexicon::builtin());
    let expected = json!({
        "note_id": "n",
        "equipment": [{"ref": "RTU-2", "kind": "packaged_rooftop_unit", "number": 2}],
        "facts": [{"ref": "RTU-2", "field": "nameplate.mca_a", "value": 24.0,
                   "evidence": {"segment": 0, "start": 10, "end": 12}, "confidence": 0.9}],
        "findings": [], "hazards": [], "follow_ups": [], "unparsed": [],
    });
    assert_eq!(serde_json::to_value(&heard).unwrap(), expected);
}

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

#[test]
fn a_denial_behind_the_first_word_of_a_sentence_is_read() {
    for said in [
        "RTU 1. Oil stained none.",
        "RTU 1. Iced up none.",
        "Frosted over none",
    ] {
        let transcript = transcript(&[said]);
        let heard = interpret(&transcript, Lexicon::builtin());
        assert_eq!(heard.findings, [], "{said}");
    }
}
