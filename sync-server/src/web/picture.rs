//! `GET /surveys/{id}/photos/{photo}`: one photo large, with `?beside=` another.

use super::{Failure, session};
use crate::api::auth::Reader;
use crate::error::AppError;
use crate::page::{self, PictureView};
use crate::state::AppState;
use axum::extract::{Path, Query, State};
use maud::Markup;
use serde::Deserialize;

#[derive(Debug, Default, Deserialize)]
pub(super) struct Wanted {
    beside: Option<String>,
}

pub(super) async fn show(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path((id, photo)): Path<(String, String)>,
    Query(wanted): Query<Wanted>,
) -> Result<Markup, Failure> {
    let page = state.blocking(move |office| {
        let readings = office.readings(&caller, &id)?;
        let arrived = office.arrived(&caller, &readings.survey)?;
        let photos = page::in_order(&readings.survey);
        let find = |id: &str| photos.iter().position(|photo| photo.id == id);
        let view = PictureView {
            session: session(&caller),
            survey: &readings.survey,
            photos: &photos,
            at: find(&photo).ok_or(AppError::NotFound("this photo"))?,
            beside: wanted
                .beside
                .as_deref()
                .and_then(find)
                .and_then(|at| photos.get(at).copied()),
            arrived: &arrived.here,
            bare: &arrived.bare,
            people: &office.accounts.people(caller.contractor)?,
        };
        page::picture(&view).ok_or(AppError::NotFound("this photo"))
    });
    Ok(page.await?)
}
