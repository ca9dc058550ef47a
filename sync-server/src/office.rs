//! What a caller may do with surveys and photos: the one place where permission and desk meet.
//!
//! A caller only ever reaches the desk of their own contractor, so another firm's survey is not
//! there for them at all; nor is one of their own firm beyond their [`crate::Reach`]. A customer's
//! link opens one survey's assessment paper, with its photos in it, and nothing else.

use crate::accounts::{Caller, Reach, Rights};
use crate::desk::Desk;
use crate::error::AppError;
use crate::readings::Readings;
use crate::state::Office;
use scupper_core::document::{Edit, Stamp, SurveyDoc};
use scupper_core::exchange;
use scupper_core::store::{Part, UploadHead, UploadState};
use scupper_core::survey::Survey;
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::Arc;

const NO_SURVEY: AppError = AppError::NotFound("this survey");
const NO_PHOTO: AppError = AppError::NotFound("this photo");
const NO_UPLOAD: AppError = AppError::NotFound("this upload");

/// Photos of a survey, by hash.
#[derive(Debug, Default)]
pub(crate) struct Arrived {
    /// Those whose original is here.
    pub(crate) here: BTreeSet<String>,
    /// Of these the ones without a thumbnail.
    pub(crate) bare: BTreeSet<String>,
}

impl Office {
    /// The desk of the caller's contractor; for what was already found to be within reach.
    pub(crate) fn desk_of(&self, caller: &Caller) -> Result<Arc<Desk>, AppError> {
        self.desks.of(caller.contractor)
    }

    /// The desk, if the caller may read this survey on it.
    pub(crate) fn readable(&self, caller: &Caller, survey: &str) -> Result<Arc<Desk>, AppError> {
        if let Rights::Customer { survey: own } = &caller.rights {
            return Err(match own == survey {
                true => AppError::Forbidden(
                    "a customer's link opens the assessment and nothing else".to_owned(),
                ),
                false => NO_SURVEY,
            });
        }
        let desk = self.desk_of(caller)?;
        if caller.reach.covers(survey) && desk.has(survey)? {
            Ok(desk)
        } else {
            Err(NO_SURVEY)
        }
    }

    /// The desk, if the caller may write to this survey on it.
    pub(crate) fn writable(&self, caller: &Caller, survey: &str) -> Result<Arc<Desk>, AppError> {
        self.readable(caller, survey)
    }

    /// Surveys that the caller may read, newest first as far as their ids tell.
    pub(crate) fn survey_ids(&self, caller: &Caller) -> Result<Vec<String>, AppError> {
        if let Rights::Customer { .. } = caller.rights {
            return Ok(Vec::new());
        }
        let mut ids = self.desk_of(caller)?.survey_ids()?;
        ids.retain(|id| caller.reach.covers(id));
        ids.reverse();
        Ok(ids)
    }

    /// All that is read of a survey.
    pub(crate) fn readings(&self, caller: &Caller, id: &str) -> Result<Arc<Readings>, AppError> {
        self.readable(caller, id)?;
        self.read(caller, id)
    }

    fn read(&self, caller: &Caller, id: &str) -> Result<Arc<Readings>, AppError> {
        let rates = self.rates(caller.contractor, id)?;
        let desk = self.desk_of(caller)?;
        desk.readings(id, &rates, self.now().date_naive())
    }

    /// The same, also for the customer whose link is to this survey: only for what may leave the
    /// office.
    pub(crate) fn customer_readings(
        &self,
        caller: &Caller,
        id: &str,
    ) -> Result<Arc<Readings>, AppError> {
        match &caller.rights {
            Rights::Customer { survey } if survey == id => self.read(caller, id),
            _ => self.readings(caller, id),
        }
    }

    /// Where a survey stands; for someone who was already found to be allowed to know.
    pub(crate) fn heads_text(&self, contractor: i64, survey: &str) -> Result<String, AppError> {
        let desk = self.desks.of(contractor)?;
        desk.with_doc(survey, |doc| Ok(crate::readings::heads_text(doc)))
    }

