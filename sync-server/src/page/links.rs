//! What goes on from a survey: links by which a customer reads the assessment, with the forms to
//! make and revoke them, and the next visit.

use super::layout;
use super::sheet::Sheet;
use super::view::Session;
use crate::accounts::Link;
use chrono::DateTime;
use maud::{Markup, html};

impl Sheet<'_> {
    /// The links of this survey and its next visit, for whoever may make one.
    pub(super) fn link_part(&self) -> Markup {
        let view = self.view;
        let Some(csrf) = view.session.csrf.filter(|_| view.asked.all.is_none()) else {
            return html! {};
        };
        html! {
            section id="links" data-part aria-labelledby="links-t" {
                h2 id="links-t" { "Links for the customer" }
                p { "A link opens the assessment with its photos and nothing else: no notes, no \
                     costs, no forms. It works for 14 days or until it is revoked." }
                @if !view.links.is_empty() {
                    ul.links { @for link in view.links { li { (self.one_link(link, csrf)) } } }
                }
                form method="post" action={ (self.base) "/links" } {
                    input type="hidden" name="csrf" value=(csrf);
                    button { "Make a link" }
                }
            }
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

    fn one_link(&self, link: &Link, csrf: &str) -> Markup {
        html! {
            "Made by " (self.name(&link.made_by)) ", "
            @match link.revoked_at {
                Some(at) => { "revoked on " (day(at)) }
                None => {
                    "good until " (day(link.expires_at))
                    form.line method="post" action={ (self.base) "/links/" (link.id) "/revoke" } {
                        input type="hidden" name="csrf" value=(csrf);
                        button aria-label={ "Revoke the link good until " (day(link.expires_at)) } {
                            "Revoke" }
                    }
                }
            }
        }
    }
}

/// A link that was just made, shown this once: only its digest is kept.
pub fn link_made(session: Session<'_>, survey: &str, link: &str) -> Markup {
    let body = html! {
        h1 { "A link for the customer" }
        p { "Copy it now; it is not shown again." }
        pre { code id="link" { (link) } }
        p { "Whoever has it reads the assessment of this survey for 14 days. Revoke it on the \
             survey's page." }
        p { a href={ "/surveys/" (super::words::query(survey)) "#links" } { "Back to the survey" } }
    };
    layout::frame("A link for the customer", Some(session), body)
}

fn day(unix: i64) -> String {
    DateTime::from_timestamp(unix, 0)
        .map_or_else(String::new, |at| at.format("%-d %b %Y").to_string())
}

#[cfg(test)]
mod tests {
    use super::super::{SurveyView, survey};
    use super::*;
    use scupper_core::assess::Assessment;
    use scupper_core::survey::Survey;

    #[test]
    fn links_are_made_and_revoked_by_forms_that_a_reader_is_not_shown() {
        let (plain, found) = (Survey::default(), Assessment::default());
        let link = |id: &str, revoked_at| Link {
            id: id.to_owned(),
            made_by: "<b>ana</b>".to_owned(),
            expires_at: 1_776_171_600,
            revoked_at,
        };
        let links = [link("aa11", None), link("bb22", Some(1_776_000_000))];
        let page = |csrf| {
            let session = Session { name: "ana", csrf };
            let view = SurveyView {
                links: &links,
                ..SurveyView::new(&plain, &found, session)
            };
            survey(&view).into_string()
        };
        let reviewer = page(Some("key-1"));
        assert!(reviewer.contains("/links/aa11/revoke") && reviewer.contains("Make a link"));
        assert!(!reviewer.contains("bb22") && !reviewer.contains("<b>ana"));
        assert!(reviewer.contains("good until 14 Apr 2026"), "{reviewer}");
        assert!(!page(None).contains("/links"));
    }
}
