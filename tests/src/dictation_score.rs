//! Scores dictation against hand-made gold: precision, recall and F1 by group and attribute.
//!
//! Used by the `dictation-score` program and by the test that fails when a figure falls. The
//! gold is in `fixtures/dictation`: arrays of dictations, each with its segments and what they
//! say. An item counts as found only if every part of it is equal to the gold's.

use scupper_core::dictation::{Lexicon, interpret};
use scupper_core::survey::spoken::{Interpretation, Segment, Transcript};
use serde::Deserialize;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Confidence from which a value is called sure.
pub const SURE: f64 = 0.8;

/// One dictation with its gold.
#[derive(Debug, Deserialize)]
pub struct Dictation {
    /// Name in reports.
    pub id: String,
    /// Segments, in order: whole, or their text alone.
    pub text: Vec<Said>,
    /// What it says.
    pub gold: Gold,
}

/// A segment of a dictation.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
pub enum Said {
    /// Its text alone.
    Text(String),
    /// As a recogniser gives it.
    Segment(Segment),
}

impl Said {
    /// The words.
    pub fn text(&self) -> &str {
        match self {
            Said::Text(text) => text,
            Said::Segment(segment) => &segment.text,
        }
    }

    fn segment(&self) -> Segment {
        match self {
            Said::Text(text) => Segment {
                text: text.clone(),
                ..Segment::default()
            },
            Said::Segment(segment) => segment.clone(),
        }
    }
}

/// Hand-made gold of a dictation.
#[derive(Debug, Deserialize)]
pub struct Gold {
    tags: Vec<String>,
    facts: Vec<Value>,
    findings: Vec<Value>,
    hazards: Vec<Value>,
    follow_ups: Vec<Value>,
}

impl Gold {
    /// Findings as rows: ref, component, condition, certainty, severity, action.
    pub fn findings_rows(&self) -> &[Value] {
        &self.findings
    }
    /// Hazards as rows: kind, ref.
    pub fn hazards_rows(&self) -> &[Value] {
        &self.hazards
    }
    /// Values as rows: ref, field, value.
    pub fn facts_rows(&self) -> &[Value] {
        &self.facts
    }
}

/// Found, false and missed items of one attribute.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Count {
    /// In both.
    pub right: usize,
    /// Only in the output.
    pub wrong: usize,
    /// Only in the gold.
    pub missed: usize,
}

impl Count {
    /// Right among all that was output.
    pub fn precision(&self) -> f64 {
        share(self.right, self.right + self.wrong)
    }
    /// Right among all that was said.
    pub fn recall(&self) -> f64 {
        share(self.right, self.right + self.missed)
    }
    /// Harmonic mean of the two.
    pub fn f1(&self) -> f64 {
        share(2 * self.right, 2 * self.right + self.wrong + self.missed)
    }
}

fn share(part: usize, whole: usize) -> f64 {
    if whole == 0 {
        1.0
    } else {
        part as f64 / whole as f64
    }
}

/// Figures of one group of dictations.
#[derive(Debug, Default)]
pub struct Score {
    /// By attribute: tags, facts, findings, ...
    pub counts: BTreeMap<&'static str, Count>,
    /// Words spoken.
    pub words: usize,
    /// Findings that are not in the gold.
    pub false_findings: usize,
    /// Values output, and those of them that were sure and wrong.
    pub facts: usize,
    /// Sure and wrong.
    pub sure_and_wrong: usize,
    /// What did not agree, for people.
    pub notes: Vec<String>,
}

/// The groups that words and grammar were tuned to, as file names under the fixture folder.
pub const GROUPS: [&str; 16] = [
    "clean",
    "noisy",
    "traps",
    "rounds",
    "garbled",
    "chatter",
    "unseen/clean",
    "unseen/noisy",
    "unseen/traps",
    "lines",
    "walks/clean",
    "walks/noisy",
    "walks/traps",
    "desk/clean",
    "desk/noisy",
    "desk/traps",
];

/// The folder that holds the fixtures.
pub fn fixtures() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/dictation")
}

/// Groups that nobody who worked on the interpreter has read. Scored, never tuned to.
pub const HELD_OUT: [&str; 3] = ["heldout/clean", "heldout/noisy", "heldout/traps"];

/// Reads a group of dictations, or a file in their shape.
pub fn load(group: &str) -> Result<Vec<Dictation>, String> {
    let path = match group.strip_suffix(".json") {
        Some(_) => PathBuf::from(group),
        None => fixtures().join(format!("{group}.json")),
    };
    let text = std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", path.display()))?;
    serde_json::from_str(&text).map_err(|e| format!("{}: {e}", path.display()))
}

/// The transcript of a dictation.
pub fn transcript(dictation: &Dictation) -> Transcript {
    let segments = dictation.text.iter().map(Said::segment).collect();
    Transcript {
        note_id: dictation.id.clone(),
        author: None,
        recorded_at: None,
        segments,
    }
}

