//! The forms of a survey's page: what a reviewer can choose, as hidden fields going out and as a
//! [`Choice`] coming back. The two directions live together so that they cannot drift apart.
//!
//! Every form posts to `/surveys/{id}/settle` with `csrf`, `choice`, and `back`, what of the
//! survey's pages to return to. The handler checks `csrf`, calls [`Choice::read`], carries the
//! choice out under the reviewer's name and redirects to `/surveys/{id}BACK`.

mod rates;
mod typed;

pub use rates::rates;
pub(super) use rates::{Figure, RATES, Rate, every};
pub(super) use typed::Sort;
pub use typed::typed;

use scupper_core::survey::InputError;
use serde_json::Value;

/// What a reviewer decided. Each maps to one or a few edits of the document.
#[derive(Debug, Clone, PartialEq)]
pub enum Choice {
    /// A field has this value. Settles a conflict, too; `about` is a tag, `site`, or an entry's
    /// id (a photo's subject is its field `ref`).
    Set {
        /// The entry.
        about: String,
        /// The field.
        field: String,
        /// The value.
        value: Value,
    },
    /// Several fields of one entry, as typed into the list of missing ones.
    Fill {
        /// The entry.
        about: String,
        /// Fields and values; never empty.
        values: Vec<(String, Value)>,
    },
    /// These dictated entries are right.
    Confirm {
        /// Their ids; never empty.
        ids: Vec<String>,
    },
    /// A person's word for dictated entries is taken back. Only ever the way back.
    Unconfirm {
        /// Their ids; never empty.
        ids: Vec<String>,
        /// Whose word.
        who: String,
    },
    /// A dictated value is wrong and this one is right: set the field and withdraw the draft.
    Correct {
        /// Id of the draft.
        id: String,
        /// The entry that the field belongs to.
        about: String,
        /// The field.
        field: String,
        /// The right value.
        value: Value,
    },
    /// A dictated entry is wrong: withdraw it.
    Refuse {
        /// Its id.
        id: String,
    },
    /// A withdrawn entry counts again.
    Reinstate {
        /// Its id.
        id: String,
    },
    /// Two units are one.
    Join {
        /// Id of the one that stays.
        keep: String,
        /// Id of its double.
        other: String,
    },
    /// Two units that were joined are two.
    Unjoin {
        /// Id of the double.
        other: String,
    },
    /// Two units are not the same, and the question is not to be asked again.
    KeepApart {
        /// One, by id.
        one: String,
        /// The other, by id.
        other: String,
    },
    /// Fields of a unit, or of the site, that are not recorded wait for the next visit.
    Later {
        /// Tag of the unit, or `site`.
        about: String,
        /// The fields; never empty.
        fields: Vec<String>,
    },
    /// These values of a unit look wrong and are right, or are in doubt again.
    Stand {
        /// The unit.
        about: String,
        /// The fields; never empty.
        fields: Vec<String>,
        /// Whether they are right.
        holds: bool,
    },
    /// A choice between values is open again. Only ever the way back from another choice.
    Reopen {
        /// The entry.
        about: String,
        /// The field.
        field: String,
        /// The values, the one to show first.
        values: Vec<Value>,
    },
    /// An earlier choice is taken back.
    Undo {
        /// Its number, as in [`crate::Settled`].
        seq: i64,
    },
}

/// Fields of one name are told apart by what follows the colon: `value:nameplate.mca_a`.
const VALUE_OF: &str = "value:";

impl Choice {
    /// The hidden fields of a form for this choice, `choice` itself included.
    pub fn fields(&self) -> Vec<(&'static str, String)> {
        let json = |value: &Value| value.to_string();
        match self {
            Self::Set {
                about,
                field,
                value,
            } => vec![
                ("choice", "set".to_owned()),
                ("about", about.clone()),
                ("field", field.clone()),
                ("json", json(value)),
            ],
            Self::Reopen {
                about,
                field,
                values,
            } => vec![
                ("choice", "reopen".to_owned()),
                ("about", about.clone()),
                ("field", field.clone()),
                ("json", Value::from(values.clone()).to_string()),
            ],
            Self::Later { about, fields } => vec![
                ("choice", "later".to_owned()),
                ("about", about.clone()),
                ("json", Value::from(fields.clone()).to_string()),
            ],
            Self::Unconfirm { ids, who } => vec![
                ("choice", "unconfirm".to_owned()),
                ("ids", ids.join(" ")),
                ("who", who.clone()),
            ],
            Self::Stand {
                about,
                fields,
                holds,
            } => vec![
                ("choice", if *holds { "stand" } else { "doubt" }.to_owned()),
                ("about", about.clone()),
                ("json", Value::from(fields.clone()).to_string()),
            ],
            Self::Fill { about, .. } => {
                vec![("choice", "fill".to_owned()), ("about", about.clone())]
            }
            Self::Confirm { ids } => vec![("choice", "confirm".to_owned()), ("ids", ids.join(" "))],
            Self::Correct {
                id, about, field, ..
            } => vec![
                ("choice", "correct".to_owned()),
                ("id", id.clone()),
                ("about", about.clone()),
                ("field", field.clone()),
            ],
            Self::Refuse { id } => vec![("choice", "refuse".to_owned()), ("id", id.clone())],
            Self::Reinstate { id } => vec![("choice", "reinstate".to_owned()), ("id", id.clone())],
            Self::Join { keep, other } => vec![
                ("choice", "join".to_owned()),
                ("keep", keep.clone()),
                ("other", other.clone()),
            ],
            Self::Unjoin { other } => {
                vec![("choice", "unjoin".to_owned()), ("other", other.clone())]
            }
            Self::Undo { seq } => vec![("choice", "undo".to_owned()), ("seq", seq.to_string())],
            Self::KeepApart { one, other } => vec![
                ("choice", "apart".to_owned()),
                ("one", one.clone()),
                ("other", other.clone()),
            ],
        }
    }

