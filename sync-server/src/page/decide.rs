//! What happens when a reviewer presses a button: one edit in the document under their name, a
//! word of what was done, and the way back.

use super::Failure;
use crate::accounts::{Caller, Rights};
use crate::api::auth::Reader;
use crate::error::AppError;
use crate::state::{AppState, Office};
use crate::words;
use axum::Form;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use scupper_core::document::{Edit, SurveyDoc};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// A decision, as its form posts it.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
#[serde(default)]
pub(super) struct Choice {
    #[serde(skip_serializing)]
    form_key: String,
    what: String,
    about: String,
    field: String,
    value: String,
    other: String,
}

/// A decision as edits, with its words and the decision that takes it back.
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
    Form(choice): Form<Choice>,
) -> Result<Response, Failure> {
    reviewer(&caller, &choice.form_key)?;
    let back = format!("/surveys/{id}#settle");
    state
        .blocking(move |office| carry_out(office, &caller, &id, choice))
        .await?;
    Ok(Redirect::to(&back).into_response())
}

/// Whether a form was posted by a reviewer from a page we made for this very session.
pub(super) fn reviewer(caller: &Caller, form_key: &str) -> Result<(), AppError> {
    match &caller.rights {
        Rights::Reviewer { form_key: own } if own == form_key => Ok(()),
        Rights::Reviewer { .. } => Err(AppError::Forbidden(
            "this form is from an earlier session".to_owned(),
        )),
        _ => Err(AppError::Forbidden("only a reviewer settles".to_owned())),
    }
}

fn carry_out(office: &Office, caller: &Caller, id: &str, choice: Choice) -> Result<(), AppError> {
    let now = office.unix();
    let taken_back = (choice.what == "undo")
        .then(|| choice.about.parse::<i64>())
        .transpose()
        .map_err(|_| AppError::input("about", "must be the number of a decision"))?;
    let choice = match taken_back {
        Some(seq) => {
            let form = office.accounts.undo_of(caller.contractor, id, seq)?;
            serde_json::from_str(&form).map_err(|e| AppError::internal("stored decision", e))?
        }
        None => choice,
    };
    let decision = office.edit(caller, id, |doc| {
        let decision = decide(doc, &choice)?;
        Ok((decision.edits.clone(), decision))
    })?;
    if let Some(seq) = taken_back {
        office.accounts.undone(seq)?;
    }
    let undo = match (&decision.undo, taken_back) {
        (Some(undo), None) => Some(
            serde_json::to_string(undo).map_err(|e| AppError::internal("storing a decision", e))?,
        ),
        _ => None,
    };
    office.accounts.settle(
        now,
        (caller.contractor, id),
        &caller.name,
        &decision.said,
        undo.as_deref(),
    )?;
    Ok(())
}

fn decide(doc: &SurveyDoc, choice: &Choice) -> Result<Decision, AppError> {
    let Choice {
        what,
        about,
        field,
        value,
        other,
        ..
    } = choice;
    let one = |edit: Edit, said: String, undo: Option<Choice>| Decision {
        edits: vec![edit],
        said,
        undo,
    };
    let named = |what: &str, about: &str, other: &str| Choice {
        what: what.to_owned(),
        about: about.to_owned(),
        other: other.to_owned(),
        ..Choice::default()
    };
    let set = |value: Value| Edit::Set {
        about: about.clone(),
        field: field.clone(),
        value,
    };
    Ok(match what.as_str() {
        "set" | "instead" => {
            let value = typed(value);
            let before = doc
                .history(about, field)?
                .last()
                .map(|step| step.value.clone());
            let said = format!(
                "{} {}: {}",
                words::place(about),
                words::field(field),
                words::value(&value)
            );
            let undo = Choice {
                value: before.unwrap_or_default().to_string(),
                ..choice.clone()
            };
            let undo = Choice {
                what: "set".to_owned(),
                other: String::new(),
                ..undo
            };
            let mut decision = one(set(value), said, Some(undo));
            if what == "instead" {
                decision.edits.push(Edit::Withdraw {
                    about: other.clone(),
                });
            }
            decision
        }
        "confirm" => {
            let ids: Vec<&str> = about.split_whitespace().collect();
            let said = format!("confirmed {}", words::count(ids.len(), "heard value"));
            let edits = ids.iter().map(|id| Edit::Confirm {
                id: (*id).to_owned(),
            });
            Decision {
                edits: edits.collect(),
                said,
                undo: None,
            }
        }
        "withdraw" => one(
            Edit::Withdraw {
                about: about.clone(),
            },
            "refused what was heard".to_owned(),
            Some(named("reinstate", about, "")),
        ),
        "reinstate" => one(
            Edit::Reinstate {
                about: about.clone(),
            },
            "took a refusal back".to_owned(),
            None,
        ),
        "join" => one(
            Edit::Join {
                keep: about.clone(),
                other: other.clone(),
            },
            "joined two entries of one unit".to_owned(),
            Some(named("unjoin", other, "")),
        ),
        "unjoin" => one(
            Edit::Unjoin {
                other: about.clone(),
            },
            "took two units apart again".to_owned(),
            None,
        ),
        "apart" => one(
            Edit::KeepApart {
                one: about.clone(),
                other: other.clone(),
            },
            "kept two units apart".to_owned(),
            None,
        ),
        _ => {
            return Err(AppError::input(
                "what",
                "is no decision that this page offers",
            ));
        }
    })
}

/// What someone typed or a button carries: JSON where it reads as such, else plain text.
fn typed(text: &str) -> Value {
    let text = text.trim();
    serde_json::from_str(text).unwrap_or_else(|_| Value::String(text.to_owned()))
}
