//! What waits for a person: values two people gave differently, units entered twice, words that
//! nobody confirmed. Each button is one edit in the document under the reviewer's name.

use super::evidence::Witness;
use super::forms::Forms;
use crate::accounts::Settled;
use crate::words;
use maud::{Markup, html};
use scupper_core::document::{Candidate, Conflict, Means, SameUnitOffer};
use scupper_core::survey::spoken::Evidence;
use scupper_core::survey::{Draft, Origin, Survey};
use std::collections::BTreeMap;

/// All that waits, gathered once for counting and showing.
#[derive(Debug, Default)]
pub(super) struct Waiting<'a> {
    conflicts: &'a [Conflict],
    offers: &'a [SameUnitOffer],
    doubtful: Vec<Heard<'a>>,
    plain: BTreeMap<&'a str, Vec<Heard<'a>>>,
    photos: usize,
}

/// Something dictated that nobody stands behind yet.
#[derive(Debug, Clone)]
struct Heard<'a> {
    id: &'a str,
    about: &'a str,
    what: String,
    /// A field's path when it is a value, which can then be typed anew.
    field: Option<&'a str>,
    origin: &'a Origin,
}

impl<'a> Waiting<'a> {
    /// Goes through a survey for what waits.
    pub(super) fn of(
        survey: &'a Survey,
        conflicts: &'a [Conflict],
        offers: &'a [SameUnitOffer],
    ) -> Self {
        let mut waiting = Self {
            conflicts,
            offers,
            ..Self::default()
        };
        let drafts = survey.drafts.iter().map(draft);
        let findings = survey.findings.iter().map(|f| Heard {
            id: &f.id,
            about: &f.about,
            what: format!("{} {}", f.component.words(), f.condition.words()),
            field: None,
            origin: &f.origin,
        });
        let hazards = survey.hazards.iter().map(|h| Heard {
            id: &h.id,
            about: h.about.as_deref().unwrap_or(scupper_core::survey::SITE),
            what: format!("hazard: {}", h.kind.words()),
            field: None,
            origin: &h.origin,
        });
        for heard in hazards
            .chain(drafts)
            .chain(findings)
            .filter(|heard| heard.waits())
        {
            if heard.origin.needs_confirmation.is_some() {
                waiting.doubtful.push(heard);
            } else {
                waiting.plain.entry(heard.about).or_default().push(heard);
            }
        }
        let photos = survey.photos.iter();
        waiting.photos = photos
            .filter(|p| p.about.is_none() && p.withdrawn_by.is_none())
            .count();
        waiting
    }

    /// How many questions there are; dictated values without a doubt count once a unit.
    pub(super) fn count(&self) -> usize {
        self.conflicts.len() + self.offers.len() + self.doubtful.len() + self.plain.len()
    }
}

fn draft(draft: &Draft) -> Heard<'_> {
    Heard {
        id: &draft.id,
        about: &draft.about,
        what: format!(
            "{}: {}",
            words::field(&draft.field),
            words::value(&draft.value)
        ),
        field: Some(&draft.field),
        origin: &draft.origin,
    }
}

impl Heard<'_> {
    fn waits(&self) -> bool {
        self.origin.evidence.is_some()
            && self.origin.confirmed_by.is_empty()
            && self.origin.withdrawn_by.is_none()
            && !self.id.is_empty()
    }

    fn said(&self) -> (Option<&str>, Option<&Evidence>) {
        (
            self.origin.note_id.as_deref(),
            self.origin.evidence.as_ref(),
        )
    }
}

pub(super) fn section(
    waiting: &Waiting<'_>,
    done: &[Settled],
    witness: Witness<'_>,
    forms: &Forms,
) -> Markup {
    html! {
        section id="settle" {
            h2 { "To settle: " (waiting.count()) }
            @if waiting.count() == 0 { p { "Nothing waits for a decision." } }
            @if !waiting.conflicts.is_empty() {
                h3 { "Two values, one field" }
                ul.cards { @for c in waiting.conflicts { li.card { (conflict(c, forms)) } } }
            }
            @if !waiting.offers.is_empty() {
                h3 { "One unit entered twice?" }
                ul.cards { @for o in waiting.offers { li.card { (offer(o, witness, forms)) } } }
            }
            @if !waiting.doubtful.is_empty() {
                h3 { "Heard, but doubtful" }
                ul.cards { @for heard in &waiting.doubtful { li.card { (doubt(heard, witness, forms)) } } }
            }
            @if !waiting.plain.is_empty() {
                h3 { "Heard, not confirmed" }
                @for (about, heard) in &waiting.plain { (unit(about, heard, witness, forms)) }
            }
            @if forms.any() && !done.is_empty() {
                h3 { "Settled last" }
                ul { @for one in done { li {
                    (one.who) ": " (one.said) " "
                    @if one.undone { span.quiet { "(taken back)" } }
                    @if one.undoable { (forms.button("undo", "Take back", &[("about", &one.seq.to_string())])) }
                } } }
            }
            @if waiting.photos > 0 {
                p { (words::count(waiting.photos, "photo")) " without a subject: see "
                    a href="#photos" { "photos" } "." }
            }
        }
    }
}