/// Scores a group with the built-in lexicon.
pub fn score(dictations: &[Dictation]) -> Score {
    let mut score = Score::default();
    for dictation in dictations {
        let transcript = transcript(dictation);
        let heard = interpret(&transcript, Lexicon::builtin());
        score.words += dictation
            .text
            .iter()
            .map(|said| said.text().split_whitespace().count())
            .sum::<usize>();
        let before = score.notes.len();
        compare(&mut score, &dictation.gold, &heard);
        if score.notes.len() > before {
            score.notes.insert(
                before,
                format!(
                    "{}: {}",
                    dictation.id,
                    dictation
                        .text
                        .iter()
                        .map(Said::text)
                        .collect::<Vec<_>>()
                        .join(" | ")
                ),
            );
        }
    }
    score
}

fn compare(score: &mut Score, gold: &Gold, heard: &Interpretation) {
    let strings = |tags: &[String]| tags.iter().map(|t| json!(t)).collect::<Vec<_>>();
    let tags: Vec<String> = heard.equipment.iter().map(|m| m.tag.clone()).collect();
    score.add("tags", &strings(&gold.tags), &strings(&tags));
    let facts: Vec<Value> = heard
        .facts
        .iter()
        .map(|f| json!([f.about, f.field, f.value]))
        .collect();
    let gold_facts: Vec<Value> = gold.facts.iter().map(floats).collect();
    let plain_facts: Vec<Value> = facts.iter().map(floats).collect();
    score.add("facts", &gold_facts, &plain_facts);
    score.facts += facts.len();
    for (fact, plain) in heard.facts.iter().zip(&plain_facts) {
        if fact.confidence >= SURE && !gold_facts.contains(plain) {
            score.sure_and_wrong += 1;
        }
    }
    let findings: Vec<Value> = heard
        .findings
        .iter()
        .map(|f| {
            json!([
                f.about,
                f.component,
                f.condition,
                f.certainty,
                f.severity,
                f.action
            ])
        })
        .collect();
    score.add("findings", &heads(&gold.findings, 3), &heads(&findings, 3));
    score.false_findings += heads(&findings, 4)
        .iter()
        .filter(|f| !heads(&gold.findings, 4).contains(f))
        .count();
    // Attributes of the findings that were found.
    for found in &findings {
        let same = gold.findings.iter().find(|g| head(g, 3) == head(found, 3));
        let Some(same) = same else { continue };
        for (name, at) in [("certainty", 3), ("severity", 4), ("action", 5)] {
            let (want, got) = ([same[at].clone()], [found[at].clone()]);
            score.add(name, &want, &got);
        }
    }
    let hazards: Vec<Value> = heard
        .hazards
        .iter()
        .map(|h| json!([h.kind, h.about]))
        .collect();
    score.add("hazards", &gold.hazards, &hazards);
    let later: Vec<Value> = heard
        .follow_ups
        .iter()
        .map(|f| json!([f.about, f.what]))
        .collect();
    score.add("follow_ups", &gold.follow_ups, &later);
}

fn head(item: &Value, length: usize) -> Vec<Value> {
    item.as_array()
        .map(|a| a.iter().take(length).cloned().collect())
        .unwrap_or_default()
}

fn heads(items: &[Value], length: usize) -> Vec<Value> {
    items
        .iter()
        .map(|item| Value::Array(head(item, length)))
        .collect()
}

/// 24 and 24.0 are the same value.
fn floats(value: &Value) -> Value {
    match value {
        Value::Number(n) => json!(n.as_f64()),
        // Where the water is stays in the words: only that there is some is compared.
        Value::Array(items) if items.get(1) == Some(&json!("site.water_source")) => {
            let none = items.get(2) == Some(&json!("none"));
            json!(["site", "site.water_source", !none])
        }
        Value::Array(items) => items.iter().map(floats).collect(),
        Value::Object(map) => map.iter().map(|(k, v)| (k.clone(), floats(v))).collect(),
        other => other.clone(),
    }
}

impl Score {
    fn add(&mut self, name: &'static str, gold: &[Value], heard: &[Value]) {
        let count = self.counts.entry(name).or_default();
        let mut left = gold.to_vec();
        for item in heard {
            match left.iter().position(|g| g == item) {
                Some(at) => {
                    left.remove(at);
                    count.right += 1;
                }
                None => {
                    count.wrong += 1;
                    self.notes.push(format!("    {name}: false {item}"));
                }
            }
        }
        count.missed += left.len();
        self.notes
            .extend(left.iter().map(|item| format!("    {name}: missed {item}")));
    }

    /// Words spoken for each false finding; all of them when there is none.
    pub fn words_per_false_finding(&self) -> f64 {
        self.words as f64 / self.false_findings.max(1) as f64
    }
}
