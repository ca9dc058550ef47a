//! Enrol, exchange, upload: each a few requests, and what a refused or broken one means. Where the
//! server names a time to ask again, all but enrolling wait for it: before that one a person stands.

use crate::piece::Piece;
use crate::put_off::patiently;
use crate::stop::Stop;
use scupper_core::capture::Header;
use std::cell::RefCell;
use std::io::{Read, Seek, SeekFrom};
use std::ops::ControlFlow;
use std::time::Duration;
use ureq::http::Response;
use ureq::{Body, SendBody};

/// Bytes sent in one request; a cut costs at most this much again.
const PIECE: u64 = 1 << 20;
/// Answers are read up to this size.
pub(crate) const LARGEST_ANSWER: u64 = 256 << 20;
/// Tries in a row without a byte of progress before an upload gives up for now.
const TRIES: u32 = 5;

/// Why a request did not do its work.
#[derive(Debug, thiserror::Error)]
pub enum ClientError {
    /// The server answered and refused.
    #[error("the server refused with {status}: {detail}")]
    Refused {
        /// HTTP status.
        status: u16,
        /// What the server says of it.
        detail: String,
    },
    /// No answer came; trying again later loses nothing.
    #[error("the server cannot be reached: {0}")]
    Unreachable(String),
    /// The answer makes no sense.
    #[error("the server's answer cannot be read: {0}")]
    BadAnswer(String),
    /// It was stopped from here; what the server has it keeps.
    #[error("stopped")]
    Stopped,
    /// The file to send cannot be read.
    #[error("the file cannot be read: {0}")]
    File(#[from] std::io::Error),
}

/// How an upload ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sent {
    /// Bytes that went over the wire this time; 0 when the server had the file.
    pub bytes: u64,
    /// Whether the server now holds the file, checked by its hash.
    pub complete: bool,
}

/// One device's connection to one server.
#[derive(Debug, Clone)]
pub struct Client {
    pub(crate) stop: Stop,
    pub(crate) base: String,
    token: String,
}

impl Client {
    /// A client that shows this token.
    pub fn new(base: &str, token: &str) -> Self {
        Self {
            stop: Stop::default(),
            base: base.trim_end_matches('/').to_owned(),
            token: token.to_owned(),
        }
    }

    /// The same over connections of their own, which end when `stop` says so.
    pub fn ended_by(&self, stop: &Stop) -> Self {
        Self {
            stop: stop.clone(),
            ..self.clone()
        }
    }

    /// What ends its connections.
    pub fn stop(&self) -> &Stop {
        &self.stop
    }

    /// Enrols a device; returns the client and the author name that its entries carry.
    pub fn enrol(
        base: &str,
        code: &str,
        device: &str,
        name: &str,
    ) -> Result<(Self, String), ClientError> {
        let mut client = Self::new(base, "");
        let ask = serde_json::json!({"code": code, "device_id": device, "device_name": name});
        let request = client
            .stop
            .agent
            .post(format!("{}/v1/enrol", client.base))
            .header("content-type", "application/json");
        let called = request.send(ask.to_string().as_bytes());
        let mut answer = client.accepted(client.answered(called))?;
        let body: serde_json::Value = serde_json::from_slice(&client.bytes(&mut answer)?)
            .map_err(|e| ClientError::BadAnswer(e.to_string()))?;
        let field = |name: &str| {
            body.get(name)
                .and_then(serde_json::Value::as_str)
                .map(str::to_owned)
                .ok_or_else(|| ClientError::BadAnswer(format!("no `{name}` in it")))
        };
        client.token = field("token")?;
        Ok((client, field("author")?))
    }

    /// The token this client shows.
    pub fn token(&self) -> &str {
        &self.token
    }

    /// Asks for a fresh token and shows it from now on; to be kept before it is used.
    pub fn rotate(&mut self) -> Result<&str, ClientError> {
        let url = format!("{}/v1/token", self.base);
        let mut answer = self.patiently(|| {
            let request = self.stop.agent.post(&url);
            self.answered(request.header("authorization", self.bearer()).send_empty())
        })?;
        let body: serde_json::Value = serde_json::from_slice(&self.bytes(&mut answer)?)
            .map_err(|e| ClientError::BadAnswer(e.to_string()))?;
        let token = body.get("token").and_then(serde_json::Value::as_str);
        let token = token.ok_or_else(|| ClientError::BadAnswer("no `token` in it".to_owned()))?;
        self.token = token.to_owned();
        Ok(&self.token)
    }

