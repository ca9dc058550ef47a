//! `office.sqlite` that rots: whichever byte flips, all that it remembers reads as before, or the
//! damage is named when it is opened.
//!
//! Some hundred places are tried; `SCUPPER_EVERY=1` tries every byte.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::{Accounts, FILE, Reach, Role};
use crate::error::AppError;
use crate::sql::Value;
use std::fs;
use std::path::Path;
use std::time::Duration;

const LIFE: Duration = Duration::from_secs(900);

/// An office in which every table holds something; the secrets that open it.
fn fill(dir: &Path) -> (String, String) {
    let accounts = Accounts::open(dir, None).unwrap();
    let us = accounts.contractor("Us").unwrap();
    let code = accounts
        .admit(1, LIFE, us, "tech-1", Role::Technician)
        .unwrap();
    let (token, _) = accounts.enrol(2, &code, "phone-a", "a phone").unwrap();
    let code = accounts.admit(3, LIFE, us, "ana", Role::Reviewer).unwrap();
    let session = accounts.sign_in(4, LIFE, &code).unwrap();
    let ana = accounts.session(5, &session).unwrap();
    accounts
        .call_person(us, "ana", "Ana of the office")
        .unwrap();
    accounts
        .limit(6, us, "tech-1", &Reach::only(["s-1"]))
        .unwrap();
    accounts.make_link(7, LIFE, &ana, "s-1").unwrap();
    for n in 0..20 {
        let about = format!("s-{n}");
        accounts
            .record(8 + n, Some(us), "ana", "did something", &about)
            .unwrap();
    }
    let rest = [
        "INSERT INTO settled (contractor, survey, at, who, said) VALUES (1, 's-1', 9, 'ana', 'kept 24 A')",
        "INSERT INTO hazard_seen VALUES (1, 's-1', 'edge', 'ana', 9)",
        "INSERT INTO rates VALUES (1, 's-1', 'name = \"ours\"', 'ana', 9)",
        "INSERT INTO price_version (contractor, survey, at, who, title, heads, as_of, book, figures)
             VALUES (1, 's-1', 9, 'ana', 'offered', 'h', '2026-04-14', 'b', 'f')",
        "INSERT INTO listed VALUES (1, 's-1', 'h', '{\"units\": 2}')",
        "INSERT INTO found (contractor, survey, body) VALUES (1, 's-1', 'Ovens and Ice, RTU-1')",
        // Changed and taken away again, as everything is in time.
        "UPDATE rates SET book = 'name = \"theirs\"'",
        "INSERT INTO listed VALUES (1, 's-2', 'h', '{}')",
        "DELETE FROM listed WHERE survey = 's-2'",
    ];
    accounts.office_device().unwrap();
    for sql in rest {
        accounts.db.execute(sql, Vec::new()).unwrap();
    }
    (token, session)
}

/// All that it remembers: every row, whom its secrets open to, and, apart, what a search finds.
fn told(dir: &Path, secrets: &(String, String)) -> Result<(String, String), AppError> {
    let accounts = Accounts::open(dir, None)?;
    let mut told = String::new();
    let tables = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'found%'
                  ORDER BY name";
    for table in accounts.db.rows(tables, Vec::new())? {
        let all = format!("SELECT * FROM {} ORDER BY 1, 2", table.text(0)?);
        let all = all.replace("row_sum ORDER BY 1, 2", "row_sum ORDER BY 1");
        for row in accounts.db.rows(&all, Vec::new())? {
            told += &format!("{:?}\n", row.0);
        }
    }
    told += &format!("{:?}\n", accounts.device(1, &secrets.0)?);
    told += &format!("{:?}\n", accounts.session(5, &secrets.1)?);
    let search = "SELECT survey FROM found WHERE found MATCH '\"oven\"'";
    let found = match accounts.db.rows(search, Vec::new()) {
        Ok(rows) => format!("{rows:?}"),
        Err(error) => error.to_string(),
    };
    Ok((told, found))
}

