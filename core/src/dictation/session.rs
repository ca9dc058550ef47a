//! The hands-free session: segments go in as they are heard, events come out to be spoken.
//!
//! A session keeps every segment and reads the note anew at each one, so late and repeated
//! segments and cuts anywhere give the same drafts as the whole note at once. What it adds is
//! conversation: a short read-back, one question at a time, and commands that begin with the
//! call word "notebook". It speaks nothing itself and keeps no clock.

use super::interpret_among;
use super::lexicon::Lexicon;
use crate::survey::spoken::{Fact, Interpretation, Mention, Segment, Transcript};
use serde_json::Value;
use std::collections::BTreeSet;

/// Longest read-back, in words.
const READ_BACK_WORDS: usize = 11;

/// What the session has to say after a segment.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Enum), uniffi(name = "NoteEvent"))]
pub enum Event {
    /// A value was drafted, or changed.
    ValueSet {
        /// Tag of the unit, or `site`.
        about: String,
        /// The field.
        field: String,
        /// The value now.
        value: Value,
    },
    /// A finding, hazard or follow-up was drafted.
    Drafted {
        /// Tag of the unit, or `site`.
        about: String,
        /// The draft in a few words.
        what: String,
    },
    /// A draft was taken back or corrected away.
    Undone {
        /// Tag of the unit, or `site`.
        about: String,
        /// The draft in a few words.
        what: String,
    },
    /// One line to speak.
    ReadBack {
        /// The line, under twelve words.
        line: String,
    },
    /// One question to speak; the next waits until this is answered or passed over.
    Question {
        /// Tag of the unit.
        about: String,
        /// The field in doubt.
        field: String,
        /// The question, under twelve words.
        text: String,
    },
    /// The value asked about was confirmed by voice.
    Confirmed {
        /// Tag of the unit.
        about: String,
        /// The field.
        field: String,
    },
    /// The question was put off.
    Deferred {
        /// Tag of the unit.
        about: String,
        /// The field.
        field: String,
    },
    /// Tie the photo taken now to what is being talked about.
    MarkPhoto {
        /// Tag of the unit, if one is.
        about: Option<String>,
        /// Moment of the note, in milliseconds.
        at_ms: u64,
    },
    /// The technician is done.
    Done,
}

/// What the technician told the notebook to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Command {
    SayAgain,
    MarkPhoto,
    Right,
    Wrong,
    Later,
    Done,
}

const COMMANDS: [(&str, Command); 8] = [
    ("say again", Command::SayAgain),
    ("repeat", Command::SayAgain),
    ("mark photo", Command::MarkPhoto),
    ("photo", Command::MarkPhoto),
    ("right", Command::Right),
    ("wrong", Command::Wrong),
    ("later", Command::Later),
    ("done", Command::Done),
];

/// One hands-free note in the making.
#[derive(Debug)]
pub struct Session<'l> {
    lexicon: &'l Lexicon,
    known: Vec<Mention>,
    transcript: Transcript,
    heard: Interpretation,
    asked: BTreeSet<(String, String)>,
    waiting: Option<(String, String)>,
    last_line: Option<String>,
}

impl<'l> Session<'l> {
    /// A new note; `known` are the units that the survey holds already.
    pub fn new(note_id: &str, known: &[Mention], lexicon: &'l Lexicon) -> Self {
        let note = Transcript {
            note_id: note_id.to_owned(),
            author: None,
            recorded_at: None,
            segments: Vec::new(),
        };
        let mut session = Self::of(note, lexicon);
        session.know(known);
        session
    }

    /// The same of a note that has an author and a time already, and no words yet.
    pub fn of(note: Transcript, lexicon: &'l Lexicon) -> Self {
        Self {
            lexicon,
            known: Vec::new(),
            heard: Interpretation {
                note_id: note.note_id.clone(),
                ..Interpretation::default()
            },
            transcript: note,
            asked: BTreeSet::new(),
            waiting: None,
            last_line: None,
        }
    }

    /// Tells which units the survey holds now; counts from the next segment on.
    pub fn know(&mut self, known: &[Mention]) {
        self.known = known.to_vec();
    }

