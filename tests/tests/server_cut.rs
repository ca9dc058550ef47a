//! A connection cut after so many bytes, either way, at many places of an exchange and an upload:
//! the device tries again, nothing is lost, nothing is there twice.

use super::server_kit::{
    Dice, Stand, device, enrol, exchange, heads, holds, level, merged, number, photo, send_next,
    server_heads, take,
};
use scupper_core::document::Table;
use scupper_server::client::{Client, ClientError};
use serde_json::json;
use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// Which way the bytes are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    Up,
    Down,
}

/// A relay to the server that cuts one connection when its time has come.
struct Relay {
    base: String,
    fuse: Arc<Mutex<Fuse>>,
}

struct Fuse {
    /// Bytes until the cut, if one is to come.
    left: Option<(Way, usize)>,
    cuts: usize,
    /// On a bad line every piece waits a while, and some are the last.
    bad: Option<Dice>,
}

impl Relay {
    /// Before a server; and the client that comes through it.
    fn before(stand: &Stand) -> (Self, Client) {
        let relay = Self::to(stand.server.address());
        let through = Client::new(&relay.base, stand.client.token());
        (relay, through)
    }

    fn to(server: &str) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let fuse = Arc::new(Mutex::new(Fuse {
            left: None,
            cuts: 0,
            bad: None,
        }));
        let (server, shared) = (server.to_owned(), Arc::clone(&fuse));
        // It ends with the test's process.
        std::thread::spawn(move || {
            for near in listener.incoming().map_while(Result::ok) {
                let far = TcpStream::connect(&server).unwrap();
                for (way, from, to) in [(Way::Up, &near, &far), (Way::Down, &far, &near)] {
                    let (from, to) = (from.try_clone().unwrap(), to.try_clone().unwrap());
                    let fuse = Arc::clone(&shared);
                    std::thread::spawn(move || pump(way, from, to, &fuse));
                }
            }
        });
        Self { base, fuse }
    }

    fn cut_after(&self, way: Way, bytes: usize) {
        self.fuse.lock().unwrap().left = Some((way, bytes));
    }

    /// How often it cut; a cut that has not come is taken off.
    fn cuts(&self) -> usize {
        let mut fuse = self.fuse.lock().unwrap();
        fuse.left = None;
        fuse.cuts
    }
}

fn pump(way: Way, mut from: TcpStream, mut to: TcpStream, fuse: &Mutex<Fuse>) {
    let mut buffer = [0; 16 << 10];
    while let Ok(read @ 1..) = from.read(&mut buffer) {
        let mut pass = read;
        let mut cut = false;
        let mut wait = Duration::ZERO;
        {
            let mut fuse = fuse.lock().unwrap();
            if let Some(dice) = &mut fuse.bad {
                wait = Duration::from_millis(dice.roll() % 40);
                if dice.roll().is_multiple_of(12) {
                    cut = true;
                    pass = dice.roll() as usize % (read + 1);
                    fuse.cuts += 1;
                }
            }
            if let Some((counted, left)) = fuse.left
                && counted == way
            {
                cut = left <= read;
                pass = left.min(read);
                fuse.left = (!cut).then_some((way, left - pass));
                fuse.cuts += usize::from(cut);
            }
        }
        std::thread::sleep(wait);
        if to.write_all(&buffer[..pass]).is_err() || cut {
            break;
        }
    }
    let _ = from.shutdown(Shutdown::Both);
    let _ = to.shutdown(Shutdown::Both);
}

/// Does it until no connection is cut; how often it took.
fn insist<T>(mut deed: impl FnMut() -> Result<T, ClientError>) -> T {
    for _ in 0..10 {
        match deed() {
            Ok(done) => return done,
            Err(ClientError::Unreachable(_)) => {}
            // A body that ended early, which the server could still answer.
            Err(ClientError::Refused { status: 400, .. }) => {}
            Err(other) => panic!("{other}"),
        }
    }
    panic!("no way through");
}

#[test]
fn an_exchange_cut_at_any_place_is_done_once_in_the_end() {
    let stand = Stand::new();
    let (straight, server) = (&stand.client, &stand.server);
    let (relay, through) = Relay::before(&stand);
    let other = enrol(stand.data.path(), &server.base, "tech-2", "phone-b");
    let two = tempfile::tempdir().unwrap();
    let mut ana = stand.day(1);
    let mut ben = device(two.path(), "phone-b", "tech-2", 2);
    let survey = ana.create_survey("Ovens and Ice").unwrap();
    level(&mut ana, straight, &survey).unwrap();
    ben.join_survey(&survey).unwrap();
    let mut units = 0;
    let mut places = 0;
    for (way, step, most) in [(Way::Up, 29, 1_300), (Way::Down, 29, 1_300)] {
        for place in (0..most).step_by(step) {
            for day in [&mut ana, &mut ben] {
                let entry = json!({"tag": format!("RTU-{units}"), "kind": "packaged_rooftop_unit",
                    "notes": format!("{way:?} {place}")});
                day.add(&survey, Table::Equipment, entry).unwrap();
                units += 1;
            }
            level(&mut ben, &other, &survey).unwrap();
            relay.cut_after(way, place + 1);
            insist(|| level(&mut ana, &through, &survey));
            places += 1;
        }
    }
    let cuts = relay.cuts();
    exchange(&mut ben, &other, &survey).unwrap();
    level(&mut ana, straight, &survey).unwrap();
    let mine = ana.survey(&survey).unwrap();
    assert_eq!(mine.equipment.len(), units);
    assert_eq!(mine, ben.survey(&survey).unwrap());
    assert_eq!(merged(straight, &survey), mine);
    assert_eq!(server_heads(straight, &survey), heads(&ana, &survey));
    assert!(ana.conflicts(&survey).unwrap().is_empty());
    assert!(cuts > 15, "only {cuts} cuts came about");
    println!("exchange: {cuts} cuts at {places} places, {units} units, none lost, none twice");
}

