//! Entering what a phone without the app sends: into the document, under its own name.
//!
//! The phone has no document, so its changes are made here, signed as the phone and naming its
//! person: the same as if it had made them. An entry that is there already is not entered again,
//! so a phone that lost an answer sends everything once more.

use super::batch::{Batch, NewUnit, Shot};
use super::told::{Kept, Refused, RoofCard, Then, Told};
use crate::accounts::Caller;
use crate::desk::Desk;
use crate::error::AppError;
use crate::office::reaches_photo;
use crate::state::Office;
use chrono::{DateTime, FixedOffset};
use scupper_core::capture::understand;
use scupper_core::document::{Change, DocumentError, Edit, Stamp, SurveyDoc, Table, UuidIds};
use scupper_core::photo::{self, PhotoError};
use scupper_core::store::{Part, UploadHead};
use scupper_core::survey::spoken::{Interpretation, Transcript};
use scupper_core::survey::{Note, Photo, Survey};
use serde_json::json;

impl Office {
    /// Takes a batch in. What the answer calls kept is on disk before this returns.
    pub(crate) fn take_batch(
        &self,
        caller: &Caller,
        device: &str,
        survey: &str,
        batch: &Batch,
    ) -> Result<Told, AppError> {
        batch.check(caller)?;
        let desk = self.writable(caller, survey)?;
        let now = self.now();
        let offset = now.signed_duration_since(batch.sent_at).num_milliseconds();
        let shown = batch.photos.iter().map(|shot| {
            let ours = reaches_photo(&desk, caller, &shot.hash)?;
            Ok((
                shot,
                look_at(&desk, survey, &shot.hash, ours, now.timestamp())?,
            ))
        });
        let shown: Vec<(&Shot, Shown)> = shown.collect::<Result<_, AppError>>()?;
        let (fresh, told) = desk.edit_for(survey, device, |doc| {
            let stamp = Stamp {
                author: caller.name.clone(),
                device: device.to_owned(),
                at: batch.sent_at,
                clock_offset_ms: Some(offset),
            };
            let mut entering = Entering::new(doc, stamp);
            for unit in &batch.units {
                entering.unit(unit)?;
            }
            for note in &batch.notes {
                entering.note(note)?;
            }
            for (shot, shown) in shown {
                entering.photo(shot, shown)?;
            }
            let (fresh, survey) = (!entering.changes.is_empty(), &entering.survey);
            let kept = entering.kept.into_iter().map(|id| Kept::of(survey, id));
            let told = Told {
                author: caller.name.clone(),
                answered_at: now,
                clock_offset_ms: offset,
                kept: kept.collect(),
                roof: RoofCard::of(survey),
                refused: entering.refused,
            };
            Ok((entering.changes, (fresh, told)))
        })?;
        if fresh {
            self.live.call(caller.contractor, survey);
        }
        Ok(told)
    }
}

/// What is to be seen of a photo that a phone names.
enum Shown {
    /// The original is not here.
    NotHere,
    /// It is no picture that is taken.
    Not(PhotoError),
    /// As it is entered.
    As(Box<Photo>),
}

/// Looks at an original, and makes its thumbnail. Of a photo that is not `ours` to see, one of a
/// survey out of reach, nothing is told but what the caller knows.
fn look_at(desk: &Desk, survey: &str, hash: &str, ours: bool, now: i64) -> Result<Shown, AppError> {
    let storage = desk.storage();
    let here = storage.photo(hash)?.is_some_and(|row| row.original_here);
    let Some(path) = storage.path(hash, Part::Original)?.filter(|_| here) else {
        return Ok(Shown::NotHere);
    };
    if !ours {
        return Ok(Shown::As(Box::new(Photo {
            hash: hash.to_owned(),
            ..Photo::default()
        })));
    }
    let original = std::fs::read(path)?;
    let taken = match photo::intake(&original, None, photo::Limits::default()) {
        Ok(taken) => taken,
        Err(problem) => return Ok(Shown::Not(problem)),
    };
    if let Some(thumbnail) = &taken.thumbnail {
        let head = UploadHead {
            hash: hash.to_owned(),
            part: Part::Thumbnail,
            survey: survey.to_owned(),
            media_type: "image/jpeg".to_owned(),
            length: thumbnail.len() as u64,
            content: blake3::hash(thumbnail).to_hex().to_string(),
        };
        let stands = storage.begin_upload(&head, now)?;
        if !stands.complete {
            let rest = thumbnail.get(stands.offset as usize..).unwrap_or_default();
            storage.append_upload(hash, Part::Thumbnail, stands.offset, rest)?;
        }
    }
    Ok(Shown::As(Box::new(taken.photo)))
}

