//! One survey laid out for drawing: the view, and indexes over it so that no part of the page
//! searches the whole survey once a unit.

use super::forms::Choice;
use super::view::{Part, SurveyView};
use super::words;
use maud::{Markup, html};
use scupper_core::assess::{Check, HazardEntry, Missing};
use scupper_core::survey::{Draft, Equipment, Finding, Note, Origin, Photo, SITE};
use serde_json::Value;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

/// A survey's page in the making.
pub(super) struct Sheet<'a> {
    pub(super) view: &'a SurveyView<'a>,
    /// Address of the survey's page, escaped for use in a URL.
    pub(super) base: String,
    notes: BTreeMap<&'a str, &'a Note>,
    photos: BTreeMap<&'a str, Vec<&'a Photo>>,
    checks: BTreeMap<&'a str, Vec<&'a Check>>,
    findings: BTreeMap<&'a str, Vec<&'a Finding>>,
    hazards: BTreeMap<&'a str, Vec<&'a HazardEntry>>,
    drafts: BTreeMap<&'a str, Vec<&'a Draft>>,
    missing: BTreeMap<&'a str, Vec<&'a Missing>>,
    /// Element ids of the units, in the order of the survey.
    anchors: Vec<String>,
    first_of_tag: BTreeMap<&'a str, usize>,
    /// The site and units with all their fields by name, as far as they were asked for.
    whole: RefCell<BTreeMap<String, Rc<Value>>>,
}

fn group<'a, T>(
    items: impl IntoIterator<Item = &'a T>,
    key: impl Fn(&'a T) -> Option<&'a str>,
) -> BTreeMap<&'a str, Vec<&'a T>> {
    let mut groups: BTreeMap<&str, Vec<&T>> = BTreeMap::new();
    for item in items {
        if let Some(key) = key(item) {
            groups.entry(key).or_default().push(item);
        }
    }
    groups
}

/// Whether an entry still counts.
pub(super) fn stands(origin: &Origin) -> bool {
    origin.withdrawn_by.is_none()
}

/// Whether an entry was dictated and nobody has confirmed or refused it.
pub(super) fn unsettled(origin: &Origin) -> bool {
    stands(origin) && origin.confirmed_by.is_empty() && origin.evidence.is_some()
}

impl<'a> Sheet<'a> {
    pub(super) fn new(view: &'a SurveyView<'a>) -> Self {
        let (survey, found) = (view.survey, view.assessment);
        let mut anchors = Vec::new();
        let mut taken: BTreeMap<String, usize> = BTreeMap::new();
        let mut first_of_tag = BTreeMap::new();
        for (i, unit) in survey.equipment.iter().enumerate() {
            let slug = words::slug(&unit.tag);
            let times = taken.entry(slug.clone()).or_insert(0);
            *times += 1;
            // A double underscore cannot come from a slug, so no two units share an anchor.
            anchors.push(if *times == 1 {
                format!("unit-{slug}")
            } else {
                format!("unit-{slug}__{times}")
            });
            first_of_tag.entry(unit.tag.as_str()).or_insert(i);
        }
        let photos = survey.photos.iter().filter(|p| p.withdrawn_by.is_none());
        Self {
            view,
            base: format!("/surveys/{}", words::query(&survey.survey_id)),
            notes: survey.notes.iter().map(|n| (n.id.as_str(), n)).collect(),
            photos: group(photos, |p| p.about.as_deref()),
            checks: group(&found.checks, |c| Some(c.about.as_str())),
            findings: group(found.findings.iter().filter(|f| stands(&f.origin)), |f| {
                Some(f.about.as_str())
            }),
            hazards: group(&found.hazards, |h| h.about.as_deref()),
            drafts: group(survey.drafts.iter().filter(|d| stands(&d.origin)), |d| {
                Some(d.about.as_str())
            }),
            missing: group(&found.missing, |m| Some(m.about.as_str())),
            anchors,
            first_of_tag,
            whole: RefCell::default(),
        }
    }

    /// All fields of a unit, by tag or id, or of the site.
    pub(super) fn whole(&self, about: &str) -> Option<Rc<Value>> {
        if let Some(made) = self.whole.borrow().get(about) {
            return Some(Rc::clone(made));
        }
        let made = match about {
            SITE => serde_json::to_value(&self.view.survey.site),
            _ => serde_json::to_value(self.unit(about)?),
        };
        let made = Rc::new(made.ok()?);
        let mut all = self.whole.borrow_mut();
        all.insert(about.to_owned(), Rc::clone(&made));
        Some(made)
    }

