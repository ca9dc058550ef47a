//! The server's side: check who signed what, take it in, answer with what the device lacks.

use super::error::ExchangeError;
use super::message::{Answer, Hashes, Limits, PROTOCOL, Request, Status, fitting, join, split};
use super::seal::{SealKey, behind};
use crate::document::{Actor, Change, ChangeHash, SurveyDoc, grow_heads};

/// Who posted a request, as the server knows it, and when by the server's clock.
#[derive(Debug, Clone, Copy)]
pub struct Caller<'a> {
    /// The enrolled device.
    pub device_id: &'a str,
    /// The person the device was enrolled for; absent where anyone may be named.
    pub author: Option<&'a str>,
    /// The server's time in milliseconds since 1970.
    pub now_ms: i64,
}

/// An answer, and what must be on disk before it is sent.
#[derive(Debug)]
pub struct Outcome {
    /// The answer; the server adds which photos it wants before it is sent.
    pub answer: Answer,
    /// Changes that were new, now part of the document.
    pub fresh: Vec<Change>,
}

/// Answers a request. The document must be the server's replica of that survey.
///
/// # Errors
/// [`ExchangeError::Forged`] names the signer; nothing of the request was taken in. After
/// [`ExchangeError::Document`] the document must be loaded again.
pub fn answer(
    doc: &mut SurveyDoc,
    request: &Request,
    caller: Caller<'_>,
    key: &SealKey,
    limits: Limits,
) -> Result<Outcome, ExchangeError> {
    if request.protocol < PROTOCOL {
        return Err(ExchangeError::Protocol {
            theirs: request.protocol,
            ours: PROTOCOL,
        });
    }
    if request.survey_id != doc.survey_id() {
        return Err(ExchangeError::OtherSurvey {
            theirs: request.survey_id.clone(),
            ours: doc.survey_id().to_owned(),
        });
    }
    let mut answer = Answer {
        protocol: PROTOCOL,
        survey_id: request.survey_id.clone(),
        status: Status::UnknownHeads,
        heads: Hashes::of(&doc.heads()),
        shared: Hashes::default(),
        changes: join(&[]),
        more: false,
        seal: None,
        sent_at_ms: request.sent_at_ms,
        answered_at_ms: caller.now_ms,
        want_originals: Hashes::default(),
        want_thumbnails: Hashes::default(),
    };
    let base = request.shared.heads();
    if !base.iter().all(|hash| doc.has(hash)) {
        return Ok(Outcome {
            answer,
            fresh: Vec::new(),
        });
    }
    let posted = split(&request.changes)?;
    let sealed = request
        .seal
        .as_ref()
        .and_then(|seal| key.open(&request.survey_id, seal));
    check_signers(doc, &posted, caller, sealed.as_deref().unwrap_or_default())?;
    let fresh = doc.apply_foreign(&posted)?;
    let shared = grow_heads(&base, &posted);
    let missing = doc.changes_since(&shared).unwrap_or_default();
    let sent = fitting(&missing, limits.chunk_bytes);
    answer.status = Status::Level;
    answer.heads = Hashes::of(&doc.heads());
    answer.changes = join(sent);
    answer.more = sent.len() < missing.len();
    answer.seal = Some(key.seal(&request.survey_id, &grow_heads(&shared, sent)));
    answer.shared = Hashes::of(&shared);
    Ok(Outcome { answer, fresh })
}

/// Every change must be here already, be the caller's own, or lie behind what the server sealed.
fn check_signers(
    doc: &SurveyDoc,
    posted: &[Change],
    caller: Caller<'_>,
    sealed: &[ChangeHash],
) -> Result<(), ExchangeError> {
    let foreign: Vec<&Change> = posted
        .iter()
        .filter(|change| !doc.has(&change.hash()))
        .filter(|change| signer_other_than(change, caller).is_some())
        .collect();
    if foreign.is_empty() {
        return Ok(());
    }
    let behind = behind(posted, sealed);
    for change in foreign {
        if !behind.contains(&change.hash()) {
            return Err(ExchangeError::Forged {
                hash: change.hash().to_string(),
                signer: signer_other_than(change, caller).unwrap_or_default(),
                device: caller.device_id.to_owned(),
            });
        }
    }
    Ok(())
}

/// Whoever signed a change, if that is not the caller.
fn signer_other_than(change: &Change, caller: Caller<'_>) -> Option<String> {
    if !Actor::is_of_device(change.actor(), caller.device_id) {
        let hex: String = change.actor().iter().map(|b| format!("{b:02x}")).collect();
        return Some(format!("actor {hex}"));
    }
    let Some(stamp) = change.stamp() else {
        return Some("nobody".to_owned());
    };
    if stamp.device != caller.device_id {
        return Some(format!("device {}", stamp.device));
    }
    match caller.author {
        Some(author) if author != stamp.author => Some(stamp.author),
        _ => None,
    }
}
