//! What was entered twice: one field with several values, one unit under two entries.

use super::heard::input;
use crate::page::forms::Choice;
use crate::page::sheet::Sheet;
use crate::page::words;
use maud::{Markup, html};
use scupper_core::document::{Candidate, Conflict, Means, SameUnitOffer};
use scupper_core::survey::Equipment;
use serde_json::Value;
use std::collections::BTreeSet;

impl Sheet<'_> {
    /// One field, several values: choose one or type another.
    pub(super) fn contested(&self, contested: &Conflict, id: &str) -> Markup {
        html! {
            h3 id={ (id) "-t" } {
                (self.link(&contested.about)) " \u{b7} " (words::field(&contested.field))
            }
            div.ask {
                ul.candidates {
                    @for candidate in &contested.candidates {
                        li {
                            b.value { (words::with_unit(&contested.field, &candidate.value)) }
                            span { (self.given(candidate)) }
                            (self.form(&Choice::Set {
                                about: contested.about.clone(),
                                field: contested.field.clone(),
                                value: candidate.value.clone(),
                            }, &html! { button aria-describedby={ (id) "-t" } {
                                "Use " (words::with_unit(&contested.field, &candidate.value)) } }))
                        }
                    }
                }
                div {
                    div.answers { div.typed { (self.other_value(contested)) } }
                    (self.few_photos(&contested.about))
                }
            }
        }
    }

    /// Who gave a value, when, on what, and by what means.
    fn given(&self, candidate: &Candidate) -> Markup {
        html! {
            @match &candidate.stamp {
                Some(stamp) => {
                    (self.name(&stamp.author)) ", " (words::moment(&stamp.at_server()))
                    span.quiet { ", on " (stamp.device) }
                }
                None => { "there when the survey began" }
            }
            @if candidate.means == Means::Dictated { ", dictated" }
            @if candidate.current { " " span.small { "(shown for now)" } }
        }
    }

    fn other_value(&self, contested: &Conflict) -> Markup {
        let fields = [
            ("choice", "set".to_owned()),
            ("about", contested.about.clone()),
            ("field", contested.field.clone()),
        ];
        let label = format!(
            "{} {}, another value",
            words::place(&contested.about),
            words::field(&contested.field)
        );
        let inner = html! {
            (input(&contested.field, Some(&label), "value"))
            button { "Use another" }
        };
        self.form_of(&fields, &inner)
    }

    /// Two units side by side, and whether they are one.
    pub(super) fn same(&self, same: &SameUnitOffer, id: &str) -> Markup {
        let survey = self.view.survey;
        let (one, other) = (survey.unit(&same.keep), survey.unit(&same.other));
        let tag = |unit: Option<&Equipment>, id: &str| {
            unit.map_or_else(|| id.to_owned(), |unit| unit.tag.clone())
        };
        let (first, second) = (tag(one, &same.keep), tag(other, &same.other));
        html! {
            h3 id={ (id) "-t" } { (first) " and " (second) ": one unit or two?" }
            div.ask {
                div {
                    ul.why { @for reason in &same.because { li { (words::sentence(reason)) } } }
                    @if let (Some(one), Some(other)) = (one, other) { (self.compare(one, other)) }
                }
                div.answers {
                    (self.form(
                        &Choice::Join { keep: same.keep.clone(), other: same.other.clone() },
                        &html! { button aria-describedby={ (id) "-t" } { "One unit" } }))
                    (self.form(
                        &Choice::KeepApart { one: same.keep.clone(), other: same.other.clone() },
                        &html! { button aria-describedby={ (id) "-t" } { "Two units" } }))
                    p.small.quiet { "Joining moves nothing and can be undone." }
                }
            }
        }
    }

    fn compare(&self, one: &Equipment, other: &Equipment) -> Markup {
        let (left, right) = (flat(one), flat(other));
        let names: BTreeSet<&String> = left.keys().chain(right.keys()).collect();
        let (mut alike, mut single, mut differ) = (Vec::new(), Vec::new(), Vec::new());
        for name in names {
            match (left.get(name), right.get(name)) {
                (Some(a), Some(b)) if a == b => alike.push(words::field(name)),
                (Some(a), Some(b)) => differ.push((name, a, b)),
                _ => single.push(words::field(name)),
            }
        }
        html! {
            @if !alike.is_empty() { p { "Alike: " (alike.join(", ")) "." } }
            @if !single.is_empty() { p { "Only in one of them: " (single.join(", ")) "." } }
            @if differ.is_empty() { p { "Nothing contradicts." } } @else {
            div.wide tabindex="0" role="region" aria-label="The two entries" { table.compare {
                thead { tr {
                    th scope="col" { "Field" }
                    th scope="col" { "Entered first" }
                    th scope="col" { "Entered later" }
                } }
                tbody { @for (name, a, b) in differ {
                    tr {
                        th scope="row" { (words::field(name)) }
                        td { (words::with_unit(name, a)) }
                        td { (words::with_unit(name, b)) }
                    }
                } }
            } }
            }
        }
    }
}

/// A unit's fields by dotted name, without its identity.
pub(in crate::page) fn flat(unit: &Equipment) -> serde_json::Map<String, Value> {
    let mut out = serde_json::Map::new();
    if let Ok(whole) = serde_json::to_value(unit) {
        spread("", &whole, &mut out);
    }
    out.remove("id");
    out
}

fn spread(name: &str, value: &Value, out: &mut serde_json::Map<String, Value>) {
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                let name = if name.is_empty() {
                    key.clone()
                } else {
                    format!("{name}.{key}")
                };
                spread(&name, value, out);
            }
        }
        other => {
            out.insert(name.to_owned(), other.clone());
        }
    }
}