/// A batch on its way into a document.
struct Entering<'d> {
    doc: &'d mut SurveyDoc,
    stamp: Stamp,
    survey: Survey,
    changes: Vec<Change>,
    kept: Vec<String>,
    refused: Vec<Refused>,
}

/// How an id stands in a survey.
enum Known {
    Not,
    Same,
    Other,
}

impl<'d> Entering<'d> {
    fn new(doc: &'d mut SurveyDoc, stamp: Stamp) -> Self {
        Self {
            survey: doc.survey(),
            doc,
            stamp,
            changes: Vec::new(),
            kept: Vec::new(),
            refused: Vec::new(),
        }
    }

    fn unit(&mut self, unit: &NewUnit) -> Result<(), AppError> {
        // The same tag is the same unit, whoever entered it.
        if self.survey.unit(&unit.tag).is_some() {
            self.kept.push(unit.id.clone());
            return Ok(());
        }
        let entry = json!({"tag": unit.tag, "kind": unit.kind});
        let known = self.known(&unit.id, |survey| {
            survey.equipment.iter().any(|held| held.id == unit.id)
        });
        self.add(known, Table::Equipment, &unit.id, unit.at, entry)
    }

    fn photo(&mut self, shot: &Shot, shown: Shown) -> Result<(), AppError> {
        let author = Some(self.stamp.author.clone());
        let known = self.known(&shot.id, |survey| {
            let held = survey.photos.iter().find(|held| held.id == shot.id);
            held.is_some_and(|held| held.hash == shot.hash && held.author == author)
        });
        let photo = match shown {
            Shown::As(photo) => photo,
            Shown::NotHere => {
                self.refused.push(Refused {
                    id: shot.id.clone(),
                    why: "the photo itself has not arrived; send it first".to_owned(),
                    then: Then::SendPhoto,
                });
                return Ok(());
            }
            Shown::Not(problem) => {
                self.refused
                    .push(Refused::ask(&shot.id, problem.to_string()));
                return Ok(());
            }
        };
        let entry = Photo {
            author,
            taken_at: photo.taken_at.or(Some(shot.at)),
            about: shot.about.clone(),
            caption: shot.caption.clone().filter(|text| !text.trim().is_empty()),
            ..*photo
        };
        self.add(known, Table::Photos, &shot.id, shot.at, json!(entry))
    }

    fn add(
        &mut self,
        known: Known,
        table: Table,
        id: &str,
        at: DateTime<FixedOffset>,
        entry: serde_json::Value,
    ) -> Result<(), AppError> {
        let stamp = self.stamped(at);
        self.enter(known, id, |doc| {
            let id = id.to_owned();
            doc.edit(&stamp, Edit::Add { table, id, entry })
        })
    }

    fn note(&mut self, note: &Transcript) -> Result<(), AppError> {
        if note
            .segments
            .iter()
            .all(|piece| piece.text.trim().is_empty())
        {
            let why = "the note has no words; write some, or throw it away";
            self.refused.push(Refused::ask(&note.note_id, why));
            return Ok(());
        }
        let whole = Transcript {
            author: Some(self.stamp.author.clone()),
            ..note.clone()
        };
        let known = self.known(&note.note_id, |survey| {
            let held = survey.notes.iter().find(|held| held.id == note.note_id);
            held.is_some_and(|held| same_note(held, &whole))
        });
        // A note that is here already is not understood once more.
        if !matches!(known, Known::Not) {
            return self.enter(known, &note.note_id, |_| Ok(None));
        }
        let stamp = self.stamped(whole.recorded_at.unwrap_or(self.stamp.at));
        let heard = understand(&self.survey, &whole);
        let mut ids = ids_of(&whole, &heard, &self.survey)?;
        self.enter(known, &note.note_id, |doc| {
            doc.add_interpretation(&stamp, &whole, &heard, &mut ids)
        })
    }

    fn stamped(&self, at: DateTime<FixedOffset>) -> Stamp {
        Stamp {
            at,
            ..self.stamp.clone()
        }
    }

    /// Makes one change, unless it was made before.
    fn enter(
        &mut self,
        known: Known,
        id: &str,
        work: impl FnOnce(&mut SurveyDoc) -> Result<Option<Change>, DocumentError>,
    ) -> Result<(), AppError> {
        match known {
            Known::Same => {}
            Known::Other => {
                self.refused.push(Refused {
                    id: id.to_owned(),
                    why: "another entry has this id; send it under a fresh one".to_owned(),
                    then: Then::FreshId,
                });
                return Ok(());
            }
            Known::Not => match work(self.doc) {
                Ok(change) => {
                    self.changes.extend(change);
                    self.survey = self.doc.survey();
                }
                Err(
                    error @ (DocumentError::BadValue { .. } | DocumentError::NotAllowed { .. }),
                ) => {
                    self.refused.push(Refused::ask(id, error.to_string()));
                    return Ok(());
                }
                Err(error) => return Err(error.into()),
            },
        }
        self.kept.push(id.to_owned());
        Ok(())
    }

