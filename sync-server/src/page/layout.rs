//! The frame of every page: head, landmarks, who is signed in.

use super::view::Session;
use maud::{DOCTYPE, Markup, html};

/// What every document of ours begins with, the roof notebook's too. `head` adds to its head, and
/// `body` comes after the way past the header to the main landmark, which is `#main`.
pub(crate) fn document(title: &str, head: &Markup, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light";
                title { (title) " · Scupper" }
                (head)
            }
            body {
                a.skip href="#main" { "Skip to the content" }
                (body)
            }
        }
    }
}

/// A whole page. `body` goes into the main landmark.
pub(super) fn frame(title: &str, session: Option<Session<'_>>, body: Markup) -> Markup {
    let head = html! {
        link rel="stylesheet" href="/assets/page.css";
        link rel="icon" href="data:,";
        script type="module" src="/assets/page.js" {}
    };
    let body = html! {
        header.top {
            a.home href="/" { "Scupper" }
            @if let Some(session) = session {
                a href="/" { "All surveys" }
                @if session.csrf.is_some() {
                    a.who href="/account" { (session.name) }
                } @else {
                    span.who { (session.name) }
                }
                @if let Some(csrf) = session.csrf {
                    form method="post" action="/sign-out" {
                        input type="hidden" name="csrf" value=(csrf);
                        button { "Sign out" }
                    }
                }
            }
        }
        p.stale role="status" id="stale" hidden { }
        main id="main" tabindex="-1" { (body) }
    };
    document(title, &head, &body)
}
