//! The device's side: what to post, and what an answer means.

use super::error::ExchangeError;
use super::message::{
    Answer, Blob, Hashes, Limits, PROTOCOL, Request, Status, fitting, join, split,
};
use super::seal::{Seal, behind};
use crate::document::{Change, ChangeHash, SurveyDoc, grow_heads};
use serde::{Deserialize, Serialize};

/// What a device remembers of its exchanges about one survey, between them.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shared {
    /// Heads of what both sides are known to have.
    pub heads: Hashes,
    /// The server's word for changes that went through it.
    pub seal: Option<Seal>,
    /// Whether the server asked for what it lost.
    pub giving_back: bool,
    /// Its word for ever longer parts of the history before `seal`, a quarter of a message apart, so
    /// that more than one message holds can be given back.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub earlier: Vec<Seal>,
    /// Bytes of changes that both sides came to share since the last of those.
    #[serde(default)]
    pub since_bytes: u64,
}

impl Shared {
    /// As bytes, to be stored.
    pub fn encode(&self) -> Result<Vec<u8>, ExchangeError> {
        let mut bytes = Vec::new();
        let written = ciborium::into_writer(self, &mut bytes);
        written.map_err(|error| ExchangeError::Unreadable {
            problem: error.to_string(),
        })?;
        Ok(bytes)
    }

    /// From bytes; what cannot be read means that nothing is known to be shared, which costs a
    /// longer exchange and loses nothing.
    pub fn decode(bytes: &[u8]) -> Self {
        ciborium::from_reader(bytes).unwrap_or_default()
    }
}

/// What an answer brought.
#[derive(Debug)]
pub struct Accepted {
    /// Changes that were new, now part of the document; to be stored before `shared` is.
    pub fresh: Vec<Change>,
    /// What to remember.
    pub shared: Shared,
    /// Whether another round is due, since one side has more.
    pub again: bool,
    /// Server clock minus device clock, in milliseconds.
    pub clock_offset_ms: i64,
    /// Photos whose original the server wants, by name.
    pub want_originals: Vec<String>,
    /// Photos whose thumbnail the server wants, by name.
    pub want_thumbnails: Vec<String>,
}

/// The next request of a device about a survey.
pub fn prepare(doc: &SurveyDoc, shared: &Shared, now_ms: i64, limits: Limits) -> Request {
    let known = shared.heads.heads();
    // A document that lost something no longer has the shared heads: begin from nothing.
    let (base, unsent) = match doc.changes_since(&known) {
        Some(unsent) => (known, unsent),
        None => (Vec::new(), doc.changes_since(&[]).unwrap_or_default()),
    };
    let vouched = shared.giving_back || base != shared.heads.heads();
    let (changes, seal) = match shared.giving_back {
        true => give_back(shared, &unsent, limits),
        false => (join(fitting(&unsent, limits.chunk_bytes)), None),
    };
    Request {
        protocol: PROTOCOL,
        survey_id: doc.survey_id().to_owned(),
        shared: Hashes::of(&base),
        changes,
        sent_at_ms: now_ms,
        seal: seal.or_else(|| shared.seal.clone().filter(|_| vouched)),
    }
}

/// What goes back to a restored server, and the seal for it. The server must find all that a seal
/// vouches for in one message: everything if that fits, else what lies behind the latest seal
/// whose history does.
fn give_back(shared: &Shared, unsent: &[Change], limits: Limits) -> (Blob, Option<Seal>) {
    let most = limits.message_bytes - limits.message_bytes / 16;
    let whole = fitting(unsent, most);
    if whole.len() < unsent.len() {
        for seal in shared.seal.iter().chain(shared.earlier.iter().rev()) {
            let behind = behind(unsent, &seal.heads.heads());
            let mut part = unsent.to_vec();
            part.retain(|change| behind.contains(&change.hash()));
            if !part.is_empty() && fitting(&part, most).len() == part.len() {
                return (join(&part), Some(seal.clone()));
            }
        }
    }
    (join(whole), None)
}

/// Takes in an answer, within the limits that its request was prepared with.
///
/// # Errors
/// [`ExchangeError`]; after [`ExchangeError::Document`] the document must be loaded again.
pub fn accept(
    doc: &mut SurveyDoc,
    shared: &Shared,
    answer: &Answer,
    now_ms: i64,
    limits: Limits,
) -> Result<Accepted, ExchangeError> {
    if answer.protocol != PROTOCOL {
        return Err(ExchangeError::Protocol {
            theirs: answer.protocol,
            ours: PROTOCOL,
        });
    }
    if answer.survey_id != doc.survey_id() {
        return Err(ExchangeError::OtherSurvey {
            theirs: answer.survey_id.clone(),
            ours: doc.survey_id().to_owned(),
        });
    }
    let there_and_back = answer.sent_at_ms.midpoint(now_ms);
    let mut accepted = Accepted {
        fresh: Vec::new(),
        shared: shared.clone(),
        again: true,
        clock_offset_ms: answer.answered_at_ms.saturating_sub(there_and_back),
        want_originals: answer.want_originals.hex(),
        want_thumbnails: answer.want_thumbnails.hex(),
    };
    if answer.status == Status::UnknownHeads {
        let theirs = answer.heads.heads();
        let known = theirs.iter().all(|hash| doc.has(hash));
        accepted.shared.heads = Hashes::of(if known { &theirs } else { &[] });
        accepted.shared.giving_back = true;
        return Ok(accepted);
    }
    let changes = split(&answer.changes)?;
    let posted = doc.changes_since(&shared.heads.heads()).unwrap_or_default();
    accepted.fresh = doc.apply_changes(&changes)?;
    let both = grow_heads(&answer.shared.heads(), &changes);
    let sound = both.iter().all(|hash| doc.has(hash));
    accepted.shared.heads = Hashes::of(if sound { &both } else { &[] });
    if shared.giving_back && owes(doc, &both, shared.seal.as_ref()) {
        // There is more to give back: the words for it are kept until it is done.
        accepted.again = true;
        return Ok(accepted);
    }
    accepted.shared.giving_back = false;
    accepted.shared.seal.clone_from(&answer.seal);
    let bytes = [&posted, &changes].into_iter().flatten().map(Change::bytes);
    accepted.shared.since_bytes += bytes.map(|bytes| bytes.len() as u64).sum::<u64>();
    if accepted.shared.since_bytes > limits.message_bytes as u64 / 4 {
        accepted.shared.since_bytes = 0;
        accepted.shared.earlier.extend(answer.seal.clone());
    }
    accepted.again = answer.more || doc.heads() != both;
    Ok(accepted)
}

/// Whether the server still lacks something that it once sealed.
fn owes(doc: &SurveyDoc, both: &[ChangeHash], seal: Option<&Seal>) -> bool {
    let beyond = doc.changes_since(both).unwrap_or_default();
    seal.is_some_and(|seal| !behind(&beyond, &seal.heads.heads()).is_empty())
}