    /// Which of the survey's photos are here.
    pub(crate) fn arrived(&self, caller: &Caller, survey: &Survey) -> Result<Arrived, AppError> {
        let desk = self.desk_of(caller)?;
        let mut arrived = Arrived::default();
        let hashes = survey.photos.iter().map(|photo| photo.hash.clone());
        let hashes: Vec<String> = hashes.filter(|hash| crate::desk::is_hash(hash)).collect();
        let (originals, thumbnails) = desk.storage().wanting(&hashes)?;
        arrived.here.extend(hashes);
        for absent in &originals {
            arrived.here.remove(absent);
        }
        let bare = thumbnails.into_iter();
        arrived.bare = bare.filter(|hash| arrived.here.contains(hash)).collect();
        Ok(arrived)
    }

    /// The file and type of a photo's original.
    pub(crate) fn photo(&self, caller: &Caller, hash: &str) -> Result<(PathBuf, String), AppError> {
        let desk = self.shown_to(caller, hash)?;
        let row = desk
            .storage()
            .photo(hash)?
            .filter(|row| row.original_here)
            .ok_or(NO_PHOTO)?;
        let path = desk.storage().path(hash, Part::Original)?.ok_or(NO_PHOTO)?;
        Ok((path, row.meta.media_type))
    }

    /// The file of a photo's thumbnail, a JPEG.
    pub(crate) fn thumbnail(&self, caller: &Caller, hash: &str) -> Result<PathBuf, AppError> {
        self.shown_to(caller, hash)?
            .storage()
            .path(hash, Part::Thumbnail)?
            .ok_or(NO_PHOTO)
    }

    /// The desk, if the caller may see a photo on it. A customer sees photos in the paper only.
    fn shown_to(&self, caller: &Caller, hash: &str) -> Result<Arc<Desk>, AppError> {
        let customer = matches!(caller.rights, Rights::Customer { .. });
        if customer || !crate::desk::is_hash(hash) {
            return Err(NO_PHOTO);
        }
        let desk = self.desk_of(caller)?;
        match reaches_photo(&desk, caller, hash)? {
            true => Ok(desk),
            false => Err(NO_PHOTO),
        }
    }

    /// Begins an upload, or finds it again.
    pub(crate) fn begin_upload(
        &self,
        caller: &Caller,
        head: &UploadHead,
    ) -> Result<UploadState, AppError> {
        let desk = self.writable(caller, &head.survey)?;
        let storage = desk.storage();
        // To name a photo of a survey out of reach must not bring it within: it counts as sent.
        if crate::desk::is_hash(&head.hash)
            && !reaches_photo(&desk, caller, &head.hash)?
            && let Some(stands) = storage.upload_state(&head.hash, head.part)?
            && stands.complete
        {
            return Ok(stands);
        }
        storage.begin_upload(head, self.unix())
    }

    /// The desk where an upload is under way or over, if its survey is within reach.
    pub(crate) fn upload_desk(
        &self,
        caller: &Caller,
        hash: &str,
        part: Part,
    ) -> Result<Arc<Desk>, AppError> {
        let desk = self.desk_of(caller)?;
        if caller.reach == Reach::All {
            return Ok(desk);
        }
        let begun = desk.storage().upload_head(hash, part)?;
        let covered = begun.is_some_and(|head| caller.reach.covers(&head.survey));
        match covered || reaches_photo(&desk, caller, hash)? {
            true => Ok(desk),
            false => Err(NO_UPLOAD),
        }
    }

    /// Answers a device's exchange message. What it brought is on disk before this returns.
    pub(crate) fn exchange(
        &self,
        caller: &Caller,
        device: &str,
        survey: &str,
        message: &[u8],
    ) -> Result<Vec<u8>, AppError> {
        let limits = exchange::Limits::default();
        let request = exchange::Request::decode(message, limits)?;
        check_survey_id(survey)?;
        if request.survey_id != survey {
            return Err(AppError::input(
                "survey_id",
                "is another survey than the address names",
            ));
        }
        let who = exchange::Caller {
            device_id: device,
            author: Some(&caller.name),
            now_ms: self.now().timestamp_millis(),
        };
        if !caller.reach.covers(survey) {
            return Err(NO_SURVEY);
        }
        let desk = self.desk_of(caller)?;
        let began = !desk.has(survey)?;
        let (answer, news) = desk.exchange(&request, who, limits, self.limits.document)?;
        if began {
            self.accounts.record(
                self.unix(),
                Some(caller.contractor),
                &caller.name,
                "began a survey",
                survey,
            )?;
        }
        if news {
            self.live.call(caller.contractor, survey);
        }
        Ok(answer.encode()?)
    }

