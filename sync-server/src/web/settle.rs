//! What happens when a reviewer presses a button: one or a few edits in the document under their
//! name, a word of what was done, and the way back.

use super::survey::Wanted;
use super::{Failure, Signed};
use crate::accounts::Caller;
use crate::error::AppError;
use crate::page::forms::Choice;
use crate::state::{AppState, Office};
use crate::words;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use scupper_core::document::{Edit, SurveyDoc, Table, says};
use scupper_core::survey::Survey;
use serde_json::Value;

/// A choice as edits, with its words and the choices that take it back.
struct Decision {
    edits: Vec<Edit>,
    said: String,
    undo: Vec<Choice>,
}

/// A choice as it is kept: the fields of its form.
type Form = Vec<(String, String)>;

/// `POST /surveys/{id}/settle`, with `?only=PARTS` answered by those parts of the page.
pub(super) async fn settle(
    State(state): State<AppState>,
    Path(id): Path<String>,
    Query(wanted): Query<Wanted>,
    Signed(caller, form): Signed,
) -> Result<Response, Failure> {
    let choice = Choice::read(&form)?;
    let to = back_to(&id, &form);
    let answer = state.blocking(move |office| {
        carry_out(office, &caller, &id, choice)?;
        wanted.after(office, &caller, &id, &to)
    });
    Ok(answer.await?)
}

/// Where the browser goes on: the page that the form says it was on, always one of this survey.
fn back_to(id: &str, form: &[(String, String)]) -> String {
    let back = form.iter().find(|(key, _)| key == "back");
    let back = back.map_or("#settle", |(_, at)| at.as_str());
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_.~%/?=&#".contains(c);
    if back.chars().all(|c| c.is_ascii_alphanumeric() || c == '-') {
        return format!("/surveys/{id}#{back}");
    }
    match back.chars().all(plain) && back.starts_with(['#', '/', '?']) && !back.contains("..") {
        true => format!("/surveys/{id}{back}"),
        false => format!("/surveys/{id}#settle"),
    }
}

fn carry_out(office: &Office, caller: &Caller, id: &str, choice: Choice) -> Result<(), AppError> {
    let (choices, taken_back) = match choice {
        Choice::Undo { seq } => {
            let (said, stored) = office.accounts.undo_of(caller.contractor, id, seq)?;
            (kept(&stored)?, Some((seq, said)))
        }
        choice => (vec![choice], None),
    };
    let (before, decision, after) = office.edit_seen(caller, id, |doc| {
        let mut whole = Decision {
            edits: Vec::new(),
            said: String::new(),
            undo: Vec::new(),
        };
        for choice in &choices {
            let one = decide(doc, &caller.name, choice)?;
            whole.edits.extend(one.edits);
            whole.undo.extend(one.undo);
            if whole.said.is_empty() {
                whole.said = one.said;
            }
        }
        Ok((whole.edits.clone(), whole))
    })?;
    if let Some((seq, _)) = &taken_back {
        office.accounts.undone(*seq)?;
    } else if before == after {
        // Sent twice because the first answer got lost: it is done, and was noted then.
        return Ok(());
    }
    let undo = match (decision.undo.is_empty(), &taken_back) {
        (false, None) => {
            let forms: Vec<_> = decision.undo.iter().map(Choice::fields).collect();
            let text = serde_json::to_string(&forms);
            Some(text.map_err(|error| AppError::internal("storing a choice", error))?)
        }
        _ => None,
    };
    let said = match taken_back {
        Some((_, said)) => format!("took back: {said}"),
        None => decision.said,
    };
    office.accounts.settle(
        office.unix(),
        (caller.contractor, id),
        &caller.name,
        &said,
        undo.as_deref(),
    )?;
    Ok(())
}

/// The choices that take one back, as they were kept: a list of forms, or one form as earlier
/// programs kept it.
fn kept(stored: &str) -> Result<Vec<Choice>, AppError> {
    let forms = serde_json::from_str::<Vec<Form>>(stored)
        .or_else(|_| serde_json::from_str::<Form>(stored).map(|form| vec![form]))
        .map_err(|error| AppError::internal("stored choice", error))?;
    let read = forms.iter().map(|form| Choice::read(form));
    Ok(read.collect::<Result<_, _>>()?)
}

