//! One photo large, or two side by side: turned, captioned, given a subject.

use super::evidence::{caption, kind, turned};
use super::forms::Choice;
use super::view::Session;
use super::{layout, words};
use maud::{Markup, html};
use scupper_core::survey::{Photo, SITE, Survey};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// What the page of a photo is made from.
#[derive(Debug, Clone, Copy)]
pub struct PictureView<'a> {
    /// Who is looking.
    pub session: Session<'a>,
    /// The survey.
    pub survey: &'a Survey,
    /// Its photos in the order of the grid.
    pub photos: &'a [&'a Photo],
    /// Which of them.
    pub at: usize,
    /// The one to see beside it.
    pub beside: Option<&'a Photo>,
    /// Hashes of the photos whose bytes are here.
    pub arrived: &'a BTreeSet<String>,
    /// Of these the ones without a thumbnail.
    pub bare: &'a BTreeSet<String>,
    /// Names of the people by author id.
    pub people: &'a BTreeMap<String, String>,
}

/// The photos of a survey in the order of the grid: those of nobody knows what first.
pub fn in_order(survey: &Survey) -> Vec<&Photo> {
    let standing = survey.photos.iter();
    let mut photos: Vec<&Photo> = standing.filter(|p| p.withdrawn_by.is_none()).collect();
    photos.sort_by_key(|photo| photo.about.is_some());
    photos
}

/// The page; none if there is no such photo.
pub fn picture(view: &PictureView<'_>) -> Option<Markup> {
    let photo = *view.photos.get(view.at)?;
    let base = format!("/surveys/{}", words::query(&view.survey.survey_id));
    let to = |photo: &Photo| format!("{base}/photos/{}", words::query(&photo.id));
    let before = view.at.checked_sub(1).and_then(|at| view.photos.get(at));
    let after = view.photos.get(view.at + 1);
    let body = html! {
        nav.around aria-label="Photos" {
            a href={ (base) "?all=photos#photos" } { "All photos" }
            @if let Some(photo) = before { a rel="prev" href=(to(photo)) { "\u{2190} Before" } }
            span { (view.at + 1) " of " (view.photos.len()) }
            @if let Some(photo) = after { a rel="next" href=(to(photo)) { "Next \u{2192}" } }
        }
        h1 { (caption(photo)) }
        div.large.two[view.beside.is_some()] {
            (one(view, &base, photo))
            @if let Some(other) = view.beside { (one(view, &base, other)) }
        }
        (compare(view, &to(photo), photo))
    };
    Some(layout::frame(&caption(photo), Some(view.session), body))
}

fn one(view: &PictureView<'_>, base: &str, photo: &Photo) -> Markup {
    let source = format!("/v1/photos/{}", words::query(&photo.hash));
    // Browsers do not show every kind of file that a phone takes; the thumbnail is always a JPEG.
    let strange = matches!(
        photo.media_type.as_str(),
        "image/heic" | "image/heif" | "image/tiff"
    );
    let shown = match strange {
        true => format!("{source}/thumbnail"),
        false => source.clone(),
    };
    let unseen = strange && view.bare.contains(&photo.hash);
    html! {
        figure.whole {
            @if unseen {
                p.absent { (kind(photo)) " photo: no browser shows it. Open the file as taken with a \
                            program of your own." }
            } @else if view.arrived.contains(&photo.hash) {
                div.frame.(turned(photo).unwrap_or("turn-0")) { img src=(shown) alt=(caption(photo)); }
            } @else {
                p.absent { "Still on a device. It comes in by itself when that has a signal." }
            }
            figcaption {
                p { (subject(base, photo)) " "
                    @if let Some(author) = &photo.author {
                        "by " (view.people.get(author).unwrap_or(author)) }
                    @if let Some(at) = &photo.taken_at { ", " (words::moment(at)) }
                    @if view.arrived.contains(&photo.hash) { ". " a href=(source) { "The file as taken" } }
                }
                (forms(view, base, photo))
            }
        }
    }
}

fn subject(base: &str, photo: &Photo) -> Markup {
    html! {
        @match &photo.about {
            Some(about) => { a href={ (base) "?unit=" (words::query(about)) "#unit" } { (words::place(about)) } }
            None => { span.sign.unknown { "of what?" } }
        }
    }
}

fn forms(view: &PictureView<'_>, base: &str, photo: &Photo) -> Markup {
    let Some(csrf) = view.session.csrf.filter(|_| !photo.id.is_empty()) else {
        return html! {};
    };
    let here = view
        .photos
        .get(view.at)
        .map_or("", |photo| photo.id.as_str());
    let mut back = format!("/photos/{}", words::query(here));
    if let Some(other) = view.beside {
        back.push_str(&format!("?beside={}", words::query(&other.id)));
    }
    let form = |fields: Vec<(&'static str, String)>, inner: Markup| {
        html! {
            form.line method="post" action={ (base) "/settle" } {
                input type="hidden" name="csrf" value=(csrf);
                input type="hidden" name="back" value=(back);
                @for (key, value) in fields { input type="hidden" name=(key) value=(value); }
                (inner)
            }
        }
    };
    let typed = |field: &str| {
        vec![
            ("choice", "set".to_owned()),
            ("about", photo.id.clone()),
            ("field", field.to_owned()),
        ]
    };
    let turn = |by: u16| {
        let turned = (photo.turned_deg.unwrap_or(0) + by) % 360;
        let set = Choice::Set {
            about: photo.id.clone(),
            field: "turned_deg".to_owned(),
            value: if turned == 0 {
                Value::Null
            } else {
                Value::from(turned)
            },
        };
        set.fields()
    };
    let id = words::slug(&photo.id);
    html! {
        div.tools {
            (form(turn(270), html! { button.lesser { "\u{21ba} Turn left" } }))
            (form(turn(90), html! { button.lesser { "\u{21bb} Turn right" } }))
        }
        (form(typed("caption"), html! {
            label for={ "caption-" (id) } { "Caption" }
            input id={ "caption-" (id) } name="value" required autocomplete="off"
                value=(photo.caption.as_deref().unwrap_or(""));
            button { "Keep" }
        }))
        (form(typed("ref"), html! {
            label for={ "shows-" (id) } { "It shows" }
            select id={ "shows-" (id) } name="value" {
                @if photo.about.is_none() { option value="" { "what?" } }
                option value=(SITE) selected[photo.about.as_deref() == Some(SITE)] { "Site" }
                @for unit in &view.survey.equipment {
                    option value=(unit.tag) selected[photo.about.as_ref() == Some(&unit.tag)] {
                        (unit.tag) " " (unit.kind.words()) } }
            }
            button { "Keep" }
        }))
    }
}

/// Choosing a second photo: those of the same subject first.
fn compare(view: &PictureView<'_>, here: &str, photo: &Photo) -> Markup {
    let others = view
        .photos
        .iter()
        .copied()
        .filter(|other| other.id != photo.id);
    let (near, far): (Vec<_>, Vec<_>) = others.partition(|other| other.about == photo.about);
    let option = |other: &Photo| {
        html! {
        option value=(other.id) selected[view.beside.is_some_and(|b| b.id == other.id)] {
            (words::place(other.about.as_deref().unwrap_or("of what?"))) ": " (caption(other)) } }
    };
    html! {
        @if !(near.is_empty() && far.is_empty()) {
            form.line method="get" action=(here) {
                label for="beside" { "See beside it" }
                select id="beside" name="beside" {
                    @for other in &near { (option(other)) }
                    @for other in &far { (option(other)) }
                }
                button { "Compare" }
                @if view.beside.is_some() { a href=(here) { "This one alone" } }
            }
        }
    }
}
