//! What was dictated, word for word; a value's evidence leads here.

use super::evidence::by;
use crate::words;
use maud::{Markup, html};
use scupper_core::survey::Note;

pub(super) fn section(notes: &[Note]) -> Markup {
    html! {
        section id="notes" {
            h2 { "Dictated notes: " (notes.len()) }
            @for note in notes {
                article id={ "note-" (words::slug(&note.id)) } {
                    h3 { (note.id) " " span.small.quiet { (by(note)) } }
                    @for segment in &note.segments { p { (segment.text) } }
                }
            }
        }
    }
}
