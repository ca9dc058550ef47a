//! All photos, those without a subject first, since someone must say what they show.

use super::evidence::Witness;
use super::forms::Forms;
use maud::{Markup, html};
use scupper_core::survey::{Photo, SITE};

pub(super) fn section(witness: Witness<'_>, forms: &Forms) -> Markup {
    let shown = || {
        witness
            .survey
            .photos
            .iter()
            .filter(|p| p.withdrawn_by.is_none())
    };
    let (placed, lost): (Vec<&Photo>, Vec<&Photo>) = shown().partition(|p| p.about.is_some());
    let here = shown()
        .filter(|p| witness.arrived.contains(&p.hash))
        .count();
    html! {
        section id="photos" {
            h2 { "Photos: " (here) " of " (shown().count()) " here" }
            @if !lost.is_empty() {
                h3 { "Without a subject" }
                ul.photos { @for photo in lost {
                    (witness.photo(photo))
                    @if forms.any() { li { (subject(photo, witness, forms)) } }
                } }
                h3 { "With a subject" }
            }
            ul.photos { @for photo in placed { (witness.photo(photo)) } }
        }
    }
}

fn subject(photo: &Photo, witness: Witness<'_>, forms: &Forms) -> Markup {
    let tags = witness
        .survey
        .equipment
        .iter()
        .map(|unit| unit.tag.as_str());
    let options: Vec<(&str, &str)> = std::iter::once((SITE, "Site"))
        .chain(tags.map(|tag| (tag, tag)))
        .collect();
    forms.choose(&photo.id, "ref", "It shows", &options)
}