fn conflict(conflict: &Conflict, forms: &Forms) -> Markup {
    html! {
        h3 { (words::place_link(&conflict.about)) " · " (words::field(&conflict.field)) }
        @for candidate in &conflict.candidates {
            div.choice {
                div {
                    span.value { (words::value(&candidate.value)) }
                    @if candidate.current { " " span.small.quiet { "used for now" } }
                    br;
                    span.small { (by(candidate)) }
                }
                (forms.button("set", "Use this", &[
                    ("about", &conflict.about),
                    ("field", &conflict.field),
                    ("value", &candidate.value.to_string()),
                ]))
            }
        }
    }
}

fn by(candidate: &Candidate) -> String {
    let how = match candidate.means {
        Means::Typed => "typed",
        Means::Dictated => "dictated",
    };
    match &candidate.stamp {
        Some(stamp) => format!(
            "{}, {}, {how} on {}",
            stamp.author,
            words::moment(&stamp.at_server()),
            stamp.device
        ),
        None => "from the beginning of the survey".to_owned(),
    }
}

fn offer(offer: &SameUnitOffer, witness: Witness<'_>, forms: &Forms) -> Markup {
    let [one, other] = &offer.tags;
    html! {
        h3 { (one) " and " (other) }
        p { (words::sentence(&offer.because.join("; "))) "." }
        div.wide { table {
            thead { tr { th scope="col" { "" } th scope="col" { (one) } th scope="col" { (other) " (again)" } } }
            tbody { @for (what, a, b) in compare(witness.survey, offer) {
                tr { th scope="row" { (what) } td { (a) } td { (b) } }
            } }
        } }
        p {
            (forms.button("join", "One and the same", &[("about", &offer.keep), ("other", &offer.other)]))
            " "
            (forms.button("apart", "Two units", &[("about", &offer.keep), ("other", &offer.other)]))
        }
        p.small.quiet { "Joining moves nothing and can be taken back." }
    }
}

/// What the two units of an offer say, field by field.
fn compare(survey: &Survey, offer: &SameUnitOffer) -> Vec<(String, String, String)> {
    let fields = |id: &str| {
        let unit = survey.equipment.iter().find(|unit| unit.id == id);
        let json = unit
            .and_then(|unit| serde_json::to_value(unit).ok())
            .unwrap_or_default();
        let mut flat = BTreeMap::new();
        flatten("", &json, &mut flat);
        flat
    };
    let (one, other) = (fields(&offer.keep), fields(&offer.other));
    let names: std::collections::BTreeSet<&String> = one.keys().chain(other.keys()).collect();
    let shown = |side: &BTreeMap<String, String>, name: &str| {
        side.get(name).cloned().unwrap_or_else(|| "—".to_owned())
    };
    names
        .into_iter()
        .filter(|name| name.as_str() != "id")
        .map(|name| (words::field(name), shown(&one, name), shown(&other, name)))
        .collect()
}

fn flatten(path: &str, value: &serde_json::Value, into: &mut BTreeMap<String, String>) {
    match value {
        serde_json::Value::Object(map) => {
            for (key, inner) in map {
                let path = if path.is_empty() {
                    key.clone()
                } else {
                    format!("{path}.{key}")
                };
                flatten(&path, inner, into);
            }
        }
        other => {
            into.insert(path.to_owned(), words::value(other));
        }
    }
}

fn doubt(heard: &Heard<'_>, witness: Witness<'_>, forms: &Forms) -> Markup {
    let (note, evidence) = heard.said();
    html! {
        h3 { (words::place_link(heard.about)) " · " (heard.what) }
        @if let Some(why) = &heard.origin.needs_confirmation { p { (why) } }
        (witness.words(note, evidence))
        p {
            (forms.button("confirm", "Confirm", &[("about", heard.id)])) " "
            (forms.button("withdraw", "Refuse", &[("about", heard.id)]))
        }
        @if let Some(field) = heard.field { (forms.other_value(heard.about, field, heard.id)) }
    }
}

fn unit(about: &str, heard: &[Heard<'_>], witness: Witness<'_>, forms: &Forms) -> Markup {
    let ids: Vec<&str> = heard.iter().map(|h| h.id).collect();
    html! {
        details id={ "heard-" (words::slug(about)) } {
            summary { (words::place(about)) ": " (words::count(heard.len(), "entry").replace("entrys", "entries")) }
            p { (forms.button("confirm", &format!("Confirm all {}", heard.len()), &[("about", &ids.join(" "))])) }
            ul.cards { @for entry in heard {
                @let (note, evidence) = entry.said();
                li.card {
                    p { b { (entry.what) } }
                    (witness.words(note, evidence))
                    p {
                        (forms.button("confirm", "Confirm", &[("about", entry.id)])) " "
                        (forms.button("withdraw", "Refuse", &[("about", entry.id)]))
                    }
                    @if let Some(field) = entry.field { (forms.other_value(entry.about, field, entry.id)) }
                }
            } }
        }
    }
}
