//! What accounts must refuse, and what they must remember.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use std::path::Path;
use std::time::Duration;

const LIFE: Duration = Duration::from_secs(900);

struct Office {
    accounts: Accounts,
    us: i64,
    dir: tempfile::TempDir,
}

fn office() -> Office {
    let dir = tempfile::tempdir().unwrap();
    let accounts = Accounts::open(dir.path(), None).unwrap();
    let us = accounts.contractor("Us").unwrap();
    Office { accounts, us, dir }
}

impl Office {
    fn tech(&self, name: &str, device: &str) -> (String, Caller) {
        let code = self
            .accounts
            .admit(0, LIFE, self.us, name, Role::Technician)
            .unwrap();
        let (token, author) = self.accounts.enrol(1, &code, device, "phone").unwrap();
        assert_eq!(author, name);
        let caller = self.accounts.device(2, &token).unwrap();
        (token, caller)
    }

    fn reviewer(&self) -> Caller {
        let code = self
            .accounts
            .admit(0, LIFE, self.us, "ana", Role::Reviewer)
            .unwrap();
        let session = self.accounts.sign_in(1, LIFE, &code).unwrap();
        self.accounts.session(2, &session).unwrap()
    }
}

#[track_caller]
fn refused<T: std::fmt::Debug>(result: Result<T, AppError>, status: u16) {
    match result {
        Ok(value) => panic!("accepted: {value:?}"),
        Err(error) => assert_eq!(error.status().as_u16(), status, "{error}"),
    }
}

#[test]
fn a_code_enrols_once_and_not_for_long() {
    let office = office();
    let accounts = &office.accounts;
    let code = accounts
        .admit(0, LIFE, office.us, "tech-1", Role::Technician)
        .unwrap();
    refused(
        accounts.enrol(1, "WRONG-CODE-0000", "device-aaaa", "phone"),
        401,
    );
    accounts.enrol(1, &code, "device-aaaa", "phone").unwrap();
    refused(accounts.enrol(2, &code, "device-bbbb", "phone"), 401);
    let late = accounts
        .admit(0, LIFE, office.us, "tech-1", Role::Technician)
        .unwrap();
    refused(accounts.enrol(901, &late, "device-bbbb", "phone"), 401);
    let sign_in = accounts
        .admit(0, LIFE, office.us, "ana", Role::Reviewer)
        .unwrap();
    refused(accounts.enrol(1, &sign_in, "device-cccc", "phone"), 401);
}

#[test]
fn a_refused_enrolment_leaves_the_code_good() {
    let office = office();
    office.tech("tech-1", "device-aaaa");
    let accounts = &office.accounts;
    let code = accounts
        .admit(0, LIFE, office.us, "tech-2", Role::Technician)
        .unwrap();
    refused(accounts.enrol(1, &code, "device-aaaa", "phone"), 409);
    refused(accounts.enrol(1, &code, "../../etc", "phone"), 400);
    accounts.enrol(1, &code, "device-bbbb", "phone").unwrap();
}

#[test]
fn tokens_are_kept_as_digests_and_can_be_revoked_and_changed() {
    let office = office();
    let (token, caller) = office.tech("tech-1", "device-aaaa");
    let mut kept = Vec::new();
    for file in std::fs::read_dir(office.dir.path()).unwrap() {
        kept.extend(std::fs::read(file.unwrap().path()).unwrap());
    }
    assert!(
        !kept
            .windows(token.len())
            .any(|part| part == token.as_bytes())
    );

    // An answer lost on the way shuts nobody out: the old token holds until the fresh one is used.
    office.accounts.rotate(3, &caller).unwrap();
    office.accounts.device(3, &token).unwrap();
    let fresh = office.accounts.rotate(3, &caller).unwrap();
    office.accounts.device(4, &token).unwrap();
    office.accounts.device(4, &fresh).unwrap();
    refused(office.accounts.device(4, &token), 401);
    office.accounts.device(4, &fresh).unwrap();

    refused(office.accounts.revoke(5, office.us + 1, "device-aaaa"), 404);
    office.accounts.revoke(5, office.us, "device-aaaa").unwrap();
    refused(office.accounts.device(6, &fresh), 401);
    assert_eq!(
        office.accounts.devices(office.us).unwrap()[0].revoked_at,
        Some(5)
    );
}

