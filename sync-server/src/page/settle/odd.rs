//! Values that are hard to believe, typed by someone: mended, or right as they stand.

use super::heard::{Heard, input};
use crate::page::forms::Choice;
use crate::page::sheet::{Sheet, unsettled};
use crate::page::words;
use maud::{Markup, html};
use scupper_core::assess::OddValue;
use scupper_core::document::says;

impl Sheet<'_> {
    /// Whether to ask about it here: not while another question about one of its values is open,
    /// and not once someone confirmed what was heard.
    pub(super) fn asks(&self, odd: &OddValue) -> bool {
        let contested = |field: &String| {
            self.view.contested.iter().any(|other| {
                other.field == *field && (other.about == odd.about || other.entry == odd.id)
            })
        };
        let heard = |field: &String| {
            let mut drafts = self.drafts(&odd.about).iter().filter(|d| d.field == *field);
            drafts.any(|draft| unsettled(&draft.origin) && !self.overtaken(&Heard::Draft(draft)))
        };
        let confirmed = |field: &String| {
            self.drafts(&odd.about).iter().any(|draft| {
                let now = self.current(&odd.about, field);
                draft.field == *field
                    && !draft.origin.confirmed_by.is_empty()
                    && now.is_some_and(|now| says(&now, &draft.value))
            })
        };
        !odd.fields
            .iter()
            .any(|field| contested(field) || heard(field))
            && !odd.fields.iter().all(confirmed)
    }

    /// The numbers, why they are odd, and the photos to decide by.
    pub(super) fn odd(&self, odd: &OddValue, id: &str) -> Markup {
        let about = if odd.id.is_empty() {
            &odd.about
        } else {
            &odd.id
        };
        let fill = Choice::Fill {
            about: about.clone(),
            values: Vec::new(),
        };
        let stand = Choice::Stand {
            about: about.clone(),
            fields: odd.fields.clone(),
            holds: true,
        };
        let inner = html! {
            ul.gaps { @for field in &odd.fields { li {
                label {
                    span { (words::sentence(&words::field(field))) ": "
                        @if let Some(now) = self.current(&odd.about, field) {
                            b { (words::with_unit(field, &now)) } } }
                    (input(field, None, &format!("value:{field}")))
                }
            } } }
            button { "Keep what is typed" }
        };
        html! {
            h3 id={ (id) "-t" } { (self.link(&odd.about)) " \u{b7} " (odd.because) }
            p.quiet { "Either it was misread, or the roof is so. Look at a photo; type what is right, \
                       or stand behind it." }
            div.ask {
                div { (self.form(&fill, &inner)) }
                div {
                    div.answers { (self.form(&stand, &html! {
                        button aria-describedby={ (id) "-t" } { "It is right as it stands" } })) }
                    (self.few_photos(&odd.about))
                }
            }
        }
    }
}