    /// Reads the fields of a posted form.
    ///
    /// # Errors
    /// [`InputError`] whose place is the form field (or `value:` and the survey's field) that is
    /// missing or cannot be read, with what would be right.
    pub fn read(form: &[(String, String)]) -> Result<Self, InputError> {
        let get = |name: &str| {
            form.iter()
                .find(|(key, _)| key == name)
                .map(|(_, text)| text.trim())
                .filter(|text| !text.is_empty())
        };
        let need = |name: &str| {
            get(name)
                .map(str::to_owned)
                .ok_or_else(|| InputError::at(name, "is empty; fill it in and send again"))
        };
        match need("choice")?.as_str() {
            "set" => {
                let (about, field) = (need("about")?, need("field")?);
                let value = match get("json") {
                    Some(json) => read_json(json)?,
                    None => typed(&field, &need("value")?)?,
                };
                Ok(Self::Set {
                    about,
                    field,
                    value,
                })
            }
            "reopen" => Ok(Self::Reopen {
                about: need("about")?,
                field: need("field")?,
                values: match read_json(&need("json")?)? {
                    Value::Array(values) => values,
                    _ => return Err(InputError::at("json", "is not a list; reload the page")),
                },
            }),
            "fill" => {
                let about = need("about")?;
                let filled = form.iter().filter_map(|(key, text)| {
                    let field = key.strip_prefix(VALUE_OF)?;
                    (!text.trim().is_empty())
                        .then(|| Ok((field.to_owned(), typed(field, text.trim())?)))
                });
                let values = filled.collect::<Result<Vec<_>, InputError>>()?;
                if values.is_empty() {
                    return Err(InputError::at(
                        "value",
                        "nothing was filled in; type at least one value and send again",
                    ));
                }
                Ok(Self::Fill { about, values })
            }
            "later" => Ok(Self::Later {
                about: need("about")?,
                fields: listed(&need("json")?)?,
            }),
            "stand" | "doubt" => Ok(Self::Stand {
                about: need("about")?,
                fields: listed(&need("json")?)?,
                holds: form
                    .iter()
                    .any(|(key, word)| key == "choice" && word == "stand"),
            }),
            "unconfirm" => Ok(Self::Unconfirm {
                ids: words_of(&need("ids")?),
                who: need("who")?,
            }),
            "confirm" => {
                let given = form.iter().filter(|(key, _)| key == "ids");
                let ids: Vec<String> = given
                    .flat_map(|(_, ids)| ids.split_whitespace())
                    .map(str::to_owned)
                    .collect();
                if ids.is_empty() {
                    return Err(InputError::at(
                        "ids",
                        "nothing is ticked; tick what is right",
                    ));
                }
                Ok(Self::Confirm { ids })
            }
            "correct" => {
                let field = need("field")?;
                Ok(Self::Correct {
                    id: need("id")?,
                    about: need("about")?,
                    value: typed(&field, &need("value")?)?,
                    field,
                })
            }
            "refuse" => Ok(Self::Refuse { id: need("id")? }),
            "reinstate" => Ok(Self::Reinstate { id: need("id")? }),
            "join" => Ok(Self::Join {
                keep: need("keep")?,
                other: need("other")?,
            }),
            "unjoin" => Ok(Self::Unjoin {
                other: need("other")?,
            }),
            "apart" => Ok(Self::KeepApart {
                one: need("one")?,
                other: need("other")?,
            }),
            "undo" => {
                let seq = need("seq")?.parse().map_err(|_| {
                    InputError::at("seq", "is not the number of a choice; reload the page")
                })?;
                Ok(Self::Undo { seq })
            }
            other => Err(InputError::at(
                "choice",
                format!("\"{other}\" is not a choice of this page; reload it and try again"),
            )),
        }
    }
}

