//! Documents over HTTP: level in one round trip, and only from those they belong to.

use crate::kit::{Phone, TestOffice};
use scupper_server::Limits;

const SURVEY: &str = "survey-1";

#[tokio::test]
async fn two_devices_become_level_through_the_office() {
    let office = TestOffice::new();
    let mut a = Phone::enrol(&office, "tech-1", "phone-a").await;
    let mut b = Phone::enrol(&office, "tech-2", "phone-b").await;
    for phone in [&mut a, &mut b] {
        phone.capture.join_survey(SURVEY).unwrap();
    }
    a.unit(SURVEY, "RTU-1");
    b.unit(SURVEY, "RTU-2");
    a.exchange(&office, SURVEY).await;
    b.exchange(&office, SURVEY).await;
    a.exchange(&office, SURVEY).await;
    let (one, other) = (
        a.capture.survey(SURVEY).unwrap(),
        b.capture.survey(SURVEY).unwrap(),
    );
    assert_eq!(one, other);
    let read = office
        .ask(
            "GET",
            "/v1/surveys/survey-1/survey",
            &[("authorization", &a.token)],
            "",
        )
        .await
        .is(200);
    assert_eq!(read.json(), serde_json::to_value(&one).unwrap());
    let tags: Vec<&str> = one.equipment.iter().map(|unit| unit.tag.as_str()).collect();
    assert_eq!(tags, ["RTU-1", "RTU-2"]);
}

#[tokio::test]
async fn the_same_message_twice_changes_nothing() {
    let office = TestOffice::new();
    let mut a = Phone::enrol(&office, "tech-1", "phone-a").await;
    a.capture.join_survey(SURVEY).unwrap();
    a.unit(SURVEY, "RTU-1");
    a.post(&office, SURVEY).await.is(200);
    let heads = || async {
        let list = office
            .ask("GET", "/v1/surveys", &[("authorization", &a.token)], "")
            .await;
        list.is(200).json()[0]["heads"].clone()
    };
    let before = heads().await;
    let message = {
        let mut again = Phone::with("tech-1", "phone-a", a.token.clone());
        std::mem::swap(&mut again.capture, &mut a.capture);
        let message = again.capture.prepare_exchange(SURVEY).unwrap();
        std::mem::swap(&mut again.capture, &mut a.capture);
        message
    };
    let path = "/v1/surveys/survey-1/exchange";
    office
        .ask("POST", path, &[("authorization", &a.token)], message)
        .await
        .is(200);
    assert_eq!(heads().await, before);
}

#[tokio::test]
async fn a_change_signed_by_another_device_or_person_is_refused() {
    let office = TestOffice::new();
    let mine = office.device("tech-1", "phone-a").await;
    office.device("tech-2", "phone-b").await;
    // Someone holding phone-a's token writes as phone-b, then as tech-2 on phone-a.
    for (author, device) in [
        ("tech-2", "phone-b"),
        ("tech-2", "phone-a"),
        ("tech-1", "phone-b"),
    ] {
        let mut forger = Phone::with(author, device, mine.clone());
        forger.capture.join_survey(SURVEY).unwrap();
        forger.unit(SURVEY, "RTU-9");
        forger.post(&office, SURVEY).await.is(403);
    }
    let mut honest = Phone::with("tech-1", "phone-a", mine);
    honest.capture.join_survey(SURVEY).unwrap();
    honest.exchange(&office, SURVEY).await;
    assert!(honest.capture.survey(SURVEY).unwrap().equipment.is_empty());
}

#[tokio::test]
async fn messages_that_are_no_messages_are_refused_and_nothing_begins() {
    let office = TestOffice::new();
    let mut a = Phone::enrol(&office, "tech-1", "phone-a").await;
    a.capture.join_survey(SURVEY).unwrap();
    let good = a.capture.prepare_exchange(SURVEY).unwrap();
    let post = |survey: &'static str, body: Vec<u8>| {
        let (office, token) = (&office, a.token.clone());
        async move {
            let path = format!("/v1/surveys/{survey}/exchange");
            office
                .ask("POST", &path, &[("authorization", &token)], body)
                .await
        }
    };
    post(SURVEY, b"not a message".to_vec()).await.is(400);
    post(SURVEY, good[..good.len() / 2].to_vec()).await.is(400);
    post("another", good.clone()).await.is(400);
    post("..%2F..%2Fetc", good.clone()).await.is(400);
    // A megabyte that unfolds to a gigabyte of zeros.
    let bomb = zstd::bulk::compress(&vec![0_u8; 64 << 20], 3).unwrap();
    assert!(bomb.len() < 1 << 16);
    post(SURVEY, bomb).await.is(413);
    post(SURVEY, vec![0; office.state.limits.exchange_body + 1])
        .await
        .is(413);
    let list = office
        .ask("GET", "/v1/surveys", &[("authorization", &a.token)], "")
        .await;
    assert_eq!(list.is(200).json(), serde_json::json!([]));
}

#[tokio::test]
async fn a_document_that_is_full_takes_nothing_more_and_is_still_read() {
    let office = TestOffice::with(Limits {
        document: 4_000,
        ..Limits::default()
    });
    let mut a = Phone::enrol(&office, "tech-1", "phone-a").await;
    a.capture.join_survey(SURVEY).unwrap();
    let mut kept = 0;
    let refused = loop {
        a.unit(SURVEY, &format!("RTU-{kept}"));
        let answer = a.post(&office, SURVEY).await;
        if answer.status == 507 {
            break answer.text();
        }
        let answer = answer.is(200).body;
        a.capture.accept_exchange(SURVEY, &answer).unwrap();
        kept += 1;
        assert!(kept < 200, "no end");
    };
    assert!(
        kept > 1 && refused.contains("begin the next visit"),
        "{refused}"
    );
    // Another device, which has nothing to add, is told all that there is.
    let mut b = Phone::enrol(&office, "tech-2", "phone-b").await;
    b.capture.join_survey(SURVEY).unwrap();
    b.exchange(&office, SURVEY).await;
    assert_eq!(b.capture.survey(SURVEY).unwrap().equipment.len(), kept);
    a.post(&office, SURVEY).await.is(507);
}
