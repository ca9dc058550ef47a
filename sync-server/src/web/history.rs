//! `GET /surveys/{id}/history?unit=TAG`: who entered what of a unit or of the site, and when.

use super::{Failure, session};
use crate::api::auth::Reader;
use crate::page::{self, HistoryView};
use crate::state::AppState;
use crate::words;
use axum::extract::{Path, Query, State};
use maud::Markup;
use scupper_core::survey::SITE;
use serde::Deserialize;
use std::collections::BTreeSet;

#[derive(Debug, Default, Deserialize)]
pub(super) struct Wanted {
    unit: Option<String>,
}

pub(super) async fn show(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path(id): Path<String>,
    Query(wanted): Query<Wanted>,
) -> Result<Markup, Failure> {
    let page = state.blocking(move |office| {
        let readings = office.readings(&caller, &id)?;
        let about = wanted.unit.as_deref().unwrap_or(SITE);
        let steps = office
            .readable(&caller, &id)?
            .with_doc(&id, |doc| Ok(doc.life(about)?))?;
        let fields: BTreeSet<&String> = steps.iter().map(|(field, _)| field).collect();
        let held = |field: &String| {
            let now = words::held(&readings.survey, about, field)?;
            Some((field.clone(), now))
        };
        let people = office.accounts.people(caller.contractor)?;
        let unit = readings.survey.unit(about);
        Ok(page::history(&HistoryView {
            session: session(&caller),
            survey: &id,
            title: unit.map_or(about, |unit| &unit.tag),
            about,
            steps: &steps,
            now: &fields.into_iter().filter_map(held).collect(),
            people: &people,
        }))
    });
    Ok(page.await?)
}
