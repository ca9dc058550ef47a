//! `load [--devices N] [--seconds N] [--every-ms N]`: many enrolled devices exchange with one
//! server, each an edit at a time, and how long each had to wait.
//!
//! The server is this very program started again (`load serve DIR`), so that its memory is its
//! own; a second one (`load bare`) only reads what it is sent and answers as many bytes, which
//! tells what machine, sockets and client cost by themselves. Both are asked in the same run.

use scupper_core::document::{Actor, Edit, Stamp, SurveyDoc, Table};
use scupper_core::exchange::{Answer, Limits, Shared, accept, prepare};
use scupper_server::client::Client;
use scupper_server::{Accounts, Role};
use serde_json::json;
use std::error::Error;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, ExitCode, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

type Any = Box<dyn Error + Send + Sync>;

/// Devices that share one survey.
const CREW: usize = 10;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let done = match words.first().map(String::as_str) {
        // The office's own command line.
        Some("serve") => return scupper_server::cli::run(),
        Some("bare") => bare(),
        _ => load(&words),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("load: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Reads every body and answers 600 bytes.
fn bare() -> Result<(), Any> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()?;
    runtime.block_on(async {
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await?;
        println!("http://{}/sign-in/none", listener.local_addr()?);
        let answer = |_: axum::body::Bytes| async { vec![7_u8; 600] };
        let router = axum::Router::new().fallback(answer);
        Ok(axum::serve(listener, router).await?)
    })
}

/// A server in a process of its own; killed when dropped.
struct Served {
    child: Child,
    base: String,
}

impl Served {
    fn start(words: &[&str]) -> Result<Self, Any> {
        let mut child = Command::new(std::env::current_exe()?)
            .args(words)
            .stdout(Stdio::piped())
            .spawn()?;
        let mut line = String::new();
        let stdout = child.stdout.take().ok_or("no output")?;
        BufReader::new(stdout).read_line(&mut line)?;
        let base = line.split("/sign-in").next().unwrap_or_default().to_owned();
        Ok(Self { child, base })
    }

    /// Resident memory now and at its most, in MiB.
    fn memory(&self) -> Result<(u64, u64), Any> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id()))?;
        let of = |name: &str| {
            let line = status.lines().find_map(|line| line.strip_prefix(name));
            let kib = line.and_then(|line| line.split_whitespace().next()?.parse::<u64>().ok());
            kib.unwrap_or(0) / 1024
        };
        Ok((of("VmRSS:"), of("VmHWM:")))
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

struct Plan {
    devices: usize,
    seconds: u64,
    every: Duration,
}

fn load(words: &[String]) -> Result<(), Any> {
    let mut plan = Plan {
        devices: 500,
        seconds: 60,
        every: Duration::from_secs(5),
    };
    let mut words = words.iter();
    while let Some(word) = words.next() {
        let value: u64 = words.next().ok_or("a number is missing")?.parse()?;
        match word.as_str() {
            "--devices" => plan.devices = value as usize,
            "--seconds" => plan.seconds = value,
            "--every-ms" => plan.every = Duration::from_millis(value),
            other => return Err(format!("{other}: no such option").into()),
        }
    }
    let data = tempfile::tempdir()?;
    let dir = data.path().to_str().ok_or("odd folder")?;
    let tokens = enrol(data.path(), plan.devices)?;
    println!(
        "{} devices in crews of {CREW}, one exchange each {} ms, {} s",
        plan.devices,
        plan.every.as_millis(),
        plan.seconds
    );
    let bare = Served::start(&["bare"])?;
    let plain = run(&plan, &bare.base, &tokens, &|client, device| {
        device.edit()?;
        let request = prepare(&device.doc, &device.shared, 7, Limits::default());
        client.exchange(&device.survey, &request.encode()?)?;
        Ok(())
    })?;
    plain.tell("bare handler");
    drop(bare);
    let server = Served::start(&["serve", "--listen", "127.0.0.1:0", "--data", dir])?;
    let (before, _) = server.memory()?;
    let real = run(&plan, &server.base, &tokens, &|client, device| {
        device.edit()?;
        let request = prepare(&device.doc, &device.shared, 7, Limits::default());
        let answer = client.exchange(&device.survey, &request.encode()?)?;
        let answer = Answer::decode(&answer, Limits::default())?;
        let accepted = accept(
            &mut device.doc,
            &device.shared,
            &answer,
            7,
            Limits::default(),
        )?;
        device.shared = accepted.shared;
        Ok(())
    })?;
    real.tell("exchange");
    let (after, most) = server.memory()?;
    println!("server memory: {before} MiB before, {after} MiB after, {most} MiB at most");
    match real.errors + plain.errors {
        0 => Ok(()),
        errors => Err(format!("{errors} requests failed").into()),
    }
}