    /// Takes a segment, in any order; one heard twice changes nothing. A segment with the times
    /// of an earlier one takes its place.
    pub fn feed(&mut self, segment: Segment) -> Vec<Event> {
        let timed = segment.end_ms > 0;
        let segments = &mut self.transcript.segments;
        let same = segments
            .iter_mut()
            .find(|s| timed && (s.start_ms, s.end_ms) == (segment.start_ms, segment.end_ms));
        let command = command(&segment.text);
        let at_ms = segment.end_ms;
        match same {
            Some(old) if old.text == segment.text => return Vec::new(),
            Some(old) => *old = segment,
            None => {
                let place = segments.partition_point(|s| !timed || s.start_ms <= segment.start_ms);
                segments.insert(place, segment);
            }
        }
        let heard = interpret_among(&self.transcript, self.lexicon, &self.known);
        let before = std::mem::replace(&mut self.heard, heard);
        let mut events = self.changes(&before);
        self.answer(command, at_ms, &mut events);
        self.speak(&mut events);
        events
    }

    /// All that was drafted so far.
    pub fn interpretation(&self) -> &Interpretation {
        &self.heard
    }

    /// The note as heard so far, in order.
    pub fn transcript(&self) -> &Transcript {
        &self.transcript
    }

    fn changes(&self, before: &Interpretation) -> Vec<Event> {
        let mut events = Vec::new();
        let values = |i: &Interpretation| -> BTreeSet<(String, String, String)> {
            i.facts
                .iter()
                .map(|f| (f.about.clone(), f.field.clone(), f.value.to_string()))
                .collect()
        };
        let (old, new) = (values(before), values(&self.heard));
        for fact in &self.heard.facts {
            let key = (
                fact.about.clone(),
                fact.field.clone(),
                fact.value.to_string(),
            );
            if !old.contains(&key) {
                events.push(Event::ValueSet {
                    about: fact.about.clone(),
                    field: fact.field.clone(),
                    value: fact.value.clone(),
                });
            }
        }
        for fact in &before.facts {
            let key = (
                fact.about.clone(),
                fact.field.clone(),
                fact.value.to_string(),
            );
            let replaced = self
                .heard
                .facts
                .iter()
                .any(|f| f.about == fact.about && f.field == fact.field);
            if !new.contains(&key) && !replaced {
                events.push(Event::Undone {
                    about: fact.about.clone(),
                    what: value_words(fact),
                });
            }
        }
        let (old, new) = (drafts(before), drafts(&self.heard));
        let drafted = new.iter().filter(|d| !old.contains(d));
        events.extend(drafted.map(|(about, what)| Event::Drafted {
            about: about.clone(),
            what: what.clone(),
        }));
        let undone = old.iter().filter(|d| !new.contains(d));
        events.extend(undone.map(|(about, what)| Event::Undone {
            about: about.clone(),
            what: what.clone(),
        }));
        events
    }

    fn answer(&mut self, command: Option<Command>, at_ms: u64, events: &mut Vec<Event>) {
        match command {
            Some(Command::SayAgain) => {
                let again = self.last_line.clone();
                events.extend(again.map(|line| Event::ReadBack { line }));
            }
            Some(Command::MarkPhoto) => {
                let about = self.talked_of();
                events.push(Event::MarkPhoto { about, at_ms });
            }
            Some(Command::Right) => {
                events.extend(
                    self.waiting
                        .take()
                        .map(|(about, field)| Event::Confirmed { about, field }),
                );
            }
            Some(Command::Later) => {
                events.extend(
                    self.waiting
                        .take()
                        .map(|(about, field)| Event::Deferred { about, field }),
                );
            }
            Some(Command::Wrong) => self.waiting = None,
            Some(Command::Done) => events.push(Event::Done),
            None => {}
        }
    }

    /// The unit that the latest words are about.
    fn talked_of(&self) -> Option<String> {
        let facts = self.heard.facts.iter().map(|f| (f.evidence, &f.about));
        let findings = self.heard.findings.iter().map(|f| (f.evidence, &f.about));
        let said: Vec<_> = facts.chain(findings).collect();
        let named = self.heard.equipment.last().map(|unit| &unit.tag);
        // A unit that was only just named has nothing said of it yet.
        let fresh = named.filter(|tag| said.iter().all(|(_, about)| about != tag));
        let latest = said.iter().max_by_key(|(evidence, _)| *evidence);
        fresh.or(latest.map(|(_, about)| *about)).cloned()
    }

