//! The form that begins the next visit from a survey's page.

use super::sheet::Sheet;
use maud::{Markup, html};

impl Sheet<'_> {
    /// For whoever may begin one.
    pub(super) fn next_visit_part(&self) -> Markup {
        let Some(csrf) = self.view.session.csrf else {
            return html! {};
        };
        html! {
            section id="next-visit" data-part aria-labelledby="next-visit-t" {
                h2 id="next-visit-t" { "Next visit" }
                p { "Begins a new survey with this one's site, roof and units. What was found, said \
                     and photographed this time stays here." }
                form method="post" action={ (self.base) "/next-visit" } {
                    input type="hidden" name="csrf" value=(csrf);
                    button { "Begin the next visit" }
                }
            }
        }
    }
}
