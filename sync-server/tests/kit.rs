//! An office in a fresh folder, and a way to ask it things.

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Request, Response, StatusCode};
use scupper_core::quote::RateBook;
use scupper_server::{AppState, Door, Limits, Office, Role, app};
use tower::ServiceExt;

pub(crate) struct TestOffice {
    pub(crate) state: AppState,
    pub(crate) router: Router,
    pub(crate) contractor: i64,
    pub(crate) dir: tempfile::TempDir,
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
        let dir = tempfile::tempdir().unwrap();
        let book = RateBook::builtin_example();
        let state = Office::open(dir.path(), limits, Door::default(), book).unwrap();
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