    /// Adds one read-back line, and one question if none is waiting.
    fn speak(&mut self, events: &mut Vec<Event>) {
        let mut line = Line::default();
        for event in events.iter() {
            match event {
                Event::ValueSet {
                    about,
                    field,
                    value,
                } => line.add(about, &said(field, value)),
                Event::Drafted { about, what } => line.add(about, what),
                Event::Undone { about, what } => line.add(about, &format!("no {what}")),
                _ => {}
            }
        }
        if let Some(text) = line.finish() {
            self.last_line = Some(text.clone());
            events.push(Event::ReadBack { line: text });
        }
        if self.waiting.is_some() {
            return;
        }
        let open = self.heard.facts.iter().find(|f| {
            f.needs_confirmation.is_some()
                && !self.asked.contains(&(f.about.clone(), f.field.clone()))
        });
        if let Some(fact) = open {
            let key = (fact.about.clone(), fact.field.clone());
            let text = format!("{}: {}, right?", fact.about, value_words(fact));
            let text = text
                .split_whitespace()
                .take(READ_BACK_WORDS)
                .collect::<Vec<_>>()
                .join(" ");
            events.push(Event::Question {
                about: key.0.clone(),
                field: key.1.clone(),
                text,
            });
            self.asked.insert(key.clone());
            self.waiting = Some(key);
        }
    }
}

/// The command that a segment holds, if any: the last one wins.
fn command(text: &str) -> Option<Command> {
    let text = text.to_ascii_lowercase().replace("note book", "notebook");
    let words: Vec<&str> = text
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|w| !w.is_empty())
        .collect();
    let called = words.iter().rposition(|w| *w == "notebook")?;
    let rest = words.get(called + 1..).unwrap_or_default().join(" ");
    COMMANDS
        .iter()
        .find(|(say, _)| rest.starts_with(say))
        .map(|(_, command)| *command)
}

fn drafts(heard: &Interpretation) -> Vec<(String, String)> {
    let site = || crate::survey::SITE.to_owned();
    let findings = heard.findings.iter().map(|f| {
        (
            f.about.clone(),
            format!("{} {}", f.component.words(), f.condition.words()),
        )
    });
    let hazards = heard.hazards.iter().map(|h| {
        (
            h.about.clone().unwrap_or_else(site),
            format!("hazard {}", h.kind.words()),
        )
    });
    let later = heard.follow_ups.iter().map(|f| {
        (
            f.about.clone(),
            format!("come back for {}", spoken_field(&f.what)),
        )
    });
    findings.chain(hazards).chain(later).collect()
}

fn spoken_field(field: &str) -> String {
    let last = field.rsplit('.').next().unwrap_or(field);
    let unit = ["_v", "_a", "_lb", "_ft", "_tons", "_btuh"]
        .into_iter()
        .find_map(|u| last.strip_suffix(u));
    unit.unwrap_or(last).replace('_', " ")
}

fn said(field: &str, value: &Value) -> String {
    let value = match value {
        Value::String(text) => text.replace('_', " "),
        Value::Object(map) => {
            let get = |k: &str| map.get(k).map(ToString::to_string).unwrap_or_default();
            if map.contains_key("designation") {
                format!(
                    "{} of {}",
                    get("quantity"),
                    get("designation").trim_matches('"')
                )
            } else {
                format!(
                    "{} of {}x{}x{}",
                    get("quantity"),
                    get("width_in"),
                    get("height_in"),
                    get("depth_in")
                )
                .replace(".0", "")
            }
        }
        other => other.to_string().trim_end_matches(".0").to_owned(),
    };
    format!("{} {value}", spoken_field(field))
}

fn value_words(fact: &Fact) -> String {
    said(&fact.field, &fact.value)
}

/// A read-back in the making: as many drafts as fit, and how many did not.
#[derive(Default)]
struct Line {
    words: Vec<String>,
    about: Option<String>,
    left: usize,
}

