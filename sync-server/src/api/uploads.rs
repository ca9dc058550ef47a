//! Resumable photo upload, shaped like draft-ietf-httpbis-resumable-upload-09.
//!
//! `POST /v1/uploads` begins (or finds again), `HEAD` tells the offset, `PATCH` appends at it,
//! `DELETE` gives up. The photo counts once its last byte is on disk and its BLAKE3 is right.

use super::auth::Device;
use crate::accounts::{Part, UploadRow};
use crate::error::AppError;
use crate::state::{AppState, Office};
use axum::body::{Body, BodyDataStream};
use axum::extract::{Path, State};
use axum::http::{HeaderMap, HeaderName, StatusCode};
use axum::response::{IntoResponse, Response};
use futures_util::StreamExt;

const OFFSET: HeaderName = HeaderName::from_static("upload-offset");
const LENGTH: HeaderName = HeaderName::from_static("upload-length");
const COMPLETE: HeaderName = HeaderName::from_static("upload-complete");
const PHOTO: HeaderName = HeaderName::from_static("photo-hash");
const PART: HeaderName = HeaderName::from_static("photo-part");
const DIGEST: HeaderName = HeaderName::from_static("upload-blake3");
/// Bytes gathered before they are written.
const PIECE: usize = 256 << 10;

pub(crate) async fn begin(
    State(state): State<AppState>,
    device: Device,
    headers: HeaderMap,
) -> Result<Response, AppError> {
    let length = number(&headers, LENGTH)?;
    let photo = hash(&headers, PHOTO)?;
    let part = text(&headers, PART)
        .and_then(Part::from_word)
        .ok_or_else(|| AppError::input("Photo-Part", "must be `thumbnail` or `original`"))?;
    let digest = match part {
        Part::Original => photo.clone(),
        Part::Thumbnail => hash(&headers, DIGEST)?,
    };
    if length == 0 {
        return Err(AppError::input("Upload-Length", "is 0; an empty file is no photo"));
    }
    if length > state.limits.photo {
        return Err(AppError::TooLarge { what: "the photo", limit: state.limits.photo });
    }
    state
        .blocking(move |office| {
            let caller = &device.caller;
            if office.has(caller.contractor, &photo, part)? {
                return Ok((StatusCode::OK, [(COMPLETE, "?1")]).into_response());
            }
            let kept = office.accounts.photo_bytes(caller.contractor)?;
            if kept.saturating_add(length) > office.limits.contractor_photos {
                return Err(AppError::Full(format!(
                    "the photo quota of {} bytes is used up; ask the office for more",
                    office.limits.contractor_photos
                )));
            }
            let row = office.accounts.begin_upload(
                office.unix(),
                caller,
                (&photo, part, &digest, length),
                office.limits.open_uploads,
            )?;
            let place = format!("/v1/uploads/{}", row.id);
            let offset = office.uploads.offset(&row)?;
            let headers = [
                (HeaderName::from_static("location"), place),
                (OFFSET, offset.to_string()),
                (COMPLETE, "?0".to_owned()),
            ];
            Ok((StatusCode::CREATED, headers).into_response())
        })
        .await
}

pub(crate) async fn stand(
    State(state): State<AppState>,
    device: Device,
    Path(id): Path<String>,
) -> Result<Response, AppError> {
    state
        .blocking(move |office| {
            let row = office.accounts.upload(&device.caller, &id)?;
            let offset = office.uploads.offset(&row)?;
            let headers = [
                (OFFSET, offset.to_string()),
                (LENGTH, row.length.to_string()),
                (COMPLETE, "?0".to_owned()),
                (HeaderName::from_static("cache-control"), "no-store".to_owned()),
            ];
            Ok((StatusCode::NO_CONTENT, headers).into_response())
        })
        .await
}

