//! The words and photos that something came from, beside the thing itself.

use crate::words;
use maud::{Markup, html};
use scupper_core::survey::spoken::Evidence;
use scupper_core::survey::{Note, Photo, Survey};
use std::collections::BTreeSet;

/// How many characters around the marked words are shown.
const AROUND: usize = 60;

/// What sections need to show evidence: the survey, and whose photos have arrived.
#[derive(Clone, Copy)]
pub(super) struct Witness<'a> {
    pub(super) survey: &'a Survey,
    pub(super) arrived: &'a BTreeSet<String>,
}

impl<'a> Witness<'a> {
    /// The words, marked in their surroundings, with who said them and when.
    pub(super) fn words(self, note: Option<&str>, evidence: Option<&Evidence>) -> Markup {
        let said = note
            .and_then(|id| self.survey.notes.iter().find(|note| note.id == id))
            .and_then(|note| evidence.and_then(|e| Some((note, cut(note, e)?))));
        html! {
            @if let Some((note, (before, marked, after))) = said {
                p.words {
                    (before) mark { (marked) } (after) " "
                    a.small href={ "#note-" (words::slug(&note.id)) } { (by(note)) }
                }
            }
        }
    }

    /// Small photos of a tag, or of the ids given first.
    pub(super) fn photos(self, ids: &[String], about: &str) -> Markup {
        let chosen = self.survey.photos.iter().filter(|photo| {
            photo.withdrawn_by.is_none()
                && if ids.is_empty() {
                    photo.about.as_deref() == Some(about)
                } else {
                    ids.contains(&photo.id)
                }
        });
        let chosen: Vec<&Photo> = chosen.collect();
        html! {
            @if !chosen.is_empty() {
                ul class="photos strip" { @for photo in chosen { (self.photo(photo)) } }
            }
        }
    }

    /// One photo: its thumbnail leads to the original.
    pub(super) fn photo(self, photo: &Photo) -> Markup {
        let shown = photo.caption.clone().unwrap_or_else(|| {
            photo
                .about
                .as_deref()
                .map_or("Photo without a subject".to_owned(), |about| {
                    format!("Photo of {}", words::place(about))
                })
        });
        html! {
            li {
                @if self.arrived.contains(&photo.hash) {
                    a href={ "/v1/photos/" (photo.hash) } {
                        img src={ "/v1/photos/" (photo.hash) "/thumbnail" } alt=(shown) loading="lazy";
                    }
                } @else {
                    span.absent role="img" aria-label={ "Not here yet: " (shown) } {
                        "not uploaded yet"
                    }
                }
                span.small { (shown) }
            }
        }
    }
}

/// The marked words with a little of what stands before and after.
fn cut<'n>(note: &'n Note, evidence: &Evidence) -> Option<(String, &'n str, String)> {
    let text = note.segments.get(evidence.segment)?.text.as_str();
    let marked = text.get(evidence.start..evidence.end)?;
    let before = text.get(..evidence.start)?;
    let after = text.get(evidence.end..)?;
    let skip = before.chars().count().saturating_sub(AROUND);
    let mut start: String = before.chars().skip(skip).collect();
    if skip > 0 {
        start.insert(0, '…');
    }
    let mut end: String = after.chars().take(AROUND).collect();
    if after.chars().count() > AROUND {
        end.push('…');
    }
    Some((start, marked, end))
}

/// Who spoke, and when.
pub(super) fn by(note: &Note) -> String {
    let who = note.author.as_deref().unwrap_or("someone");
    match &note.recorded_at {
        Some(at) => format!("{who}, {}", at.format("%H:%M")),
        None => who.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use scupper_core::survey::spoken::Segment;

    #[test]
    fn words_are_marked_in_place_and_a_wrong_range_shows_nothing() {
        let text = "the belt on größe two is cracked".to_owned();
        let note = Note {
            id: "n".into(),
            author: None,
            recorded_at: None,
            segments: vec![Segment {
                text: text.clone(),
                ..Segment::default()
            }],
        };
        let start = text.find("cracked").unwrap();
        let range = Evidence {
            segment: 0,
            start,
            end: start + 7,
        };
        let (before, marked, after) = cut(&note, &range).unwrap();
        assert_eq!(
            (before.as_str(), marked, after.as_str()),
            ("the belt on größe two is ", "cracked", "")
        );
        let inside_a_letter = text.find('ö').unwrap() + 1;
        for (segment, start, end) in [(1, 0, 1), (0, 0, 999), (0, inside_a_letter, 20), (0, 9, 4)] {
            assert!(
                cut(
                    &note,
                    &Evidence {
                        segment,
                        start,
                        end
                    }
                )
                .is_none()
            );
        }
    }
}
