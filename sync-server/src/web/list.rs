//! `GET /`: the surveys of the office; `POST /surveys`: a new one; `POST /surveys/{id}/next-visit`:
//! a new one from the register of another.

use super::{Failure, Signed, session};
use crate::accounts::Rights;
use crate::api::auth::Reader;
use crate::catalogue::Listed;
use crate::error::AppError;
use crate::page::{self, ListRow, ListView};
use crate::state::AppState;
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Redirect, Response};
use scupper_core::survey::{Site, Survey};
use serde::Deserialize;
use std::collections::BTreeMap;

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
        let mut rows: Vec<ListRow> = office
            .catalogue(&caller, query)?
            .into_iter()
            .map(|listed| row(listed, &people))
            .collect();
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

fn row(listed: Listed, people: &BTreeMap<String, String>) -> ListRow {
    let name = |id: &String| people.get(id).unwrap_or(id).clone();
    let entry = listed.entry;
    ListRow {
        id: listed.id,
        name: entry.name,
        address: entry.address,
        surveyed_on: entry.surveyed_on,
        authors: entry.authors.iter().map(name).collect(),
        changed_at: entry.changed_at,
        changed_by: entry.changed_by.as_ref().map(name),
        units: entry.units,
        checks: entry.checks,
        hazards: entry.hazards.len(),
        unread: listed.unread,
        waits: entry.waits,
        missing: entry.missing,
        photos: entry.photos,
        found: listed.found,
    }
}

/// `POST /surveys`.
pub(super) async fn begin(
    State(state): State<AppState>,
    Signed(caller, form): Signed,
) -> Result<Response, Failure> {
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
    Path(id): Path<String>,
    Signed(caller, _): Signed,
) -> Result<Response, Failure> {
    let next = state.blocking(move |office| office.next_visit(&caller, &id));
    Ok(Redirect::to(&format!("/surveys/{}", next.await?)).into_response())
}