pub(crate) async fn append(
    State(state): State<AppState>,
    device: Device,
    Path(id): Path<String>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response, AppError> {
    let claimed = number(&headers, OFFSET)?;
    let row = {
        let caller = device.caller.clone();
        let id = id.clone();
        state.blocking(move |office| office.accounts.upload(&caller, &id)).await?
    };
    let appender = state.uploads.appender(&row).await?;
    if appender.offset() != claimed {
        return Err(AppError::Conflict {
            detail: format!(
                "the upload stands at byte {}, not {claimed}; go on from there",
                appender.offset()
            ),
            headers: vec![
                ("upload-offset", appender.offset().to_string()),
                ("upload-complete", "?0".to_owned()),
            ],
        });
    }
    let appender = take_in(appender, body.into_data_stream()).await?;
    let (offset, complete) = (appender.offset(), appender.complete());
    let finished = {
        let row = row.clone();
        state.blocking(move |office| {
            office.accounts.upload_moved(office.unix(), &row.id)?;
            if complete {
                office.finish_upload(&row)?;
            }
            // Only now may the next writer in: a finished upload is gone by then.
            drop(appender);
            Ok(())
        })
    };
    finished.await?;
    let headers =
        [(OFFSET, offset.to_string()), (COMPLETE, if complete { "?1" } else { "?0" }.to_owned())];
    Ok((StatusCode::NO_CONTENT, headers).into_response())
}

pub(crate) async fn cancel(
    State(state): State<AppState>,
    device: Device,
    Path(id): Path<String>,
) -> Result<StatusCode, AppError> {
    let row = state.blocking(move |office| office.accounts.upload(&device.caller, &id)).await?;
    let appender = state.uploads.appender(&row).await?;
    state
        .blocking(move |office| {
            office.drop_upload(&row)?;
            drop(appender);
            Ok(StatusCode::NO_CONTENT)
        })
        .await
}

/// Appends a body piece by piece. What came before a cut is kept: the next `HEAD` tells of it.
async fn take_in(
    mut appender: crate::uploads::Appender,
    mut body: BodyDataStream,
) -> Result<crate::uploads::Appender, AppError> {
    let mut piece = Vec::with_capacity(PIECE);
    let mut cut = false;
    while let Some(bytes) = body.next().await {
        let Ok(bytes) = bytes else {
            cut = true;
            break;
        };
        piece.extend_from_slice(&bytes);
        if piece.len() >= PIECE {
            appender = appender.write(std::mem::take(&mut piece)).await?;
        }
    }
    if !piece.is_empty() {
        appender = appender.write(piece).await?;
    }
    let appender = appender.flush().await?;
    if cut {
        return Err(AppError::input(
            "body",
            "the connection ended early; ask for the offset and go on from there",
        ));
    }
    Ok(appender)
}

impl Office {
    /// Checks a file whose last byte is here, and makes it count.
    fn finish_upload(&self, row: &UploadRow) -> Result<(), AppError> {
        let path = self.uploads.path(row);
        let found = crate::uploads::digest_of(&path)?;
        if found != row.digest {
            self.drop_upload(row)?;
            return Err(AppError::Unusable(format!(
                "the bytes have BLAKE3 {found}, not the announced {}; the upload was dropped, \
                 begin it again",
                row.digest
            )));
        }
        if let Err(error) = self.keep_photo(row, &path) {
            if matches!(error, AppError::Unusable(_)) {
                self.drop_upload(row)?;
            }
            return Err(error);
        }
        self.drop_upload(row)
    }

    fn drop_upload(&self, row: &UploadRow) -> Result<(), AppError> {
        self.uploads.discard(&row.id)?;
        self.accounts.end_upload(&row.id)
    }
}

fn text(headers: &HeaderMap, name: HeaderName) -> Option<&str> {
    headers.get(name)?.to_str().ok()
}

fn number(headers: &HeaderMap, name: HeaderName) -> Result<u64, AppError> {
    text(headers, name.clone())
        .and_then(|value| value.parse().ok())
        .ok_or_else(|| AppError::input(name.as_str(), "must be a whole number of bytes"))
}

fn hash(headers: &HeaderMap, name: HeaderName) -> Result<String, AppError> {
    let value = text(headers, name.clone()).unwrap_or_default().to_ascii_lowercase();
    if !is_hash(&value) {
        return Err(AppError::input(name.as_str(), "must be a BLAKE3 hash: 64 hex digits"));
    }
    Ok(value)
}

/// Whether text is a BLAKE3 hash in lower-case hex.
pub(crate) fn is_hash(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
}
