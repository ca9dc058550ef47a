//! `scupper serve` as a real process for other tests: started, asked, stopped, killed; and a
//! device over real HTTP.

use super::command::answer;
use chrono::{DateTime, FixedOffset, TimeDelta};
use scupper_core::capture::{Capture, Exchanged, Identity, PhotoAbout, Surroundings};
use scupper_core::store::Part;
use scupper_server::client::{Client, ClientError};
pub(crate) use scupper_tests::fuzz::Dice;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A running server; killed when dropped.
pub(crate) struct Server {
    child: Child,
    /// `http://ADDRESS`.
    pub(crate) base: String,
    /// The printed sign-in link.
    pub(crate) link: String,
}

impl Server {
    pub(crate) fn start(data: &Path) -> Self {
        Self::start_at(data, "127.0.0.1:0")
    }

    /// Starts it and waits for its link, which it prints once it listens.
    pub(crate) fn start_at(data: &Path, listen: &str) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_scupper-here"));
        let command_line = command.args(["serve", "--listen", listen, "--data"]);
        command_line.arg(data).stderr(Stdio::null());
        Self::spawn(command)
    }

    /// The same with something in its environment.
    #[cfg(any(feature = "postgres", feature = "sqlcipher"))]
    pub(crate) fn start_with(data: &Path, env: &[(&str, &str)]) -> Self {
        Self::start_logged(data, env, Stdio::null())
    }

    /// The same with its log going somewhere.
    pub(crate) fn start_logged(data: &Path, env: &[(&str, &str)], log: Stdio) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_scupper-here"));
        let words = ["serve", "--listen", "127.0.0.1:0", "--data"];
        command.args(words).arg(data).envs(env.iter().copied());
        command.stderr(log);
        Self::spawn(command)
    }

    /// The same by whatever command ends in one.
    pub(crate) fn spawn(mut command: Command) -> Self {
        let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
        let mut link = String::new();
        let stdout = child.stdout.as_mut().unwrap();
        BufReader::new(stdout).read_line(&mut link).unwrap();
        let link = link.trim().to_owned();
        assert!(link.contains("/sign-in/"), "no link, but {link:?}");
        let base = link.split("/sign-in").next().unwrap().to_owned();
        Self { child, base, link }
    }

    pub(crate) fn address(&self) -> &str {
        self.base.strip_prefix("http://").unwrap()
    }

    /// Sends one request by hand and returns the whole answer.
    pub(crate) fn get(&self, path: &str, headers: &str) -> String {
        let mut socket = TcpStream::connect(self.address()).unwrap();
        let request = format!(
            "GET {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\n{headers}\r\n",
            self.address()
        );
        socket.write_all(request.as_bytes()).unwrap();
        let mut answer = Vec::new();
        socket.read_to_end(&mut answer).unwrap();
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// Posts a form by hand and returns the whole answer.
    pub(crate) fn post(&self, path: &str, headers: &str, form: &str) -> String {
        let mut socket = TcpStream::connect(self.address()).unwrap();
        let request = format!(
            "POST {path} HTTP/1.1\r\nhost: {}\r\nconnection: close\r\n\
             content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\
             {headers}\r\n{form}",
            self.address(),
            form.len()
        );
        socket.write_all(request.as_bytes()).unwrap();
        let mut answer = Vec::new();
        socket.read_to_end(&mut answer).unwrap();
        String::from_utf8_lossy(&answer).into_owned()
    }

    /// Signs in with the printed link; the `cookie` header line.
    pub(crate) fn sign_in(&self) -> String {
        let path = self.link.strip_prefix(&self.base).unwrap();
        let answer = self.get(path, "");
        let cookie = answer
            .lines()
            .find_map(|line| line.strip_prefix("set-cookie: "))
            .unwrap_or_else(|| panic!("no cookie in {answer}"));
        format!("cookie: {}\r\n", cookie.split(';').next().unwrap())
    }

    /// Asks it to stop as a service manager would; how long it took.
    pub(crate) fn stop(mut self) -> Duration {
        let asked = Instant::now();
        let id = self.child.id().to_string();
        let told = Command::new("kill").args(["-TERM", &id]).status();
        assert!(told.unwrap().success());
        let status = self.child.wait().unwrap();
        assert!(status.success(), "{status}");
        asked.elapsed()
    }

    /// SIGKILL: no handler, no clean-up.
    pub(crate) fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A server in a folder of its own with one technician's device enrolled.
pub(crate) struct Stand {
    pub(crate) server: Server,
    pub(crate) client: Client,
    pub(crate) data: TempDir,
    home: TempDir,
}

impl Stand {
    pub(crate) fn new() -> Self {
        let (data, home) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let server = Server::start(data.path());
        let client = enrol(data.path(), &server.base, "tech-1", "phone-a");
        Self {
            server,
            client,
            data,
            home,
        }
    }

    /// The device's day, over a store that stays.
    pub(crate) fn day(&self, seed: u64) -> Capture {
        device(self.home.path(), "phone-a", "tech-1", seed)
    }

    /// The data folder as a word of a command.
    pub(crate) fn folder(&self) -> &str {
        self.data.path().to_str().unwrap()
    }
}

/// Admits a technician beside the running server and enrols a device of theirs.
pub(crate) fn enrol(data: &Path, base: &str, name: &str, id: &str) -> Client {
    let (client, author) = Client::enrol(base, &admit(data, name), id, "phone").unwrap();
    assert_eq!(author, name);
    client
}

/// A one-time code for a technician, made beside the running server.
pub(crate) fn admit(data: &Path, name: &str) -> String {
    admit_with(data, name, &[])
}

/// The same with further words on the command line.
pub(crate) fn admit_with(data: &Path, name: &str, further: &[&str]) -> String {
    let data = data.to_str().unwrap();
    let words = ["admit", "technician", name, "--data", data];
    answer(&[&words[..], further].concat()).trim().to_owned()
}

/// An address of this machine that was free a moment ago, for a server that comes back to it.
pub(crate) fn free_address() -> String {
    let held = TcpListener::bind("127.0.0.1:0").unwrap();
    held.local_addr().unwrap().to_string()
}

/// A number from the environment, which makes a run longer.
pub(crate) fn number(name: &str, otherwise: u64) -> u64 {
    let asked = std::env::var(name).ok().and_then(|n| n.parse().ok());
    asked.unwrap_or(otherwise)
}

/// A clock that walks and randomness from a seed.
struct Walking(DateTime<FixedOffset>, Dice);

impl Surroundings for Walking {
    fn now(&mut self) -> DateTime<FixedOffset> {
        self.0 += TimeDelta::milliseconds(250);
        self.0
    }

    fn random(&mut self) -> [u8; 8] {
        self.1.roll().to_be_bytes()
    }
}

/// A walking clock and numbers from a seed.
pub(crate) fn surroundings(seed: u64) -> impl Surroundings {
    let start = DateTime::parse_from_rfc3339("2026-04-14T08:00:00-08:00").unwrap();
    Walking(start, Dice(seed))
}

/// A device's day over a store of its own.
pub(crate) fn device(dir: &Path, id: &str, author: &str, seed: u64) -> Capture {
    let identity = Identity {
        device_id: id.to_owned(),
        author: author.to_owned(),
    };
    Capture::open(dir, identity, Box::new(surroundings(seed))).unwrap()
}

/// One exchange.
pub(crate) fn exchange(
    day: &mut Capture,
    client: &Client,
    survey: &str,
) -> Result<Exchanged, ClientError> {
    let message = day.prepare_exchange(survey).unwrap();
    let answer = client.exchange(survey, &message)?;
    Ok(day.accept_exchange(survey, &answer).unwrap())
}

/// Exchanges until both sides are level.
pub(crate) fn level(day: &mut Capture, client: &Client, survey: &str) -> Result<(), ClientError> {
    for _ in 0..50 {
        if !exchange(day, client, survey)?.again {
            return Ok(());
        }
    }
    panic!("never level");
}

/// Sends the next file that waits: its photo's hash and which part; none when nothing waits.
pub(crate) fn send_next(
    day: &mut Capture,
    client: &Client,
) -> Result<Option<(String, Part)>, ClientError> {
    let Some(upload) = day.next_upload().unwrap() else {
        return Ok(None);
    };
    let mut file = std::fs::File::open(&upload.path).unwrap();
    let sent = client.upload(&upload.create_path, &upload.headers, &mut file)?;
    assert!(sent.complete, "gave up on {}", upload.hash);
    day.upload_result(&upload.hash, upload.part, true).unwrap();
    Ok(Some((upload.hash, upload.part)))
}

/// A photo no one took before: bytes behind the end of a JPEG change its hash, not its picture.
pub(crate) fn photo(mark: &str, padding: usize) -> Vec<u8> {
    let file = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../fixtures/bakery/photos/p-11-rtu3-disconnect.jpg"
    );
    let mut bytes = std::fs::read(file).unwrap();
    bytes.extend_from_slice(mark.as_bytes());
    let mut dice = Dice(bytes.len() as u64);
    bytes.extend((0..padding).map(|_| dice.roll() as u8));
    bytes
}

