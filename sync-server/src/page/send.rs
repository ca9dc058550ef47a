//! The papers of a survey and how they leave: what has to be done before, looking, downloading, a
//! letter, links for the customer. The forms here make, revoke and ask; the server decides.

use super::layout;
use super::sheet::Sheet;
use super::view::Session;
use super::words;
use crate::accounts::Link;
use maud::{Markup, html};

/// How long a link may work, in days.
pub const LINK_DAYS: [u32; 4] = [14, 7, 30, 90];

impl Sheet<'_> {
    /// Papers, letter and links of this survey.
    pub(super) fn send_part(&self, waiting: usize) -> Markup {
        let view = self.view;
        if view.asked.all.is_some() || view.papers.is_empty() {
            return html! {};
        }
        let unread = self.unread();
        html! {
            section id="papers" data-part aria-labelledby="papers-t" {
                h2 id="papers-t" { "Papers and sending" }
                @if self.may_settle() { (before(unread, waiting)) }
                ul.papers { @for paper in view.papers {
                    @let look = paper.href.ends_with(".html");
                    @let held = unread > 0 && paper.href.ends_with(".pdf") && self.may_settle();
                    li { b { (paper.words) } " "
                        @if held { span.quiet { "after the hazards are read" } }
                        @else if look { a href=(paper.href) { "Look at it" span.unseen { ": " (paper.words) } } }
                        @else { a href=(paper.href) download { "Download" span.unseen { ": " (paper.words) } } }
                    }
                } }
                @if let Some(csrf) = view.session.csrf {
                    @if unread == 0 {
                        div.columns { (self.letter()) (self.links(csrf)) }
                    } @else if !view.links.is_empty() {
                        h3 id="links-t" tabindex="-1" { "Links for the customer" }
                        (self.link_list(csrf))
                    }
                }
            }
        }
    }

    /// A letter to finish in the reader's own mail program.
    fn letter(&self) -> Markup {
        html! {
            div {
                h3 { "By e-mail" }
                p { "A draft with the assessment and the register attached. Your mail program opens \
                     it; nothing is sent from here." }
                form.begin method="get" action={ (self.base) "/papers/letter.eml" } {
                    label for="from" { "From" }
                    input id="from" name="from" type="email" required autocomplete="email";
                    label for="to" { "To, if you know it" }
                    input id="to" name="to" type="email" autocomplete="off";
                    button { "Make the draft" }
                }
            }
        }
    }

    fn links(&self, csrf: &str) -> Markup {
        html! {
            div id="links" {
                h3 id="links-t" tabindex="-1" { "By a link" }
                p { "A link opens the assessment with its photos and nothing else: no notes, no \
                     costs, no forms." }
                form.line method="post" action={ (self.base) "/links" } {
                    input type="hidden" name="csrf" value=(csrf);
                    label for="days" { "It works for" }
                    select id="days" name="days" { @for days in LINK_DAYS {
                        option value=(days) { (days) " days" } } }
                    button { "Make a link" }
                }
                (self.link_list(csrf))
            }
        }
    }

    fn link_list(&self, csrf: &str) -> Markup {
        html! {
            @if !self.view.links.is_empty() {
                ul.links { @for link in self.view.links { li { (self.one_link(link, csrf)) } } }
            }
        }
    }

    fn one_link(&self, link: &Link, csrf: &str) -> Markup {
        html! {
            "Made by " (self.name(&link.made_by)) ", "
            @match link.revoked_at {
                Some(at) => { "revoked on " (words::day(at)) }
                None if link.expires_at <= self.view.now => { "ended on " (words::day(link.expires_at)) }
                None => {
                    "good until " (words::day(link.expires_at))
                    form.line method="post" action={ (self.base) "/links/" (link.id) "/revoke" } {
                        input type="hidden" name="csrf" value=(csrf);
                        button.lesser aria-label={ "Revoke the link good until " (words::day(link.expires_at)) } {
                            "Revoke" }
                    }
                }
            }
        }
    }
}

/// What has to be, and what had better be, before papers go.
fn before(unread: usize, waiting: usize) -> Markup {
    html! {
        ol.before {
            li { @if unread == 0 { "\u{2713} Every hazard was read by name." } @else {
                b { "First: " } a href="#hazards-t" { "read " (words::count(unread, "hazard")) }
                " and say so there. Nothing can be sent before." } }
            li { @if waiting == 0 { "\u{2713} Nothing waits to be settled." } @else {
                a href="#settle-t" { (words::count(waiting, "question")) " to settle" }
                ". You may send without; the papers then say what is unsettled and missing." } }
        }
    }
}

/// A link that was just made, shown this once: only its digest is kept.
pub fn link_made(session: Session<'_>, survey: &str, link: &str, days: u32) -> Markup {
    let body = html! {
        h1 { "A link for the customer" }
        p { "Copy it now; it is not shown again." }
        pre { code id="link" { (link) } }
        p { "Whoever has it reads the assessment of this survey for " (days) " days. Revoke it on the \
             survey's page." }
        p { a href={ "/surveys/" (words::query(survey)) "#links" } { "Back to the survey" } }
    };
    layout::frame("A link for the customer", Some(session), body)
}

#[cfg(test)]
mod tests {
    use super::super::{Paper, SurveyView, survey};
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
            let papers = [Paper {
                href: "/surveys/s/papers/assessment.html",
                words: "Assessment",
            }];
            let view = SurveyView {
                links: &links,
                papers: &papers,
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
