//! Coming in, and one's own password.

use super::layout;
use super::view::Session;
use maud::{Markup, html};

/// The form to come in by name and password, and how to get a one-time link. `refused` says why
/// the last try did not work.
pub fn sign_in(refused: Option<&str>) -> Markup {
    let body = html! {
        h1 { "Sign in" }
        @if let Some(refused) = refused {
            p.lead role="alert" { (refused) }
        }
        form method="post" action="/sign-in" {
            p { label { "Name " input name="name" autocomplete="username" required; } }
            p { label { "Password " input type="password" name="password"
                autocomplete="current-password" required; } }
            p { label { "Firm " input name="firm" value="office" autocomplete="organization"
                required; } }
            button { "Sign in" }
        }
        h2 { "By a one-time link" }
        p { "The server prints a link when it starts. Whoever runs it makes another one with" }
        pre { code { "scupper admit reviewer NAME --data DIR" } }
        p { "Open that link in this browser. Signed in, you may set a password under your name." }
    };
    layout::frame("Sign in", None, body)
}

/// Where a reviewer sets their password. `done` tells what was just done.
pub fn account(session: Session<'_>, done: Option<&str>) -> Markup {
    let body = html! {
        h1 { "Your password" }
        @if let Some(done) = done {
            p.lead role="status" { (done) }
        }
        @if let Some(csrf) = session.csrf {
            p { "15 characters or more; a few words that do not belong together are good. A new \
                 password ends every other session of yours." }
            form method="post" action="/account" {
                input type="hidden" name="csrf" value=(csrf);
                p { label { "New password " input type="password" name="password" minlength="15"
                    autocomplete="new-password" required; } }
                p { label { "The same again " input type="password" name="password_again"
                    minlength="15" autocomplete="new-password" required; } }
                button { "Set the password" }
            }
        } @else {
            p { "Only a reviewer has one." }
        }
    };
    layout::frame("Your password", Some(session), body)
}
