//! `GET /`: the surveys of the office; `POST /surveys`: a new one; `POST /surveys/{id}/next-visit`:
//! a new one from the register of another.

use super::{Failure, Posted, reviewer, session};
use crate::accounts::{Caller, Rights};
use crate::api::auth::Reader;
use crate::error::AppError;
use crate::page::{self, ListRow, ListView};
use crate::readings::{Readings, day};
use crate::state::{AppState, Office};
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Redirect, Response};
use scupper_core::survey::{Site, Survey};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};

#[derive(Debug, Default, Deserialize)]
pub(super) struct Search {
    q: Option<String>,
}

pub(super) async fn show(
    State(state): State<AppState>,
    reader: Result<Reader, AppError>,
    Query(search): Query<Search>,
) -> Result<Response, Failure> {
    let Reader(caller) = match reader {
        Err(AppError::Unauthorized) => return Ok(Redirect::to("/sign-in").into_response()),
        other => other?,
    };
    if let Rights::Customer { survey } = &caller.rights {
        return Ok(Redirect::to(&super::papers::assessment_at(survey)).into_response());
    }
    let page = state.blocking(move |office| {
        let query = search.q.as_deref().unwrap_or("").trim();
        let people = office.accounts.people(caller.contractor)?;
        let mut rows = Vec::new();
        for id in office.survey_ids(&caller)? {
            let readings = office.readings(&caller, &id)?;
            if let Some(found) = find(&readings, &id, query) {
                rows.push(row(office, &caller, &people, id, &readings, found)?);
            }
        }
        rows.sort_by_key(|row| std::cmp::Reverse(row.surveyed_on));
        let session = session(&caller);
        Ok(page::list(&ListView {
            may_begin: session.csrf.is_some(),
            session,
            rows: &rows,
            query: Some(query),
            searchable: true,
        }))
    });
    Ok(page.await?.into_response())
}

fn row(
    office: &Office,
    caller: &Caller,
    people: &BTreeMap<String, String>,
    id: String,
    readings: &Readings,
    found: Option<String>,
) -> Result<ListRow, AppError> {
    let survey = &readings.survey;
    let spoken = survey
        .notes
        .iter()
        .filter_map(|note| note.author.as_deref());
    let seen = survey
        .photos
        .iter()
        .filter_map(|photo| photo.author.as_deref());
    let authors: BTreeSet<&str> = spoken.chain(seen).collect();
    let here = office.arrived(caller, survey)?.len();
    Ok(ListRow {
        id,
        name: survey.site.name.clone(),
        address: survey.site.address.clone(),
        surveyed_on: day(survey),
        authors: authors
            .into_iter()
            .map(|author| people.get(author).map_or(author, String::as_str).to_owned())
            .collect(),
        changed_at: readings.summary.changed_at,
        units: survey.equipment.len(),
        hazards: readings.assessment.hazards.len(),
        to_settle: readings.conflicts.len() + readings.offers.len(),
        missing: readings.assessment.missing.len(),
        photos: (here, survey.photos.len()),
        found,
    })
}

/// Looks for every word of a query in a survey's texts. None if one is missing; else the words
/// around the first, if anything was looked for.
fn find(readings: &Readings, id: &str, query: &str) -> Option<Option<String>> {
    let survey = &readings.survey;
    let mut texts: Vec<&str> = vec![id, &survey.site.name];
    texts.extend(survey.site.address.as_deref());
    for unit in &survey.equipment {
        let plate = &unit.nameplate;
        texts.push(&unit.tag);
        texts.extend(
            [&plate.make, &plate.model, &plate.serial]
                .into_iter()
                .filter_map(|t| t.as_deref()),
        );
    }
    let segments = survey.notes.iter().flat_map(|note| &note.segments);
    texts.extend(segments.map(|segment| segment.text.as_str()));
    texts.extend(
        survey
            .photos
            .iter()
            .filter_map(|photo| photo.caption.as_deref()),
    );
    let lower: Vec<String> = texts.iter().map(|text| text.to_lowercase()).collect();
    let mut first = None;
    for word in query.to_lowercase().split_whitespace() {
        let at = lower.iter().position(|text| text.contains(word))?;
        first = first.or(Some(at));
    }
    Some(
        first
            .and_then(|at| texts.get(at))
            .map(|text| text.chars().take(160).collect()),
    )
}

/// `POST /surveys`.
pub(super) async fn begin(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Posted(form): Posted,
) -> Result<Response, Failure> {
    reviewer(&caller, &form)?;
    let text = |name: &str| {
        let found = form.iter().find(|(key, _)| key == name);
        found
            .map(|(_, text)| text.trim().to_owned())
            .filter(|text| !text.is_empty())
    };
    let name = text("name").ok_or_else(|| AppError::input("name", "is empty; name the site"))?;
    let survey = Survey {
        survey_id: uuid::Uuid::now_v7().to_string(),
        site: Site {
            name,
            address: text("address"),
            ..Site::default()
        },
        ..Survey::default()
    };
    let id = state
        .blocking(move |office| office.prepare(&caller, &survey))
        .await?;
    Ok(Redirect::to(&format!("/surveys/{id}")).into_response())
}

/// `POST /surveys/{id}/next-visit`.
pub(super) async fn next_visit(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path(id): Path<String>,
    Posted(form): Posted,
) -> Result<Response, Failure> {
    reviewer(&caller, &form)?;
    let next = state.blocking(move |office| office.next_visit(&caller, &id));
    Ok(Redirect::to(&format!("/surveys/{}", next.await?)).into_response())
}
