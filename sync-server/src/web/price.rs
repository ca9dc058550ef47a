//! `GET /surveys/{id}/price` and `POST` to it: rates tried, kept and locked; two prices compared.

use super::survey::events;
use super::{Failure, Signed, session};
use crate::accounts::Caller;
use crate::api::auth::Reader;
use crate::error::AppError;
use crate::page::{self, Live, PriceView, Side, Standing, forms};
use crate::pricing::Reopened;
use crate::readings::{Rates, Readings};
use crate::state::{AppState, Office};
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use maud::Markup;
use scupper_core::quote::{RateBook, quote};
use scupper_core::survey::{InputError, Survey};
use serde::Deserialize;

/// No rate book is longer.
const LONGEST: usize = 400_000;

#[derive(Debug, Default, Deserialize)]
pub(super) struct Wanted {
    version: Option<i64>,
}

/// What a page of a price is asked to show besides what is kept.
#[derive(Default)]
struct Tried<'a> {
    book: Option<RateBook>,
    error: Option<InputError>,
    toml: Option<&'a str>,
    typed: &'a [(String, String)],
}

pub(super) async fn show(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path(id): Path<String>,
    Query(wanted): Query<Wanted>,
) -> Result<Markup, Failure> {
    let page = state.blocking(move |office| match wanted.version {
        None => draw(office, &caller, &id, Tried::default()),
        Some(seq) => {
            let past = office.reopen_price(&caller, &id, seq)?;
            locked(office, &caller, &id, &past)
        }
    });
    Ok(page.await?)
}

fn draw(office: &Office, caller: &Caller, id: &str, tried: Tried<'_>) -> Result<Markup, AppError> {
    // Looked at first: what is done meanwhile makes the page old, never the other way round.
    let stands = office.accounts.stands(caller.contractor, id)?;
    let readings = office.readings(caller, id)?;
    let (survey, found) = (&readings.survey, &readings.assessment);
    let own = readings.rates.is_own();
    let by_office = own.then(|| quote(survey, found, &office.book));
    let by_tried = tried.book.as_ref().map(|book| quote(survey, found, book));
    let by_office = match (&by_office, own) {
        (Some(quote), _) => quote,
        (None, _) => readings.quote(),
    };
    Ok(page::price(&PriceView {
        session: session(caller),
        survey: id,
        name: name(survey),
        book: tried.book.as_ref().unwrap_or(&readings.rates.book),
        quote: by_tried.as_ref().unwrap_or_else(|| readings.quote()),
        office: &office.book,
        by_office,
        standing: match (&tried.book, own) {
            (Some(_), _) => Standing::Tried,
            (None, true) => Standing::Kept,
            (None, false) => Standing::Office,
        },
        versions: &office.accounts.versions(caller.contractor, id)?,
        error: tried.error.as_ref(),
        toml: tried.toml,
        typed: tried.typed,
        live: Live {
            href: &events(id),
            heads: &readings.heads,
            office: stands,
        },
    }))
}

fn locked(office: &Office, caller: &Caller, id: &str, past: &Reopened) -> Result<Markup, AppError> {
    let stands = office.accounts.stands(caller.contractor, id)?;
    let readings = &past.readings;
    let (survey, rates) = (&readings.survey, &readings.rates);
    Ok(page::price(&PriceView {
        session: session(caller),
        survey: id,
        name: name(survey),
        book: &rates.book,
        quote: readings.quote(),
        office: &office.book,
        by_office: &quote(survey, &readings.assessment, &office.book),
        standing: Standing::Locked(&past.version, past.holds),
        versions: &office.accounts.versions(caller.contractor, id)?,
        error: None,
        toml: None,
        typed: &[],
        live: Live {
            href: &events(id),
            heads: &office.heads_text(caller.contractor, id)?,
            office: stands,
        },
    }))
}

fn name(survey: &Survey) -> &str {
    match survey.site.name.trim() {
        "" => "the survey",
        name => name,
    }
}

