//! A connection cut after so many bytes, either way, at many places of an exchange and an upload:
//! the device tries again, nothing is lost, nothing is there twice.

use super::server_kit::{
    Server, admit, device, exchange, heads, holds, level, merged, photo, send_next, server_heads,
    take,
};
use scupper_core::document::Table;
use scupper_server::client::{Client, ClientError};
use serde_json::json;
use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::{Arc, Mutex};

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
}

impl Relay {
    fn to(server: &str) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let fuse = Arc::new(Mutex::new(Fuse {
            left: None,
            cuts: 0,
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
        {
            let mut fuse = fuse.lock().unwrap();
            if let Some((counted, left)) = fuse.left
                && counted == way
            {
                cut = left <= read;
                pass = left.min(read);
                fuse.left = (!cut).then_some((way, left - pass));
                fuse.cuts += usize::from(cut);
            }
        }
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
    let data = tempfile::tempdir().unwrap();
    let server = Server::start(data.path());
    let relay = Relay::to(server.address());
    let enrol = |name: &str, id: &str| {
        let code = admit(data.path(), name);
        let (direct, _) = Client::enrol(&server.base, &code, id, "phone").unwrap();
        let through = Client::new(&relay.base, direct.token());
        (direct, through)
    };
    let (straight, through) = enrol("tech-1", "phone-a");
    let (other, _) = enrol("tech-2", "phone-b");
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let mut ana = device(one.path(), "phone-a", "tech-1", 1);
    let mut ben = device(two.path(), "phone-b", "tech-2", 2);
    let survey = ana.create_survey("Ovens and Ice").unwrap();
    level(&mut ana, &straight, &survey).unwrap();
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
    level(&mut ana, &straight, &survey).unwrap();
    let mine = ana.survey(&survey).unwrap();
    assert_eq!(mine.equipment.len(), units);
    assert_eq!(mine, ben.survey(&survey).unwrap());
    assert_eq!(merged(&straight, &survey), mine);
    assert_eq!(server_heads(&straight, &survey), heads(&ana, &survey));
    assert!(ana.conflicts(&survey).unwrap().is_empty());
    assert!(cuts > 15, "only {cuts} cuts came about");
    println!("exchange: {cuts} cuts at {places} places, {units} units, none lost, none twice");
}

/// An upload is cut at every so many bytes; `SCUPPER_CUT_STEP=1000` is the thorough run.
fn step() -> usize {
    let asked = std::env::var("SCUPPER_CUT_STEP").ok();
    asked.and_then(|n| n.parse().ok()).unwrap_or(10_000)
}

#[test]
fn an_upload_cut_at_any_place_goes_on() {
    let data = tempfile::tempdir().unwrap();
    let server = Server::start(data.path());
    let relay = Relay::to(server.address());
    let code = admit(data.path(), "tech-1");
    let (straight, _) = Client::enrol(&server.base, &code, "phone-a", "phone").unwrap();
    let through = Client::new(&relay.base, straight.token());
    let home = tempfile::tempdir().unwrap();
    let mut day = device(home.path(), "phone-a", "tech-1", 3);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    let size = photo("", 0).len();
    let places = (0..size + 6_000).step_by(step()).map(|at| (Way::Up, at));
    let places = places.chain((0..1_200).step_by(61).map(|at| (Way::Down, at)));
    let mut taken = Vec::new();
    for (way, place) in places {
        let mark = format!("{way:?}{place}");
        taken.push(take(&mut day, &survey, &photo(&mark, 0)));
        level(&mut day, &straight, &survey).unwrap();
        relay.cut_after(way, place + 1);
        while insist(|| send_next(&mut day, &through)).is_some() {}
    }
    let cuts = relay.cuts();
    for hash in &taken {
        assert!(holds(&straight, hash), "{hash}");
    }
    level(&mut day, &straight, &survey).unwrap();
    assert!(day.next_upload().unwrap().is_none(), "asked for again");
    assert_eq!(merged(&straight, &survey).photos.len(), taken.len());
    assert!(cuts > taken.len() / 2, "only {cuts} cuts came about");
    println!(
        "upload: {cuts} cuts for {} photos of {size} bytes, all whole",
        taken.len()
    );
}
