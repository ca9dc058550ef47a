//! Exchanging with the server: the bytes to post, and what an answer changed.

use super::day::{CLOCK_OFFSET, Capture};
use super::durable;
use super::error::CaptureError;
use crate::exchange::{Answer, ExchangeError, Limits, Shared, accept, prepare};

/// What an answer brought.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "uniffi", derive(uniffi::Record))]
pub struct Exchanged {
    /// Changes of others that are new here.
    pub new_changes: usize,
    /// Whether to exchange again at once, since one side has more.
    pub again: bool,
}

impl Capture {
    /// What to post to `/v1/surveys/{id}/exchange`. May be asked for again at any time; only the
    /// answer to the latest counts.
    pub fn prepare_exchange(&mut self, survey_id: &str) -> Result<Vec<u8>, CaptureError> {
        let shared = self.shared(survey_id)?;
        let now_ms = self.now().timestamp_millis();
        let doc = self.doc(survey_id)?;
        let request = prepare(doc, &shared, now_ms, Limits::default()).encode()?;
        self.store
            .set_fact(&asked_name(survey_id), &now_ms.to_le_bytes())?;
        Ok(request)
    }

    /// Takes in what the server answered. On disk when it returns.
    ///
    /// A late answer, to an earlier request than the latest, is passed over: what the server
    /// said then may no longer be so, after it was restored from a backup.
    pub fn accept_exchange(
        &mut self,
        survey_id: &str,
        answer: &[u8],
    ) -> Result<Exchanged, CaptureError> {
        let shared = self.shared(survey_id)?;
        let now_ms = self.now().timestamp_millis();
        let answer = Answer::decode(answer, Limits::default())?;
        let asked = self.store.fact(&asked_name(survey_id))?;
        if asked.as_deref() != Some(answer.sent_at_ms.to_le_bytes().as_slice()) {
            return Ok(Exchanged {
                new_changes: 0,
                again: true,
            });
        }
        let doc = self.doc(survey_id)?;
        let accepted = match accept(doc, &shared, &answer, now_ms, Limits::default()) {
            Err(error @ ExchangeError::Document(_)) => {
                self.forget(survey_id);
                return Err(error.into());
            }
            other => other?,
        };
        if !accepted.fresh.is_empty() {
            self.mark_changed(survey_id);
        }
        let (name, known) = (shared_name(survey_id), accepted.shared.encode()?);
        self.keep_with(survey_id, |store, doc| {
            durable::keep_shared(store, doc, &accepted.fresh, (&name, &known))
        })?;
        self.store
            .set_fact(CLOCK_OFFSET, &accepted.clock_offset_ms.to_le_bytes())?;
        if !accepted.again {
            for row in self.store.photos_of(survey_id)? {
                let hash = &row.meta.hash;
                let original = !accepted.want_originals.contains(hash);
                let thumbnail = !accepted.want_thumbnails.contains(hash);
                self.store.set_sent(hash, original, thumbnail)?;
            }
            self.put_off.clear();
        }
        Ok(Exchanged {
            new_changes: accepted.fresh.len(),
            again: accepted.again,
        })
    }

    fn shared(&self, survey_id: &str) -> Result<Shared, CaptureError> {
        let bytes = self.store.fact(&shared_name(survey_id))?;
        Ok(bytes.map_or_else(Shared::default, |bytes| Shared::decode(&bytes)))
    }
}

fn asked_name(survey_id: &str) -> String {
    format!("asked/{survey_id}")
}

fn shared_name(survey_id: &str) -> String {
    format!("shared/{survey_id}")
}
