//! A real server and real devices killed with `kill -9` in the middle of exchanges and uploads:
//! what was acknowledged is there, and everyone goes on.

use super::server_kit::{
    Dice, Server, Stand, device, enrol, exchange, free_address, heads, holds, level, merged,
    number, photo, send_next, server_heads, take,
};
use scupper_core::capture::Capture;
use scupper_core::store::Part;
use scupper_server::client::{Client, ClientError};
use serde_json::json;
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// How often somebody is killed; `SCUPPER_KILLS` makes the run longer.
pub(crate) fn kills() -> u64 {
    number("SCUPPER_KILLS", 15)
}

/// What the server said yes to.
#[derive(Default)]
pub(crate) struct Acknowledged {
    /// Ids of units in an exchange that was answered.
    pub(crate) units: BTreeSet<String>,
    /// Photos whose last byte was answered.
    pub(crate) photos: BTreeSet<String>,
    pub(crate) exchanges: usize,
}

/// Works, exchanges and sends photos until the server does not answer.
pub(crate) fn work(
    day: &mut Capture,
    client: &Client,
    survey: &str,
    acknowledged: &mut Acknowledged,
    steps: &AtomicU64,
    mark: &str,
) -> ClientError {
    for step in 0.. {
        let unit = json!({"tag": format!("RTU-{mark}-{step}"), "kind": "packaged_rooftop_unit"});
        let table = scupper_core::document::Table::Equipment;
        let id = day.add(survey, table, unit).unwrap();
        if step % 4 == 0 {
            // Large enough to be on its way for a while, in more than one piece.
            take(day, survey, &photo(&format!("{mark}-{step}"), 2_500_000));
        }
        let mut added = BTreeSet::from([id]);
        loop {
            match exchange(day, client, survey) {
                Ok(done) if done.again => {}
                Ok(_) => break,
                Err(error) => return error,
            }
        }
        acknowledged.units.append(&mut added);
        acknowledged.exchanges += 1;
        steps.fetch_add(1, Ordering::Relaxed);
        if step % 4 == 0 {
            loop {
                steps.fetch_add(1, Ordering::Relaxed);
                match send_next(day, client) {
                    Ok(Some((hash, Part::Original))) => drop(acknowledged.photos.insert(hash)),
                    Ok(Some(_)) => {}
                    Ok(None) => break,
                    Err(error) => return error,
                }
            }
        }
    }
    unreachable!()
}

#[test]
fn a_server_killed_at_any_moment_keeps_what_it_acknowledged() {
    let data = tempfile::tempdir().unwrap();
    let home = tempfile::tempdir().unwrap();
    let address = free_address();
    let mut server = Server::start_at(data.path(), &address);
    let client = enrol(data.path(), &server.base, "tech-1", "phone-a");
    let mut day = device(home.path(), "phone-a", "tech-1", 7);
    let survey = day.create_survey("Crash Street").unwrap();
    let mut all = Acknowledged::default();
    let mut dice = Dice(20_260_414);
    let mut checked = BTreeSet::new();
    for round in 0..kills() {
        let enough = dice.roll() % 6;
        let after = Duration::from_micros(dice.roll() % 200_000);
        let steps = AtomicU64::new(0);
        let error = std::thread::scope(|scope| {
            let worker = scope.spawn(|| {
                work(
                    &mut day,
                    &client,
                    &survey,
                    &mut all,
                    &steps,
                    &round.to_string(),
                )
            });
            // So many answers, and then somewhere on the way to the next.
            while steps.load(Ordering::Relaxed) < enough && !worker.is_finished() {
                std::thread::sleep(Duration::from_millis(1));
            }
            std::thread::sleep(after);
            server.kill();
            worker.join().unwrap()
        });
        assert!(matches!(error, ClientError::Unreachable(_)), "{error}");
        server = Server::start_at(data.path(), &address);
        if all.exchanges == 0 {
            continue;
        }
        // Before the device says anything more.
        let there = merged(&client, &survey);
        let units: BTreeSet<String> = there.equipment.iter().map(|u| u.id.clone()).collect();
        let lost: Vec<_> = all.units.difference(&units).collect();
        assert!(lost.is_empty(), "round {round}: lost {lost:?}");
        assert_eq!(units.len(), there.equipment.len(), "a unit is there twice");
        // Those of this round; all of them again in the end.
        for hash in all
            .photos
            .iter()
            .filter(|hash| checked.insert((*hash).clone()))
        {
            assert!(holds(&client, hash), "round {round}: lost photo {hash}");
        }
    }
    level(&mut day, &client, &survey).unwrap();
    while send_next(&mut day, &client).unwrap().is_some() {}
    level(&mut day, &client, &survey).unwrap();
    let mine = day.survey(&survey).unwrap();
    assert_eq!(server_heads(&client, &survey), heads(&day, &survey));
    assert_eq!(merged(&client, &survey), mine);
    for shot in &mine.photos {
        assert!(holds(&client, &shot.hash), "{}", shot.hash);
    }
    assert!(
        all.exchanges as u64 * 2 > kills(),
        "only {} exchanges",
        all.exchanges
    );
    println!(
        "server killed {} times: {} exchanges, {} units and {} photos acknowledged, none lost; \
         {} units and {} photos at the end on both sides",
        kills(),
        all.exchanges,
        all.units.len(),
        all.photos.len(),
        mine.equipment.len(),
        mine.photos.len()
    );
}

