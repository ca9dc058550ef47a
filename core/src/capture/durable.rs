//! The life of a document in a store: begun, loaded, kept, compacted. Device and server alike.
//!
//! The rule: what [`keep`] returned for is on disk. After an error from [`keep`] the document in
//! memory is ahead of the disk and must be dropped and loaded again.

use super::error::CaptureError;
use crate::document::{Actor, Change, SurveyDoc};
use crate::store::{Kept, Store};

/// A document, and what of its storage could not be used.
#[derive(Debug)]
pub struct Loaded {
    /// The document, as far as it could be read.
    pub doc: SurveyDoc,
    /// Damaged chunks, each in one line; an exchange fetches again what they held.
    pub problems: Vec<String>,
}

/// Begins a survey in the store. One that is there already is loaded.
pub fn create(store: &Store, survey_id: &str, actor: Actor) -> Result<SurveyDoc, CaptureError> {
    if let Some(loaded) = load(store, survey_id, actor)? {
        return Ok(loaded.doc);
    }
    let doc = SurveyDoc::create(survey_id, actor)?;
    store.compact(survey_id, &doc.save())?;
    Ok(doc)
}

/// Loads a survey; none if the store does not have it.
pub fn load(store: &Store, survey_id: &str, actor: Actor) -> Result<Option<Loaded>, CaptureError> {
    let Some(mut parts) = store.parts(survey_id)? else {
        return Ok(None);
    };
    let doc = SurveyDoc::load(survey_id, &parts.chunks, actor)?;
    // The list may stay behind, on a full disk say; that is no reason not to open the survey.
    let _ = store.set_summary(survey_id, &summary(&doc));
    if doc.waiting() {
        parts.problems.push(format!(
            "some changes of {survey_id} wait for others that are not here"
        ));
    }
    Ok(Some(Loaded {
        doc,
        problems: parts.problems,
    }))
}

/// Keeps changes that were just made or taken in. On disk when it returns.
pub fn keep(store: &Store, doc: &SurveyDoc, changes: &[Change]) -> Result<(), CaptureError> {
    if changes.is_empty() {
        return Ok(());
    }
    let kept = Kept {
        changes: &joined(changes),
        summary: &summary(doc),
        fact: None,
    };
    Ok(store.keep(doc.survey_id(), &kept)?)
}

/// Keeps changes that an exchange brought together with what is now known to be shared, so that
/// a cut between the two cannot leave changes that no seal vouches for.
pub(super) fn keep_shared(
    store: &Store,
    doc: &SurveyDoc,
    changes: &[Change],
    shared: (&str, &[u8]),
) -> Result<(), CaptureError> {
    let kept = Kept {
        changes: &joined(changes),
        summary: &summary(doc),
        fact: Some(shared),
    };
    Ok(store.keep(doc.survey_id(), &kept)?)
}

/// What a list shows of the document, as the store keeps it.
pub(super) fn summary(doc: &SurveyDoc) -> String {
    // Plain text and a time always make JSON.
    serde_json::to_string(&doc.summary()).unwrap_or_default()
}

fn joined(changes: &[Change]) -> Vec<u8> {
    changes.iter().flat_map(Change::bytes).copied().collect()
}

/// Compacts a survey's storage if enough changes have come together. Loses nothing if it fails
/// or is cut off; call it when there is time.
pub fn tidy(store: &Store, doc: &SurveyDoc) -> Result<(), CaptureError> {
    if store.wants_compaction(doc.survey_id())? {
        store.compact(doc.survey_id(), &doc.save())?;
    }
    Ok(())
}
