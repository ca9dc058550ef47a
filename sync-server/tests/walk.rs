//! A phone without the app: its page, and what the office takes of what it sends.

use crate::access::{SURVEY, with_survey};
use crate::kit::{Answer, Phone, TestOffice};
use serde_json::{Value, json};

const ENTRIES: &str = "/v1/surveys/survey-1/entries";
const AT: &str = "2026-04-14T08:02:11-08:00";

/// A UUIDv7 that ends in a number.
fn id(n: u32) -> String {
    format!("0196340c-5f00-7000-8000-{n:012x}")
}

fn note(n: u32, text: &str) -> Value {
    let segments = [("RTU-1.", 0), (text, 900)];
    let segments = segments.map(|(text, end)| json!({"start_ms": 0, "end_ms": end, "text": text}));
    json!({"note_id": id(n), "recorded_at": AT, "segments": segments})
}

async fn send(office: &TestOffice, token: &str, path: &str, mut batch: Value) -> Answer {
    batch["sent_at"] = json!(AT);
    let headers = [("authorization", token)];
    office.ask("POST", path, &headers, batch.to_string()).await
}

/// Uploads bytes as an original; their hash.
async fn upload(office: &TestOffice, token: &str, bytes: &[u8]) -> String {
    let hash = blake3::hash(bytes).to_hex().to_string();
    let length = bytes.len().to_string();
    let headers = [
        ("authorization", token),
        ("upload-length", &length),
        ("content-type", "image/jpeg"),
        ("scupper-photo", &hash),
        ("scupper-part", "original"),
        ("scupper-content", &hash),
        ("scupper-survey", SURVEY),
    ];
    let begun = office
        .ask("POST", "/v1/uploads", &headers, "")
        .await
        .is(201);
    let at = [("authorization", token), ("upload-offset", "0")];
    let place = begun.header("location").to_owned();
    office
        .ask("PATCH", &place, &at, bytes.to_vec())
        .await
        .is(204);
    hash
}

async fn survey(office: &TestOffice, token: &str) -> Value {
    let headers = [("authorization", token)];
    let path = "/v1/surveys/survey-1/survey";
    office.ask("GET", path, &headers, "").await.is(200).json()
}

fn listed(told: &Value, list: &str) -> Vec<String> {
    let all = told[list].as_array().unwrap().iter();
    all.map(|entry| entry["id"].as_str().unwrap().to_owned())
        .collect()
}

#[tokio::test]
async fn what_a_phone_without_the_app_sends_comes_in_once_and_is_its_own() {
    let (office, mut phone) = with_survey().await;
    let token = office.device("tech-3", "web-1").await;
    let evil = "<script>alert(1)</script>";
    phone.capture.join_survey("elsewhere").unwrap();
    let picture = phone.photo("elsewhere", 3);
    let hash = upload(&office, &token, &picture).await;
    let batch = json!({
        "units": [{"id": id(1), "tag": "EF-7", "kind": "exhaust_fan", "at": AT}],
        "notes": [note(2, "the belt is cracked, MCA 24 amps"), note(3, evil)],
        "photos": [{"id": id(4), "hash": hash, "ref": "EF-7", "caption": evil, "at": AT}],
    });
    let told = send(&office, &token, ENTRIES, batch.clone())
        .await
        .is(200)
        .json();
    assert_eq!(listed(&told, "kept"), [id(1), id(2), id(3), id(4)]);
    assert_eq!(told["refused"], json!([]));
    assert_eq!(told["author"], "tech-3");
    assert_eq!(
        told["kept"][1]["understood"],
        json!(["RTU-1: nameplate MCA (A) 24", "RTU-1: belt cracked"])
    );
    assert_eq!(told["roof"]["units"].as_array().unwrap().len(), 2);
    assert!(
        told["roof"]["caution"]
            .as_str()
            .unwrap()
            .contains("never says")
    );
    // Its clock is as far off as it says it is.
    let off = told["clock_offset_ms"].as_i64().unwrap();
    let sent = chrono::DateTime::parse_from_rfc3339(AT).unwrap();
    let truly = office.state.now().signed_duration_since(sent);
    assert!((truly.num_milliseconds() - off).abs() < 60_000, "{off}");

    // The answer was lost: everything comes once more, and changes nothing.
    let first = survey(&office, &token).await;
    let again = send(&office, &token, ENTRIES, batch).await.is(200).json();
    assert_eq!(again["kept"], told["kept"]);
    assert_eq!(survey(&office, &token).await, first);
    assert_eq!(first["notes"].as_array().unwrap().len(), 2);
    assert_eq!(first["notes"][0]["author"], "tech-3");
    let shot = &first["photos"][0];
    assert_eq!(shot["media_type"], "image/jpeg");
    assert_eq!(shot["author"], "tech-3");
    let small = format!("/v1/photos/{hash}/thumbnail");
    let read = [("authorization", token.as_str())];
    office.ask("GET", &small, &read, "").await.is(200);

    // Other devices get it as the change of this phone, and text stays text.
    phone.exchange(&office, SURVEY).await;
    let history = phone.capture.history(SURVEY, "RTU-1", "nameplate.mca_a");
    let stamp = history.unwrap().pop().unwrap().stamp.unwrap();
    assert_eq!(
        (stamp.author.as_str(), stamp.device.as_str()),
        ("tech-3", "web-1")
    );
    assert_eq!(stamp.clock_offset_ms, Some(off));
    assert_eq!(stamp.at, sent);
    let ana = office.reviewer("ana").await;
    let page = office
        .ask("GET", "/surveys/survey-1", &[("cookie", &ana)], "")
        .await;
    assert!(!page.is(200).text().contains(evil));
}

