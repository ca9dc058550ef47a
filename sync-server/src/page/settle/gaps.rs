//! What nobody recorded yet: a photo's subject, a unit's missing fields.

use super::heard::input;
use crate::page::forms::Choice;
use crate::page::sheet::Sheet;
use crate::page::words;
use maud::{Markup, html};
use scupper_core::assess::Missing;
use scupper_core::survey::{Photo, SITE};

impl Sheet<'_> {
    /// Which unit a photo shows.
    pub(super) fn subject(&self, photo: &Photo, id: &str) -> Markup {
        let caption = photo.caption.as_deref().unwrap_or("Without a caption");
        let fields = [
            ("choice", "set".to_owned()),
            ("about", photo.id.clone()),
            ("field", "ref".to_owned()),
        ];
        let inner = html! {
            label for={ (id) "-v" } { "It shows" }
            input id={ (id) "-v" } name="value" list="tags" autocomplete="off"
                placeholder="tag or site" required;
            button { "Keep" }
        };
        html! {
            h3 id={ (id) "-t" } { (caption) }
            div.ask {
                div {
                    (self.photo(photo))
                    p.small.quiet {
                        @if let Some(author) = &photo.author { (self.name(author)) }
                        @if let Some(at) = &photo.taken_at { ", " (words::moment(at)) }
                    }
                }
                div.answers { div.typed { (self.form_of(&fields, &inner)) } }
            }
        }
    }

    /// The tags that a photo can be given; shared by all such items.
    pub(in crate::page) fn tags(&self) -> Markup {
        html! {
            datalist id="tags" {
                option value=(SITE) {}
                @for unit in &self.view.survey.equipment { option value=(unit.tag) {} }
            }
        }
    }

    /// What one unit lacks: fill in what the photos show, leave the rest for the next visit.
    pub(super) fn gaps(&self, about: &str, all: &[&Missing], id: &str) -> Markup {
        let choice = Choice::Fill {
            about: about.to_owned(),
            values: Vec::new(),
        };
        let later = Choice::Later {
            about: about.to_owned(),
            fields: all.iter().map(|gap| gap.field.clone()).collect(),
        };
        let inner = html! {
            ul.gaps { @for gap in all { li {
                label { (words::sentence(&words::field(&gap.field)))
                    (input(&gap.field, None, &format!("value:{}", gap.field))) }
                span.small.quiet { (words::sentence(&words::rules_in(&gap.why))) @if let Some(how) = &gap.how { ". " (words::sentence(how)) } }
            } } }
            button { "Keep what is filled in" }
        };
        let photos = self.photos(about);
        html! {
            h3 id={ (id) "-t" } {
                (self.link(about)) " \u{b7} " (words::count(all.len(), "field")) " not recorded"
            }
            p.quiet { "Fill in what a photo shows, or leave it for the next visit; it stays on the \
                       list to fetch and the papers say so." }
            (self.strip(photos.get(..6).unwrap_or(photos)))
            (self.form(&choice, &inner))
            (self.form(&later, &html! {
                button.lesser aria-describedby={ (id) "-t" } { "Leave "
                    @if all.len() == 1 { "it" } @else { "all " (all.len()) }
                    " for the next visit" } }))
        }
    }
}
