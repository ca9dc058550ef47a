//! A browser for the tests: Debian's chromium behind its own driver, spoken to in the W3C
//! WebDriver protocol over plain HTTP. Blocking, and only what the tests of the page need.

use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A browser with one window; closed with its driver when dropped.
pub(crate) struct Browser {
    driver: Child,
    session: String,
    /// The browser's own process.
    process: u64,
    /// What the driver and the browser write goes with this.
    _scratch: tempfile::TempDir,
}

impl Browser {
    /// Opens a browser, or says plainly that this machine has none.
    pub(crate) fn open(script: bool) -> Option<Self> {
        Self::open_with(script, None)
    }

    /// The same with what an earlier browser kept in this folder.
    pub(crate) fn open_at(profile: &Path) -> Option<Self> {
        Self::open_with(true, Some(profile))
    }

    fn open_with(script: bool, profile: Option<&Path>) -> Option<Self> {
        let scratch = tempfile::tempdir().unwrap();
        let driver = Command::new("chromedriver")
            .arg("--port=0")
            .env("TMPDIR", scratch.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let Ok(mut driver) = driver else {
            let why = "no chromedriver here; apt-get install chromium-driver";
            crate::not_run::not_run("browser", why);
            return None;
        };
        let lines = BufReader::new(driver.stdout.take().unwrap()).lines();
        let mut lines = lines.map_while(Result::ok);
        let port = lines.find_map(|line| {
            let (_, port) = line.split_once("successfully on port ")?;
            port.trim_end_matches('.').parse::<u16>().ok()
        });
        let port = port.expect("chromedriver names its port");
        std::thread::spawn(move || lines.for_each(drop));
        let base = format!("http://127.0.0.1:{port}/session");
        let args = [
            "--headless=new",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-dev-shm-usage",
        ];
        let mut args = args.map(str::to_owned).to_vec();
        args.extend(profile.map(|dir| format!("--user-data-dir={}", dir.display())));
        let scripts = if script { 1 } else { 2 };
        let wish = json!({"capabilities": {"alwaysMatch": {"goog:chromeOptions": {
            "args": args,
            "prefs": {"profile.managed_default_content_settings.javascript": scripts}}}}});
        let made = call("POST", &base, &wish).expect("a session");
        let id = made["sessionId"].as_str().unwrap();
        let browser = Self {
            driver,
            session: format!("{base}/{id}"),
            process: made["capabilities"]["goog:processID"].as_u64().unwrap(),
            _scratch: scratch,
        };
        let patient = json!({"script": 150_000});
        browser.post("timeouts", &patient).unwrap();
        Some(browser)
    }

    fn post(&self, command: &str, body: &Value) -> Result<Value, String> {
        call("POST", &format!("{}/{command}", self.session), body)
    }

    /// SIGKILL to the browser: no handler, no clean-up.
    pub(crate) fn kill(self) {
        let id = self.process.to_string();
        let told = Command::new("kill").args(["-KILL", &id]).status();
        assert!(told.unwrap().success());
    }

    /// A command of the browser's own protocol.
    pub(crate) fn devtools(&self, cmd: &str, params: &Value) {
        let command = json!({"cmd": cmd, "params": params});
        self.post("goog/cdp/execute", &command).unwrap();
    }

    /// Opens an address and waits until it is loaded.
    pub(crate) fn go(&self, url: &str) {
        self.post("url", &json!({"url": url})).unwrap();
    }

    /// Sets the size of the page's viewport.
    pub(crate) fn size(&self, width: u32, height: u32) {
        self.devtools(
            "Emulation.setDeviceMetricsOverride",
            &json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false}),
        );
    }

    /// Runs a function body in the page and returns what it returns, promises awaited.
    pub(crate) fn run(&self, script: &str) -> Value {
        let body = json!({"script": script, "args": []});
        self.post("execute/sync", &body).unwrap()
    }

    /// Runs a function body until it answers true.
    #[track_caller]
    pub(crate) fn until(&self, script: &str) {
        let end = Instant::now() + Duration::from_secs(20);
        while self.run(script) != json!(true) {
            if Instant::now() > end {
                let shown = self.run("return document.body.innerText");
                panic!("never came true: {script}, but: {shown}");
            }
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// The element that a selector finds first.
    #[track_caller]
    pub(crate) fn find(&self, css: &str) -> String {
        let body = json!({"using": "css selector", "value": css});
        let found = self
            .post("element", &body)
            .unwrap_or_else(|e| panic!("{css}: {e}"));
        let id = found.as_object().unwrap().values().next().unwrap();
        id.as_str().unwrap().to_owned()
    }

    /// Whether a selector finds anything now. Needs no script.
    pub(crate) fn has(&self, css: &str) -> bool {
        let body = json!({"using": "css selector", "value": css});
        self.post("element", &body).is_ok()
    }

    /// Clicks as a person would: the element must be there to be clicked.
    #[track_caller]
    pub(crate) fn click(&self, css: &str) {
        self.act(css, "click", &json!({}));
    }

    /// Types into an element.
    #[track_caller]
    pub(crate) fn type_into(&self, css: &str, text: &str) {
        self.act(css, "value", &json!({"text": text}));
    }

    /// Does something to an element; once more if news came in and replaced it meanwhile, or if it
    /// is there before it can be used.
    #[track_caller]
    fn act(&self, css: &str, what: &str, body: &Value) {
        let mut told = Ok(Value::Null);
        for _ in 0..20 {
            let id = self.find(css);
            told = self.post(&format!("element/{id}/{what}"), body);
            let early = ["stale element", "element not interactable"];
            match &told {
                Err(error) if early.iter().any(|start| error.starts_with(start)) => {
                    std::thread::sleep(std::time::Duration::from_millis(100));
                }
                _ => break,
            }
        }
        told.unwrap_or_else(|e| panic!("{css}: {e}"));
    }

    /// Presses keys on whatever has the focus.
    pub(crate) fn press(&self, keys: &str) {
        let actions: Vec<Value> = keys
            .chars()
            .flat_map(|key| ["keyDown", "keyUp"].map(|kind| json!({"type": kind, "value": key})))
            .collect();
        let body = json!({"actions": [{"type": "key", "id": "keyboard", "actions": actions}]});
        self.post("actions", &body).unwrap();
    }

    /// The cookies of the page.
    pub(crate) fn cookies(&self) -> Value {
        call("GET", &format!("{}/cookie", self.session), &Value::Null).unwrap()
    }

    /// Takes over a cookie of another browser, for the site that is open.
    pub(crate) fn cookie(&self, cookie: &Value) {
        self.post("cookie", &json!({"cookie": cookie})).unwrap();
    }

    /// Writes a picture of the whole page.
    pub(crate) fn picture(&self, path: &Path) {
        self.shoot(path, true);
    }

    /// Writes a picture of what is in sight.
    pub(crate) fn sight(&self, path: &Path) {
        self.shoot(path, false);
    }

    fn shoot(&self, path: &Path, all: bool) {
        let command = json!({"cmd": "Page.captureScreenshot",
            "params": {"captureBeyondViewport": all}});
        let shot = self.post("goog/cdp/execute", &command).unwrap();
        std::fs::write(path, base64(shot["data"].as_str().unwrap())).unwrap();
    }

    /// The text of the page that a person reads; empty while another page is coming.
    pub(crate) fn text(&self) -> String {
        let main = json!({"using": "css selector", "value": "main"});
        let found = self.post("element", &main).unwrap_or_default();
        let id = found.as_object().and_then(|found| found.values().next());
        let Some(id) = id.and_then(Value::as_str) else {
            return String::new();
        };
        let url = format!("{}/element/{id}/text", self.session);
        let text = call("GET", &url, &Value::Null).unwrap_or_default();
        text.as_str().unwrap_or_default().to_owned()
    }

    /// Waits until the text of the page is as it should be, and returns it. Needs no script.
    pub(crate) fn until_text(&self, what: &str, is: impl Fn(&str) -> bool) -> String {
        for _ in 0..100 {
            let text = self.text();
            if !text.is_empty() && is(&text) {
                return text;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        panic!("never came: {what}");
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = call("DELETE", &self.session, &Value::Null);
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}

fn call(method: &str, url: &str, body: &Value) -> Result<Value, String> {
    let agent: ureq::Agent = ureq::Agent::config_builder()
        .http_status_as_error(false)
        .timeout_global(Some(Duration::from_secs(180)))
        .build()
        .into();
    let answer = match method {
        "GET" => agent.get(url).call(),
        "DELETE" => agent.delete(url).call(),
        _ => agent
            .post(url)
            .header("content-type", "application/json")
            .send(body.to_string()),
    };
    let mut answer = answer.map_err(|error| error.to_string())?;
    let text = answer
        .body_mut()
        .with_config()
        .limit(64 << 20)
        .read_to_string()
        .map_err(|error| error.to_string())?;
    let mut value: Value = serde_json::from_str(&text).map_err(|error| error.to_string())?;
    let value = value["value"].take();
    match value["error"].as_str() {
        Some(error) => Err(format!("{error}: {}", value["message"])),
        None => Ok(value),
    }
}

/// Decodes base64, as pictures come.
fn base64(text: &str) -> Vec<u8> {
    const DIGITS: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = Vec::with_capacity(text.len() * 3 / 4);
    let (mut bits, mut held) = (0_u32, 0);
    for byte in text.bytes().filter(|byte| *byte != b'=') {
        let digit = DIGITS.iter().position(|d| *d == byte).unwrap();
        bits = bits << 6 | u32::try_from(digit).unwrap();
        held += 6;
        if held >= 8 {
            held -= 8;
            out.push(u8::try_from(bits >> held & 0xff).unwrap());
        }
    }
    out
}
