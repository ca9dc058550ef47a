//! `GET /surveys/{id}`: everything the office reads of one survey, and its plan alone.

use super::{Failure, session};
use crate::accounts::{Caller, Rights};
use crate::api::auth::Reader;
use crate::error::AppError;
use crate::page::{self, Asked, Live, Paper, Part, SurveyView};
use crate::state::{AppState, Office};
use axum::extract::{Path, Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Redirect, Response};
use maud::Markup;
use serde::Deserialize;

/// How many decisions are shown with their way back.
const SETTLED: u32 = 8;

#[derive(Debug, Default, Deserialize)]
pub(super) struct Wanted {
    unit: Option<String>,
    all: Option<String>,
    only: Option<String>,
}

pub(super) async fn show(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path(id): Path<String>,
    Query(query): Query<Wanted>,
) -> Result<Markup, Failure> {
    let page = state.blocking(move |office| draw(office, &caller, &id, &query));
    Ok(page.await?)
}

impl Wanted {
    /// Answers a form that was carried out: with the parts of the page that were asked for, as they
    /// are now, so that a page with the script has its next question at once; without such a wish
    /// by leading to the page, as a browser by itself wants it.
    pub(super) fn after(
        &self,
        office: &Office,
        caller: &Caller,
        id: &str,
        to: &str,
    ) -> Result<Response, AppError> {
        match self.only {
            Some(_) => Ok(draw(office, caller, id, self)?.into_response()),
            None => Ok(Redirect::to(to).into_response()),
        }
    }
}

fn draw(office: &Office, caller: &Caller, id: &str, query: &Wanted) -> Result<Markup, AppError> {
    // Looked at first: what is done meanwhile makes the page old, never the other way round.
    let stands = office.accounts.stands(caller.contractor, id)?;
    let readings = office.readings(caller, id)?;
    let arrived = office.arrived(caller, &readings.survey)?;
    let people = office.accounts.people(caller.contractor)?;
    let settled = office.accounts.settled(caller.contractor, id, SETTLED)?;
    let links = match &caller.rights {
        Rights::Reviewer { .. } => office.accounts.links(caller.contractor, id)?,
        _ => Vec::new(),
    };
    let seen = office.hazards_seen(caller, id)?;
    let versions = office.accounts.versions(caller.contractor, id)?;
    let events = events(id);
    let papers = super::papers::offered(id);
    let papers: Vec<Paper<'_>> = papers
        .iter()
        .map(|(href, words)| Paper { href, words })
        .collect();
    let mut view = SurveyView {
        asked: Asked {
            unit: query.unit.as_deref(),
            all: query.all.as_deref().and_then(Part::from_word),
            only: query.only.as_deref(),
        },
        contested: &readings.conflicts,
        offers: &readings.offers,
        odd: &readings.odd,
        seen: &seen,
        arrived: &arrived.here,
        bare: &arrived.bare,
        people: &people,
        problems: &readings.problems,
        papers: &papers,
        settled: &settled,
        links: &links,
        locked: versions.first(),
        now: office.unix(),
        live: Some(Live {
            href: &events,
            heads: &readings.heads,
            office: stands,
        }),
        ..SurveyView::new(&readings.survey, &readings.assessment, session(caller))
    };
    // What takes long to make is made for those parts only that show it.
    if view.asked.wants("unit") {
        view.quote = Some(readings.quote());
    }
    if view.asked.only.is_none() {
        view.unparsed = readings.unparsed();
        view.plan_svg = readings.plan();
    }
    Ok(page::survey(&view))
}

/// Where a page hears that a survey changed.
pub(super) fn events(id: &str) -> String {
    format!("/v1/surveys/{id}/events")
}

/// `GET /surveys/{id}/plan.svg`.
pub(super) async fn plan(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path(id): Path<String>,
) -> Result<impl IntoResponse, Failure> {
    let readings = state
        .blocking(move |office| office.readings(&caller, &id))
        .await?;
    Ok((
        [(header::CONTENT_TYPE, "image/svg+xml")],
        readings.plan().to_owned(),
    ))
}
