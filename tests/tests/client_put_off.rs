//! A server that says "not now, ask again in so many seconds": the blocking client waits that long
//! and goes on, gives up in the end, and stops when it is told to.

use chrono::{DateTime, Utc};
use scupper_server::client::{Client, ClientError};
use std::io::{BufRead, BufReader, Cursor, Read, Write};
use std::net::TcpListener;
use std::ops::ControlFlow;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant, SystemTime};

/// A server that gives these answers in turn, the last one for ever, and keeps the first line of
/// every request.
struct Script {
    base: String,
    asked: Arc<Mutex<Vec<String>>>,
}

impl Script {
    fn of(answers: &[&str]) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let asked = Arc::new(Mutex::new(Vec::new()));
        let (kept, answers) = (Arc::clone(&asked), answers.join("\n"));
        // It ends with the test's process.
        std::thread::spawn(move || {
            let answers: Vec<&str> = answers.split('\n').collect();
            for mut socket in listener.incoming().map_while(Result::ok) {
                let mut lines = BufReader::new(&socket);
                let (mut first, mut length) = (String::new(), 0);
                lines.read_line(&mut first).unwrap();
                loop {
                    let mut line = String::new();
                    lines.read_line(&mut line).unwrap();
                    match line.trim_end().split_once(": ") {
                        Some(("content-length", n)) => length = n.parse().unwrap(),
                        Some(_) => {}
                        None => break,
                    }
                }
                lines.read_exact(&mut vec![0; length]).unwrap();
                let mut kept = kept.lock().unwrap();
                let answer = answers[kept.len().min(answers.len() - 1)];
                kept.push(first.split(" HTTP").next().unwrap().to_owned());
                let head = answer.replace("; ", "\r\n");
                let close = "connection: close\r\ncontent-length: 0\r\n\r\n";
                write!(socket, "HTTP/1.1 {head}\r\n{close}").unwrap();
            }
        });
        Self { base, asked }
    }

    fn client(&self) -> Client {
        Client::new(&self.base, "token")
    }

    fn asked(&self) -> Vec<String> {
        self.asked.lock().unwrap().clone()
    }
}

fn refused<T: std::fmt::Debug>(told: Result<T, ClientError>) -> u16 {
    match told {
        Err(ClientError::Refused { status, .. }) => status,
        other => panic!("not refused, but {other:?}"),
    }
}

const BEGUN: &str = "201 Created; location: /u/1; upload-offset: 0";
const DONE: &str = "204 No Content; upload-offset: 3; upload-complete: ?1";

#[test]
fn an_exchange_that_is_put_off_is_asked_again_when_the_server_said() {
    let script = Script::of(&[
        "429 Too Many Requests; retry-after: 1",
        "503 Service Unavailable; retry-after: 1",
        "200 OK",
    ]);
    let begun = Instant::now();
    script.client().exchange("s", b"message").unwrap();
    assert!(begun.elapsed() >= Duration::from_secs(2));
    assert_eq!(script.asked(), ["POST /v1/surveys/s/exchange"; 3]);
}

#[test]
fn a_time_of_day_is_as_good_as_seconds() {
    let soon = DateTime::<Utc>::from(SystemTime::now() + Duration::from_secs(2));
    let soon = soon.format("%a, %d %b %Y %H:%M:%S GMT");
    let put_off = format!("503 Service Unavailable; retry-after: {soon}");
    let script = Script::of(&[&put_off, "200 OK"]);
    script.client().get("/v1/surveys").unwrap();
    assert_eq!(script.asked(), ["GET /v1/surveys"; 2]);
}

#[test]
fn every_step_of_an_upload_can_be_put_off() {
    let now = "429 Too Many Requests; retry-after: 0";
    let script = Script::of(&[now, BEGUN, now, now, DONE]);
    let sent = script.client().upload("/up", &[], &mut Cursor::new(b"abc"));
    assert!(sent.unwrap().complete);
    let [begin, piece] = ["POST /up", "PATCH /u/1"];
    assert_eq!(script.asked(), [begin, begin, piece, piece, piece]);
}

#[test]
fn a_refusal_stands_when_it_is_repeated_too_long_or_names_no_time() {
    let script = Script::of(&["429 Too Many Requests; retry-after: 0"]);
    assert_eq!(refused(script.client().exchange("s", b"message")), 429);
    assert_eq!(script.asked().len(), 9);
    for once in [
        "503 Service Unavailable",
        "429 Too Many Requests; retry-after: 3600",
        "429 Too Many Requests; retry-after: soon",
        "409 Conflict; retry-after: 0",
    ] {
        let script = Script::of(&[once]);
        refused(script.client().exchange("s", b"message"));
        assert_eq!(script.asked().len(), 1, "{once}");
    }
}

#[test]
fn whoever_watches_stops_a_wait() {
    let script = Script::of(&[BEGUN, "429 Too Many Requests; retry-after: 30"]);
    let begun = Instant::now();
    let mut looks = 0;
    let told = script
        .client()
        .upload_watched("/up", &[], &mut Cursor::new(b"abc"), &mut |_| {
            looks += 1;
            match looks > 5 {
                true => ControlFlow::Break(()),
                false => ControlFlow::Continue(()),
            }
        });
    assert!(matches!(told, Err(ClientError::Stopped)), "{told:?}");
    assert_eq!(script.asked(), ["POST /up", "PATCH /u/1"]);
    assert!(begun.elapsed() < Duration::from_secs(20));
}
