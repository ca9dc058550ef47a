//! Which unit a photo shows: what was being talked about when it was taken.
//!
//! Pure: the times come in, an offer goes out. Nothing is ever attached here; when two units
//! fit, both are offered and a person chooses.

use crate::survey::codes::{Component, Condition};
use crate::survey::spoken::{Evidence, Interpretation, Transcript};
use chrono::{DateTime, Duration, FixedOffset};

/// A stretch of talk about one unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Talk {
    /// Who spoke.
    pub author: Option<String>,
    /// Tag of the unit, or `site`.
    pub about: String,
    /// Part and condition, when the stretch is of one finding.
    pub finding: Option<(Component, Condition)>,
    /// When it began, by the office's clock.
    pub from: DateTime<FixedOffset>,
    /// When it ended.
    pub to: DateTime<FixedOffset>,
}

/// A photo's moment.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// Who took it.
    pub author: Option<String>,
    /// When, by the device's clock.
    pub at: DateTime<FixedOffset>,
    /// What to add to the device's clock to get the office's, in milliseconds.
    pub clock_offset_ms: i64,
}

/// What a photo may show.
#[derive(Debug, Clone, PartialEq)]
pub enum Offer {
    /// Nothing was being talked about.
    Nothing,
    /// One unit fits; the finding too, if one alone does.
    One(Talk),
    /// Several units fit: ask.
    Several(Vec<Talk>),
}

/// Slack around a stretch of talk: people lift the camera before or after they speak.
const SLACK_S: i64 = 8;

/// The stretches of talk of a note whose start is known. `clock_offset_ms` as in [`Taken`].
pub fn talks(transcript: &Transcript, heard: &Interpretation, clock_offset_ms: i64) -> Vec<Talk> {
    let Some(began) = transcript.recorded_at else {
        return Vec::new();
    };
    let began = began + Duration::milliseconds(clock_offset_ms);
    let stretch = |evidence: Evidence, about: &str, finding| {
        let segment = transcript.segments.get(evidence.segment)?;
        let ms = |at: u64| i64::try_from(at).ok().map(Duration::milliseconds);
        Some(Talk {
            author: transcript.author.clone(),
            about: about.to_owned(),
            finding,
            from: began + ms(segment.start_ms)?,
            to: began + ms(segment.end_ms)?,
        })
    };
    let facts = heard
        .facts
        .iter()
        .filter_map(|f| stretch(f.evidence, &f.about, None));
    let findings = heard
        .findings
        .iter()
        .filter_map(|f| stretch(f.evidence, &f.about, Some((f.component, f.condition))));
    let mut all: Vec<Talk> = facts.chain(findings).collect();
    all.sort_by(|a, b| {
        (a.from, a.to, &a.about, a.finding).cmp(&(b.from, b.to, &b.about, b.finding))
    });
    all.dedup();
    all
}

/// Offers what a photo shows. The photographer's own words come first; another's count only
/// when the photographer said nothing then.
pub fn offer(taken: &Taken, talks: &[Talk]) -> Offer {
    let at = taken.at + Duration::milliseconds(taken.clock_offset_ms);
    let slack = Duration::seconds(SLACK_S);
    let distance = |talk: &Talk| (talk.from - at).max(at - talk.to).max(Duration::zero());
    let near: Vec<&Talk> = talks
        .iter()
        .filter(|talk| distance(talk) <= slack)
        .collect();
    let own: Vec<&Talk> = near
        .iter()
        .copied()
        .filter(|talk| talk.author == taken.author)
        .collect();
    let near = if own.is_empty() { near } else { own };
    let during: Vec<&Talk> = near
        .iter()
        .copied()
        .filter(|talk| distance(talk) == Duration::zero())
        .collect();
    let fits = if during.is_empty() { near } else { during };
    let mut units: Vec<&str> = fits.iter().map(|talk| talk.about.as_str()).collect();
    units.sort_unstable();
    units.dedup();
    let Some(first) = fits.first() else {
        return Offer::Nothing;
    };
    if units.len() > 1 {
        return Offer::Several(fits.into_iter().cloned().collect());
    }
    let mut findings: Vec<_> = fits.iter().filter_map(|talk| talk.finding).collect();
    findings.dedup();
    let finding = match findings.as_slice() {
        [one] => Some(*one),
        _ => None,
    };
    Offer::One(Talk {
        finding,
        ..(*first).clone()
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::{Lexicon, interpret};
    use super::*;
    use crate::survey::spoken::Segment;

    fn time(text: &str) -> DateTime<FixedOffset> {
        DateTime::parse_from_rfc3339(text).unwrap()
    }

    fn note(author: &str, texts: &[&str]) -> Vec<Talk> {
        let segments = texts
            .iter()
            .zip(0u64..)
            .map(|(text, n)| Segment {
                start_ms: n * 30_000,
                end_ms: n * 30_000 + 5_000,
                text: (*text).into(),
                ..Segment::default()
            })
            .collect();
        let transcript = Transcript {
            note_id: "n".into(),
            author: Some(author.into()),
            recorded_at: Some(time("2026-04-14T08:00:00-05:00")),
            segments,
        };
        talks(&transcript, &interpret(&transcript, Lexicon::builtin()), 0)
    }

    fn taken(author: &str, at: &str, clock_offset_ms: i64) -> Taken {
        Taken {
            author: Some(author.into()),
            at: time(at),
            clock_offset_ms,
        }
    }

    #[test]
    fn offers_the_unit_and_finding_being_talked_about() {
        let talks = note(
            "a",
            &["RTU 2 the belt is cracked.", "RTU 3 the screen is torn."],
        );
        let Offer::One(talk) = offer(&taken("a", "2026-04-14T08:00:06-05:00", 0), &talks) else {
            unreachable!()
        };
        assert_eq!(
            (talk.about.as_str(), talk.finding),
            ("RTU-2", Some((Component::Belt, Condition::Cracked)))
        );
        // A device whose clock is half a minute slow.
        let Offer::One(talk) = offer(&taken("b", "2026-04-14T08:00:03-05:00", 30_000), &talks)
        else {
            unreachable!()
        };
        assert_eq!(talk.about, "RTU-3");
        assert_eq!(
            offer(&taken("a", "2026-04-14T08:05:00-05:00", 0), &talks),
            Offer::Nothing
        );
    }

    #[test]
    fn never_chooses_between_two() {
        let mut talks = note("a", &["RTU 2 the belt is cracked."]);
        talks.extend(note("b", &["EF 1 the belt is frayed."]));
        let moment = "2026-04-14T08:00:02-05:00";
        assert!(
            matches!(offer(&taken("c", moment, 0), &talks), Offer::Several(both) if both.len() == 2)
        );
        // The photographer's own words decide.
        assert!(
            matches!(offer(&taken("b", moment, 0), &talks), Offer::One(talk) if talk.about == "EF-1")
        );
    }
}
