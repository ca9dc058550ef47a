//! The voice notes in full, with what was made of them and what was not.

use super::sheet::{Sheet, stands};
use super::view::Part;
use super::words;
use maud::{Markup, html};
use scupper_core::survey::spoken::Evidence;
use scupper_core::survey::{Note, Origin};
use std::collections::BTreeMap;

/// How many notes the page shows before the others wait behind a link.
const SHOWN: usize = 20;

/// What became of a stretch of a note's text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Use {
    /// Nothing is known of it: words between words.
    Plain,
    /// An entry rests on it.
    Used,
    /// The interpreter could make nothing of it.
    Unparsed,
}

impl Sheet<'_> {
    pub(super) fn note_part(&self) -> Markup {
        let Some(room) = self.room(Part::Notes, SHOWN) else {
            return html! {};
        };
        let notes = &self.view.survey.notes;
        let used = self.used();
        html! {
            section id="notes" data-part aria-labelledby="notes-t" {
                h2 id="notes-t" { "Voice notes" }
                @if notes.is_empty() {
                    p { "No note was dictated yet." }
                } @else {
                    p { "Underlined words became an entry. Words in "
                        span.unparsed { "a dashed frame" }
                        " were heard and nothing was made of them: read them, they may matter." }
                    @for note in notes.iter().take(room) { (self.one_note(note, &used)) }
                    (self.rest(Part::Notes, room, notes.len()))
                }
            }
        }
    }

    /// Ranges that entries rest on, by note.
    fn used(&self) -> BTreeMap<&str, Vec<Evidence>> {
        let survey = self.view.survey;
        let origins = (survey.drafts.iter().map(|d| &d.origin))
            .chain(survey.findings.iter().map(|f| &f.origin))
            .chain(survey.hazards.iter().map(|h| &h.origin))
            .chain(survey.follow_ups.iter().map(|f| &f.origin));
        let mut used: BTreeMap<&str, Vec<Evidence>> = BTreeMap::new();
        for origin in origins.filter(|origin| stands(origin)) {
            if let Origin {
                note_id: Some(note),
                evidence: Some(range),
                ..
            } = origin
            {
                used.entry(note).or_default().push(*range);
            }
        }
        used
    }

    fn one_note(&self, note: &Note, used: &BTreeMap<&str, Vec<Evidence>>) -> Markup {
        let nothing = Vec::new();
        let used = used.get(note.id.as_str()).unwrap_or(&nothing);
        let unparsed = self.view.unparsed.get(&note.id).unwrap_or(&nothing);
        html! {
            article.note id={ "note-" (words::slug(&note.id)) } {
                h3 { (self.speaker(note)) }
                p { @for (i, segment) in note.segments.iter().enumerate() {
                    @for (kind, text) in stretches(&segment.text, i, used, unparsed) {
                        @match kind {
                            Use::Plain => { (text) }
                            Use::Used => { span.used { (text) } }
                            Use::Unparsed => { span.unparsed { (text) } }
                        }
                    }
                    " "
                } }
            }
        }
    }
}

/// A segment's text cut where its use changes. Ranges that are none of the text's are left out;
/// what an entry rests on is never called unparsed.
fn stretches<'t>(
    text: &'t str,
    segment: usize,
    used: &[Evidence],
    unparsed: &[Evidence],
) -> Vec<(Use, &'t str)> {
    let valid = |e: &&Evidence| e.segment == segment && text.get(e.start..e.end).is_some();
    let used: Vec<&Evidence> = used.iter().filter(valid).collect();
    let unparsed: Vec<&Evidence> = unparsed.iter().filter(valid).collect();
    let mut cuts = vec![0, text.len()];
    for range in used.iter().chain(&unparsed) {
        cuts.extend([range.start, range.end]);
    }
    cuts.sort_unstable();
    cuts.dedup();
    let mut out: Vec<(Use, &str)> = Vec::new();
    let mut begun = 0;
    for (at, end) in cuts.iter().zip(cuts.iter().skip(1)) {
        let covers = |range: &&&Evidence| range.start <= *at && *end <= range.end;
        let kind = if used.iter().any(|r| covers(&r)) {
            Use::Used
        } else if unparsed.iter().any(|r| covers(&r)) {
            Use::Unparsed
        } else {
            Use::Plain
        };
        match out.last_mut() {
            Some((last, stretch)) if *last == kind => {
                *stretch = text.get(begun..*end).unwrap_or(stretch);
            }
            _ => {
                begun = *at;
                out.push((kind, text.get(*at..*end).unwrap_or_default()));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(start: usize, end: usize) -> Evidence {
        Evidence {
            segment: 0,
            start,
            end,
        }
    }

    #[test]
    fn every_letter_is_shown_once_and_use_wins_over_doubt() {
        let text = "belts cracked say hé to Sam";
        let cut = stretches(
            text,
            0,
            &[range(0, 13), range(6, 13)],
            &[range(10, 28), range(16, 21), range(99, 100), range(20, 21)],
        );
        let all: String = cut.iter().map(|(_, t)| *t).collect();
        assert_eq!(all, text);
        assert_eq!(
            cut,
            [
                (Use::Used, "belts cracked"),
                (Use::Unparsed, " say hé to Sam")
            ]
        );
    }

    #[test]
    fn a_note_of_which_nothing_is_known_is_plain() {
        assert_eq!(
            stretches("hello", 1, &[range(0, 5)], &[]),
            [(Use::Plain, "hello")]
        );
        assert_eq!(stretches("", 0, &[], &[]), []);
    }
}
