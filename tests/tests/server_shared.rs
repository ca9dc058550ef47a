//! Two server processes on one PostgreSQL and one bucket: they serve one survey at once, one is
//! killed in the middle, and nothing that was acknowledged is lost; and an office moves there.
//!
//! `tests/shared/run cargo test -p scupper-tests --features postgres server_shared` starts what is
//! needed; without it these say NOT RUN.

use super::command::answer;
use super::server_crash::{Acknowledged, kills, work};
use super::server_kit::{
    Dice, Server, device, enrol, heads, holds, level, merged, photo, send_next, server_heads, take,
};
use scupper_server::client::{Client, ClientError};
use serde_json::json;
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Write};
use std::net::TcpStream;
use std::process::Command;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// Addresses of a fresh database and of a part of the bucket.
struct Place {
    postgres: String,
    objects: String,
}

impl Place {
    fn fresh(name: &str) -> Option<Self> {
        let (Ok(url), Ok(objects)) = (
            std::env::var("SCUPPER_TEST_POSTGRES"),
            std::env::var("SCUPPER_TEST_OBJECTS"),
        ) else {
            crate::not_run::not_run("shared", "start it by tests/shared/run");
            return None;
        };
        let name = format!("{name}_{}", std::process::id());
        let made = Command::new("psql")
            .args([&url, "-qc", &format!("CREATE DATABASE {name}")])
            .status();
        assert!(made.unwrap().success());
        let (server, _) = url.rsplit_once('/').unwrap();
        Some(Self {
            postgres: format!("{server}/{name}"),
            objects: format!("{objects}/{name}"),
        })
    }

    fn env(&self) -> [(&str, &str); 2] {
        [
            ("SCUPPER_POSTGRES", &self.postgres),
            ("SCUPPER_OBJECTS", &self.objects),
        ]
    }

    fn admit(&self, name: &str) -> String {
        let words = [
            "admit",
            "technician",
            name,
            "--data",
            "/nowhere",
            "--postgres",
        ];
        answer(&[&words[..], &[&self.postgres]].concat())
            .trim()
            .to_owned()
    }

    fn verify(&self, data: &str) {
        let words = ["verify", "--data", data, "--postgres", &self.postgres];
        answer(&[&words[..], &["--objects", &self.objects]].concat());
    }
}