/// Enrols devices straight in the accounts; their tokens.
fn enrol(data: &std::path::Path, devices: usize) -> Result<Vec<String>, Any> {
    let accounts = Accounts::open(data, None)?;
    let us = accounts.contractor("office")?;
    let now = chrono::Local::now().timestamp();
    let enrol = |n: usize| {
        let name = format!("tech-{n}");
        let life = Duration::from_secs(900);
        let code = accounts.admit(now, life, us, &name, Role::Technician)?;
        let (token, _) = accounts.enrol(now, &code, &format!("phone-{n}"), "phone")?;
        Ok(token)
    };
    (0..devices).map(enrol).collect()
}

struct Device {
    n: usize,
    survey: String,
    doc: SurveyDoc,
    shared: Shared,
    edits: usize,
}

impl Device {
    fn new(n: usize) -> Result<Self, Any> {
        let survey = format!("survey-{}", n / CREW);
        let actor = Actor::of_device(&format!("phone-{n}"), [1; 6]);
        Ok(Self {
            n,
            doc: SurveyDoc::create(&survey, actor)?,
            survey,
            shared: Shared::default(),
            edits: 0,
        })
    }

    fn edit(&mut self) -> Result<(), Any> {
        let stamp = Stamp {
            author: format!("tech-{}", self.n),
            device: format!("phone-{}", self.n),
            at: chrono::DateTime::default(),
            clock_offset_ms: None,
        };
        self.edits += 1;
        let edit = Edit::Add {
            table: Table::Findings,
            id: format!("f-{}-{}", self.n, self.edits),
            entry: json!({"ref": "RTU-1", "component": "belt", "condition": "worn"}),
        };
        self.doc.edit(&stamp, edit)?;
        Ok(())
    }
}

#[derive(Default)]
struct Waits {
    waits: Vec<Duration>,
    errors: u64,
}

impl Waits {
    fn tell(&self, what: &str) {
        let at = |part: f64| {
            let place = (self.waits.len().saturating_sub(1)) as f64 * part;
            let wait = self.waits.get(place as usize).copied().unwrap_or_default();
            wait.as_secs_f64() * 1000.0
        };
        println!(
            "{what}: {} requests, {} errors, p50 {:.1} ms, p99 {:.1} ms, longest {:.1} ms",
            self.waits.len(),
            self.errors,
            at(0.5),
            at(0.99),
            at(1.0)
        );
    }
}

type Deed = dyn Fn(&Client, &mut Device) -> Result<(), Any> + Sync;

/// Every device in a thread of its own does its deed again and again.
fn run(plan: &Plan, base: &str, tokens: &[String], deed: &Deed) -> Result<Waits, Any> {
    let until = Instant::now() + Duration::from_secs(plan.seconds);
    let errors = AtomicU64::new(0);
    let told = AtomicU64::new(0);
    let work = |n: usize, token: &str| -> Result<Vec<Duration>, Any> {
        let (client, mut device) = (Client::new(base, token), Device::new(n)?);
        let mut waits = Vec::new();
        // Devices do not march in step.
        let share = plan.every.mul_f64(n as f64 / plan.devices.max(1) as f64);
        std::thread::sleep(share);
        while Instant::now() < until {
            let began = Instant::now();
            if let Err(error) = deed(&client, &mut device) {
                errors.fetch_add(1, Ordering::Relaxed);
                if told.fetch_add(1, Ordering::Relaxed) < 3 {
                    eprintln!("load: {error}");
                }
            }
            let took = began.elapsed();
            waits.push(took);
            std::thread::sleep(plan.every.saturating_sub(took));
        }
        Ok(waits)
    };
    let mut all = Waits::default();
    std::thread::scope(|scope| -> Result<(), Any> {
        let mut threads = Vec::new();
        for (n, token) in tokens.iter().enumerate() {
            let work = &work;
            let builder = std::thread::Builder::new().stack_size(1 << 20);
            threads.push(builder.spawn_scoped(scope, move || work(n, token))?);
        }
        for thread in threads {
            let waits = thread.join().map_err(|_| "a device died")??;
            all.waits.extend(waits);
        }
        Ok(())
    })?;
    all.waits.sort_unstable();
    all.errors = errors.into_inner();
    Ok(all)
}
