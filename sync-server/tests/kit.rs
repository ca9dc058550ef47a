//! An office in a fresh folder, and a way to ask it things.

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Request, Response, StatusCode};
use chrono::{DateTime, FixedOffset};
use scupper_core::capture::{Capture, Identity, PhotoAbout, Surroundings, Upload};
use scupper_core::document::Table;
use scupper_core::quote::RateBook;
use scupper_server::{AppState, Door, Limits, Office, Role, app};
use tower::ServiceExt;

pub(crate) struct TestOffice {
    pub(crate) state: AppState,
    pub(crate) router: Router,
    pub(crate) contractor: i64,
    dir: tempfile::TempDir,
}

pub(crate) struct Answer {
    pub(crate) status: StatusCode,
    pub(crate) headers: HeaderMap,
    pub(crate) body: Vec<u8>,
}

impl Answer {
    pub(crate) fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    pub(crate) fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|e| panic!("{e}: {}", self.text()))
    }

    pub(crate) fn header(&self, name: &str) -> &str {
        self.headers
            .get(name)
            .map_or("", |value| value.to_str().unwrap())
    }

    #[track_caller]
    pub(crate) fn is(self, status: u16) -> Self {
        assert_eq!(self.status.as_u16(), status, "{}", self.text());
        self
    }
}

impl TestOffice {
    pub(crate) fn new() -> Self {
        Self::with(Limits::default())
    }

    pub(crate) fn with(limits: Limits) -> Self {
        Self::priced_by(RateBook::builtin_example(), limits)
    }

    pub(crate) fn priced_by(book: RateBook, limits: Limits) -> Self {
        Self::at(tempfile::tempdir().unwrap(), book, limits, Door::default())
    }

    pub(crate) fn behind(door: Door, limits: Limits) -> Self {
        let book = RateBook::builtin_example();
        Self::at(tempfile::tempdir().unwrap(), book, limits, door)
    }

    /// The same office, closed and opened again with another rate book.
    pub(crate) fn reopened(self, book: RateBook) -> Self {
        let Self {
            state, router, dir, ..
        } = self;
        drop((state, router));
        Self::at(dir, book, Limits::default(), Door::default())
    }

    /// Where it keeps its things.
    pub(crate) fn folder(&self) -> &std::path::Path {
        self.dir.path()
    }

    fn at(dir: tempfile::TempDir, book: RateBook, limits: Limits, door: Door) -> Self {
        let state = Office::open(dir.path(), limits, door, book).unwrap();
        let contractor = state.accounts.contractor("Us").unwrap();
        Self {
            router: app(state.clone()),
            state,
            contractor,
            dir,
        }
    }

    pub(crate) async fn ask(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: impl Into<Body>,
    ) -> Answer {
        let mut request = Request::builder().method(method).uri(path);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let request = request.body(body.into()).unwrap();
        let answer: Response<Body> = self.router.clone().oneshot(request).await.unwrap();
        let (parts, body) = answer.into_parts();
        let body = axum::body::to_bytes(body, usize::MAX)
            .await
            .unwrap()
            .to_vec();
        Answer {
            status: parts.status,
            headers: parts.headers,
            body,
        }
    }

    pub(crate) fn code(&self, contractor: i64, name: &str, role: Role) -> String {
        let life = self.state.limits.code_life;
        let now = self.state.unix();
        self.state
            .accounts
            .admit(now, life, contractor, name, role)
            .unwrap()
    }

    /// Enrols a device over HTTP and returns its `authorization` header.
    pub(crate) async fn device(&self, name: &str, device: &str) -> String {
        self.device_of(self.contractor, name, device).await
    }

    pub(crate) async fn device_of(&self, contractor: i64, name: &str, device: &str) -> String {
        let code = self.code(contractor, name, Role::Technician);
        let answer = self.enrol(&code, device).await.is(201);
        format!("Bearer {}", answer.json()["token"].as_str().unwrap())
    }

    pub(crate) async fn enrol(&self, code: &str, device: &str) -> Answer {
        let body = serde_json::json!({"code": code, "device_id": device, "device_name": "phone"});
        self.ask(
            "POST",
            "/v1/enrol",
            &[("content-type", "application/json")],
            body.to_string(),
        )
        .await
    }