    /// Opens a survey in the office, from an order or a last visit. Returns its id.
    pub(crate) fn prepare(&self, caller: &Caller, survey: &Survey) -> Result<String, AppError> {
        let Rights::Reviewer { .. } = caller.rights else {
            return Err(AppError::Forbidden(
                "only a reviewer opens a survey".to_owned(),
            ));
        };
        check_survey_id(&survey.survey_id)?;
        if !caller.reach.covers(&survey.survey_id) {
            return Err(AppError::Forbidden(
                "you were given certain surveys only; ask the office for a new one".to_owned(),
            ));
        }
        let desk = self.desk_of(caller)?;
        desk.import(&self.stamp(caller)?, survey)?;
        self.accounts.record(
            self.unix(),
            Some(caller.contractor),
            &caller.name,
            "opened a survey",
            &survey.survey_id,
        )?;
        self.live.call(caller.contractor, &survey.survey_id);
        Ok(survey.survey_id.clone())
    }

    /// Opens the next visit to a survey's site, from its register. Returns the new survey's id.
    pub(crate) fn next_visit(&self, caller: &Caller, survey: &str) -> Result<String, AppError> {
        let desk = self.readable(caller, survey)?;
        let mut start = desk.with_doc(survey, |doc| Ok(doc.next_visit()))?;
        start.survey_id = uuid::Uuid::now_v7().to_string();
        self.prepare(caller, &start)
    }

    fn stamp(&self, caller: &Caller) -> Result<Stamp, AppError> {
        Ok(Stamp {
            author: caller.name.clone(),
            device: self.accounts.office_device()?,
            at: self.now(),
            clock_offset_ms: Some(0),
        })
    }

    /// [`Office::edit`], with where the survey stood before and after.
    pub(crate) fn edit_seen<T>(
        &self,
        caller: &Caller,
        survey: &str,
        decide: impl FnOnce(&SurveyDoc) -> Result<(Vec<Edit>, T), AppError>,
    ) -> Result<(String, T, String), AppError> {
        let (before, decided) = self.edit(caller, survey, |doc| {
            let before = crate::readings::heads_text(doc);
            let (edits, decided) = decide(doc)?;
            Ok((edits, (before, decided)))
        })?;
        let after = self.heads_text(caller.contractor, survey)?;
        Ok((before, decided, after))
    }

    /// Makes edits in a survey under the caller's name. `decide` sees the document first; all of
    /// its edits are on disk when this returns.
    pub(crate) fn edit<T>(
        &self,
        caller: &Caller,
        survey: &str,
        decide: impl FnOnce(&SurveyDoc) -> Result<(Vec<Edit>, T), AppError>,
    ) -> Result<T, AppError> {
        let desk = self.writable(caller, survey)?;
        let decided = desk.edit(survey, &self.stamp(caller)?, decide)?;
        self.live.call(caller.contractor, survey);
        Ok(decided)
    }
}

/// Whether any survey that shows a photo is within the caller's reach.
pub(crate) fn reaches_photo(desk: &Desk, caller: &Caller, hash: &str) -> Result<bool, AppError> {
    if caller.reach == Reach::All {
        return Ok(true);
    }
    let shown_in = desk.storage().surveys_of_photo(hash)?;
    Ok(shown_in.iter().any(|survey| caller.reach.covers(survey)))
}

/// A survey's id stands in addresses and lists, so it is kept plain.
fn check_survey_id(id: &str) -> Result<(), AppError> {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
    if (1..=100).contains(&id.len()) && id.chars().all(plain) && !id.starts_with('.') {
        return Ok(());
    }
    Err(AppError::input(
        "survey_id",
        "must be 1 to 100 letters, digits, dashes, underscores or dots, not beginning with a dot",
    ))
}
