//! What waits for a person, as one queue: values that contradict, units entered twice, dictated
//! entries that nobody stands behind yet, photos of nobody knows what, and gaps.
//!
//! Every item carries what is needed to decide and the forms that decide it. An item goes away by
//! being settled, so the first one is always the next one.

mod gaps;
mod heard;
mod odd;
mod twice;

pub(super) use heard::{Heard, input};
pub(super) use twice::flat;

use super::forms::Choice;
use super::sheet::{Sheet, stands, unsettled};
use super::view::{Part, SurveyView};
use super::words;
use crate::accounts::Settled;
use maud::{Markup, html};
use scupper_core::assess::{Missing, OddValue};
use scupper_core::document::{Conflict, SameUnitOffer};
use scupper_core::survey::{Photo, SITE};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// How many items the page shows before the others wait behind a link.
const SHOWN: usize = 6;

/// Something to settle.
pub(super) enum Item<'a> {
    /// One field, several values.
    Contested(&'a Conflict),
    /// Two units that may be one.
    Same(&'a SameUnitOffer),
    /// A dictated entry with a reason to look twice.
    Doubt(Heard<'a>, Vec<String>),
    /// Values that are hard to believe.
    Odd(&'a OddValue),
    /// Dictated entries of one unit without such a reason.
    Heard(&'a str, Vec<Heard<'a>>),
    /// A photo without a subject.
    Photo(&'a Photo),
    /// What one unit lacks.
    Gaps(&'a str, Vec<&'a Missing>),
}

impl Item<'_> {
    /// Element id; the same as long as the item waits.
    fn id(&self) -> String {
        let slug = words::slug;
        match self {
            Self::Contested(c) => format!("settle-c-{}-{}", slug(&c.about), slug(&c.field)),
            Self::Same(same) => format!("settle-s-{}-{}", slug(&same.keep), slug(&same.other)),
            Self::Doubt(heard, _) => format!("settle-d-{}", slug(heard.id())),
            Self::Odd(odd) => {
                let fields = slug(&odd.fields.join("-"));
                format!("settle-o-{}-{fields}", slug(&odd.about))
            }
            Self::Heard(about, _) => format!("settle-h-{}", slug(about)),
            Self::Photo(photo) => format!("settle-p-{}", slug(&photo.id)),
            Self::Gaps(about, _) => format!("settle-m-{}", slug(about)),
        }
    }

    /// Tag or id that the item is about, where it is about one.
    fn about(&self) -> Option<&str> {
        match self {
            Self::Contested(c) => Some(&c.about),
            Self::Same(same) => Some(&same.keep),
            Self::Doubt(heard, _) => Some(heard.about()),
            Self::Odd(odd) => Some(&odd.about),
            Self::Heard(about, _) | Self::Gaps(about, _) => Some(about),
            Self::Photo(_) => None,
        }
    }
}

/// How much waits for a person, by what is asked.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Waits {
    /// Fields with several values, and units that may be one.
    pub twice: usize,
    /// Values that someone should look at twice.
    pub doubts: usize,
    /// Units with dictated entries that nobody stands behind yet.
    pub heard: usize,
    /// Photos of nobody knows what.
    pub photos: usize,
    /// Units with fields to fetch.
    pub gaps: usize,
}

impl Waits {
    /// All of it.
    pub const fn all(&self) -> usize {
        self.twice + self.doubts + self.heard + self.photos + self.gaps
    }
}

/// How much of a survey waits for a person: what the queue on its page would hold.
pub fn waits(view: &SurveyView<'_>) -> Waits {
    let mut waits = Waits::default();
    for item in Sheet::new(view).to_settle() {
        *match item {
            Item::Contested(_) | Item::Same(_) => &mut waits.twice,
            Item::Doubt(..) | Item::Odd(_) => &mut waits.doubts,
            Item::Heard(..) => &mut waits.heard,
            Item::Photo(_) => &mut waits.photos,
            Item::Gaps(..) => &mut waits.gaps,
        } += 1;
    }
    waits
}

impl<'a> Sheet<'a> {
    /// Everything that waits, what a wrong value could cost most coming first.
    pub(super) fn to_settle(&self) -> Vec<Item<'a>> {
        let view = self.view;
        let mut items: Vec<Item<'a>> = Vec::new();
        items.extend(view.contested.iter().map(Item::Contested));
        items.extend(view.offers.iter().map(Item::Same));
        let mut plain: BTreeMap<(usize, &'a str), Vec<Heard<'a>>> = BTreeMap::new();
        let asked = |heard: &Heard<'a>| !self.is_contested(heard) && !self.overtaken(heard);
        for heard in self.all_heard().filter(asked) {
            let why = self.doubts(&heard);
            if why.is_empty() {
                let about = heard.about();
                plain
                    .entry((self.order(about), about))
                    .or_default()
                    .push(heard);
            } else {
                items.push(Item::Doubt(heard, why));
            }
        }
        items.extend(view.odd.iter().filter(|odd| self.asks(odd)).map(Item::Odd));
        let photos = view.survey.photos.iter();
        items.extend(
            photos
                .filter(|p| p.about.is_none() && p.withdrawn_by.is_none())
                .map(Item::Photo),
        );
        items.extend(
            plain
                .into_iter()
                .map(|((_, about), all)| Item::Heard(about, all)),
        );
        let left = view.survey.follow_ups.iter();
        let left: BTreeSet<(&str, &str)> = left
            .filter(|later| stands(&later.origin))
            .map(|later| (later.about.as_str(), later.what.as_str()))
            .collect();
        let later = |gap: &Missing| left.contains(&(gap.about.as_str(), gap.field.as_str()));
        let mut gaps: BTreeMap<(usize, &'a str), Vec<&'a Missing>> = BTreeMap::new();
        for gap in view.assessment.missing.iter().filter(|gap| !later(gap)) {
            let about = gap.about.as_str();
            let listed = gaps.entry((self.order(about), about)).or_default();
            // One field may be missing for several checks; it is asked for once.
            if !listed.iter().any(|other| other.field == gap.field) {
                listed.push(gap);
            }
        }
        items.extend(
            gaps.into_iter()
                .map(|((_, about), all)| Item::Gaps(about, all)),
        );
        items
    }

    /// Whether the entry is one of several values that are asked about as such.
    fn is_contested(&self, heard: &Heard<'a>) -> bool {
        let Heard::Draft(draft) = heard else {
            return false;
        };
        let field = draft.field.trim_start_matches("site.");
        let same = |contested: &Conflict| {
            contested.field.trim_start_matches("site.") == field
                && (contested.about == draft.about || contested.entry == draft.about)
        };
        self.view.contested.iter().any(same)
    }

    fn all_heard(&self) -> impl Iterator<Item = Heard<'a>> + use<'a> {
        let survey = self.view.survey;
        let drafts = survey.drafts.iter().map(Heard::Draft);
        let findings = survey.findings.iter().map(Heard::Finding);
        let hazards = survey.hazards.iter().map(Heard::Hazard);
        drafts
            .chain(findings)
            .chain(hazards)
            .filter(|heard| unsettled(heard.origin()) && !heard.id().is_empty())
    }

    /// Where a unit stands in the survey; the site comes first, a stranger last.
    fn order(&self, about: &str) -> usize {
        let units = &self.view.survey.equipment;
        match self.unit(about) {
            _ if about == SITE => 0,
            Some(unit) => units
                .iter()
                .position(|other| std::ptr::eq(other, unit))
                .map_or(usize::MAX, |i| i + 1),
            None => usize::MAX,
        }
    }

    /// The queue.
    pub(super) fn settle_part(&self, items: &[Item<'a>]) -> Markup {
        let Some(room) = self.room(Part::Settle, SHOWN).filter(|_| self.may_settle()) else {
            return html! {};
        };
        html! {
            section id="settle" data-part aria-labelledby="settle-t" {
                h2 id="settle-t" tabindex="-1" {
                    "To settle" @if !items.is_empty() { " (" (items.len()) ")" }
                }
                (self.settled())
                @if items.is_empty() {
                    p { "Nothing waits for you. What comes in from the roof appears here." }
                    @if !self.view.papers.is_empty() && self.view.asked.all.is_none() {
                        p { a href="#papers" { "On to the papers" } }
                    }
                } @else {
                    p.quiet.small.keys hidden {
                        "With the focus in this list: " kbd { "n" } " next, " kbd { "p" }
                        " previous, " kbd { "1" } " to " kbd { "9" } " press that button."
                    }
                    (self.tags())
                    ol.slips { @for item in items.iter().take(room) { (self.slip(item)) } }
                    (self.rest(Part::Settle, room, items.len()))
                }
            }
        }
    }

    /// What was settled last, with the way back.
    fn settled(&self) -> Markup {
        let mut all = self.view.settled.iter();
        html! {
            @if let Some(last) = all.next() {
                div.done id="done" tabindex="-1" { (self.settled_line(last)) }
                @if all.len() > 0 {
                    details id="earlier" { summary { "Settled before that" }
                        @for one in all { div.done.earlier { (self.settled_line(one)) } } }
                }
            }
        }
    }

    fn settled_line(&self, one: &Settled) -> Markup {
        html! {
            p { (words::sentence(&one.said)) span.quiet { ", settled by " (self.name(&one.who)) }
                @if one.undone { " " b { "(taken back)" } } }
            @if one.undoable && !one.undone {
                (self.form(&Choice::Undo { seq: one.seq }, &html! { button { "Undo"
                    span.unseen { ": " (one.said) } } }))
            }
        }
    }

    /// What waits about one unit, for its panel.
    pub(super) fn waiting_for<'i>(&self, items: &'i [Item<'a>], about: &str) -> Vec<&'i Item<'a>> {
        let unit = self
            .unit(about)
            .filter(|_| self.may_settle())
            .map(std::ptr::from_ref);
        let same = |item: &&Item<'a>| {
            let other = item.about().and_then(|about| self.unit(about));
            unit.is_some() && other.map(std::ptr::from_ref) == unit
        };
        items.iter().filter(same).collect()
    }

    /// Leads to an item of the queue.
    pub(super) fn slip_link(&self, item: &Item<'a>) -> Markup {
        let field = match item {
            Item::Contested(contested) => Some(words::field(&contested.field)),
            Item::Doubt(heard, _) => Some(heard.says()),
            Item::Odd(odd) => odd.fields.first().map(|field| words::field(field)),
            _ => None,
        };
        html! {
            a href={ "?all=settle#" (item.id()) } {
                (kind(item)) @if let Some(field) = field { " " (field) }
            }
        }
    }

    fn slip(&self, item: &Item<'a>) -> Markup {
        let id = item.id();
        let unit = item.about().and_then(|about| self.unit(about));
        html! {
            li.slip id=(id) tabindex="-1" aria-labelledby={ (id) "-t" }
                data-about=[unit.map(|unit| &unit.tag)] {
                p.kind { (kind(item)) }
                @match item {
                    Item::Contested(contested) => { (self.contested(contested, &id)) }
                    Item::Same(same) => { (self.same(same, &id)) }
                    Item::Doubt(heard, why) => { (self.doubt(heard, why, &id)) }
                    Item::Odd(odd) => { (self.odd(odd, &id)) }
                    Item::Heard(about, all) => { (self.batch(about, all, &id)) }
                    Item::Photo(photo) => { (self.subject(photo, &id)) }
                    Item::Gaps(about, all) => { (self.gaps(about, all, &id)) }
                }
            }
        }
    }
}

/// What an item asks, in a few words.
fn kind(item: &Item<'_>) -> &'static str {
    match item {
        Item::Contested(_) => "Which value?",
        Item::Same(_) => "Same unit?",
        Item::Doubt(..) => "Heard right?",
        Item::Odd(_) => "Can this be?",
        Item::Heard(..) => "Stand behind these?",
        Item::Photo(_) => "Photo of what?",
        Item::Gaps(..) => "Not recorded",
    }
}
