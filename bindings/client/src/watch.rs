//! Hearing of a survey's changes at the server, as server-sent events (WHATWG HTML, 9.2).
//!
//! A lost connection is made again for as long as nobody stops it. The server begins each with
//! where the survey stands, so what was last heard says whether anything was missed meanwhile;
//! what is known already is not told again.

use crate::client::{Client, ClientError, LARGEST_ANSWER};
use crate::put_off::rest;
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::time::Duration;

/// The server breathes every 20 seconds; after this long without, the line is dead.
const SILENCE: Duration = Duration::from_secs(60);
/// Between two connections: at first, doubled after each on which nothing was heard, at most.
const FIRST_WAIT: Duration = Duration::from_millis(500);
const LONGEST_WAIT: Duration = Duration::from_secs(60);

impl Client {
    /// Tells where a survey stands at the server, then whenever that changes: the kind of event
    /// and its data. Goes on until it is stopped or refused; that is what it returns.
    pub fn watch(&self, survey: &str, tell: &mut dyn FnMut(&str, &str)) -> ClientError {
        let mut known = BTreeMap::new();
        let mut wait = FIRST_WAIT;
        loop {
            let mut heard = false;
            let ended = self.listen(survey, &mut |event, data| {
                heard = true;
                if known.insert(event.to_owned(), data.to_owned()).as_deref() != Some(data) {
                    tell(event, data);
                }
            });
            match ended {
                Ok(()) | Err(ClientError::Unreachable(_)) => {}
                Err(ClientError::Refused { status, .. }) if status == 429 || status >= 500 => {}
                Err(final_one) => return final_one,
            }
            wait = match heard {
                true => FIRST_WAIT,
                false => (wait * 2).min(LONGEST_WAIT),
            };
            if let Err(stopped) = rest(wait, &mut || self.stop.look()) {
                return stopped;
            }
        }
    }

    /// One connection, until it ends.
    fn listen(&self, survey: &str, tell: &mut dyn FnMut(&str, &str)) -> Result<(), ClientError> {
        let url = format!("{}/v1/surveys/{survey}/events", self.base);
        let answer = self.patiently(|| {
            let request = self.stop.agent.get(&url).config();
            let request = request.timeout_per_read(Some(SILENCE)).build();
            let request = request.header("accept", "text/event-stream");
            self.answered(request.header("authorization", self.bearer()).call())
        })?;
        let body = answer.into_body().into_with_config();
        let lines = BufReader::new(body.limit(LARGEST_ANSWER).reader());
        let (mut event, mut data) = (String::new(), String::new());
        for line in lines.lines() {
            let line = line.map_err(|error| self.broken(&error))?;
            if self.stop.stopped() {
                return Err(ClientError::Stopped);
            }
            let (field, value) = line.split_once(':').unwrap_or((&line, ""));
            let value = value.strip_prefix(' ').unwrap_or(value);
            match (line.is_empty(), field) {
                (true, _) => {
                    if !data.is_empty() {
                        tell(&event, data.trim_end_matches('\n'));
                    }
                    event.clear();
                    data.clear();
                }
                (_, "event") => value.clone_into(&mut event),
                (_, "data") => {
                    data.push_str(value);
                    data.push('\n');
                }
                // A comment, or a field that the server does not use.
                _ => {}
            }
        }
        Ok(())
    }
}
