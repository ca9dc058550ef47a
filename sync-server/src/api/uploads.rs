//! Resumable photo upload, shaped like draft-ietf-httpbis-resumable-upload-09.
//!
//! `POST /v1/uploads` begins (or finds again), `HEAD` tells the offset, `PATCH` appends at it,
//! `DELETE` gives up. Any device of the firm may go on where another stopped. The photo counts
//! once its last byte is on disk and its BLAKE3 is right, which core's store sees to.

use super::auth::Device;
use super::openapi::{NotRead, NotTaken, PartName, Raw};
use super::place::Place;
use crate::desk::{Desk, Turn};
use crate::error::AppError;
use crate::state::AppState;
use axum::body::{Body, BodyDataStream};
use axum::extract::State;
use axum::http::{HeaderMap, HeaderName, StatusCode};
use axum::response::{IntoResponse, Response};
use futures_util::StreamExt;
use scupper_core::capture::{CONTENT_HEADER, PART_HEADER, PHOTO_HEADER, SURVEY_HEADER};
use scupper_core::store::{Part, UploadHead, UploadState};
use std::sync::Arc;

const OFFSET: HeaderName = HeaderName::from_static("upload-offset");
const LENGTH: HeaderName = HeaderName::from_static("upload-length");
const COMPLETE: HeaderName = HeaderName::from_static("upload-complete");
/// Bytes gathered before they are written and flushed.
const PIECE: usize = 512 << 10;

/// The address of an upload: which file of which photo.
fn parse(id: &str) -> Result<(Part, &str), AppError> {
    id.split_once('-')
        .and_then(|(part, hash)| Some((Part::from_name(part)?, hash)))
        .ok_or(AppError::NotFound("this upload"))
}

fn state_headers(state: UploadState) -> [(HeaderName, String); 3] {
    [
        (OFFSET, state.offset.to_string()),
        (LENGTH, state.length.to_string()),
        (
            COMPLETE,
            if state.complete { "?1" } else { "?0" }.to_owned(),
        ),
    ]
}

#[utoipa::path(
    post,
    path = "/v1/uploads",
    params(
        ("Content-Type" = String, Header, pattern = "^image/[a-z]{3,10}$"),
        ("Upload-Length" = u64, Header, minimum = 1, maximum = 67_108_864,
            description = "bytes of the whole file; of a thumbnail 1 MiB at most"),
        ("Scupper-Photo" = String, Header, pattern = "^[0-9a-f]{64}$",
            description = "BLAKE3 of the original in hex"),
        ("Scupper-Part" = inline(PartName), Header, description = "which file"),
        ("Scupper-Content" = String, Header, pattern = "^[0-9a-f]{64}$",
            description = "BLAKE3 of this file in hex"),
        ("Scupper-Survey" = String, Header, pattern = "^[A-Za-z0-9_-]{1,100}$",
            description = "the survey that shows it"),
    ),
    security(("device" = [])),
    responses(
        (status = 200, description = "the file is here already"),
        (status = 201, description = "go on at `Location` from `Upload-Offset`"),
        NotRead,
        NotTaken,
    )
)]
pub(crate) async fn begin(
    State(state): State<AppState>,
    device: Device,
    headers: HeaderMap,
) -> Result<Response, AppError> {
    let head = head(&headers)?;
    if head.length > state.limits.photo {
        return Err(AppError::TooLarge {
            what: "the photo",
            limit: state.limits.photo,
        });
    }
    let place = format!("/v1/uploads/{}-{}", head.part.name(), head.hash);
    let stands = state
        .blocking(move |office| office.begin_upload(&device.caller, &head))
        .await?;
    let status = if stands.complete {
        StatusCode::OK
    } else {
        StatusCode::CREATED
    };
    let location = [(HeaderName::from_static("location"), place)];
    Ok((status, location, state_headers(stands)).into_response())
}

#[utoipa::path(
    head,
    path = "/v1/uploads/{id}",
    params(("id" = String, Path, description = "from `Location`")),
    security(("device" = [])),
    responses(
        (status = 204, description = "`Upload-Offset`, `Upload-Length`, `Upload-Complete`"),
        (status = 400),
        (status = 401),
        (status = 404),
        (status = 429),
    )
)]
pub(crate) async fn stand(
    State(state): State<AppState>,
    device: Device,
    Place(id): Place,
) -> Result<Response, AppError> {
    let stands = state
        .blocking(move |office| {
            let (part, hash) = parse(&id)?;
            let desk = office.upload_desk(&device.caller, hash, part)?;
            let stands = desk.storage().upload_state(hash, part)?;
            stands.ok_or(AppError::NotFound("this upload"))
        })
        .await?;
    Ok((StatusCode::NO_CONTENT, state_headers(stands)).into_response())
}