#[test]
fn no_flipped_byte_of_the_accounts_is_read_in_silence() {
    let dir = tempfile::tempdir().unwrap();
    let home = dir.path().join("home");
    fs::create_dir(&home).unwrap();
    let secrets = fill(&home);
    // A device that calls is noted: the second look is the measure.
    told(&home, &secrets).unwrap();
    let (before, found) = told(&home, &secrets).unwrap();
    assert!(
        before.lines().count() > 40 && found.contains("s-1"),
        "{before}"
    );
    let whole = fs::read(home.join(FILE)).unwrap();
    assert!(!home.join(format!("{FILE}-wal")).exists());
    // Bytes that hold something: most of so small a file is room.
    let mut places: Vec<usize> = (0..whole.len()).filter(|at| whole[*at] != 0).collect();
    let mut step = places.len() / 300;
    if let Ok(every) = std::env::var("SCUPPER_EVERY") {
        (places, step) = ((0..whole.len()).collect(), every.parse().unwrap());
    }
    let (mut named, mut same, mut search) = (0, 0, 0);
    for at in places.into_iter().step_by(step) {
        let rotten = dir.path().join("rotten");
        fs::create_dir(&rotten).unwrap();
        let mut bytes = whole.clone();
        bytes[at] ^= 1 << (at % 8);
        fs::write(rotten.join(FILE), &bytes).unwrap();
        match told(&rotten, &secrets) {
            Ok((read, seen)) => {
                assert!(read == before, "byte {at} was read in silence: {read}");
                match seen == found {
                    true => same += 1,
                    false => search += 1,
                }
            }
            Err(error) => {
                assert!(!error.to_string().is_empty(), "byte {at}");
                named += 1;
            }
        }
        fs::remove_dir_all(&rotten).unwrap();
    }
    println!(
        "{} bytes: {named} flips named, {same} without effect, {search} that a search answers \
         otherwise, 0 silent",
        whole.len()
    );
    assert!(named > 100);
}

#[test]
fn a_changed_row_a_lost_row_and_a_foreign_row_are_named() {
    for (wrong, says) in [
        ("UPDATE person SET limited = 0", "person"),
        ("DELETE FROM audit WHERE seq = 3", "sums of rows"),
        (
            "INSERT INTO hazard_seen VALUES (1, 's-9', 'x', 'y', 1)",
            "hazard_seen",
        ),
    ] {
        let dir = tempfile::tempdir().unwrap();
        fill(dir.path());
        let raw = rusqlite::Connection::open(dir.path().join(FILE)).unwrap();
        raw.execute(wrong, []).unwrap();
        drop(raw);
        let error = Accounts::open(dir.path(), None).unwrap_err().to_string();
        assert!(error.contains(says) && error.contains("backup"), "{error}");
    }
}

/// A copy, and an office that another process wrote to meanwhile, are sound.
#[test]
fn copies_and_other_processes_keep_the_sums() {
    let dir = tempfile::tempdir().unwrap();
    let (home, copy) = (dir.path().join("home"), dir.path().join("copy"));
    fs::create_dir(&home).unwrap();
    fs::create_dir(&copy).unwrap();
    fill(&home);
    let one = Accounts::open(&home, None).unwrap();
    let other = Accounts::open(&home, None).unwrap();
    let us = one.contractor("Us").unwrap();
    other
        .admit(30, LIFE, us, "tech-2", Role::Technician)
        .unwrap();
    one.admit(31, LIFE, us, "tech-2", Role::Technician).unwrap();
    one.backup(&copy).unwrap();
    drop((one, other));
    for dir in [&home, &copy] {
        let accounts = Accounts::open(dir, None).unwrap();
        let rows = accounts.db.rows("SELECT count(*) FROM row_sum", Vec::new());
        assert!(matches!(rows.unwrap()[0].0[0], Value::Int(Some(n)) if n > 30));
    }
}
