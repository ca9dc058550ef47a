//! What a reviewer sees: HTML as pure functions over plain data.
//!
//! [`survey`], [`list`], [`link_made`], [`sign_in`], [`account`] and [`error`] make whole pages; [`forms`] names the fields of
//! every form on them and reads them back; [`asset`] hands out the one stylesheet and the one
//! script. Nothing here opens a socket, a store or a session, and nothing is decided here: what
//! is a hazard, a verdict or a price comes in ready made. Every page reads and settles without
//! the script, which only refreshes and moves the focus.

mod account;
mod checks;
mod compare;
mod evidence;
mod findings;
pub mod forms;
mod hazards;
mod history;
mod layout;
mod list;
mod next_visit;
mod notes;
mod photos;
mod picture;
mod price;
mod quote;
mod register;
mod roof;
mod send;
mod settle;
mod sheet;
mod survey;
mod unit;
mod view;
mod words;

#[cfg(test)]
mod tests;

pub(crate) use layout::document;

pub use account::{account, sign_in};
pub use compare::{Side, compare};
pub use history::{HistoryView, history};
pub use list::{ListRow, ListView, list};
pub use picture::{PictureView, in_order, picture};
pub use price::{PriceView, Standing, price};
pub use roof::plan_options;
pub use send::{LINK_DAYS, link_made};
pub use settle::{Waits, waits};
pub use survey::survey;
pub use view::{Asked, Live, NO_NAMES, Paper, Part, Session, SurveyView};

use maud::{Markup, html};

/// A file that pages refer to as `/assets/NAME`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asset {
    /// Its media type.
    pub media_type: &'static str,
    /// Its text.
    pub text: &'static str,
}

/// The stylesheet `page.css` or the script `page.js`.
pub fn asset(name: &str) -> Option<Asset> {
    match name {
        "page.css" => Some(Asset {
            media_type: "text/css; charset=utf-8",
            text: include_str!("assets/page.css"),
        }),
        "page.js" => Some(Asset {
            media_type: "text/javascript; charset=utf-8",
            text: include_str!("assets/page.js"),
        }),
        _ => None,
    }
}

/// What went wrong and what to do next.
pub fn error(title: &str, detail: &str, next: &str) -> Markup {
    let body = html! {
        h1 { (title) }
        p.lead { (words::sentence(detail)) @if !detail.ends_with('.') { "." } }
        p.next { (next) }
        p { a href="/" { "All surveys" } }
    };
    layout::frame(title, None, body)
}
