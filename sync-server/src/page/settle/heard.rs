//! Dictated entries: the value, the words it came from, and accept, correct or refuse.

use crate::page::forms::{Choice, Sort};
use crate::page::sheet::{Sheet, unsettled};
use crate::page::words;
use maud::{Markup, html};
use scupper_core::assess::OddValue;
use scupper_core::document::says;
use scupper_core::survey::{Draft, Finding, Hazard, Origin, SITE};
use serde_json::Value;

/// A dictated entry.
#[derive(Clone, Copy)]
pub(in crate::page) enum Heard<'a> {
    /// A field's value.
    Draft(&'a Draft),
    /// Something wrong, or looked at and good.
    Finding(&'a Finding),
    /// A danger.
    Hazard(&'a Hazard),
}

impl<'a> Heard<'a> {
    pub(super) fn id(&self) -> &'a str {
        match self {
            Self::Draft(draft) => &draft.id,
            Self::Finding(finding) => &finding.id,
            Self::Hazard(hazard) => &hazard.id,
        }
    }

    pub(super) fn about(&self) -> &'a str {
        match self {
            Self::Draft(draft) => &draft.about,
            Self::Finding(finding) => &finding.about,
            Self::Hazard(hazard) => hazard.about.as_deref().unwrap_or(SITE),
        }
    }

    pub(super) fn origin(&self) -> &'a Origin {
        match self {
            Self::Draft(draft) => &draft.origin,
            Self::Finding(finding) => &finding.origin,
            Self::Hazard(hazard) => &hazard.origin,
        }
    }

    /// What it says, in words.
    pub(super) fn says(&self) -> String {
        match self {
            Self::Draft(draft) => words::field(draft.field.trim_start_matches("site.")),
            Self::Finding(f) => {
                let said = format!("{} {}", f.component.words(), f.condition.words());
                format!("{said}{}", words::certainty(f.certainty))
            }
            Self::Hazard(hazard) => format!("hazard: {}", hazard.kind.words()),
        }
    }
}

impl<'a> Sheet<'a> {
    /// Why someone should look twice before an entry counts.
    pub(super) fn doubts(&self, heard: &Heard<'a>) -> Vec<String> {
        let mut why: Vec<String> = heard.origin().needs_confirmation.iter().cloned().collect();
        if let Heard::Draft(draft) = heard {
            why.extend(self.contradictions(draft));
            if !why.is_empty()
                && let Some(now) = self.otherwise(draft)
            {
                let now = words::with_unit(&draft.field, &now);
                why.push(format!("The survey says {now}"));
            }
        }
        why
    }

    /// Whether an entry was overtaken: a later value stands in its field, and the document does
    /// not ask for anyone's word on it.
    pub(super) fn overtaken(&self, heard: &Heard<'a>) -> bool {
        match heard {
            Heard::Draft(draft) => {
                draft.origin.needs_confirmation.is_none() && self.otherwise(draft).is_some()
            }
            _ => false,
        }
    }

    /// What the survey says, where that is something else than was heard.
    fn otherwise(&self, draft: &Draft) -> Option<Value> {
        let now = self.current(&draft.about, &draft.field)?;
        (!says(&now, &draft.value)).then_some(now)
    }

    /// Why a number that was only heard is hard to believe: it may be the roof that is wrong, or
    /// the ear.
    fn contradictions(&self, draft: &'a Draft) -> Vec<String> {
        let of = |odd: &&OddValue| odd.about == draft.about && odd.fields.contains(&draft.field);
        let odd = self.view.odd.iter().filter(of);
        odd.map(|odd| odd.because.clone()).collect()
    }

    /// One entry with a reason to look twice.
    pub(super) fn doubt(&self, heard: &Heard<'a>, why: &[String], id: &str) -> Markup {
        html! {
            h3 id={ (id) "-t" } { (self.link(heard.about())) " \u{b7} " (heard.says()) }
            div.ask {
                div {
                    @if let Heard::Draft(draft) = heard {
                        p { "Heard: " b.value { (words::with_unit(&draft.field, &draft.value)) } }
                    }
                    (self.words_of(heard.origin()))
                    ul.why { @for reason in why { li { (reason) } } }
                }
                div {
                    div.answers { (self.answers(heard, id)) }
                    (self.few_photos(heard.about()))
                }
            }
        }
    }