#[test]
fn a_customers_link_reads_one_survey_until_it_ends() {
    let office = office();
    let (_, tech) = office.tech("tech-1", "device-aaaa");
    refused(office.accounts.make_link(4, LIFE, &tech, "survey-1"), 403);
    let ana = office.reviewer();
    let secret = office
        .accounts
        .make_link(4, LIFE, &ana, "survey-1")
        .unwrap();
    let customer = office.accounts.link(5, &secret).unwrap();
    assert_eq!(
        customer.rights,
        Rights::Customer {
            survey: "survey-1".to_owned()
        }
    );
    refused(office.accounts.link(4 + 901, &secret), 404);
    let id = office.accounts.links(office.us, "survey-1").unwrap()[0]
        .id
        .clone();
    refused(
        office.accounts.revoke_link(6, &customer, "survey-1", &id),
        403,
    );
    let them = Caller {
        contractor: office.us + 1,
        ..ana.clone()
    };
    refused(office.accounts.revoke_link(6, &them, "survey-1", &id), 404);
    office
        .accounts
        .revoke_link(6, &ana, "survey-1", &id)
        .unwrap();
    refused(office.accounts.link(7, &secret), 404);
}

#[test]
fn sessions_end_and_names_keep_one_role() {
    let office = office();
    let code = office
        .accounts
        .admit(0, LIFE, office.us, "ana", Role::Reviewer)
        .unwrap();
    let session = office.accounts.sign_in(1, LIFE, &code).unwrap();
    refused(office.accounts.sign_in(1, LIFE, &code), 401);
    refused(office.accounts.session(1 + 900, &session), 401);
    office.accounts.session(2, &session).unwrap();
    office.accounts.sign_out(&session).unwrap();
    refused(office.accounts.session(3, &session), 401);
    refused(
        office
            .accounts
            .admit(4, LIFE, office.us, "ana", Role::Technician),
        422,
    );
    let log = office.accounts.audit(office.us, 10).unwrap();
    assert_eq!(log[0].2, "signed in");
}

#[test]
fn a_database_from_the_future_is_refused() {
    let office = office();
    let path = office.dir.path().join("office.sqlite");
    let db = rusqlite::Connection::open(path).unwrap();
    db.pragma_update(None, "user_version", 99).unwrap();
    refused(Accounts::open(office.dir.path(), None), 422);
}

#[test]
fn a_device_that_did_not_call_for_half_a_year_is_shut_out() {
    let office = office();
    let (token, _) = office.tech("tech-1", "device-aaaa");
    let half_a_year = 180 * 24 * 3600;
    office.accounts.device(half_a_year, &token).unwrap();
    office.accounts.device(2 * half_a_year - 1, &token).unwrap();
    refused(office.accounts.device(3 * half_a_year, &token), 401);
}

const PASSWORD: &str = "gulls over wet gravel";

#[test]
fn a_password_is_kept_as_argon2id_and_ends_other_sessions() {
    let office = office();
    let accounts = &office.accounts;
    let ana = office.reviewer();
    let code = accounts
        .admit(0, LIFE, office.us, "ana", Role::Reviewer)
        .unwrap();
    let session = accounts.sign_in(1, LIFE, &code).unwrap();
    let code = accounts
        .admit(0, LIFE, office.us, "ana", Role::Reviewer)
        .unwrap();
    let other = accounts.sign_in(1, LIFE, &code).unwrap();
    for weak in [
        "short",
        "aaaaaaaaaaaaaaaaaaaa",
        "ababababababababab",
        &"x1".repeat(200),
    ] {
        refused(accounts.set_own_password(2, &ana, weak, None), 400);
    }
    accounts
        .set_own_password(2, &ana, PASSWORD, Some(&session))
        .unwrap();
    accounts.session(3, &session).unwrap();
    refused(accounts.session(3, &other), 401);
    let row = accounts
        .db
        .row("SELECT password FROM person WHERE name = 'ana'", vec![]);
    let kept = row.unwrap().unwrap().text(0).unwrap();
    assert!(
        kept.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"),
        "{kept}"
    );
    let secret = accounts
        .sign_in_by_password(4, LIFE, ("Us", "ana"), PASSWORD)
        .unwrap();
    assert_eq!(accounts.session(5, &secret).unwrap().name, "ana");
    for (firm, name, password) in [
        ("Us", "ana", "gulls over wet gravel."),
        ("Us", "eve", PASSWORD),
        ("Them", "ana", PASSWORD),
        ("Us", "ana", ""),
    ] {
        refused(
            accounts.sign_in_by_password(6, LIFE, (firm, name), password),
            401,
        );
    }
    // A technician has none, and a reviewer who never set one does not come in without.
    office.tech("tech-1", "device-aaaa");
    refused(
        accounts.set_password(7, office.us, "tech-1", PASSWORD, None),
        404,
    );
    accounts
        .admit(0, LIFE, office.us, "bo", Role::Reviewer)
        .unwrap();
    refused(accounts.sign_in_by_password(8, LIFE, ("Us", "bo"), ""), 401);
}