/// A clock that is off by millennia, found by schemathesis: the time it comes to has a year that no
/// date of RFC 3339 can write.
#[tokio::test]
async fn a_time_that_cannot_be_written_is_left_out_of_the_list() {
    let (office, _phone) = with_survey().await;
    let token = office.device("tech-3", "web-1").await;
    let old = json!({"note_id": id(1), "recorded_at": "0033-11-29T08:00:00Z",
        "segments": [{"text": "the belt is worn"}]});
    let batch = json!({"sent_at": "3149-01-01T00:00:00Z", "notes": [old]});
    let headers = [("authorization", token.as_str())];
    let sent = office.ask("POST", ENTRIES, &headers, batch.to_string());
    assert_eq!(listed(&sent.await.is(200).json(), "kept"), [id(1)]);
    let list = office.ask("GET", "/v1/surveys", &headers, "").await.json();
    assert_eq!(list[0].get("changed_at"), None, "{list}");
}

#[tokio::test]
async fn what_a_phone_may_not_send_is_refused_and_changes_nothing() {
    let (office, _phone) = with_survey().await;
    let token = office.device("tech-3", "web-1").await;
    let other = office.device("tech-4", "web-2").await;
    let batch = json!({"notes": [note(1, "the belt is worn")]});
    send(&office, &token, ENTRIES, batch).await.is(200);
    let before = survey(&office, &token).await;
    let fine = note(9, "fine");
    let forged = |mut entry: Value| {
        entry["author"] = json!("tech-4");
        entry
    };
    let shot = json!({"id": id(8), "hash": "0".repeat(64), "at": AT});
    let many: Vec<Value> = (100..301).map(|n| note(n, "again")).collect();
    for (batch, status, place) in [
        (json!({"notes": [fine, forged(note(8, "x"))]}), 403, ""),
        (json!({"photos": [forged(shot.clone())]}), 403, ""),
        (
            json!({"notes": [fine, {"note_id": "n-1", "segments": []}]}),
            400,
            "notes[1].note_id",
        ),
        (json!({"notes": [{"note_id": id(8)}]}), 400, "notes[0]"),
        (json!({"notes": many}), 400, "notes"),
        (
            json!({"units": [{"id": id(8), "tag": "Site", "kind": "other", "at": AT}]}),
            400,
            "units[0].tag",
        ),
        (
            json!({"units": [{"id": id(8), "tag": "X-1", "kind": "lift", "at": AT}]}),
            400,
            "units[0].kind",
        ),
        (
            json!({"photos": [{"id": id(8), "hash": "../x", "at": AT}]}),
            400,
            "photos[0].hash",
        ),
        (
            json!({"notes": [note(8, &"long ".repeat(60_000))]}),
            413,
            "",
        ),
    ] {
        let answer = send(&office, &token, ENTRIES, batch).await.is(status);
        assert_eq!(answer.json()["place"].as_str().unwrap_or(""), place);
    }
    // Someone else's id, other words under one's own, no words, no photo, no picture.
    let torn = note(1, "the belt is torn");
    let no_picture = upload(&office, &token, b"#!/bin/sh\n<script>alert(1)</script>").await;
    for (token, batch, then) in [
        (
            &other,
            json!({"notes": [note(1, "the belt is worn")]}),
            "fresh_id",
        ),
        (&token, json!({"notes": [torn]}), "fresh_id"),
        (
            &token,
            json!({"notes": [{"note_id": id(8), "recorded_at": AT, "segments": [{"text": " "}]}]}),
            "ask",
        ),
        (&token, json!({"photos": [shot]}), "send_photo"),
        (
            &token,
            json!({"photos": [{"id": id(8), "hash": no_picture, "at": AT}]}),
            "ask",
        ),
    ] {
        let told = send(&office, token, ENTRIES, batch).await.is(200).json();
        assert_eq!(told["kept"], json!([]));
        assert_eq!(told["refused"][0]["then"], then, "{told}");
    }
    // Another survey, another firm's, one that was not given.
    let empty = || json!({});
    let nowhere = "/v1/surveys/survey-9/entries";
    send(&office, &token, nowhere, empty()).await.is(404);
    let them = office.state.accounts.contractor("Them").unwrap();
    let theirs = office.device_of(them, "tech-3", "web-9").await;
    send(&office, &theirs, ENTRIES, empty()).await.is(404);
    let reach = scupper_server::Reach::only(["survey-2"]);
    let (now, us) = (office.state.unix(), office.contractor);
    office
        .state
        .accounts
        .limit(now, us, "tech-4", &reach)
        .unwrap();
    send(&office, &other, ENTRIES, empty()).await.is(404);
    office.state.accounts.revoke(now, us, "web-1").unwrap();
    send(&office, &token, ENTRIES, empty()).await.is(401);
    let mut phone = Phone::enrol(&office, "tech-5", "phone-e").await;
    assert_eq!(survey(&office, &phone.token).await, before);
    phone.capture.join_survey(SURVEY).unwrap();
    phone.exchange(&office, SURVEY).await;
}