    /// Signs a reviewer in and returns their `cookie` header.
    pub(crate) async fn reviewer(&self, name: &str) -> String {
        self.reviewer_of(self.contractor, name).await
    }

    pub(crate) async fn reviewer_of(&self, contractor: i64, name: &str) -> String {
        let code = self.code(contractor, name, Role::Reviewer);
        let answer = self
            .ask("GET", &format!("/sign-in/{code}"), &[], "")
            .await
            .is(303);
        answer
            .header("set-cookie")
            .split(';')
            .next()
            .unwrap()
            .to_owned()
    }
}

/// A clock that stands still and randomness that counts.
struct Still(u64);

impl Surroundings for Still {
    fn now(&mut self) -> DateTime<FixedOffset> {
        DateTime::parse_from_rfc3339("2026-04-14T08:00:00-08:00").unwrap()
    }

    fn random(&mut self) -> [u8; 8] {
        self.0 += 1;
        self.0.to_le_bytes()
    }
}

/// A device with a store of its own, and the token it was given.
pub(crate) struct Phone {
    pub(crate) capture: Capture,
    pub(crate) token: String,
    _dir: tempfile::TempDir,
}

impl Phone {
    /// Enrols a device for a person.
    pub(crate) async fn enrol(office: &TestOffice, author: &str, device: &str) -> Self {
        let token = office.device(author, device).await;
        Self::with(author, device, token)
    }

    /// A device that claims to be someone's, with whatever token.
    pub(crate) fn with(author: &str, device: &str, token: String) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let identity = Identity {
            device_id: device.to_owned(),
            author: author.to_owned(),
        };
        let seed = blake3::hash(device.as_bytes()).as_bytes()[0];
        let still = Box::new(Still(u64::from(seed) << 32));
        let capture = Capture::open(dir.path(), identity, still).unwrap();
        Self {
            capture,
            token,
            _dir: dir,
        }
    }

    pub(crate) async fn post(&mut self, office: &TestOffice, survey: &str) -> Answer {
        let message = self.capture.prepare_exchange(survey).unwrap();
        let path = format!("/v1/surveys/{survey}/exchange");
        office
            .ask("POST", &path, &[("authorization", &self.token)], message)
            .await
    }

    /// Exchanges until both sides are level.
    pub(crate) async fn exchange(&mut self, office: &TestOffice, survey: &str) {
        loop {
            let answer = self.post(office, survey).await.is(200);
            if !self
                .capture
                .accept_exchange(survey, &answer.body)
                .unwrap()
                .again
            {
                return;
            }
        }
    }

    /// Adds a unit.
    pub(crate) fn unit(&mut self, survey: &str, tag: &str) {
        let entry = serde_json::json!({"tag": tag, "kind": "packaged_rooftop_unit"});
        self.capture.add(survey, Table::Equipment, entry).unwrap();
    }

    /// Takes a photo of a colour and returns its original's bytes.
    pub(crate) fn photo(&mut self, survey: &str, shade: u8) -> Vec<u8> {
        let picture = image::RgbImage::from_fn(320, 200, |x, y| {
            image::Rgb([shade, (x * y % 251) as u8, (x ^ y) as u8])
        });
        let mut bytes = Vec::new();
        let to = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 90);
        picture.write_with_encoder(to).unwrap();
        let about = PhotoAbout {
            about: Some("RTU-1".to_owned()),
            ..PhotoAbout::default()
        };
        self.capture.take_photo(survey, &bytes, about).unwrap();
        bytes
    }

    /// The next upload with its headers, the token among them.
    pub(crate) fn next(&self) -> Option<(Upload, Vec<(String, String)>)> {
        let upload = self.capture.next_upload().unwrap()?;
        let mut headers: Vec<(String, String)> = upload
            .headers
            .iter()
            .map(|h| (h.name.clone(), h.value.clone()))
            .collect();
        headers.push(("authorization".to_owned(), self.token.clone()));
        Some((upload, headers))
    }
}

/// Borrowed headers, as [`TestOffice::ask`] takes them.
pub(crate) fn lent(headers: &[(String, String)]) -> Vec<(&str, &str)> {
    headers
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect()
}