#[test]
fn after_many_wrong_passwords_only_a_link_opens() {
    let office = office();
    let accounts = &office.accounts;
    let ana = office.reviewer();
    accounts.set_own_password(2, &ana, PASSWORD, None).unwrap();
    accounts
        .db
        .execute("UPDATE person SET failed = 99", vec![])
        .unwrap();
    refused(
        accounts.sign_in_by_password(3, LIFE, ("Us", "ana"), "wrong"),
        401,
    );
    refused(
        accounts.sign_in_by_password(4, LIFE, ("Us", "ana"), PASSWORD),
        401,
    );
    let code = accounts
        .admit(4, LIFE, office.us, "ana", Role::Reviewer)
        .unwrap();
    accounts.sign_in(5, LIFE, &code).unwrap();
    accounts
        .sign_in_by_password(6, LIFE, ("Us", "ana"), PASSWORD)
        .unwrap();
}

/// An office as a schema of old wrote it.
fn freeze(file: &Path, schema: usize) {
    let old = rusqlite::Connection::open(file).unwrap();
    for step in schema::STEPS.iter().take(schema) {
        old.execute_batch(step).unwrap();
    }
    old.execute_batch(
        "INSERT INTO contractor (id, name) VALUES (1, 'Us');
         INSERT INTO person (id, contractor, name, role) VALUES (1, 1, 'tech-1', 'technician');",
    )
    .unwrap();
    old.execute(
        "INSERT INTO device (id, person, name, digest, enrolled_at) VALUES ('phone-a', 1, 'a', ?1, 5)",
        [crate::random::digest("secret")],
    )
    .unwrap();
    if schema >= schema::SUMS as usize {
        sums::define(&old).unwrap();
        sums::make(&old).unwrap();
    }
    old.pragma_update(None, "user_version", schema as u32)
        .unwrap();
}

/// `fixtures/office/schema-N.sqlite` is as schema N wrote it, never changed once released.
/// `SCUPPER_FREEZE=1` writes what is not there yet.
#[test]
fn offices_of_every_released_schema_go_on() {
    let frozen = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures/office");
    for schema in 1..=schema::STEPS.len() {
        let old = frozen.join(format!("schema-{schema}.sqlite"));
        if std::env::var("SCUPPER_FREEZE").is_ok() && !old.exists() {
            freeze(&old, schema);
        }
        let dir = tempfile::tempdir().unwrap();
        std::fs::copy(&old, dir.path().join(FILE)).unwrap();
        let accounts = Accounts::open(dir.path(), None).unwrap();
        let caller = accounts.device(9, "secret").unwrap();
        assert_eq!((caller.name.as_str(), caller.reach), ("tech-1", Reach::All));
        let code = accounts
            .admit(9, LIFE, caller.contractor, "tech-2", Role::Technician)
            .unwrap();
        let (token, _) = accounts.enrol(10, &code, "phone-b", "b").unwrap();
        accounts.device(11, &token).unwrap();
        accounts
            .limit(12, caller.contractor, "tech-1", &Reach::only(["s-1"]))
            .unwrap();
        let limited = accounts.device(13, "secret").unwrap().reach;
        assert!(limited.covers("s-1") && !limited.covers("s-2"));
    }
}
