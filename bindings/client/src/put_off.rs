//! A server that says "not now": waiting as long as it asks for, a few times in a row, unless
//! whoever watches breaks it off. It is only ever asked again after such an answer, which says that
//! nothing was done.

use crate::client::ClientError;
use chrono::{DateTime, Utc};
use std::ops::ControlFlow;
use std::thread::sleep;
use std::time::{Duration, Instant, SystemTime};
use ureq::Body;
use ureq::http::Response;

/// How often in a row one request may be put off before the refusal stands.
const TIMES: u32 = 8;
/// A server that asks for more is left for later, by whoever called.
const LONGEST: Duration = Duration::from_secs(60);
/// How often whoever watches is asked while nothing moves; also the shortest wait.
const LOOK: Duration = Duration::from_millis(50);

/// Asks until the answer is something else than "later", or is so once too often.
pub(crate) fn patiently(
    watch: &mut dyn FnMut() -> ControlFlow<()>,
    mut ask: impl FnMut() -> Result<Response<Body>, ClientError>,
) -> Result<Response<Body>, ClientError> {
    for _ in 0..TIMES {
        let answer = ask()?;
        let Some(wait) = put_off(&answer) else {
            return Ok(answer);
        };
        rest(wait, watch)?;
    }
    ask()
}

/// Waits, unless whoever watches breaks it off.
pub(crate) fn rest(
    wait: Duration,
    watch: &mut dyn FnMut() -> ControlFlow<()>,
) -> Result<(), ClientError> {
    let until = Instant::now() + wait;
    while let Some(left) = until.checked_duration_since(Instant::now()) {
        if watch().is_break() {
            return Err(ClientError::Stopped);
        }
        sleep(left.min(LOOK));
    }
    Ok(())
}

/// How long to wait, in seconds or until a time of day (RFC 9110, 10.2.3), before what was refused
/// for now (503, or 429 of RFC 6585) is asked again; none if the answer is to be taken as it is.
fn put_off(answer: &Response<Body>) -> Option<Duration> {
    if !matches!(answer.status().as_u16(), 429 | 503) {
        return None;
    }
    let when = answer.headers().get("retry-after")?.to_str().ok()?.trim();
    let wait = match when.parse() {
        Ok(seconds) => Duration::from_secs(seconds),
        Err(_) => {
            let when = DateTime::parse_from_rfc2822(when).ok()?;
            let left = when.to_utc() - DateTime::<Utc>::from(SystemTime::now());
            left.to_std().unwrap_or_default()
        }
    };
    (wait <= LONGEST).then_some(wait.max(LOOK))
}