    /// Posts one exchange message and returns the answer's bytes.
    pub fn exchange(&self, survey: &str, message: &[u8]) -> Result<Vec<u8>, ClientError> {
        let url = format!("{}/v1/surveys/{survey}/exchange", self.base);
        let mut answer = self.patiently(|| {
            let request = self.stop.agent.post(&url);
            let request = request
                .header("authorization", self.bearer())
                .header("content-type", "application/octet-stream");
            self.answered(request.send(message))
        })?;
        self.bytes(&mut answer)
    }

    /// Reads any address of the server.
    pub fn get(&self, path: &str) -> Result<Vec<u8>, ClientError> {
        let url = format!("{}{path}", self.base);
        let mut answer = self.patiently(|| {
            let request = self.stop.agent.get(&url);
            self.answered(request.header("authorization", self.bearer()).call())
        })?;
        self.bytes(&mut answer)
    }

    /// Sends a file, from wherever an earlier try left off. `headers` say which photo it is.
    pub fn upload<R: Read + Seek>(
        &self,
        path: &str,
        headers: &[Header],
        file: &mut R,
    ) -> Result<Sent, ClientError> {
        self.upload_watched(path, headers, file, &mut |_| ControlFlow::Continue(()))
    }

    /// The same; `watch` is told how many bytes of the file are sent, every few kilobytes, and may
    /// break off.
    pub fn upload_watched<R: Read + Seek>(
        &self,
        path: &str,
        headers: &[Header],
        file: &mut R,
        watch: &mut dyn FnMut(u64) -> ControlFlow<()>,
    ) -> Result<Sent, ClientError> {
        let length = file.seek(SeekFrom::End(0))?;
        let answer = self.accepted(patiently(&mut || watch(0), || {
            let mut begin = self
                .stop
                .agent
                .post(format!("{}{path}", self.base))
                .header("authorization", self.bearer())
                .header("upload-length", length.to_string())
                .header("upload-complete", "?0");
            for header in headers {
                begin = begin.header(&header.name, &header.value);
            }
            self.answered(begin.send_empty())
        }))?;
        if complete(&answer) {
            return Ok(whole(0));
        }
        let place = header(&answer, "location")
            .ok_or_else(|| ClientError::BadAnswer("no Location of the upload".to_owned()))?;
        let url = format!("{}{place}", self.base);
        let mut offset = offset_in(&answer).unwrap_or(0);
        let (mut sent, mut tries) = (0, 0);
        loop {
            match self.append(&url, file, (offset, length), watch) {
                Ok((at, done)) => {
                    sent += at.saturating_sub(offset);
                    let go_on = watch(at);
                    if done {
                        return Ok(whole(sent));
                    }
                    if go_on.is_break() {
                        return Err(ClientError::Stopped);
                    }
                    tries = if at > offset { 0 } else { tries + 1 };
                    offset = at;
                }
                Err(ClientError::Unreachable(why)) => {
                    tries += 1;
                    if tries >= TRIES {
                        return Err(ClientError::Unreachable(why));
                    }
                    std::thread::sleep(Duration::from_millis(50 << tries));
                    match self.stands_at(&url, &mut || watch(offset)) {
                        Some((_, true)) => return Ok(whole(sent)),
                        Some((at, false)) => offset = at,
                        None => {}
                    }
                }
                // Over already, if the answer to the last piece was lost on the way.
                Err(ClientError::Refused { status: 404, .. })
                    if self
                        .stands_at(&url, &mut || watch(offset))
                        .is_some_and(|(_, whole)| whole) =>
                {
                    return Ok(whole(sent));
                }
                Err(other) => return Err(other),
            }
            if tries >= TRIES {
                return Ok(Sent {
                    bytes: sent,
                    complete: false,
                });
            }
        }
    }

