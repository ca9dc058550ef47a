//! `POST /surveys/{id}/hazards`: a reviewer says by name that the hazards shown were read.

use super::survey::Wanted;
use super::{Failure, Signed};
use crate::error::AppError;
use crate::state::AppState;
use axum::extract::{Path, Query, State};
use axum::response::Response;

pub(super) async fn read(
    State(state): State<AppState>,
    Path(id): Path<String>,
    Query(wanted): Query<Wanted>,
    Signed(caller, form): Signed,
) -> Result<Response, Failure> {
    let shown = form
        .iter()
        .find(|(key, _)| key == "shown")
        .map(|(_, all)| all.as_str());
    let shown: Vec<String> = shown
        .unwrap_or_default()
        .split_whitespace()
        .map(str::to_owned)
        .collect();
    let to = format!("/surveys/{id}#hazards");
    let answer = state.blocking(
        move |office| match office.see_hazards(&caller, &id, &shown)? {
            0 => Err(AppError::input(
                "shown",
                "none of these hazards is in the survey any more; reload the page and read those \
             that are",
            )),
            _ => wanted.after(office, &caller, &id, &to),
        },
    );
    Ok(answer.await?)
}
