//! The review page of one survey: hazards before all else, then what waits for a person, the
//! plan, checks, findings, register, gaps, price, photos and notes.

use super::evidence::Witness;
use super::forms::Forms;
use super::settle::Waiting;
use super::{Failure, checks, findings, hazards, layout, notes, photos, price, register, settle};
use crate::accounts::{Caller, Settled};
use crate::api::auth::Reader;
use crate::readings::Readings;
use crate::state::AppState;
use crate::words::count;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::IntoResponse;
use maud::{Markup, PreEscaped, html};
use std::collections::BTreeSet;

/// `GET /surveys/{id}`.
pub(super) async fn show(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path(id): Path<String>,
) -> Result<Markup, Failure> {
    let page = state.blocking(move |office| {
        let readings = office.readings(&caller, &id)?;
        let arrived = office.arrived(&caller, &readings.survey)?;
        let done = office.accounts.settled(caller.contractor, &id, 5)?;
        Ok(body(&readings, &arrived, &done, &caller, &id))
    });
    Ok(page.await?)
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
        readings.plan.clone(),
    ))
}

fn body(
    readings: &Readings,
    arrived: &BTreeSet<String>,
    done: &[Settled],
    caller: &Caller,
    id: &str,
) -> Markup {
    let survey = &readings.survey;
    let witness = Witness { survey, arrived };
    let forms = Forms::of(caller, id);
    let waiting = Waiting::of(survey, &readings.conflicts, &readings.offers);
    let name = if survey.site.name.is_empty() {
        id
    } else {
        &survey.site.name
    };
    let shown = survey
        .photos
        .iter()
        .filter(|p| p.withdrawn_by.is_none())
        .count();
    let content = html! {
        div data-survey=(id) data-heads=(readings.heads) {
            h1 { (name) }
            p { @if let Some(address) = &survey.site.address { (address) " · " }
                @if let Some(day) = crate::readings::day(survey) { "surveyed " (day) } }
            p #live.small.quiet role="status" {}
            (part("hazards", hazards::section(&readings.assessment.hazards, witness)))
            (part("sheet", html! {
                ul.sheet {
                    li { b { (survey.equipment.len()) } " units" }
                    li { b { (waiting.count()) } " to settle" }
                    li { b { (readings.assessment.findings.len()) } " findings" }
                    li { b { (readings.assessment.missing.len()) } " missing" }
                    li { b { (shown) } " photos" }
                }
                @if !readings.problems.is_empty() {
                    p.said { b { (count(readings.problems.len(), "entry")) " could not be read: " }
                        (readings.problems.join("; ")) }
                }
            }))
            nav aria-label="On this page" { ul.jump {
                @for (to, words) in [("settle", "To settle"), ("plan", "Roof plan"), ("checks", "Checks"),
                    ("findings", "Findings"), ("register", "Register"), ("missing", "Missing"),
                    ("price", "Quote inputs"), ("photos", "Photos"), ("notes", "Notes")] {
                    li { a href={ "#" (to) } { (words) } }
                }
            } }
            (part("settle", settle::section(&waiting, done, witness, &forms)))
            (part("plan", html! {
                section id="plan" {
                    h2 { "Roof plan" }
                    div.plan { (PreEscaped(&readings.plan)) }
                    p.small { a href={ "/surveys/" (id) "/plan.svg" } { "The plan alone" } }
                }
            }))
            (part("checks", checks::section(&readings.assessment)))
            (part("findings", findings::section(&readings.assessment.findings, witness)))
            (part("register", register::section(&readings.assessment.register, witness)))
            (part("missing", checks::missing(&readings.assessment.missing)))
            (part("price", price::section(&readings.quote)))
            (part("photos", photos::section(witness, &forms)))
            (part("notes", notes::section(&survey.notes)))
            section.caution id="caution" {
                h2 { "Not checked" }
                ul { @for line in &readings.assessment.not_checked { li { (line) } } }
                p { b { (readings.assessment.caution) } }
            }
        }
    };
    layout::signed_in(name, caller, content)
}

/// A piece of the page that can be put in place by itself when the survey changes.
fn part(name: &str, content: Markup) -> Markup {
    html! { div data-part=(name) { (content) } }
}