/// Takes such a photo; its hash.
pub(crate) fn take(day: &mut Capture, survey: &str, original: &[u8]) -> String {
    day.take_photo(survey, original, PhotoAbout::default())
        .unwrap();
    blake3::hash(original).to_string()
}

/// Whether the server gives this photo back with these very bytes.
pub(crate) fn holds(client: &Client, hash: &str) -> bool {
    let got = client.get(&format!("/v1/photos/{hash}"));
    got.is_ok_and(|bytes| blake3::hash(&bytes).to_string() == hash)
}

/// What the server makes of the survey.
pub(crate) fn merged(client: &Client, survey: &str) -> scupper_core::survey::Survey {
    let text = client.get(&format!("/v1/surveys/{survey}/survey")).unwrap();
    serde_json::from_slice(&text).unwrap()
}

/// Where a device's replica stands, read anew from its disk, as the server writes it.
pub(crate) fn heads(day: &Capture, survey: &str) -> String {
    use scupper_core::capture::durable;
    use scupper_core::document::Actor;
    let actor = Actor::of_device("looks-only", [0; 6]);
    let loaded = durable::load(day.store(), survey, actor).unwrap().unwrap();
    let heads: Vec<String> = loaded.doc.heads().iter().map(|h| h.to_string()).collect();
    heads.join(".")
}

/// Where the server's replica stands.
pub(crate) fn server_heads(client: &Client, survey: &str) -> String {
    let list = client.get("/v1/surveys").unwrap();
    let list: serde_json::Value = serde_json::from_slice(&list).unwrap();
    let found = list.as_array().unwrap().iter();
    let entry = found.clone().find(|entry| entry["survey_id"] == survey);
    entry.unwrap()["heads"].as_str().unwrap().to_owned()
}
