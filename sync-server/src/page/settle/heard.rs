//! Dictated entries: the value, the words it came from, and accept, correct or refuse.

use crate::page::forms::{Choice, Sort};
use crate::page::sheet::Sheet;
use crate::page::words;
use maud::{Markup, html};
use scupper_core::survey::{Draft, Finding, Hazard, Origin, SITE};
use scupper_core::trade::Verdict;
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
    fn says(&self) -> String {
        match self {
            Self::Draft(draft) => words::field(&draft.field),
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
        }
        why
    }

    /// Checks that fail with the very number that was heard: it may be the roof that is wrong, or
    /// the ear.
    fn contradictions(&self, draft: &'a Draft) -> Vec<String> {
        let Some(heard) = draft.value.as_f64() else {
            return Vec::new();
        };
        let unit = words::field(&draft.field);
        let alike = |value: f64, of: &str| {
            (value - heard).abs() < 1e-9 && unit.ends_with(&format!("({of})"))
        };
        let failed = self.checks(&draft.about).iter().filter(|check| {
            let measured = check.measured.as_ref();
            let asked = check.required.as_ref();
            check.verdict == Verdict::Fail
                && (measured.is_some_and(|m| alike(m.value, &m.unit))
                    || asked.is_some_and(|r| {
                        let bounds = [r.at_least, r.at_most, r.more_than, r.less_than];
                        bounds.iter().flatten().any(|bound| alike(*bound, &r.unit))
                    }))
        });
        failed
            .map(|check| {
                format!(
                    "{}: {}",
                    words::sentence(&check.rule.replace('-', " ")),
                    check.because
                )
            })
            .collect()
    }

    /// One entry with a reason to look twice.
    pub(super) fn doubt(&self, heard: &Heard<'a>, why: &[String], id: &str) -> Markup {
        let origin = heard.origin();
        html! {
            h3 id={ (id) "-t" } { (self.link(heard.about())) " \u{b7} " (heard.says()) }
            div.ask {
                div {
                    @if let Heard::Draft(draft) = heard {
                        p { "Heard: " b.value { (words::with_unit(&draft.field, &draft.value)) } (self.now(draft)) }
                    }
                    (self.words_of(origin))
                    ul.why { @for reason in why { li { (reason) } } }
                }
                div.answers { (self.answers(heard, id)) }
            }
            (self.strip(self.photos(heard.about()).get(..4).unwrap_or(self.photos(heard.about()))))
        }
    }

    /// What the survey says now, where that is something else.
    fn now(&self, draft: &Draft) -> Markup {
        let now = self.current(&draft.about, &draft.field);
        html! {
            @match now {
                Some(now) if now != draft.value => {
                    ". The survey says now: " b { (words::with_unit(&draft.field, &now)) }
                }
                _ => {}
            }
        }
    }

    /// The value of a unit's field as the survey has it.
    pub(in crate::page) fn current(&self, about: &str, field: &str) -> Option<Value> {
        let whole = if about == SITE {
            serde_json::to_value(&self.view.survey.site).ok()?
        } else {
            serde_json::to_value(self.unit(about)?).ok()?
        };
        let field = if about == SITE {
            field.strip_prefix("site.").unwrap_or(field)
        } else {
            field
        };
        whole
            .pointer(&format!("/{}", field.replace('.', "/")))
            .cloned()
    }

    /// Accept, correct, refuse.
    fn answers(&self, heard: &Heard<'a>, id: &str) -> Markup {
        let one = heard.id().to_owned();
        let accept = match heard {
            Heard::Draft(draft) => {
                format!("Accept {}", words::with_unit(&draft.field, &draft.value))
            }
            _ => "Accept".to_owned(),
        };
        html! {
            (self.form(&Choice::Confirm { ids: vec![one.clone()] },
                &html! { button aria-describedby={ (id) "-t" } { (accept) } }))
            @if let Heard::Draft(draft) = heard { (self.correct(draft)) }
            (self.form(&Choice::Refuse { id: one },
                &html! { button.lesser aria-describedby={ (id) "-t" } { "Refuse" } }))
        }
    }

    fn correct(&self, draft: &Draft) -> Markup {
        let choice = Choice::Correct {
            id: draft.id.clone(),
            about: draft.about.clone(),
            field: draft.field.clone(),
            value: Value::Null,
        };
        let label = format!(
            "{} {}, corrected",
            words::place(&draft.about),
            words::field(&draft.field)
        );
        let inner = html! {
            (input(&draft.field, &label, "value", None))
            button { "Correct" }
        };
        html! { div.typed { (self.form(&choice, &inner)) } }
    }

    /// The entries of one unit that nothing speaks against, to accept in one go or one by one.
    pub(super) fn batch(&self, about: &str, all: &[Heard<'a>], id: &str) -> Markup {
        let ids = all.iter().map(|heard| heard.id().to_owned()).collect();
        html! {
            h3 id={ (id) "-t" } {
                (self.link(about)) " \u{b7} " (words::count(all.len(), "entry")
                    .replace("entrys", "entries")) " heard, nothing speaks against them"
            }
            div.answers.all {
                (self.form(&Choice::Confirm { ids },
                    &html! { button aria-describedby={ (id) "-t" } {
                        @if all.len() == 1 { "Accept" } @else { "Accept all " (all.len()) } } }))
            }
            ul.heard { @for heard in all { (self.one(heard, id)) } }
        }
    }

    fn one(&self, heard: &Heard<'a>, id: &str) -> Markup {
        html! {
            li {
                p {
                    (words::sentence(&heard.says()))
                    @if let Heard::Draft(draft) = heard {
                        ": " b.value { (words::with_unit(&draft.field, &draft.value)) } (self.now(draft))
                    }
                }
                (self.words_of(heard.origin()))
                details { summary { "Decide this one" }
                    div.answers { (self.answers(heard, id)) } }
            }
        }
    }
}

/// A labelled input that takes one value of a field.
pub(in crate::page) fn input(field: &str, label: &str, name: &str, hint: Option<&str>) -> Markup {
    let sort = Sort::of(field);
    html! {
        @if sort == Sort::YesOrNo {
            select name=(name) aria-label=(label) {
                option value="" { "yes or no?" }
                option { "yes" }
                option { "no" }
            }
        } @else {
            input name=(name) aria-label=(label) autocomplete="off"
                inputmode=[(sort == Sort::Number).then_some("decimal")]
                placeholder=[sort.example()] title=[hint];
        }
    }
}