#[tokio::test]
async fn the_roof_notebook_is_whole_runs_only_its_own_script_and_takes_an_invitation_along() {
    let office = TestOffice::new();
    for (from, to) in [("/walk", 308), ("/enrol", 303)] {
        let answer = office.ask("GET", from, &[], "").await.is(to);
        assert_eq!(answer.header("location"), "/walk/");
    }
    let page = office.ask("GET", "/walk/", &[], "").await.is(200);
    let policy = page.header("content-security-policy");
    assert!(policy.contains("default-src 'none'") && !policy.contains("unsafe"));
    assert!(!page.text().contains("<style") && !page.text().contains(" onclick"));
    // Everything that the page, its script and its worker name is there.
    let worker = office
        .ask("GET", "/walk/sw.js", &[], "")
        .await
        .is(200)
        .text();
    assert!(!worker.contains('@'), "{worker}");
    let (_, rest) = worker.split_once("...\"").unwrap();
    let kept: Vec<&str> = rest.split('"').next().unwrap().split(' ').collect();
    let mut named = vec![page.text()];
    for name in &kept {
        let file = office.ask("GET", &format!("/walk/{name}"), &[], "").await;
        named.push(file.is(200).text());
    }
    for text in &named {
        let quoted = text.split('"').skip(1).step_by(2);
        for name in quoted.map(|name| name.trim_start_matches("./")) {
            let ours = [".js", ".css", ".png", ".svg", ".webmanifest"];
            if ours.iter().any(|end| name.ends_with(end)) && name != "sw.js" {
                assert!(
                    kept.contains(&name),
                    "{name} is not kept for use without signal"
                );
            }
        }
    }
    office.ask("GET", "/walk/nothing.js", &[], "").await.is(404);
}