/// An upload is cut at every so many bytes; `SCUPPER_CUT_STEP=1000` is the thorough run.
fn step() -> usize {
    number("SCUPPER_CUT_STEP", 10_000) as usize
}

#[test]
fn an_upload_cut_at_any_place_goes_on() {
    let stand = Stand::new();
    let straight = &stand.client;
    let (relay, through) = Relay::before(&stand);
    let mut day = stand.day(3);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    let size = photo("", 0).len();
    let places = (0..size + 6_000).step_by(step()).map(|at| (Way::Up, at));
    let places = places.chain((0..1_200).step_by(61).map(|at| (Way::Down, at)));
    let mut taken = Vec::new();
    for (way, place) in places {
        let mark = format!("{way:?}{place}");
        taken.push(take(&mut day, &survey, &photo(&mark, 0)));
        level(&mut day, straight, &survey).unwrap();
        relay.cut_after(way, place + 1);
        while insist(|| send_next(&mut day, &through)).is_some() {}
    }
    let cuts = relay.cuts();
    for hash in &taken {
        assert!(holds(straight, hash), "{hash}");
    }
    level(&mut day, straight, &survey).unwrap();
    assert!(day.next_upload().unwrap().is_none(), "asked for again");
    assert_eq!(merged(straight, &survey).photos.len(), taken.len());
    assert!(cuts > taken.len() / 2, "only {cuts} cuts came about");
    println!(
        "upload: {cuts} cuts for {} photos of {size} bytes, all whole",
        taken.len()
    );
}

#[test]
fn a_large_exchange_cut_at_every_so_many_bytes_is_done_once() {
    let stand = Stand::new();
    let straight = &stand.client;
    let (relay, through) = Relay::before(&stand);
    let two = tempfile::tempdir().unwrap();
    let mut ana = stand.day(1);
    let mut other = device(two.path(), "phone-a", "tech-1", 2);
    let mut dice = Dice(11);
    // Text that does not compress, so that the message is long on the wire.
    let mut text = || -> String {
        let letter = |n: u64| char::from(33 + (n % 90) as u8);
        (0..40_000).map(|_| letter(dice.roll())).collect()
    };
    let (mut places, mut long) = (0, 0);
    for way in [Way::Up, Way::Down] {
        for place in (0..30_000).step_by(step()) {
            let survey = ana.create_survey(&format!("{way:?} {place}")).unwrap();
            let entry = json!({"ref": "RTU-1", "component": "belt", "condition": "worn",
                "remark": text()});
            if way == Way::Up {
                ana.add(&survey, Table::Findings, entry).unwrap();
                long = ana.prepare_exchange(&survey).unwrap().len();
            } else {
                other.join_survey(&survey).unwrap();
                other.add(&survey, Table::Findings, entry).unwrap();
                level(&mut other, straight, &survey).unwrap();
            }
            relay.cut_after(way, place + 1);
            insist(|| level(&mut ana, &through, &survey));
            assert_eq!(
                server_heads(straight, &survey),
                heads(&ana, &survey),
                "{place}"
            );
            assert_eq!(ana.survey(&survey).unwrap().findings.len(), 1, "{place}");
            places += 1;
        }
    }
    let cuts = relay.cuts();
    assert!(long > 30_000, "only {long} bytes on the wire");
    assert!(cuts >= places - 2, "only {cuts} cuts at {places} places");
    println!("exchange of {long} bytes: {cuts} cuts at {places} places, all level, none twice");
}

/// How many rounds go over the bad line; `SCUPPER_ROUNDS` makes the run longer.
fn rounds() -> usize {
    number("SCUPPER_ROUNDS", 8) as usize
}

#[test]
fn a_line_that_delays_and_truncates_costs_time_and_nothing_else() {
    let stand = Stand::new();
    let straight = &stand.client;
    let (relay, through) = Relay::before(&stand);
    let mut day = stand.day(5);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    relay.fuse.lock().unwrap().bad = Some(Dice(17));
    let mut taken = Vec::new();
    for round in 0..rounds() {
        let entry = json!({"tag": format!("RTU-{round}"), "kind": "packaged_rooftop_unit"});
        day.add(&survey, Table::Equipment, entry).unwrap();
        taken.push(take(&mut day, &survey, &photo(&round.to_string(), 0)));
        for tries in 0.. {
            assert!(tries < 200, "no way through");
            let once = level(&mut day, &through, &survey);
            if once
                .and_then(|()| send_next(&mut day, &through))
                .is_ok_and(|sent| sent.is_none())
            {
                break;
            }
        }
    }
    let cuts = relay.cuts();
    relay.fuse.lock().unwrap().bad = None;
    level(&mut day, straight, &survey).unwrap();
    assert!(day.next_upload().unwrap().is_none(), "asked for again");
    for hash in &taken {
        assert!(holds(straight, hash), "{hash}");
    }
    let mine = day.survey(&survey).unwrap();
    assert_eq!(mine.equipment.len(), rounds());
    assert_eq!(merged(straight, &survey), mine);
    assert_eq!(server_heads(straight, &survey), heads(&day, &survey));
    assert!(cuts >= rounds() / 4, "only {cuts} truncations");
    println!(
        "bad line: {} rounds, {cuts} truncations, nothing lost, nothing twice",
        rounds()
    );
}
