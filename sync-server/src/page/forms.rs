//! Buttons that post one edit. For someone who may only read they are not drawn.

use crate::accounts::{Caller, Rights};
use crate::words;
use maud::{Markup, html};

/// Makes the forms of one survey's page.
#[derive(Debug)]
pub(super) struct Forms {
    action: String,
    form_key: Option<String>,
}

impl Forms {
    /// Forms for this caller; a reviewer's post, everyone else gets none.
    pub(super) fn of(caller: &Caller, survey: &str) -> Self {
        let form_key = match &caller.rights {
            Rights::Reviewer { form_key } => Some(form_key.clone()),
            Rights::Device(_) | Rights::Customer { .. } => None,
        };
        Self {
            action: format!("/surveys/{survey}/settle"),
            form_key,
        }
    }

    /// Whether there are any.
    pub(super) fn any(&self) -> bool {
        self.form_key.is_some()
    }

    /// One button that posts what it says.
    pub(super) fn button(&self, what: &str, label: &str, fields: &[(&str, &str)]) -> Markup {
        html! {
            @if let Some(key) = &self.form_key {
                form.inline method="post" action=(self.action) {
                    input type="hidden" name="form_key" value=(key);
                    input type="hidden" name="what" value=(what);
                    @for (name, value) in fields {
                        input type="hidden" name=(name) value=(value);
                    }
                    button { (label) }
                }
            }
        }
    }

    /// A list to choose a value of a field from.
    pub(super) fn choose(
        &self,
        about: &str,
        field: &str,
        label: &str,
        options: &[(&str, &str)],
    ) -> Markup {
        let id = format!("choose-{}", words::slug(about));
        html! {
            @if let Some(key) = &self.form_key {
                form method="post" action=(self.action) {
                    input type="hidden" name="form_key" value=(key);
                    input type="hidden" name="what" value="set";
                    input type="hidden" name="about" value=(about);
                    input type="hidden" name="field" value=(field);
                    label.small for=(id) { (label) " " }
                    select id=(id) name="value" {
                        @for (value, shown) in options { option value=(value) { (shown) } }
                    }
                    " " button { "Save" }
                }
            }
        }
    }

    /// A field to type another value than the one heard, which refuses what was heard.
    pub(super) fn other_value(&self, about: &str, field: &str, instead_of: &str) -> Markup {
        let id = format!("other-{}", words::slug(instead_of));
        html! {
            @if let Some(key) = &self.form_key {
                form method="post" action=(self.action) {
                    input type="hidden" name="form_key" value=(key);
                    input type="hidden" name="what" value="instead";
                    input type="hidden" name="about" value=(about);
                    input type="hidden" name="field" value=(field);
                    input type="hidden" name="other" value=(instead_of);
                    label.small for=(id) { "Another " (words::field(field)) " " }
                    input id=(id) name="value" required size="12" autocomplete="off";
                    " " button { "Use instead" }
                }
            }
        }
    }
}
