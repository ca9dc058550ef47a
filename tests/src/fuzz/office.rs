//! An office without a socket, asked requests that are written down as a line, headers, a blank
//! line and a body.

use axum::body::Body;
use axum::http::{HeaderName, HeaderValue, Method, Request, Uri};
use scupper_core::capture::{Capture, Identity, Surroundings};
use scupper_core::quote::RateBook;
use scupper_server::{Door, Limits, Office as State, Role, app};
use tower::ServiceExt;

pub(super) struct Office {
    runtime: tokio::runtime::Runtime,
    router: axum::Router,
    token: String,
    _dir: tempfile::TempDir,
}

struct Still;

impl Surroundings for Still {
    fn now(&mut self) -> chrono::DateTime<chrono::FixedOffset> {
        chrono::DateTime::default()
    }

    fn random(&mut self) -> [u8; 8] {
        [5; 8]
    }
}

impl Office {
    /// An office in a fresh folder with one device and one survey, `s-1`.
    pub(super) fn open() -> Option<Self> {
        let shm = std::path::Path::new("/dev/shm");
        let dir = match shm.is_dir() {
            true => tempfile::tempdir_in(shm),
            false => tempfile::tempdir(),
        };
        let dir = dir.ok()?;
        let limits = Limits {
            requests_per_minute: u32::MAX,
            ..Limits::default()
        };
        let book = RateBook::builtin_example();
        let state = State::open(&dir.path().join("office"), limits, Door::default(), book).ok()?;
        let (accounts, now) = (&state.accounts, state.unix());
        let us = accounts.contractor("Us").ok()?;
        let life = std::time::Duration::from_secs(900);
        let code = accounts
            .admit(now, life, us, "ana", Role::Technician)
            .ok()?;
        let (token, _) = accounts.enrol(now, &code, "phone-a", "phone").ok()?;
        let identity = Identity {
            device_id: "phone-a".to_owned(),
            author: "ana".to_owned(),
        };
        let mut day = Capture::open(&dir.path().join("phone"), identity, Box::new(Still)).ok()?;
        day.join_survey("s-1").ok()?;
        let message = day.prepare_exchange("s-1").ok()?;
        let mut office = Self {
            runtime: tokio::runtime::Builder::new_current_thread()
                .enable_all()
                .build()
                .ok()?,
            router: app(state),
            token,
            _dir: dir,
        };
        let mut post = b"POST /v1/surveys/s-1/exchange\n\n".to_vec();
        post.extend(message);
        assert!(office.ask(&post), "the survey did not begin");
        Some(office)
    }

    /// Asks; whether the answer was a yes. What is no request at all is not asked.
    pub(super) fn ask(&mut self, written: &[u8]) -> bool {
        let Some(request) = self.request(written) else {
            return false;
        };
        let router = self.router.clone();
        let status = self.runtime.block_on(async {
            let answer = router.oneshot(request).await;
            let answer = answer.unwrap_or_else(|never| match never {});
            let status = answer.status();
            // Read to its end, as a client would.
            let _ = axum::body::to_bytes(answer.into_body(), 1 << 20).await;
            status
        });
        assert!(status.as_u16() != 500, "the office failed");
        status.is_success()
    }

    fn request(&self, written: &[u8]) -> Option<Request<Body>> {
        let gap = written.windows(2).position(|two| two == b"\n\n")?;
        let (head, body) = (written.get(..gap)?, written.get(gap + 2..)?);
        let mut lines = head.split(|byte| *byte == b'\n');
        let mut first = lines.next()?.splitn(2, |byte| *byte == b' ');
        let method = Method::from_bytes(first.next()?).ok()?;
        let uri = Uri::try_from(first.next()?).ok()?;
        // News never end by themselves.
        if uri.path().ends_with("/events") {
            return None;
        }
        let mut request = Request::new(Body::from(body.to_vec()));
        (*request.method_mut(), *request.uri_mut()) = (method, uri);
        let headers = request.headers_mut();
        let bearer = HeaderValue::from_str(&format!("Bearer {}", self.token)).ok()?;
        headers.insert("authorization", bearer);
        for line in lines {
            let colon = line.iter().position(|byte| *byte == b':')?;
            let name = HeaderName::from_bytes(line.get(..colon)?).ok()?;
            let value = line.get(colon + 1..)?.trim_ascii();
            headers.append(name, HeaderValue::from_bytes(value).ok()?);
        }
        Some(request)
    }
}