    pub(super) fn photos(&self, about: &str) -> &[&'a Photo] {
        self.photos.get(about).map_or(&[], Vec::as_slice)
    }

    pub(super) fn checks(&self, about: &str) -> &[&'a Check] {
        self.checks.get(about).map_or(&[], Vec::as_slice)
    }

    pub(super) fn findings(&self, about: &str) -> &[&'a Finding] {
        self.findings.get(about).map_or(&[], Vec::as_slice)
    }

    pub(super) fn hazards(&self, about: &str) -> &[&'a HazardEntry] {
        self.hazards.get(about).map_or(&[], Vec::as_slice)
    }

    /// Dictated values that still count, about one unit or the site.
    pub(super) fn drafts(&self, about: &str) -> &[&'a Draft] {
        self.drafts.get(about).map_or(&[], Vec::as_slice)
    }

    pub(super) fn missing(&self, about: &str) -> &[&'a Missing] {
        self.missing.get(about).map_or(&[], Vec::as_slice)
    }

    /// What something is about, whether it is given by tag, by id or as the site.
    pub(super) fn unit(&self, about: &str) -> Option<&'a Equipment> {
        match self.first_of_tag.get(about) {
            Some(&first) => self.view.survey.equipment.get(first),
            None => self.view.survey.unit(about),
        }
    }

    /// Element id of the n-th unit's row in the register.
    pub(super) fn anchor(&self, n: usize) -> &str {
        self.anchors.get(n).map_or("", String::as_str)
    }

    /// Address that lays a unit open beside the plan, from the survey's own page.
    pub(super) fn unit_href(&self, unit: &Equipment) -> String {
        let doubled = self
            .unit(&unit.tag)
            .is_some_and(|first| !std::ptr::eq(first, unit));
        let by = if doubled { &unit.id } else { &unit.tag };
        format!("?unit={}#unit", words::query(by))
    }

    /// A tag that leads to its unit.
    pub(super) fn link(&self, about: &str) -> Markup {
        html! {
            @if about == SITE { a href="?unit=site#unit" { "Site" } }
            @else if let Some(unit) = self.unit(about) {
                a.tag href=(self.unit_href(unit)) { (unit.tag) }
            } @else { (about) }
        }
    }

    /// Who an author is.
    pub(super) fn name<'s>(&'s self, author: &'s str) -> &'s str {
        self.view.people.get(author).map_or(author, String::as_str)
    }

    /// Who entered something and when.
    pub(super) fn by(&self, origin: &Origin) -> Markup {
        html! {
            @match &origin.author {
                Some(author) => { (self.name(author)) }
                None => { "author not recorded" }
            }
            @if let Some(at) = &origin.at { ", " (words::hour(at)) }
        }
    }

    /// The note that an entry was heard in.
    pub(super) fn note(&self, id: &str) -> Option<&'a Note> {
        self.notes.get(id).copied()
    }

    /// A form that posts a choice. `inner` holds its inputs and its button.
    pub(super) fn form(&self, choice: &Choice, inner: &Markup) -> Markup {
        self.form_of(&choice.fields(), inner)
    }

    /// Whether the reader may settle anything.
    pub(super) fn may_settle(&self) -> bool {
        self.view.session.csrf.is_some()
    }

    /// A form that posts these fields with what `inner` asks for.
    pub(super) fn form_of(&self, fields: &[(&'static str, String)], inner: &Markup) -> Markup {
        let Some(csrf) = self.view.session.csrf else {
            return html! {};
        };
        html! {
            form method="post" action={ (self.base) "/settle" } {
                input type="hidden" name="csrf" value=(csrf);
                @for (name, value) in fields { input type="hidden" name=(name) value=(value); }
                (inner)
            }
        }
    }

    /// Whether a part is wanted here at all, and how many of its entries.
    pub(super) fn room(&self, part: Part, usual: usize) -> Option<usize> {
        match self.view.asked.all {
            None => Some(usual),
            Some(asked) if asked == part => Some(usize::MAX),
            Some(_) => None,
        }
    }

    /// Leads to the rest of a list that was cut short.
    pub(super) fn rest(&self, part: Part, shown: usize, all: usize) -> Markup {
        html! {
            @if all > shown {
                p.rest {
                    "The first " (shown) " of " (all) ". "
                    a href={ "?all=" (part.word()) "#" (part.word()) } { "Show all " (all) }
                }
            }
        }
    }
}
