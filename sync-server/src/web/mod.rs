//! The web side for people: addresses that a browser opens, sessions, and what a form brings about.
//!
//! How a page looks is [`crate::page`]'s business; here is only who may see it and what it is
//! made from.

mod failure;
mod hazards;
mod history;
mod list;
mod papers;
mod picture;
mod price;
mod settle;
mod shared;
mod sign_in;
mod survey;

pub(crate) use failure::Failure;

use crate::accounts::{Caller, Rights};
use crate::api::auth::Reader;
use crate::error::AppError;
use crate::page::{self, Session};
use crate::state::AppState;
use axum::extract::{FromRequest, FromRequestParts, Path, Request};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Form, Router};

pub(crate) fn routes() -> Router<AppState> {
    Router::new()
        .route("/", get(list::show))
        .route("/surveys", post(list::begin))
        .route("/surveys/{id}", get(survey::show))
        .route("/surveys/{id}/plan.svg", get(survey::plan))
        .route("/surveys/{id}/settle", post(settle::settle))
        .route("/surveys/{id}/hazards", post(hazards::read))
        .route("/surveys/{id}/history", get(history::show))
        .route("/surveys/{id}/photos/{photo}", get(picture::show))
        .route("/surveys/{id}/price", get(price::show).post(price::act))
        .route("/surveys/{id}/price/compare", get(price::compare))
        .route("/surveys/{id}/papers/{name}", get(papers::show))
        .route("/surveys/{id}/next-visit", post(list::next_visit))
        .route("/surveys/{id}/links", post(shared::make))
        .route("/surveys/{id}/links/{link}/revoke", post(shared::revoke))
        .route("/shared/{secret}", get(shared::open))
        .route("/sign-in", get(sign_in::how).post(sign_in::by_password))
        .route("/sign-in/{code}", get(sign_in::enter))
        .route("/sign-out", post(sign_in::leave))
        .route(
            "/account",
            get(sign_in::account).post(sign_in::set_password),
        )
        .route("/assets/{file}", get(asset))
}

/// Who is looking, as the page wants to know it.
fn session(caller: &Caller) -> Session<'_> {
    let csrf = match &caller.rights {
        Rights::Reviewer { form_key } => Some(form_key.as_str()),
        Rights::Device(_) | Rights::Customer { .. } => None,
    };
    Session {
        name: &caller.name,
        csrf,
    }
}

/// The fields of a posted form, in their order.
struct Posted(Vec<(String, String)>);

impl FromRequest<AppState> for Posted {
    type Rejection = Failure;

    async fn from_request(request: Request, state: &AppState) -> Result<Self, Failure> {
        let form = Form::from_request(request, state).await;
        let Form(fields) = form.map_err(|error| AppError::input("form", error.body_text()))?;
        Ok(Self(fields))
    }
}

/// A form that a reviewer posted from a page made for this very session, and who it was. Every form
/// that changes something is taken in so; none can forget to ask.
struct Signed(Caller, Vec<(String, String)>);

impl FromRequest<AppState> for Signed {
    type Rejection = Response;

    async fn from_request(request: Request, state: &AppState) -> Result<Self, Response> {
        let (mut parts, body) = request.into_parts();
        let Reader(caller) = Reader::from_request_parts(&mut parts, state)
            .await
            .map_err(IntoResponse::into_response)?;
        let form = Posted::from_request(Request::from_parts(parts, body), state).await;
        let form = form.and_then(|Posted(form)| {
            reviewer(&caller, &form)?;
            Ok(form)
        });
        Ok(Self(caller, form.map_err(IntoResponse::into_response)?))
    }
}

/// Whether a form was posted by a reviewer from a page that was made for this very session.
fn reviewer(caller: &Caller, form: &[(String, String)]) -> Result<(), AppError> {
    let Rights::Reviewer { form_key } = &caller.rights else {
        return Err(AppError::Forbidden(
            "only a reviewer may do this".to_owned(),
        ));
    };
    if form
        .iter()
        .any(|(key, value)| key == "csrf" && value == form_key)
    {
        return Ok(());
    }
    Err(AppError::Forbidden(
        "this form is from an earlier session; reload the page".to_owned(),
    ))
}

/// The stylesheet and the script, as `page` keeps them.
async fn asset(Path(file): Path<String>) -> Result<impl IntoResponse, Failure> {
    let asset = page::asset(&file).ok_or(AppError::NotFound("this file"))?;
    let headers = [
        (header::CONTENT_TYPE, asset.media_type),
        (header::CACHE_CONTROL, "max-age=300"),
    ];
    Ok((headers, asset.text))
}