#[test]
fn a_device_killed_in_an_exchange_or_upload_goes_on() {
    let stand = Stand::new();
    let (client, server) = (&stand.client, &stand.server);
    let home = tempfile::tempdir().unwrap();
    let picture = home.path().join("large.jpg");
    std::fs::write(&picture, photo("large", 2_500_000)).unwrap();
    let store = home.path().join("store");
    let mut dice = Dice(5_150);
    let mut checked = BTreeSet::new();
    let (mut shared, mut sent) = (BTreeSet::new(), BTreeSet::new());
    let mut survey = String::new();
    let mut cut = 0;
    for round in 0..kills() {
        let mut child = Command::new(env!("CARGO_BIN_EXE_roofwalk"))
            .args([store.as_os_str(), (1_000 + round).to_string().as_ref()])
            .arg(&picture)
            .args([&server.base, client.token()])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let mut lines = lines.map_while(Result::ok);
        let mut said: Vec<String> = lines.by_ref().take(dice.roll() as usize % 24).collect();
        for line in lines.by_ref() {
            said.push(line);
            if said.last().is_some_and(|line| line.starts_with("begin")) {
                break;
            }
        }
        std::thread::sleep(Duration::from_micros(dice.roll() % 60_000));
        child.kill().unwrap();
        child.wait().unwrap();
        said.extend(lines);
        let mut waiting: Vec<String> = Vec::new();
        let mut begun = false;
        for line in said {
            begun = line.starts_with("begin");
            match line.split_once(' ').unwrap() {
                ("survey", id) => survey = id.to_owned(),
                ("note", mark) => waiting.push(mark.to_owned()),
                ("level", _) => shared.extend(waiting.drain(..)),
                ("sent", hash) => drop(sent.insert(hash.to_owned())),
                _ => {}
            }
        }
        cut += usize::from(begun);
        if shared.is_empty() {
            continue;
        }
        let there = merged(client, &survey);
        let notes: BTreeSet<String> = there.notes.iter().map(|n| n.id.clone()).collect();
        assert!(
            shared.is_subset(&notes),
            "round {round}: the server lost notes"
        );
        for hash in sent.iter().filter(|hash| checked.insert((*hash).clone())) {
            assert!(holds(client, hash), "round {round}: lost photo {hash}");
        }
    }
    let mut day = device(&store, "phone-a", "tech-1", 99);
    level(&mut day, client, &survey).unwrap();
    while send_next(&mut day, client).unwrap().is_some() {}
    let mine = day.survey(&survey).unwrap();
    assert_eq!(server_heads(client, &survey), heads(&day, &survey));
    assert_eq!(merged(client, &survey), mine);
    let notes: BTreeSet<String> = mine.notes.iter().map(|n| n.id.clone()).collect();
    assert_eq!(notes.len(), mine.notes.len(), "a note is there twice");
    for shot in &mine.photos {
        assert!(holds(client, &shot.hash), "{}", shot.hash);
    }
    assert!(cut > 0, "nothing was ever cut off on the wire");
    println!(
        "device killed {} times, {cut} of them on the wire: {} notes and {} photos acknowledged, \
         none lost; {} notes and {} photos at the end on both sides",
        kills(),
        shared.len(),
        sent.len(),
        mine.notes.len(),
        mine.photos.len()
    );
}
