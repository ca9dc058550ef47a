//! Every survey of the office: which came in, from whom, how far it is, what waits.

use super::settle::Waiting;
use super::{Failure, layout};
use crate::accounts::{Caller, Rights};
use crate::api::auth::Reader;
use crate::readings::{Readings, day};
use crate::state::AppState;
use axum::extract::{Query, State};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use serde::Deserialize;
use std::collections::BTreeSet;
use std::sync::Arc;

#[derive(Debug, Default, Deserialize)]
pub(super) struct Search {
    #[serde(default)]
    find: String,
}

/// `GET /`.
pub(super) async fn show(
    State(state): State<AppState>,
    reader: Result<Reader, crate::AppError>,
    Query(search): Query<Search>,
) -> Result<Response, Failure> {
    let Reader(caller) = match reader {
        Err(crate::AppError::Unauthorized) => return Ok(Redirect::to("/sign-in").into_response()),
        other => other?,
    };
    if let Rights::Customer { survey } = &caller.rights {
        return Ok(Redirect::to(&format!("/surveys/{survey}")).into_response());
    }
    let page = state.blocking(move |office| {
        let mut rows = Vec::new();
        for id in office.survey_ids(&caller)? {
            let readings = office.readings(&caller, &id)?;
            if matches(&readings, &id, &search.find) {
                let here = office.arrived(&caller, &readings.survey)?.len();
                rows.push((id, readings, here));
            }
        }
        Ok(body(&rows, &search.find, &caller))
    });
    Ok(page.await?.into_response())
}

/// Whether every word looked for is somewhere in the survey's texts.
fn matches(readings: &Readings, id: &str, find: &str) -> bool {
    let survey = &readings.survey;
    let mut text = format!("{id} {} ", survey.site.name);
    text.extend(survey.site.address.as_deref());
    for unit in &survey.equipment {
        let plate = &unit.nameplate;
        for part in [
            Some(&unit.tag),
            plate.make.as_ref(),
            plate.model.as_ref(),
            plate.serial.as_ref(),
        ] {
            text.push(' ');
            text.extend(part.map(String::as_str));
        }
    }
    for segment in survey.notes.iter().flat_map(|note| &note.segments) {
        text.push(' ');
        text.push_str(&segment.text);
    }
    let text = text.to_lowercase();
    find.to_lowercase()
        .split_whitespace()
        .all(|word| text.contains(word))
}

fn body(rows: &[(String, Arc<Readings>, usize)], find: &str, caller: &Caller) -> Markup {
    let content = html! {
        h1 { "Surveys" }
        form method="get" action="/" role="search" {
            label for="find" { "Find in names, models, serials and notes " }
            input id="find" name="find" type="search" value=(find);
            " " button { "Find" }
        }
        @if rows.is_empty() {
            @if find.is_empty() {
                p { "No survey has come in yet. Make a code with "
                    code { "scupper admit technician NAME --data DIR" }
                    ", enrol a device with it, and let it exchange." }
            } @else {
                p { "Nothing found for “" (find) "”. " a href="/" { "All surveys" } }
            }
        } @else {
            div.wide { table {
                thead { tr {
                    th scope="col" { "Site" } th scope="col" { "Day" } th scope="col" { "From" }
                    th.n scope="col" { "Hazards" } th.n scope="col" { "To settle" }
                    th.n scope="col" { "Missing" } th.n scope="col" { "Units" }
                    th.n scope="col" { "Photos here" }
                } }
                tbody { @for (id, readings, here) in rows { (row(id, readings, *here)) } }
            } }
        }
    };
    layout::signed_in("Surveys", caller, content)
}

fn row(id: &str, readings: &Readings, here: usize) -> Markup {
    let survey = &readings.survey;
    let waiting = Waiting::of(survey, &readings.conflicts, &readings.offers).count();
    let spoken = survey
        .notes
        .iter()
        .filter_map(|note| note.author.as_deref());
    let seen = survey
        .photos
        .iter()
        .filter_map(|photo| photo.author.as_deref());
    let authors: BTreeSet<&str> = spoken.chain(seen).collect();
    let name = if survey.site.name.is_empty() {
        id
    } else {
        &survey.site.name
    };
    html! {
        tr {
            th scope="row" { a href={ "/surveys/" (id) } { (name) } }
            td { @if let Some(day) = day(survey) { (day) } }
            td { (authors.into_iter().collect::<Vec<_>>().join(", ")) }
            td.n { b { (readings.assessment.hazards.len()) } }
            td.n { (waiting) }
            td.n { (readings.assessment.missing.len()) }
            td.n { (survey.equipment.len()) }
            td.n { (here) " of " (survey.photos.len()) }
        }
    }
}