fn decide(doc: &SurveyDoc, who: &str, choice: &Choice) -> Result<Decision, AppError> {
    let one = |edit: Edit, said: String, undo: Option<Choice>| Decision {
        edits: vec![edit],
        said,
        undo: Vec::from_iter(undo),
    };
    let plain = str::to_owned;
    Ok(match choice {
        Choice::Set {
            about,
            field,
            value,
        } => {
            let undo = before(doc, about, field)?;
            let said = said(&doc.survey(), about, field, value);
            one(set(about, field, value), said, Some(undo))
        }
        Choice::Fill { about, values } => {
            let mut decision = Decision {
                edits: Vec::new(),
                said: String::new(),
                undo: Vec::new(),
            };
            let (mut told, survey) = (Vec::new(), doc.survey());
            for (field, value) in values {
                decision.undo.push(before(doc, about, field)?);
                decision.edits.push(set(about, field, value));
                told.push(said(&survey, about, field, value));
            }
            decision.said = told.join("; ");
            decision
        }
        Choice::Confirm { ids } => {
            let (mut undo, survey) = (Vec::new(), doc.survey());
            for id in ids {
                undo.extend(given_by(doc, &survey, id)?);
            }
            undo.push(Choice::Unconfirm {
                ids: ids.clone(),
                who: who.to_owned(),
            });
            Decision {
                edits: ids
                    .iter()
                    .map(|id| Edit::Confirm { id: id.clone() })
                    .collect(),
                said: format!("confirmed {}", words::count(ids.len(), "heard value")),
                undo,
            }
        }
        Choice::Unconfirm { ids, who } => Decision {
            edits: ids
                .iter()
                .map(|id| Edit::Unconfirm {
                    id: id.clone(),
                    who: who.clone(),
                })
                .collect(),
            said: plain("took a confirmation back"),
            undo: Vec::new(),
        },
        Choice::Correct {
            id,
            about,
            field,
            value,
        } => Decision {
            edits: vec![
                set(about, field, value),
                Edit::Withdraw { about: id.clone() },
            ],
            said: said(&doc.survey(), about, field, value),
            undo: vec![
                before(doc, about, field)?,
                Choice::Reinstate { id: id.clone() },
            ],
        },
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
        Choice::Later { about, fields } => {
            let ids: Vec<String> = fields
                .iter()
                .map(|_| uuid::Uuid::now_v7().to_string())
                .collect();
            let entry = |(id, field): (&String, &String)| Edit::Add {
                table: Table::FollowUps,
                id: id.clone(),
                entry: serde_json::json!({"ref": about, "about": field, "author": who}),
            };
            Decision {
                edits: ids.iter().zip(fields).map(entry).collect(),
                said: format!(
                    "left {} of {} for the next visit",
                    words::count(fields.len(), "field"),
                    words::place(about)
                ),
                undo: ids.into_iter().map(|id| Choice::Refuse { id }).collect(),
            }
        }
        Choice::Stand {
            about,
            fields,
            holds,
        } => Decision {
            edits: fields
                .iter()
                .map(|field| Edit::Stand {
                    about: about.clone(),
                    field: field.clone(),
                    holds: *holds,
                })
                .collect(),
            said: match holds {
                true => format!("stands behind {}", named(fields)),
                false => format!("doubts {} again", named(fields)),
            },
            undo: Vec::from_iter(holds.then(|| Choice::Stand {
                about: about.clone(),
                fields: fields.clone(),
                holds: false,
            })),
        },
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

fn named(fields: &[String]) -> String {
    let names: Vec<String> = fields.iter().map(|field| words::field(field)).collect();
    names.join(" and ")
}

/// The choice that brings back what confirming a draft would overwrite.
fn given_by(doc: &SurveyDoc, survey: &Survey, id: &str) -> Result<Option<Choice>, AppError> {
    let Some(draft) = survey.drafts.iter().find(|draft| draft.id == id) else {
        return Ok(None);
    };
    let now = words::held(survey, &draft.about, &draft.field);
    match now.is_some_and(|now| says(&now, &draft.value)) {
        true => Ok(None),
        false => Ok(Some(before(doc, &draft.about, &draft.field)?)),
    }
}

fn set(about: &str, field: &str, value: &Value) -> Edit {
    Edit::Set {
        about: about.to_owned(),
        field: field.to_owned(),
        value: value.clone(),
    }
}

/// What was set to what, as people call the entry: a unit by its tag, a photo by its caption.
fn said(survey: &Survey, about: &str, field: &str, value: &Value) -> String {
    let told = words::value(value);
    if let Some(photo) = survey.photos.iter().find(|photo| photo.id == about) {
        let photo = match photo.caption.as_deref().map(str::trim) {
            Some(caption) if !caption.is_empty() => format!("photo \u{201c}{caption}\u{201d}"),
            _ => "photo without a caption".to_owned(),
        };
        return match (field, value) {
            ("ref", _) => format!("{photo} shows {told}"),
            ("turned_deg", Value::Null) => format!("{photo} stands as it was taken"),
            ("turned_deg", _) => format!("{photo} turned by {told}\u{b0}"),
            _ => format!("{photo} {}: {told}", words::field(field)),
        };
    }
    let unit = survey.unit(about).map(|unit| unit.tag.as_str());
    format!(
        "{} {}: {told}",
        words::place(unit.unwrap_or(about)),
        words::field(field)
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
