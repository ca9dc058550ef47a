//! A device at work until somebody kills it: `roofwalk DIR SEED PHOTO [SERVER TOKEN]`.
//!
//! Edits, notes and photos go into the store at DIR as fast as they can; given a server, every
//! round is also exchanged and uploaded. Each line it prints names one thing whose call has
//! returned, and so must be there whatever happens next; `begin` lines say what it is about to do.

use chrono::{DateTime, FixedOffset, TimeDelta};
use scupper_core::capture::{Capture, Identity, Page, PhotoAbout, Surroundings};
use scupper_core::survey::spoken::Transcript;
use scupper_server::client::Client;
use serde_json::json;
use std::error::Error;
use std::io::Write;
use std::path::Path;

/// A clock and a stream of numbers that only depend on the seed.
struct Seeded {
    now: DateTime<FixedOffset>,
    state: u64,
}

impl Surroundings for Seeded {
    fn now(&mut self) -> DateTime<FixedOffset> {
        self.now += TimeDelta::milliseconds(250);
        self.now
    }

    fn random(&mut self) -> [u8; 8] {
        // SplitMix64 (Steele, Lea and Flood, 2014).
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)).to_be_bytes()
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let (Some(dir), Some(seed), Some(photo)) = (args.next(), args.next(), args.next()) else {
        return Err("usage: roofwalk DIR SEED PHOTO [SERVER TOKEN]".into());
    };
    let client = match (args.next(), args.next()) {
        (Some(server), Some(token)) => Some(Client::new(&server, &token)),
        _ => None,
    };
    let seed: u64 = seed.parse()?;
    let picture = std::fs::read(photo)?;
    let surroundings = Seeded {
        now: DateTime::parse_from_rfc3339("2026-04-14T08:00:00-08:00")?,
        state: seed,
    };
    let identity = Identity {
        device_id: "phone-a".to_owned(),
        author: "tech-1".to_owned(),
    };
    let mut day = Capture::open(Path::new(&dir), identity, Box::new(surroundings))?;
    let survey = match day.surveys(Page::default())?.first() {
        Some(entry) => entry.id.clone(),
        None => day.create_survey("Crash Street")?,
    };
    say(&format!("survey {survey}"))?;
    for step in 0_u64.. {
        let mark = format!("{seed}-{step}");
        match step % 3 {
            0 => {
                day.set(&survey, "site", "address", json!(mark))?;
                say(&format!("address {mark}"))?;
            }
            1 => {
                let transcript: Transcript = serde_json::from_value(json!({
                    "note_id": mark, "segments": [{"text": format!("note {mark}")}]
                }))?;
                day.dictate(&survey, &transcript)?;
                say(&format!("note {mark}"))?;
            }
            _ => {
                // Bytes behind the end of a JPEG change its hash and not its picture.
                let mut original = picture.clone();
                original.extend_from_slice(mark.as_bytes());
                day.take_photo(&survey, &original, PhotoAbout::default())?;
                say(&format!("photo {}", blake3::hash(&original)))?;
                if let Some(client) = &client {
                    share(&mut day, client, &survey)?;
                }
            }
        }
    }
    Ok(())
}

/// Exchanges until level, then sends every file that waits.
fn share(day: &mut Capture, client: &Client, survey: &str) -> Result<(), Box<dyn Error>> {
    say("begin exchange")?;
    loop {
        let message = day.prepare_exchange(survey)?;
        let answer = client.exchange(survey, &message)?;
        if !day.accept_exchange(survey, &answer)?.again {
            break;
        }
    }
    say("level now")?;
    while let Some(upload) = day.next_upload()? {
        say("begin upload")?;
        let mut file = std::fs::File::open(&upload.path)?;
        let sent = client.upload(&upload.create_path, &upload.headers, &mut file)?;
        if !sent.complete {
            return Err("an upload was given up".into());
        }
        day.upload_result(&upload.hash, upload.part, true)?;
        if upload.part == scupper_core::store::Part::Original {
            say(&format!("sent {}", upload.hash))?;
        }
    }
    Ok(())
}

fn say(line: &str) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    writeln!(out, "{line}")?;
    out.flush()
}