#[test]
fn two_servers_serve_one_survey_and_news_crosses_between_them() {
    let Some(place) = Place::fresh("two") else {
        return;
    };
    let dirs = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
    let one = Server::start_with(dirs[0].path(), &place.env());
    let two = Server::start_with(dirs[1].path(), &place.env());
    let code = place.admit("tech-1");
    let (at_one, _) = Client::enrol(&one.base, &code, "phone-a", "phone").unwrap();
    // A code is spent on both.
    let again = Client::enrol(&two.base, &code, "phone-z", "phone").unwrap_err();
    assert!(
        matches!(again, ClientError::Refused { status: 401, .. }),
        "{again}"
    );
    let (at_two, _) = Client::enrol(&two.base, &place.admit("tech-2"), "phone-b", "b").unwrap();
    let homes = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
    let mut ana = device(homes[0].path(), "phone-a", "tech-1", 1);
    let mut ben = device(homes[1].path(), "phone-b", "tech-2", 2);
    let survey = ana.create_survey("Ovens and Ice").unwrap();
    level(&mut ana, &at_one, &survey).unwrap();
    ben.join_survey(&survey).unwrap();
    level(&mut ben, &at_two, &survey).unwrap();
    assert_eq!(ana.survey(&survey).unwrap(), ben.survey(&survey).unwrap());

    // Someone who listens at the second hears of what comes in at the first.
    let mut socket = TcpStream::connect(two.address()).unwrap();
    write!(
        socket,
        "GET /v1/surveys/{survey}/events HTTP/1.1\r\nhost: {}\r\nauthorization: Bearer {}\r\n\r\n",
        two.address(),
        at_two.token()
    )
    .unwrap();
    socket
        .set_read_timeout(Some(Duration::from_secs(20)))
        .unwrap();
    let mut told = BufReader::new(socket)
        .lines()
        .map_while(Result::ok)
        .filter(|line| line.starts_with("data:"));
    told.next().unwrap();
    for n in 0..5 {
        for (day, client) in [(&mut ana, &at_one), (&mut ben, &at_two)] {
            let entry = json!({"tag": format!("RTU-{n}"), "kind": "exhaust_fan"});
            day.add(&survey, scupper_core::document::Table::Equipment, entry)
                .unwrap();
            level(day, client, &survey).unwrap();
        }
    }
    level(&mut ana, &at_one, &survey).unwrap();
    let last = server_heads(&at_one, &survey);
    assert!(
        told.any(|line| line.contains(&last)),
        "never told of {last}"
    );
    // So they do of what a reviewer does at the first beside the survey, after the state as it was.
    let mut beside = told.filter_map(|line| line.strip_prefix("data: ")?.parse::<i64>().ok());
    let before = beside.next().unwrap();
    let cookie = one.sign_in();
    let page = one.get(&format!("/surveys/{survey}"), &cookie);
    let key = page.split("name=\"csrf\" value=\"").nth(1).unwrap();
    let key = key.split('"').next().unwrap();
    let lock = format!("csrf={key}&do=lock&title=as+offered");
    let locked = one.post(&format!("/surveys/{survey}/price"), &cookie, &lock);
    assert!(locked.starts_with("HTTP/1.1 303"), "{locked}");
    assert!(beside.any(|stands| stands > before), "never told of it");
    // A photo sent to one is read from the other.
    let hash = take(&mut ana, &survey, &photo("shared", 0));
    level(&mut ana, &at_one, &survey).unwrap();
    while send_next(&mut ana, &at_one).unwrap().is_some() {}
    assert!(holds(&at_two, &hash));
    level(&mut ben, &at_two, &survey).unwrap();
    assert!(ben.next_upload().unwrap().is_none());
    assert_eq!(server_heads(&at_two, &survey), heads(&ana, &survey));
    assert_eq!(merged(&at_one, &survey), merged(&at_two, &survey));
    // A lost phone is shut out everywhere.
    let words = [
        "revoke",
        "phone-b",
        "--data",
        "/nowhere",
        "--postgres",
        &place.postgres,
    ];
    answer(&words);
    for base in [&one.base, &two.base] {
        let client = Client::new(base, at_two.token());
        assert!(client.get("/v1/surveys").is_err());
    }
    place.verify(dirs[0].path().to_str().unwrap());
}

