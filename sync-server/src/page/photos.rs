//! All photos, those of nobody knows what first.

use super::picture::in_order;
use super::sheet::Sheet;
use super::view::Part;
use maud::{Markup, html};

/// How many photos the page shows before the others wait behind a link.
const SHOWN: usize = 24;

impl Sheet<'_> {
    pub(super) fn photo_part(&self) -> Markup {
        let Some(room) = self.room(Part::Photos, SHOWN) else {
            return html! {};
        };
        let photos = in_order(self.view.survey);
        let here = photos
            .iter()
            .filter(|p| self.view.arrived.contains(&p.hash))
            .count();
        html! {
            section id="photos" data-part aria-labelledby="photos-t" {
                h2 id="photos-t" { "Photos" }
                @if photos.is_empty() {
                    p { "No photo was taken yet. They come in when a device with photos has a signal." }
                } @else {
                    @if here < photos.len() {
                        p { (photos.len() - here) " of " (photos.len()) " are still on a device; they \
                             come in by themselves when it has a signal." }
                    }
                    ul.photos.grid { @for photo in photos.iter().take(room) { li {
                        p.of { @match &photo.about {
                            Some(about) => { (self.link(about)) }
                            None => { span.sign.unknown { "of what?" } }
                        } }
                        (self.photo(photo))
                    } } }
                    (self.rest(Part::Photos, room, photos.len()))
                }
            }
        }
    }
}
