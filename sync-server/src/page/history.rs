//! The life of one unit, or of the site, field by field: every value it was given, by whom, when
//! and on what device, each a press away from counting again.

use super::forms::Choice;
use super::view::Session;
use super::{layout, words};
use maud::{Markup, html};
use scupper_core::document::{HistoryStep, Means, same_value};
use serde_json::Value;
use std::collections::BTreeMap;

/// What a page of history is made from.
#[derive(Debug, Clone, Copy)]
pub struct HistoryView<'a> {
    /// Who is looking.
    pub session: Session<'a>,
    /// The survey.
    pub survey: &'a str,
    /// Tag of the unit, or `site`.
    pub title: &'a str,
    /// What an edit calls it.
    pub about: &'a str,
    /// Its fields and the values they were given, oldest first.
    pub steps: &'a [(String, HistoryStep)],
    /// What the survey now says of each.
    pub now: &'a BTreeMap<String, Value>,
    /// Names of the people by author id.
    pub people: &'a BTreeMap<String, String>,
}

/// The page.
pub fn history(view: &HistoryView<'_>) -> Markup {
    let mut fields: BTreeMap<&str, Vec<&HistoryStep>> = BTreeMap::new();
    for (field, step) in view.steps {
        fields.entry(field).or_default().push(step);
    }
    let base = format!("/surveys/{}", words::query(view.survey));
    let title = words::place(view.title);
    let changed = |steps: &Vec<&HistoryStep>| steps.len() > 1;
    let several = fields.values().filter(|steps| changed(steps)).count();
    let body = html! {
        p { a href={ (base) "?unit=" (words::query(view.about)) "#unit" } { "Back to " (title) } }
        h1 { (title) ": who entered what" }
        @if fields.is_empty() {
            p.lead { "Nothing was entered yet." }
            p { "What a technician says or types appears here with their name." }
        } @else {
            p { (words::count(fields.len(), "field")) ", " (several) " of them given more than one \
                 value. An earlier value that you bring back is a new entry under your name." }
            @for (field, steps) in fields.iter().filter(|(_, steps)| changed(steps)) {
                (field_of(view, &base, field, steps))
            }
            @for (field, steps) in fields.iter().filter(|(_, steps)| !changed(steps)) {
                (field_of(view, &base, field, steps))
            }
        }
    };
    layout::frame(&format!("{title}: history"), Some(view.session), body)
}

fn field_of(view: &HistoryView<'_>, base: &str, field: &str, steps: &[&HistoryStep]) -> Markup {
    let now = view.now.get(field).unwrap_or(&Value::Null);
    let name = words::sentence(&words::field(field));
    html! {
        section.life {
            h2.small-t { (name) }
            ol.steps { @for step in steps.iter().rev() {
                @let current = same_value(now, &step.value);
                li {
                    b { @if step.value.is_null() { "cleared" }
                        @else { (words::with_unit(field, &step.value)) } }
                    span { (who(view, step)) }
                    @if current { span.quiet { "as it is now" } }
                    @else if let Some(csrf) = view.session.csrf {
                        (back(view, base, csrf, (field, &name), step))
                    }
                }
            } }
        }
    }
}

fn who(view: &HistoryView<'_>, step: &HistoryStep) -> Markup {
    html! {
        @match &step.stamp {
            Some(stamp) => {
                (view.people.get(&stamp.author).unwrap_or(&stamp.author)) ", "
                (words::moment(&stamp.at_server()))
                span.quiet { ", on " (stamp.device) }
            }
            None => { "there when the survey began" }
        }
        @if step.means == Means::Dictated { ", dictated" }
    }
}

fn back(
    view: &HistoryView<'_>,
    base: &str,
    csrf: &str,
    (field, name): (&str, &str),
    step: &HistoryStep,
) -> Markup {
    let choice = Choice::Set {
        about: view.about.to_owned(),
        field: field.to_owned(),
        value: step.value.clone(),
    };
    let here = format!("/history?unit={}", words::query(view.about));
    html! {
        form method="post" action={ (base) "/settle" } {
            input type="hidden" name="csrf" value=(csrf);
            input type="hidden" name="back" value=(here);
            @for (key, value) in choice.fields() { input type="hidden" name=(key) value=(value); }
            button.lesser { "Bring back" span.unseen { ": " (name) " "
                (words::with_unit(field, &step.value)) } }
        }
    }
}