impl Line {
    fn add(&mut self, about: &str, what: &str) {
        let mut more: Vec<String> = Vec::new();
        if self.about.as_deref() != Some(about) {
            more.push(format!("{about},"));
        }
        more.extend(what.split_whitespace().map(str::to_owned));
        // Three words are kept for "and N more".
        if self.left > 0 || self.words.len() + more.len() > READ_BACK_WORDS - 3 {
            self.left += 1;
            return;
        }
        self.about = Some(about.to_owned());
        if let Some(last) = self.words.last_mut() {
            last.push(',');
        }
        self.words.append(&mut more);
    }

    fn finish(mut self) -> Option<String> {
        if self.left > 0 {
            let more = if self.words.is_empty() {
                "noted"
            } else {
                "more"
            };
            self.words.push(format!("and {} {more}", self.left));
        }
        (!self.words.is_empty()).then(|| self.words.join(" "))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::survey::codes::EquipmentKind;

    fn segment(start: u64, text: &str) -> Segment {
        Segment {
            start_ms: start,
            end_ms: start + 900,
            text: text.into(),
            ..Segment::default()
        }
    }

    fn session() -> Session<'static> {
        Session::new("n", &[], Lexicon::builtin())
    }

    #[test]
    fn answers_each_phrase_with_one_short_line() {
        let mut session = session();
        let events = session.feed(segment(
            0,
            "RTU 2 MCA 24 MOCP 30 belt is cracked and the coil is dirty and the panel is loose",
        ));
        let lines: Vec<&String> = events
            .iter()
            .filter_map(|e| match e {
                Event::ReadBack { line } => Some(line),
                _ => None,
            })
            .collect();
        assert_eq!(lines.len(), 1);
        assert!(lines[0].split_whitespace().count() < 12, "{}", lines[0]);
        assert!(lines[0].starts_with("RTU-2, mca 24"), "{}", lines[0]);
    }

    #[test]
    fn a_segment_heard_twice_or_late_changes_nothing() {
        let mut session = session();
        session.feed(segment(0, "RTU 2 the belt is"));
        session.feed(segment(2000, "and the screen is torn"));
        session.feed(segment(1000, "cracked"));
        assert_eq!(session.feed(segment(1000, "cracked")), []);
        assert_eq!(session.interpretation().findings.len(), 2);
    }

    #[test]
    fn a_photo_is_of_what_was_talked_of_last_whoever_drew_it() {
        let mut session = session();
        session.know(&[Mention {
            tag: "RTU-1".to_owned(),
            kind: EquipmentKind::PackagedRooftopUnit,
            number: Some(1),
        }]);
        let mut start = 0;
        let mut photo_after = |text: &str| {
            start += 2000;
            session.feed(segment(start, text));
            let events = session.feed(segment(start + 1000, "notebook mark photo"));
            events.into_iter().find_map(|event| match event {
                Event::MarkPhoto { about, .. } => about,
                _ => None,
            })
        };
        assert_eq!(photo_after("RTU 1 MCA 23").as_deref(), Some("RTU-1"));
        assert_eq!(photo_after("exhaust fan two").as_deref(), Some("EF-2"));
        let belt = photo_after("the belt is cracked");
        assert_eq!(belt.as_deref(), Some("EF-2"));
        assert_eq!(photo_after("RTU 1 MOCP 30").as_deref(), Some("RTU-1"));
    }

    #[test]
    fn takes_back_and_asks_one_thing_at_a_time() {
        let mut session = session();
        let events = session.feed(segment(0, "unit two MCA 24 MOCP 30"));
        let questions = events
            .iter()
            .filter(|e| matches!(e, Event::Question { .. }))
            .count();
        assert_eq!(questions, 1);
        let events = session.feed(segment(1000, "notebook right"));
        assert!(
            events
                .iter()
                .any(|e| matches!(e, Event::Confirmed { field, .. } if field == "nameplate.mca_a"))
        );
        let events = session.feed(segment(2000, "the belt is cracked"));
        assert!(events.iter().any(|e| matches!(e, Event::Drafted { .. })));
        let events = session.feed(segment(3000, "notebook take back"));
        assert!(
            events
                .iter()
                .any(|e| matches!(e, Event::Undone { what, .. } if what == "belt cracked"))
        );
        assert_eq!(session.feed(segment(4000, "notebook done")), [Event::Done]);
    }
}