fn words_of(text: &str) -> Vec<String> {
    text.split_whitespace().map(str::to_owned).collect()
}

/// A list of texts, which may hold spaces.
fn listed(json: &str) -> Result<Vec<String>, InputError> {
    let odd = |_| InputError::at("json", "is not a list of fields; reload the page");
    serde_json::from_str(json).map_err(odd)
}

fn read_json(text: &str) -> Result<Value, InputError> {
    serde_json::from_str(text)
        .map_err(|_| InputError::at("json", "is not a value; reload the page and choose again"))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    pub(super) fn form(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
        pairs
            .iter()
            .map(|(k, v)| ((*k).to_owned(), (*v).to_owned()))
            .collect()
    }

    #[test]
    fn what_goes_out_as_hidden_fields_comes_back_as_the_same_choice() {
        let s = str::to_owned;
        for choice in [
            Choice::Set {
                about: s("RTU-3"),
                field: s("disconnect.rating_a"),
                value: json!(30.0),
            },
            Choice::Set {
                about: s("p-1"),
                field: s("ref"),
                value: Value::Null,
            },
            Choice::Confirm {
                ids: vec![s("d-1"), s("f-2")],
            },
            Choice::Unconfirm {
                ids: vec![s("d-1")],
                who: s("ana"),
            },
            Choice::Refuse { id: s("d-1") },
            Choice::Reinstate { id: s("d-1") },
            Choice::Join {
                keep: s("a"),
                other: s("b"),
            },
            Choice::Unjoin { other: s("b") },
            Choice::Undo { seq: 7 },
            Choice::Reopen {
                about: s("RTU-3"),
                field: s("disconnect.rating_a"),
                values: vec![json!(30.0), Value::Null],
            },
            Choice::KeepApart {
                one: s("a"),
                other: s("b"),
            },
            Choice::Later {
                about: s("RTU-3"),
                fields: vec![s("filters"), s("roof bakery.edges.2")],
            },
            Choice::Stand {
                about: s("RTU-3"),
                fields: vec![s("nameplate.mca_a"), s("disconnect.rating_a")],
                holds: false,
            },
        ] {
            let sent: Vec<(String, String)> = choice
                .fields()
                .into_iter()
                .map(|(k, v)| (k.to_owned(), v))
                .collect();
            assert_eq!(Choice::read(&sent).unwrap(), choice);
        }
    }

    #[test]
    fn typed_values_join_the_hidden_fields() {
        let filled = form(&[
            ("choice", "fill"),
            ("about", "EF-1"),
            ("value:nameplate.mca_a", "12.5 A"),
            ("value:nameplate.model", "  "),
        ]);
        let values = vec![("nameplate.mca_a".to_owned(), json!(12.5))];
        let about = "EF-1".to_owned();
        assert_eq!(
            Choice::read(&filled).unwrap(),
            Choice::Fill { about, values }
        );
        let corrected = form(&[
            ("choice", "correct"),
            ("id", "d-1"),
            ("about", "EF-1"),
            ("field", "disconnect.in_sight"),
            ("value", "No"),
        ]);
        assert!(matches!(
            Choice::read(&corrected).unwrap(),
            Choice::Correct { value, .. } if value == json!(false)
        ));
    }

    #[test]
    fn ticked_entries_are_confirmed_together() {
        let ticked = form(&[("choice", "confirm"), ("ids", "d-1"), ("ids", "d-3")]);
        let ids = vec!["d-1".to_owned(), "d-3".to_owned()];
        assert_eq!(Choice::read(&ticked).unwrap(), Choice::Confirm { ids });
    }

    #[test]
    fn what_cannot_be_read_names_its_field() {
        for (pairs, place) in [
            (vec![], "choice"),
            (vec![("choice", "dance")], "choice"),
            (vec![("choice", "set"), ("about", "RTU-1")], "field"),
            (vec![("choice", "confirm"), ("ids", " ")], "ids"),
            (vec![("choice", "fill"), ("about", "RTU-1")], "value"),
            (
                vec![
                    ("choice", "fill"),
                    ("about", "RTU-1"),
                    ("value:nameplate.mca_a", "lots"),
                ],
                "nameplate.mca_a",
            ),
            (
                vec![
                    ("choice", "set"),
                    ("about", "a"),
                    ("field", "b"),
                    ("json", "{"),
                ],
                "json",
            ),
        ] {
            assert_eq!(Choice::read(&form(&pairs)).unwrap_err().place, place);
        }
    }
}
