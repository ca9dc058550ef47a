//! The words and photos that something came from, beside the thing itself.

use super::sheet::Sheet;
use super::words;
use maud::{Markup, html};
use scupper_core::survey::spoken::Evidence;
use scupper_core::survey::{Note, Origin, Photo};

/// How many characters around the marked words are shown.
const AROUND: usize = 60;

impl Sheet<'_> {
    /// The words, marked in their surroundings, with who said them and when.
    pub(super) fn words_of(&self, origin: &Origin) -> Markup {
        self.words(origin.note_id.as_deref(), origin.evidence.as_ref())
    }

    /// The same for an entry that keeps note and range apart.
    pub(super) fn words(&self, note: Option<&str>, evidence: Option<&Evidence>) -> Markup {
        let said = note
            .and_then(|id| self.note(id))
            .and_then(|note| evidence.and_then(|e| Some((note, cut(note, e)?))));
        html! {
            @if let Some((note, (before, marked, after))) = said {
                p.words {
                    "\u{201c}" (before) mark { (marked) } (after) "\u{201d} "
                    a href={ "?all=notes#note-" (words::slug(&note.id)) } {
                        (self.speaker(note))
                    }
                }
            }
        }
    }

    /// Who spoke a note, and when.
    pub(super) fn speaker(&self, note: &Note) -> Markup {
        html! {
            @match &note.author {
                Some(author) => { (self.name(author)) }
                None => { "someone" }
            }
            @if let Some(at) = &note.recorded_at { ", " (words::hour(at)) }
        }
    }

    /// Small photos in a row.
    pub(super) fn strip(&self, photos: &[&Photo]) -> Markup {
        html! {
            @if !photos.is_empty() {
                ul.photos.strip { @for photo in photos { li { (self.photo(photo)) } } }
            }
        }
    }

    /// One photo: its thumbnail leads to the large view.
    pub(super) fn photo(&self, photo: &Photo) -> Markup {
        let shown = caption(photo);
        let here = self.view.arrived.contains(&photo.hash);
        let large = match photo.id.is_empty() {
            true => format!("/v1/photos/{}", words::query(&photo.hash)),
            false => format!("{}/photos/{}", self.base, words::query(&photo.id)),
        };
        html! {
            figure {
                @if self.view.bare.contains(&photo.hash) {
                    a.absent href=(large) { (kind(photo)) " photo, without a small picture" }
                } @else if here {
                    a href=(large) {
                        img class=[turned(photo)]
                            src={ "/v1/photos/" (words::query(&photo.hash)) "/thumbnail" }
                            alt=(shown) loading="lazy" decoding="async" width="160" height="120";
                    }
                } @else {
                    span.absent { "not here yet" }
                }
                figcaption { (shown) }
            }
        }
    }
}

/// What kind of file a photo is, as its maker calls it.
pub(super) fn kind(photo: &Photo) -> String {
    let (_, kind) = photo.media_type.split_once('/').unwrap_or_default();
    kind.to_uppercase()
}

/// What a photo is called.
pub(super) fn caption(photo: &Photo) -> String {
    match (&photo.caption, &photo.about) {
        (Some(caption), _) if !caption.trim().is_empty() => caption.clone(),
        (_, Some(about)) => format!("Photo of {}", words::place(about)),
        _ => "Photo without a caption".to_owned(),
    }
}

/// The class that shows a photo the way a person turned it.
pub(super) const fn turned(photo: &Photo) -> Option<&'static str> {
    match photo.turned_deg {
        Some(90) => Some("turn-90"),
        Some(180) => Some("turn-180"),
        Some(270) => Some("turn-270"),
        _ => None,
    }
}

/// The marked words with a little of what stands before and after; none if the range is not one
/// of the note.
fn cut<'n>(note: &'n Note, evidence: &Evidence) -> Option<(String, &'n str, String)> {
    let text = note.segments.get(evidence.segment)?.text.as_str();
    let marked = text.get(evidence.start..evidence.end)?;
    let before = text.get(..evidence.start)?;
    let after = text.get(evidence.end..)?;
    let skip = before.chars().count().saturating_sub(AROUND);
    let mut start: String = before.chars().skip(skip).collect();
    if skip > 0 {
        start.insert(0, '\u{2026}');
    }
    let mut end: String = after.chars().take(AROUND).collect();
    if after.chars().count() > AROUND {
        end.push('\u{2026}');
    }
    Some((start, marked, end))
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
            let range = Evidence {
                segment,
                start,
                end,
            };
            assert!(cut(&note, &range).is_none());
        }
    }
}