    /// Whether an id is taken, and if so by this very entry.
    fn known(&self, id: &str, same: impl FnOnce(&Survey) -> bool) -> Known {
        match (same(&self.survey), self.doc.has_entry(id)) {
            (true, _) => Known::Same,
            (false, true) => Known::Other,
            (false, false) => Known::Not,
        }
    }
}

/// Ids for what is made of a note. They follow from its words, what was understood of them and the
/// units that were known: of servers that are given a note at once each makes the same entries,
/// and of servers that understood it differently none overwrites another's.
fn ids_of(
    note: &Transcript,
    heard: &Interpretation,
    survey: &Survey,
) -> Result<UuidIds<impl FnMut() -> [u8; 8] + use<>>, AppError> {
    let units = survey.equipment.iter();
    let units: Vec<(&str, &str)> = units.map(|unit| (&*unit.id, &*unit.tag)).collect();
    let mut hash = blake3::Hasher::new_derive_key("scupper 2026 ids of what a note says");
    serde_json::to_writer(&mut hash, &(note, heard, units))
        .map_err(|error| AppError::internal("hashing a note", error))?;
    let mut stream = hash.finalize_xof();
    Ok(UuidIds::new(move || {
        let mut bytes = [0; 8];
        stream.fill(&mut bytes);
        bytes
    }))
}

fn same_note(held: &Note, sent: &Transcript) -> bool {
    held.author == sent.author && held.segments == sent.segments
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use scupper_core::document::Actor;
    use scupper_core::survey::read;

    fn note(id: &str, words: &str) -> Transcript {
        let note = json!({"note_id": id, "recorded_at": "2026-04-14T08:10:00-08:00",
            "segments": [{"text": words}]});
        read::from_json(&note.to_string()).unwrap()
    }

    /// One of several servers, which takes these notes in for the same phone.
    fn server(n: u8, from: &SurveyDoc, notes: &[Transcript]) -> SurveyDoc {
        let actor = Actor::of_device("phone-a", [n; 6]);
        let mut doc = SurveyDoc::load(from.survey_id(), &[from.save()], actor).unwrap();
        let stamp = Stamp {
            author: "tech-1".to_owned(),
            device: "phone-a".to_owned(),
            at: notes[0].recorded_at.unwrap(),
            clock_offset_ms: Some(i64::from(n)),
        };
        let mut entering = Entering::new(&mut doc, stamp);
        for note in notes {
            entering.note(note).unwrap();
        }
        assert_eq!(entering.kept.len(), notes.len());
        doc
    }

    #[test]
    fn a_batch_given_to_two_servers_at_once_is_drafted_once() {
        let base = SurveyDoc::create("s", Actor::of_device("office", [0; 6])).unwrap();
        let notes = [
            note(
                "n-1",
                "Exhaust fan one. MCA is 12. The belt is cracked. The belt is worn.",
            ),
            note(
                "n-2",
                "Exhaust fan two, MCA 8. Watch out, the ladder is loose.",
            ),
        ];
        let alone = server(1, &base, &notes);
        let mut both = server(2, &base, &notes);
        both.apply_changes(&alone.changes_since(&[]).unwrap())
            .unwrap();
        let (alone, merged) = (alone.survey(), both.survey());
        assert!(alone.drafts.len() >= 2 && alone.findings.len() >= 2);
        assert_eq!(merged, alone);
        assert!(both.conflicts().is_empty() && both.same_unit_offers().is_empty());
    }

    #[test]
    fn what_two_servers_understand_differently_is_kept_of_both() {
        let base = SurveyDoc::create("s", Actor::of_device("office", [0; 6])).unwrap();
        let named = note("n-0", "Rooftop unit three. MCA is 20.");
        let short = note(
            "n-1",
            "Number three has a cracked belt. Exhaust fan one, MCA is 12.",
        );
        let one = server(1, &base, &[named, short.clone()]);
        let mut other = server(2, &base, &[short]);
        let heard = [&one, &other].map(|doc| {
            let survey = doc.survey();
            let of = |note: Option<&str>| note == Some("n-1");
            let drafts = survey.drafts.iter();
            let drafts = drafts.filter(|draft| of(draft.origin.note_id.as_deref()));
            drafts.map(|draft| draft.id.clone()).collect::<Vec<_>>()
        });
        other
            .apply_changes(&one.changes_since(&[]).unwrap())
            .unwrap();
        let merged = other.survey();
        for id in heard.iter().flatten() {
            assert!(
                merged.drafts.iter().any(|draft| draft.id == *id),
                "{id} is lost"
            );
        }
    }
}