    /// The value of a unit's field as the survey has it.
    pub(in crate::page) fn current(&self, about: &str, field: &str) -> Option<Value> {
        let now = self.whole(about)?;
        words::within(&now, about, field).cloned()
    }

    /// Accept, correct, refuse; `title` is the element that says of what.
    fn answers(&self, heard: &Heard<'a>, id: &str) -> Markup {
        let one = heard.id().to_owned();
        let title = format!("{id}-t");
        html! {
            (self.form(&Choice::Confirm { ids: vec![one.clone()] }, &html! {
                button aria-describedby=(title) {
                    "Accept" @if let Heard::Draft(draft) = heard {
                        " " (words::with_unit(&draft.field, &draft.value)) } }
            }))
            (self.form(&Choice::Refuse { id: one },
                &html! { button.lesser aria-describedby=(title) { "Refuse" } }))
            @if let Heard::Draft(draft) = heard { div.typed { (self.correct(draft)) } }
        }
    }

    fn correct(&self, draft: &Draft) -> Markup {
        let choice = Choice::Correct {
            id: draft.id.clone(),
            about: draft.about.clone(),
            field: draft.field.clone(),
            value: Value::Null,
        };
        let what = words::field(&draft.field);
        let label = format!("{} {what}, corrected", words::place(&draft.about));
        let inner = html! { (input(&draft.field, Some(&label), "value")) button { "Correct" } };
        self.form(&choice, &inner)
    }

    /// Accept or refuse an entry where it stands, for someone who may and only while it waits.
    pub(in crate::page) fn decide(&self, heard: Heard<'a>) -> Markup {
        let id = format!("one-{}", words::slug(heard.id()));
        html! {
            @if self.may_settle() && unsettled(heard.origin()) && !heard.id().is_empty() {
                div.answers { span.unseen id={ (id) "-t" } { (heard.says()) }
                    (self.answers(&heard, &id)) }
            }
        }
    }

    /// The entries of one unit that nothing speaks against: tick off what is right.
    pub(super) fn batch(&self, about: &str, all: &[Heard<'a>], id: &str) -> Markup {
        let fields = [("choice", "confirm".to_owned())];
        let n = all.len();
        let inner = html! {
            ul.heard { @for heard in all { li {
                label { input type="checkbox" name="ids" value=(heard.id()) checked;
                    span { (words::sentence(&heard.says()))
                        @if let Heard::Draft(draft) = heard {
                            ": " b { (words::with_unit(&draft.field, &draft.value)) }
                        } } }
                (self.words_of(heard.origin()))
            } } }
            button aria-describedby={ (id) "-t" } { "Accept what is ticked" }
        };
        html! {
            h3 id={ (id) "-t" } {
                (self.link(about)) " \u{b7} " (n) @if n == 1 { " entry" } @else { " entries" }
                " heard, and nothing speaks against " @if n == 1 { "it" } @else { "them" }
            }
            p.quiet { "Untick what is wrong; correct or refuse it at " (self.link(about)) "." }
            (self.few_photos(about))
            (self.form_of(&fields, &inner))
        }
    }

    /// The first photos of a unit, to decide by.
    pub(super) fn few_photos(&self, about: &str) -> Markup {
        let photos = self.photos(about);
        self.strip(photos.get(..3).unwrap_or(photos))
    }
}

/// An input for one value of a field; `label` unless a label is around it.
pub(in crate::page) fn input(field: &str, label: Option<&str>, name: &str) -> Markup {
    let sort = Sort::of(field);
    html! {
        @if sort == Sort::YesOrNo {
            select name=(name) aria-label=[label] {
                option value="" { "yes or no?" }
                option { "yes" }
                option { "no" }
            }
        } @else {
            input name=(name) aria-label=[label] autocomplete="off"
                inputmode=[(sort == Sort::Number).then_some("decimal")]
                placeholder=[sort.example()];
        }
    }
}