    /// Sends the next piece; returns where the upload stands then and whether it is complete.
    fn append<R: Read + Seek>(
        &self,
        url: &str,
        file: &mut R,
        (offset, length): (u64, u64),
        watch: &mut dyn FnMut(u64) -> ControlFlow<()>,
    ) -> Result<(u64, bool), ClientError> {
        file.seek(SeekFrom::Start(offset))?;
        let mut bytes = Vec::new();
        file.by_ref().take(PIECE).read_to_end(&mut bytes)?;
        let last = offset + bytes.len() as u64 == length;
        let size = bytes.len();
        // Both what is sent and what is waited for can be broken off, never at once.
        let watch = RefCell::new(watch);
        let answer = patiently(&mut || watch.borrow_mut()(offset), || {
            let mut watch = watch.borrow_mut();
            let mut piece = Piece::new(&bytes, offset, &mut **watch);
            let request = self.stop.agent.patch(url);
            let request = request
                .header("authorization", self.bearer())
                .header("content-type", "application/partial-upload")
                .header("upload-offset", offset.to_string())
                .header("content-length", size.to_string())
                .header("upload-complete", if last { "?1" } else { "?0" });
            let called = request.send(SendBody::from_reader(&mut piece));
            match piece.stopped() {
                true => Err(ClientError::Stopped),
                false => self.answered(called),
            }
        })?;
        match (answer.status().as_u16(), offset_in(&answer)) {
            (409, Some(at)) => Ok((at, false)),
            _ => {
                let answer = self.accepted(Ok(answer))?;
                Ok((offset_in(&answer).unwrap_or(offset), complete(&answer)))
            }
        }
    }

    /// Where an upload stands, and whether it is complete.
    fn stands_at(
        &self,
        url: &str,
        watch: &mut dyn FnMut() -> ControlFlow<()>,
    ) -> Option<(u64, bool)> {
        let answer = patiently(watch, || {
            let request = self.stop.agent.head(url);
            self.answered(request.header("authorization", self.bearer()).call())
        });
        let answer = self.accepted(answer).ok()?;
        Some((offset_in(&answer)?, complete(&answer)))
    }

    pub(crate) fn bearer(&self) -> String {
        format!("Bearer {}", self.token)
    }

    /// Asks until the server does not put it off any more and says yes.
    pub(crate) fn patiently(&self, ask: impl FnMut() -> Answer) -> Answer {
        self.accepted(patiently(&mut || self.stop.look(), ask))
    }

    /// An answer of any status.
    pub(crate) fn answered(&self, called: Result<Response<Body>, ureq::Error>) -> Answer {
        called.map_err(|error| self.broken(&error))
    }

    /// A connection that broke: out there, or because it was stopped here.
    pub(crate) fn broken(&self, error: &dyn std::error::Error) -> ClientError {
        match self.stop.stopped() {
            true => ClientError::Stopped,
            false => ClientError::Unreachable(error.to_string()),
        }
    }

    /// An answer that says yes.
    fn accepted(&self, answer: Answer) -> Answer {
        let mut answer = answer?;
        let status = answer.status();
        if status.is_success() {
            return Ok(answer);
        }
        let body = self.bytes(&mut answer).unwrap_or_default();
        let problem: Option<serde_json::Value> = serde_json::from_slice(&body).ok();
        let detail = problem
            .as_ref()
            .and_then(|p| p.get("detail")?.as_str())
            .unwrap_or("no reason");
        Err(ClientError::Refused {
            status: status.as_u16(),
            detail: detail.to_owned(),
        })
    }

    fn bytes(&self, answer: &mut Response<Body>) -> Result<Vec<u8>, ClientError> {
        let body = answer.body_mut().with_config().limit(LARGEST_ANSWER);
        body.read_to_vec().map_err(|error| self.broken(&error))
    }
}

type Answer = Result<Response<Body>, ClientError>;

fn whole(bytes: u64) -> Sent {
    Sent {
        bytes,
        complete: true,
    }
}

fn header(answer: &Response<Body>, name: &str) -> Option<String> {
    answer.headers().get(name)?.to_str().ok().map(str::to_owned)
}

fn offset_in(answer: &Response<Body>) -> Option<u64> {
    header(answer, "upload-offset")?.parse().ok()
}

fn complete(answer: &Response<Body>) -> bool {
    header(answer, "upload-complete").as_deref() == Some("?1")
}
