//! What happens when a reviewer presses a button: one or a few edits in the document under their
//! name, a word of what was done, and the way back.

use super::{Failure, Posted, reviewer};
use crate::accounts::Caller;
use crate::api::auth::Reader;
use crate::error::AppError;
use crate::page::forms::Choice;
use crate::state::{AppState, Office};
use crate::words;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use scupper_core::document::{Edit, SurveyDoc};
use serde_json::Value;

/// A choice as edits, with its words and the choice that takes it back.
struct Decision {
    edits: Vec<Edit>,
    said: String,
    undo: Option<Choice>,
}

/// `POST /surveys/{id}/settle`.
pub(super) async fn settle(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Path(id): Path<String>,
    Posted(form): Posted,
) -> Result<Response, Failure> {
    reviewer(&caller, &form)?;
    let choice = Choice::read(&form)?;
    let back = form
        .iter()
        .find(|(key, _)| key == "back")
        .map_or("settle", |(_, at)| at.as_str());
    let back: String = back
        .chars()
        .filter(|c| c.is_ascii_alphanumeric() || *c == '-')
        .collect();
    let to = format!("/surveys/{id}#{back}");
    state
        .blocking(move |office| carry_out(office, &caller, &id, choice))
        .await?;
    Ok(Redirect::to(&to).into_response())
}

fn carry_out(office: &Office, caller: &Caller, id: &str, choice: Choice) -> Result<(), AppError> {
    let (choice, taken_back) = match choice {
        Choice::Undo { seq } => {
            let stored = office.accounts.undo_of(caller.contractor, id, seq)?;
            let form: Vec<(String, String)> = serde_json::from_str(&stored)
                .map_err(|error| AppError::internal("stored choice", error))?;
            (Choice::read(&form)?, Some(seq))
        }
        choice => (choice, None),
    };
    let decision = office.edit(caller, id, |doc| {
        let decision = decide(doc, &choice)?;
        Ok((decision.edits.clone(), decision))
    })?;
    let undo = match (&decision.undo, taken_back) {
        (Some(undo), None) => Some(
            serde_json::to_string(&undo.fields())
                .map_err(|error| AppError::internal("storing a choice", error))?,
        ),
        _ => None,
    };
    if let Some(seq) = taken_back {
        office.accounts.undone(seq)?;
    }
    office.accounts.settle(
        office.unix(),
        (caller.contractor, id),
        &caller.name,
        &decision.said,
        undo.as_deref(),
    )?;
    Ok(())
}

fn decide(doc: &SurveyDoc, choice: &Choice) -> Result<Decision, AppError> {
    let one = |edit: Edit, said: String, undo: Option<Choice>| Decision {
        edits: vec![edit],
        said,
        undo,
    };
    let plain = str::to_owned;
    Ok(match choice {
        Choice::Set {
            about,
            field,
            value,
        } => {
            let undo = before(doc, about, field)?;
            one(
                set(about, field, value),
                said(about, field, value),
                Some(undo),
            )
        }
        Choice::Fill { about, values } => {
            let said: Vec<String> = values
                .iter()
                .map(|(field, value)| said(about, field, value))
                .collect();
            let undo = match values.as_slice() {
                [(field, _)] => Some(before(doc, about, field)?),
                _ => None,
            };
            let edits = values
                .iter()
                .map(|(field, value)| set(about, field, value))
                .collect();
            Decision {
                edits,
                said: said.join("; "),
                undo,
            }
        }
        Choice::Confirm { ids } => Decision {
            edits: ids
                .iter()
                .map(|id| Edit::Confirm { id: id.clone() })
                .collect(),
            said: format!("confirmed {}", words::count(ids.len(), "heard value")),
            undo: None,
        },
        Choice::Correct {
            id,
            about,
            field,
            value,
        } => {
            let undo = before(doc, about, field)?;
            let mut decision = one(
                set(about, field, value),
                said(about, field, value),
                Some(undo),
            );
            decision.edits.push(Edit::Withdraw { about: id.clone() });
            decision
        }
        Choice::Refuse { id } => one(
            Edit::Withdraw { about: id.clone() },
            plain("refused what was heard"),
            Some(Choice::Reinstate { id: id.clone() }),
        ),
        Choice::Reinstate { id } => one(
            Edit::Reinstate { about: id.clone() },
            plain("took a refusal back"),
            Some(Choice::Refuse { id: id.clone() }),
        ),
        Choice::Join { keep, other } => one(
            Edit::Join {
                keep: keep.clone(),
                other: other.clone(),
            },
            plain("joined two entries of one unit"),
            Some(Choice::Unjoin {
                other: other.clone(),
            }),
        ),
        Choice::Unjoin { other } => one(
            Edit::Unjoin {
                other: other.clone(),
            },
            plain("took two units apart again"),
            None,
        ),
        Choice::KeepApart { one: first, other } => one(
            Edit::KeepApart {
                one: first.clone(),
                other: other.clone(),
            },
            plain("kept two units apart"),
            None,
        ),
        Choice::Reopen {
            about,
            field,
            values,
        } => one(
            Edit::Reopen {
                about: about.clone(),
                field: field.clone(),
                values: values.clone(),
            },
            format!(
                "opened {} {} again",
                words::place(about),
                words::field(field)
            ),
            None,
        ),
        Choice::Undo { .. } => {
            return Err(AppError::input("choice", "an undo cannot be undone"));
        }
    })
}

fn set(about: &str, field: &str, value: &Value) -> Edit {
    Edit::Set {
        about: about.to_owned(),
        field: field.to_owned(),
        value: value.clone(),
    }
}

fn said(about: &str, field: &str, value: &Value) -> String {
    format!(
        "{} {}: {}",
        words::place(about),
        words::field(field),
        words::value(value)
    )
}

/// The choice that brings a field back to what it shows now: one value, or several that stand
/// against each other.
fn before(doc: &SurveyDoc, about: &str, field: &str) -> Result<Choice, AppError> {
    let mut contested = doc.conflicts().into_iter();
    let open = contested.find(|c| c.field == field && (c.about == about || c.entry == about));
    let (about, field) = (about.to_owned(), field.to_owned());
    if let Some(open) = open {
        let candidates = open.candidates.into_iter();
        let values = candidates.map(|candidate| candidate.value).collect();
        return Ok(Choice::Reopen {
            about,
            field,
            values,
        });
    }
    let held = doc.history(&about, &field)?.pop().map(|step| step.value);
    Ok(Choice::Set {
        about,
        field,
        value: held.unwrap_or_default(),
    })
}