#[utoipa::path(
    patch,
    path = "/v1/uploads/{id}",
    params(
        ("id" = String, Path, description = "from `Location`"),
        ("Upload-Offset" = u64, Header, description = "where these bytes go"),
    ),
    request_body(content = Raw, content_type = "application/partial-upload"),
    security(("device" = [])),
    responses((status = 204, description = "where it stands"), NotRead, NotTaken)
)]
pub(crate) async fn append(
    State(state): State<AppState>,
    device: Device,
    Place(id): Place,
    headers: HeaderMap,
    body: Body,
) -> Result<Response, AppError> {
    let offset = number(&headers, &OFFSET)?;
    let desk = desk_of(&state, &device, &id).await?;
    let turn = desk.append_turn(&id).await?;
    let stands = take_in(turn, &id, offset, body.into_data_stream()).await?;
    Ok((StatusCode::NO_CONTENT, state_headers(stands)).into_response())
}

#[utoipa::path(
    delete,
    path = "/v1/uploads/{id}",
    params(("id" = String, Path, description = "from `Location`")),
    security(("device" = [])),
    responses((status = 204), NotRead, NotTaken)
)]
pub(crate) async fn cancel(
    State(state): State<AppState>,
    device: Device,
    Place(id): Place,
) -> Result<StatusCode, AppError> {
    let desk = desk_of(&state, &device, &id).await?;
    let turn = desk.append_turn(&id).await?;
    state
        .blocking(move |_| {
            let (part, hash) = parse(&id)?;
            turn.storage().drop_upload(hash, part)?;
            Ok(StatusCode::NO_CONTENT)
        })
        .await
}

async fn desk_of(state: &AppState, device: &Device, id: &str) -> Result<Arc<Desk>, AppError> {
    let (caller, id) = (device.caller.clone(), id.to_owned());
    state
        .blocking(move |office| {
            let (part, hash) = parse(&id)?;
            office.upload_desk(&caller, hash, part)
        })
        .await
}

/// Appends a body piece by piece. What came before a cut is kept: the next `HEAD` tells of it.
async fn take_in(
    mut turn: Turn,
    id: &str,
    mut offset: u64,
    mut body: BodyDataStream,
) -> Result<UploadState, AppError> {
    let mut piece = Vec::with_capacity(PIECE);
    loop {
        let next = body.next().await;
        let ended = next.is_none();
        let mut cut = false;
        match next {
            Some(Ok(bytes)) => piece.extend_from_slice(&bytes),
            Some(Err(_)) => cut = true,
            None => {}
        }
        if piece.len() < PIECE && !ended && !cut {
            continue;
        }
        let (back, stands) = write(turn, id, offset, std::mem::take(&mut piece)).await?;
        turn = back;
        offset = stands.offset;
        if cut {
            return Err(AppError::input(
                "body",
                "the connection ended early; ask for the offset and go on from there",
            ));
        }
        if ended || stands.complete {
            return Ok(stands);
        }
    }
}

/// One write. The turn travels with it, so a write that outlives its request still ends before
/// anyone else's begins.
async fn write(
    turn: Turn,
    id: &str,
    offset: u64,
    bytes: Vec<u8>,
) -> Result<(Turn, UploadState), AppError> {
    let id = id.to_owned();
    tokio::task::spawn_blocking(move || {
        let (part, hash) = parse(&id)?;
        // One that is over takes no more; `HEAD` tells that it is complete.
        let stands = turn.storage().upload_state(hash, part)?;
        if stands.is_none_or(|stands| stands.complete) {
            return Err(AppError::NotFound("an upload that is not complete"));
        }
        let stands = turn.storage().append_upload(hash, part, offset, &bytes)?;
        Ok((turn, stands))
    })
    .await?
}

fn head(headers: &HeaderMap) -> Result<UploadHead, AppError> {
    let part = Part::from_name(text(headers, PART_HEADER)?)
        .ok_or_else(|| AppError::input(PART_HEADER, "must be `thumbnail` or `original`"))?;
    Ok(UploadHead {
        hash: text(headers, PHOTO_HEADER)?.to_owned(),
        part,
        survey: text(headers, SURVEY_HEADER)?.to_owned(),
        media_type: text(headers, "Content-Type")?.to_owned(),
        length: number(headers, &LENGTH)?,
        content: text(headers, CONTENT_HEADER)?.to_owned(),
    })
}

fn text<'h>(headers: &'h HeaderMap, name: &'static str) -> Result<&'h str, AppError> {
    headers
        .get(name)
        .and_then(|value| value.to_str().ok())
        .ok_or_else(|| AppError::input(name, "is missing; see docs/protocol.md"))
}

fn number(headers: &HeaderMap, name: &HeaderName) -> Result<u64, AppError> {
    headers
        .get(name)
        .and_then(|value| value.to_str().ok()?.parse().ok())
        .ok_or_else(|| AppError::input(name.as_str(), "must be a whole number of bytes"))
}
