//! The frame of every page: head, landmarks, the standing caution.

use crate::accounts::{Caller, Rights};
use maud::{DOCTYPE, Markup, html};

/// A page for nobody in particular.
pub(super) fn plain(title: &str, body: Markup) -> Markup {
    frame(title, None, body)
}

/// A page for someone signed in.
pub(super) fn signed_in(title: &str, caller: &Caller, body: Markup) -> Markup {
    frame(title, Some(caller), body)
}

fn frame(title: &str, caller: Option<&Caller>, body: Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " · Scupper" }
                link rel="stylesheet" href="/assets/page.css";
                link rel="icon" href="data:,";
                @if caller.is_some() { script type="module" src="/assets/page.js" {} }
            }
            body {
                a.skip href="#main" { "Skip to the content" }
                header.top {
                    a.home href="/" { "Scupper" }
                    @if let Some(caller) = caller {
                        span { (caller.name) }
                        @if matches!(caller.rights, Rights::Reviewer { .. }) {
                            form method="post" action="/sign-out" { button { "Sign out" } }
                        }
                    }
                }
                main id="main" { (body) }
            }
        }
    }
}
