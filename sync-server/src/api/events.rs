//! `GET /v1/surveys/{id}/events`: where a survey stands, now and whenever it changes (SSE). Event
//! `heads` is the state of its document, event `office` that of what the office does beside it:
//! hazards read, rates, locked prices, links.

use super::auth::Reader;
use super::openapi::NotRead;
use super::place::Place;
use crate::error::AppError;
use crate::live::Word;
use crate::state::AppState;
use axum::extract::State;
use axum::response::IntoResponse;
use axum::response::sse::{Event, KeepAlive, Sse};
use futures_util::stream::{self, Stream, StreamExt};
use std::convert::Infallible;
use std::time::Duration;
use tokio::sync::broadcast::Receiver;
use tokio::sync::broadcast::error::RecvError;
use tokio::time::{Instant, timeout_at};

/// A stream ends after this long; the listener comes back and shows its token or cookie again,
/// so that access which was taken away ends too.
const LONGEST: Duration = Duration::from_secs(300);

#[utoipa::path(
    get,
    path = "/v1/surveys/{id}/events",
    params(("id" = String, Path, description = "the survey")),
    security(("device" = [])),
    responses((status = 200, body = str, content_type = "text/event-stream"), NotRead)
)]
pub(crate) async fn listen(
    State(state): State<AppState>,
    Reader(caller): Reader,
    Place(survey): Place,
) -> Result<impl IntoResponse, AppError> {
    let (asked, contractor) = (survey.clone(), caller.contractor);
    // Listening begins before the first look, so that no change falls between the two.
    let hints = state.live.listen();
    state
        .blocking(move |office| office.readable(&caller, &asked))
        .await?;
    let stream = hints_as_events(state, hints, contractor, survey);
    Ok(Sse::new(stream).keep_alive(KeepAlive::new().interval(Duration::from_secs(20))))
}

fn hints_as_events(
    state: AppState,
    hints: Receiver<Word>,
    contractor: i64,
    survey: String,
) -> impl Stream<Item = Result<Event, Infallible>> {
    let until = Instant::now() + LONGEST;
    let stands = stream::unfold((hints, true), move |(mut hints, first)| {
        let (state, survey) = (state.clone(), survey.clone());
        async move {
            if !first && !changed(&mut hints, until, contractor, &survey).await {
                return None;
            }
            let stands = state.blocking(move |office| {
                let heads = office.heads_text(contractor, &survey)?;
                let beside = office.accounts.stands(contractor, &survey)?;
                Ok([("heads", heads), ("office", beside.to_string())])
            });
            Some((stands.await.ok()?, (hints, false)))
        }
    });
    stands.flat_map(|stands| {
        let event = |(name, stand)| Ok(Event::default().event(name).data(stand));
        stream::iter(stands.map(event))
    })
}

/// Waits until the survey may have changed; false when the stream should end.
async fn changed(
    hints: &mut Receiver<Word>,
    until: Instant,
    contractor: i64,
    survey: &str,
) -> bool {
    loop {
        match timeout_at(until, hints.recv()).await {
            Ok(Ok(Word::Changed {
                contractor: whose,
                survey: which,
            })) => {
                if whose == contractor && which == survey {
                    return true;
                }
            }
            // Fell behind: something may have been about this survey.
            Ok(Ok(Word::Anything) | Err(RecvError::Lagged(_))) => return true,
            Ok(Ok(Word::Closing) | Err(RecvError::Closed)) | Err(_) => return false,
        }
    }
}