/// `POST /surveys/{id}/price`.
pub(super) async fn act(
    State(state): State<AppState>,
    Path(id): Path<String>,
    Signed(caller, form): Signed,
) -> Result<Response, Failure> {
    let answer = state.blocking(move |office| carry_out(office, &caller, &id, &form));
    Ok(answer.await?)
}

fn carry_out(
    office: &Office,
    caller: &Caller,
    id: &str,
    form: &[(String, String)],
) -> Result<Response, AppError> {
    let field = |name: &str| {
        form.iter()
            .find(|(key, _)| key == name)
            .map(|(_, text)| text.as_str())
    };
    let back = || Redirect::to(&format!("/surveys/{id}/price")).into_response();
    let wish = field("do").unwrap_or("try");
    let book = match wish {
        "office" => {
            office.keep_rates(caller, id, None)?;
            return Ok(back());
        }
        "lock" => {
            let title = field("title").map_or("", str::trim);
            if title.is_empty() {
                return Err(AppError::input("title", "is empty; name the version"));
            }
            let seq = office.lock_price(caller, id, title)?;
            let to = format!("/surveys/{id}/price?version={seq}");
            return Ok(Redirect::to(&to).into_response());
        }
        "try-book" | "keep-book" => match field("toml").unwrap_or_default() {
            text if text.len() > LONGEST => Err(InputError::at("rate book", "is too long")),
            text => RateBook::with_programme(text, office.book.programme.clone()),
        },
        _ => {
            let from = match field("version").and_then(|seq| seq.parse().ok()) {
                // What is kept goes by the office's programme, so what is tried does, too.
                Some(seq) => {
                    let past = office.reopen_price(caller, id, seq)?;
                    Rates::of_text(past.version.book, office.book.programme.clone())?
                }
                None => office.readings(caller, id)?.rates.clone(),
            };
            forms::rates(&from.book, form)
        }
    };
    match book {
        Ok(book) if wish.starts_with("keep") => {
            office.keep_rates(caller, id, Some(&book))?;
            Ok(back())
        }
        Ok(book) => {
            let tried = Tried {
                book: Some(book),
                toml: field("toml"),
                ..Tried::default()
            };
            Ok(draw(office, caller, id, tried)?.into_response())
        }
        Err(error) => {
            let tried = Tried {
                error: Some(error),
                toml: field("toml"),
                typed: form,
                book: None,
            };
            Ok((StatusCode::BAD_REQUEST, draw(office, caller, id, tried)?).into_response())
        }
    }
}

#[derive(Debug, Deserialize)]
pub(super) struct Two {
    one: String,
    other: String,
}

/// `GET /surveys/{id}/price/compare?one=N&other=N`, either of them also `now`.
pub(super) async fn compare(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path(id): Path<String>,
    Query(two): Query<Two>,
) -> Result<Markup, Failure> {
    let page = state.blocking(move |office| {
        let now = office.readings(&caller, &id)?;
        let past = |which: &str| {
            let seq = which.parse().ok();
            seq.map(|seq| office.reopen_price(&caller, &id, seq))
                .transpose()
        };
        let (one, other) = (past(&two.one)?, past(&two.other)?);
        let (one_units, other_units) = (tags(of(&one, &now)), tags(of(&other, &now)));
        let (one, other) = (
            side(&one, &now, &one_units),
            side(&other, &now, &other_units),
        );
        Ok(page::compare(session(&caller), &id, &one, &other))
    });
    Ok(page.await?)
}

fn of<'a>(past: &'a Option<Reopened>, now: &'a Readings) -> &'a Readings {
    past.as_ref().map_or(now, |past| &past.readings)
}

fn tags(readings: &Readings) -> Vec<&str> {
    let units = readings.survey.equipment.iter();
    units.map(|unit| unit.tag.as_str()).collect()
}

fn side<'a>(past: &'a Option<Reopened>, now: &'a Readings, units: &'a [&'a str]) -> Side<'a> {
    let readings = of(past, now);
    Side {
        title: past.as_ref().map_or("Now", |past| &past.version.title),
        book: &readings.rates.book,
        quote: readings.quote(),
        units,
        holds: past.as_ref().is_none_or(|past| past.holds),
    }
}