#[test]
fn one_of_two_servers_killed_at_any_moment_costs_nothing_acknowledged() {
    let Some(place) = Place::fresh("killed") else {
        return;
    };
    let dirs = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
    let stays = Server::start_with(dirs[0].path(), &place.env());
    let (client, _) = Client::enrol(&stays.base, &place.admit("tech-1"), "phone-a", "a").unwrap();
    let (second, _) = Client::enrol(&stays.base, &place.admit("tech-2"), "phone-b", "b").unwrap();
    let homes = [tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap()];
    let mut ana = device(homes[0].path(), "phone-a", "tech-1", 7);
    let mut ben = device(homes[1].path(), "phone-b", "tech-2", 8);
    let survey = ana.create_survey("Crash Street").unwrap();
    level(&mut ana, &client, &survey).unwrap();
    ben.join_survey(&survey).unwrap();
    let mut all = Acknowledged::default();
    let mut dice = Dice(20_260_414);
    let mut checked = BTreeSet::new();
    for round in 0..kills() {
        let mut killed = Server::start_with(dirs[1].path(), &place.env());
        let at_killed = Client::new(&killed.base, client.token());
        let enough = 1 + dice.roll() % 6;
        let after = Duration::from_micros(dice.roll() % 200_000);
        let steps = AtomicU64::new(0);
        let mark = round.to_string();
        let error = std::thread::scope(|scope| {
            let worker =
                scope.spawn(|| work(&mut ana, &at_killed, &survey, &mut all, &steps, &mark));
            // Meanwhile another device works with the server that stays.
            let entry = json!({"tag": format!("EF-{round}"), "kind": "exhaust_fan"});
            ben.add(&survey, scupper_core::document::Table::Equipment, entry)
                .unwrap();
            level(&mut ben, &second, &survey).unwrap();
            while steps.load(Ordering::Relaxed) < enough && !worker.is_finished() {
                std::thread::sleep(Duration::from_millis(1));
            }
            std::thread::sleep(after);
            killed.kill();
            worker.join().unwrap()
        });
        assert!(matches!(error, ClientError::Unreachable(_)), "{error}");
        let there = merged(&client, &survey);
        let units: BTreeSet<String> = there.equipment.iter().map(|u| u.id.clone()).collect();
        let lost: Vec<_> = all.units.difference(&units).collect();
        assert!(lost.is_empty(), "round {round}: lost {lost:?}");
        for hash in all
            .photos
            .iter()
            .filter(|hash| checked.insert((*hash).clone()))
        {
            assert!(holds(&client, hash), "round {round}: lost photo {hash}");
        }
    }
    // The device goes on with the server that stayed.
    level(&mut ana, &client, &survey).unwrap();
    while send_next(&mut ana, &client).unwrap().is_some() {}
    level(&mut ana, &client, &survey).unwrap();
    level(&mut ben, &second, &survey).unwrap();
    let mine = ana.survey(&survey).unwrap();
    assert_eq!(mine, ben.survey(&survey).unwrap());
    assert_eq!(merged(&client, &survey), mine);
    assert_eq!(server_heads(&client, &survey), heads(&ana, &survey));
    for shot in &mine.photos {
        assert!(holds(&client, &shot.hash), "{}", shot.hash);
    }
    place.verify(dirs[0].path().to_str().unwrap());
    println!(
        "one of two servers killed {} times: {} exchanges, {} units and {} photos acknowledged, \
         none lost",
        kills(),
        all.exchanges,
        all.units.len(),
        all.photos.len()
    );
}

#[test]
fn an_office_moves_with_one_command_and_its_devices_go_on() {
    let Some(place) = Place::fresh("moved") else {
        return;
    };
    let data = tempfile::tempdir().unwrap();
    let folder = data.path().to_str().unwrap();
    let server = Server::start(data.path());
    let client = enrol(data.path(), &server.base, "tech-1", "phone-a");
    let home = tempfile::tempdir().unwrap();
    let mut day = device(home.path(), "phone-a", "tech-1", 3);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    let hash = take(&mut day, &survey, &photo("moved", 0));
    level(&mut day, &client, &survey).unwrap();
    while send_next(&mut day, &client).unwrap().is_some() {}
    server.stop();
    let words = ["move", "--data", folder, "--postgres", &place.postgres];
    let words = [&words[..], &["--objects", &place.objects]].concat();
    answer(&words);
    // Twice would mix two offices.
    assert_eq!(super::command::scupper(&words).status.code(), Some(2));
    let dir = tempfile::tempdir().unwrap();
    let server = Server::start_with(dir.path(), &place.env());
    let client = Client::new(&server.base, client.token());
    assert_eq!(merged(&client, &survey), day.survey(&survey).unwrap());
    assert_eq!(server_heads(&client, &survey), heads(&day, &survey));
    assert!(holds(&client, &hash));
    take(&mut day, &survey, &photo("after", 0));
    level(&mut day, &client, &survey).unwrap();
    while send_next(&mut day, &client).unwrap().is_some() {}
    assert_eq!(merged(&client, &survey), day.survey(&survey).unwrap());
    // New people get numbers of their own.
    let (other, _) = Client::enrol(&server.base, &place.admit("tech-9"), "phone-n", "n").unwrap();
    assert!(holds(&other, &hash));
    place.verify(dir.path().to_str().unwrap());
}
