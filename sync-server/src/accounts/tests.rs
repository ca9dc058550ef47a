//! What accounts must refuse, and what they must remember.
#![allow(clippy::unwrap_used, clippy::panic)]

use super::*;
use std::time::Duration;

const LIFE: Duration = Duration::from_secs(900);

struct Office {
    accounts: Accounts,
    us: i64,
    dir: tempfile::TempDir,
}

fn office() -> Office {
    let dir = tempfile::tempdir().unwrap();
    let accounts = Accounts::open(dir.path()).unwrap();
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

    let fresh = office.accounts.rotate(3, &caller).unwrap();
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
    office
        .accounts
        .db()
        .unwrap()
        .pragma_update(None, "user_version", 99)
        .unwrap();
    refused(Accounts::open(office.dir.path()), 422);
}
