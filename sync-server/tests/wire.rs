//! What the devices' addresses say, pinned word for word: a released device has to understand a
//! later server. Exchange messages are pinned beside their code, in core.

use crate::access::{SURVEY, surveyed};
use crate::kit::{Answer, TestOffice, lent};
use scupper_core::document::Table;
use scupper_server::{Limits, Role};
use serde_json::json;

/// Status, the headers that the protocol speaks of, and the body; what is never twice the same is
/// written as its name.
fn shown(answer: &Answer, hidden: &[(&str, &str)]) -> String {
    let mut text = answer.status.as_u16().to_string();
    for name in [
        "content-type",
        "cache-control",
        "location",
        "retry-after",
        "upload-complete",
        "upload-length",
        "upload-offset",
        "www-authenticate",
    ] {
        if answer.headers.contains_key(name) {
            text += &format!("\n{name}: {}", answer.header(name));
        }
    }
    let body = match answer.header("content-type").contains("json") {
        true => format!(
            "\n{}",
            serde_json::to_string_pretty(&answer.json()).unwrap()
        ),
        false => String::new(),
    };
    let text = text + &body;
    hidden.iter().fold(text, |text, (secret, name)| {
        assert!(text.contains(secret), "no {name} in {text}");
        text.replace(secret, name)
    })
}

const JSON: (&str, &str) = ("content-type", "application/json");

#[tokio::test]
async fn enrolling_and_a_fresh_token_are_pinned() {
    let office = TestOffice::new();
    let code = office.code(office.contractor, "tech-1", Role::Technician);
    let ask = json!({"code": code, "device_id": "phone-a", "device_name": "the phone"});
    let enrol = || office.ask("POST", "/v1/enrol", &[JSON], ask.to_string());
    let answer = enrol().await;
    let token = answer.json()["token"].as_str().unwrap().to_owned();
    insta::assert_snapshot!(shown(&answer, &[(&token, "TOKEN")]), @r#"
    201
    content-type: application/json
    cache-control: no-store
    {
      "author": "tech-1",
      "token": "TOKEN"
    }
    "#);
    insta::assert_snapshot!(shown(&enrol().await, &[]), @r#"
    401
    content-type: application/problem+json
    cache-control: no-store
    www-authenticate: Bearer
    {
      "detail": "sign in or send a valid device token",
      "status": 401,
      "title": "Unauthorized"
    }
    "#);
    let bearer = format!("Bearer {token}");
    let auth = [("authorization", bearer.as_str())];
    let fresh = office.ask("POST", "/v1/token", &auth, "").await;
    let token = fresh.json()["token"].as_str().unwrap().to_owned();
    insta::assert_snapshot!(shown(&fresh, &[(&token, "TOKEN")]), @r#"
    200
    content-type: application/json
    cache-control: no-store
    {
      "token": "TOKEN"
    }
    "#);
}

#[tokio::test]
async fn refusals_are_pinned() {
    let office = TestOffice::with(Limits {
        tries_per_minute: 1,
        contractor_photos: 1,
        ..Limits::default()
    });
    let mut phone = surveyed(&office).await;
    let auth = ("authorization", phone.token.as_str());
    let ask = async |method: &str, path: &str, body: &'static str| {
        office.ask(method, path, &[auth, JSON], body).await
    };
    let nobody = office.ask("GET", "/v1/surveys", &[], "").await;
    insta::assert_snapshot!(shown(&nobody, &[]), @r#"
    401
    content-type: application/problem+json
    cache-control: no-store
    www-authenticate: Bearer
    {
      "detail": "sign in or send a valid device token",
      "status": 401,
      "title": "Unauthorized"
    }
    "#);
    let other = ask("GET", "/v1/surveys/other/survey", "").await;
    insta::assert_snapshot!(shown(&other, &[]), @r#"
    404
    content-type: application/problem+json
    cache-control: no-store
    {
      "detail": "this survey was not found",
      "status": 404,
      "title": "Not Found"
    }
    "#);
    let wrong = ask("POST", "/v1/surveys/survey-1/entries", r#"{"sent_at": 7}"#).await;
    insta::assert_snapshot!(shown(&wrong, &[]), @r#"
    400
    content-type: application/problem+json
    cache-control: no-store
    {
      "detail": "sent_at: invalid type: integer `7`, expected an RFC 3339 formatted date and time string",
      "place": "sent_at",
      "status": 400,
      "title": "Bad Request"
    }
    "#);
    let noise = ask("POST", "/v1/surveys/survey-1/exchange", "noise").await;
    insta::assert_snapshot!(shown(&noise, &[]), @r#"
    400
    content-type: application/problem+json
    cache-control: no-store
    {
      "detail": "message: Unknown frame descriptor",
      "place": "message",
      "status": 400,
      "title": "Bad Request"
    }
    "#);
    let at = "2026-04-14T08:00:00Z";
    let id = "0196340c-5f00-7000-8000-000000000001";
    let note = json!({"note_id": id, "author": "tech-9", "recorded_at": at, "segments": []});
    let forged = json!({"sent_at": at, "notes": [note]}).to_string();
    let path = "/v1/surveys/survey-1/entries";
    let forged = office.ask("POST", path, &[auth, JSON], forged).await;
    insta::assert_snapshot!(shown(&forged, &[]), @r#"
    403
    content-type: application/problem+json
    cache-control: no-store
    {
      "detail": "this phone is enrolled for tech-1, and enters nothing for anyone else; enrol it again",
      "status": 403,
      "title": "Forbidden"
    }
    "#);
    let again = r#"{"code": "x", "device_id": "p", "device_name": "p"}"#;
    let again = office.ask("POST", "/v1/enrol", &[JSON], again).await;
    insta::assert_snapshot!(shown(&again, &[]), @r#"
    429
    content-type: application/problem+json
    cache-control: no-store
    retry-after: 60
    {
      "detail": "too many requests; wait 60 s and try again",
      "status": 429,
      "title": "Too Many Requests"
    }
    "#);
    phone.photo(SURVEY, 90);
    phone.exchange(&office, SURVEY).await;
    let (upload, headers) = phone.next().unwrap();
    let full = office
        .ask("POST", &upload.create_path, &lent(&headers), "")
        .await;
    let size = full.json()["detail"].as_str().unwrap().to_owned();
    assert!(size.contains("of 1 bytes"), "{size}");
    insta::assert_snapshot!(shown(&full, &[]), @r#"
    507
    content-type: application/problem+json
    cache-control: no-store
    {
      "detail": "0 of 1 bytes for photos are used; raise the quota or free some",
      "status": 507,
      "title": "Insufficient Storage"
    }
    "#);
}

#[tokio::test]
async fn an_upload_is_pinned() {
    let office = TestOffice::new();
    let mut phone = surveyed(&office).await;
    phone.photo(SURVEY, 90);
    phone.exchange(&office, SURVEY).await;
    let (upload, headers) = phone.next().unwrap();
    let names: Vec<&str> = upload.headers.iter().map(|h| h.name.as_str()).collect();
    insta::assert_snapshot!(format!("POST {} {names:?}", upload.create_path), @r#"POST /v1/uploads ["Upload-Length", "Upload-Complete", "Content-Type", "Scupper-Photo", "Scupper-Part", "Scupper-Content", "Scupper-Survey"]"#);
    let bytes = std::fs::read(&upload.path).unwrap();
    let length = bytes.len().to_string();
    let hidden = [(upload.hash.as_str(), "PHOTO"), (length.as_str(), "LENGTH")];
    let headers = lent(&headers);
    let begin = || office.ask("POST", &upload.create_path, &headers, "");
    let begun = begin().await;
    insta::assert_snapshot!(shown(&begun, &hidden), @r#"
    201
    cache-control: no-store
    location: /v1/uploads/thumbnail-PHOTO
    upload-complete: ?0
    upload-length: LENGTH
    upload-offset: 0
    "#);
    let place = begun.header("location").to_owned();
    let auth = ("authorization", phone.token.as_str());
    let patch = async |at: &str, bytes: &[u8]| {
        let headers = [auth, ("upload-offset", at)];
        office.ask("PATCH", &place, &headers, bytes.to_vec()).await
    };
    let hidden = [(length.as_str(), "LENGTH")];
    insta::assert_snapshot!(shown(&patch("0", &bytes[..10]).await, &hidden), @r#"
    204
    cache-control: no-store
    upload-complete: ?0
    upload-length: LENGTH
    upload-offset: 10
    "#);
    insta::assert_snapshot!(shown(&patch("9", &bytes[9..]).await, &[]), @r#"
    409
    content-type: application/problem+json
    cache-control: no-store
    upload-complete: ?0
    upload-offset: 10
    {
      "detail": "the upload goes on at byte 10, not 9",
      "status": 409,
      "title": "Conflict"
    }
    "#);
    let stands = office.ask("HEAD", &place, &[auth], "").await;
    insta::assert_snapshot!(shown(&stands, &hidden), @r#"
    204
    cache-control: no-store
    upload-complete: ?0
    upload-length: LENGTH
    upload-offset: 10
    "#);
    insta::assert_snapshot!(shown(&patch("10", &bytes[10..]).await, &hidden), @r#"
    204
    cache-control: no-store
    upload-complete: ?1
    upload-length: LENGTH
    upload-offset: LENGTH
    "#);
    let stands = office.ask("HEAD", &place, &[auth], "").await;
    insta::assert_snapshot!(shown(&stands, &hidden), @r#"
    204
    cache-control: no-store
    upload-complete: ?1
    upload-length: LENGTH
    upload-offset: LENGTH
    "#);
    insta::assert_snapshot!(shown(&patch(&length, b"").await, &[]), @r#"
    404
    content-type: application/problem+json
    cache-control: no-store
    {
      "detail": "an upload that is not complete was not found",
      "status": 404,
      "title": "Not Found"
    }
    "#);
    let hidden = [(upload.hash.as_str(), "PHOTO"), (length.as_str(), "LENGTH")];
    insta::assert_snapshot!(shown(&begin().await, &hidden), @r#"
    200
    cache-control: no-store
    location: /v1/uploads/thumbnail-PHOTO
    upload-complete: ?1
    upload-length: LENGTH
    upload-offset: LENGTH
    "#);
}

#[tokio::test]
async fn raw_entries_and_their_answer_are_pinned() {
    let office = TestOffice::new();
    let phone = surveyed(&office).await;
    let auth = ("authorization", phone.token.as_str());
    let id = |n: u32| format!("0196340c-5f00-7000-8000-{n:012x}");
    let at = "2026-04-14T08:02:11-08:00";
    let batch = json!({
        "sent_at": at,
        "units": [{"id": id(1), "tag": "EF-7", "kind": "exhaust_fan", "at": at}],
        "notes": [{"note_id": id(2), "recorded_at": at, "segments": [
            {"start_ms": 0, "end_ms": 0, "text": "EF-7."},
            {"start_ms": 0, "end_ms": 900, "text": "the belt might be cracked"}]},
            {"note_id": id(4), "recorded_at": at, "segments": [{"text": "xyzzy"}]}],
        "photos": [{"id": id(3), "hash": "0".repeat(64), "ref": "EF-7", "caption": "the belt", "at": at}],
    });
    let path = format!("/v1/surveys/{SURVEY}/entries");
    let headers = [auth, JSON];
    let answer = office.ask("POST", &path, &headers, batch.to_string()).await;
    let told = answer.json();
    let offset = told["clock_offset_ms"].to_string();
    let answered = told["answered_at"].as_str().unwrap();
    let caution = told["roof"]["caution"].as_str().unwrap();
    let hidden = [
        (offset.as_str(), "OFFSET"),
        (answered, "NOW"),
        (caution, "CAUTION"),
    ];
    insta::assert_snapshot!(shown(&answer, &hidden), @r#"
    200
    content-type: application/json
    cache-control: no-store
    {
      "answered_at": "NOW",
      "author": "tech-1",
      "clock_offset_ms": OFFSET,
      "kept": [
        {
          "id": "0196340c-5f00-7000-8000-000000000001",
          "not_understood": [],
          "to_confirm": [],
          "understood": []
        },
        {
          "id": "0196340c-5f00-7000-8000-000000000002",
          "not_understood": [],
          "to_confirm": [],
          "understood": [
            "EF-7: belt cracked (suspected)"
          ]
        },
        {
          "id": "0196340c-5f00-7000-8000-000000000004",
          "not_understood": [
            "xyzzy"
          ],
          "to_confirm": [],
          "understood": []
        }
      ],
      "refused": [
        {
          "id": "0196340c-5f00-7000-8000-000000000003",
          "then": "send_photo",
          "why": "the photo itself has not arrived; send it first"
        }
      ],
      "roof": {
        "caution": "CAUTION",
        "hazards": [],
        "name": "",
        "survey_id": "survey-1",
        "units": [
          {
            "tag": "EF-7",
            "what": "exhaust fan"
          },
          {
            "tag": "RTU-1",
            "what": "packaged rooftop unit"
          }
        ]
      }
    }
    "#);
    let list = office.ask("GET", "/v1/surveys", &[auth], "").await;
    let entry = list.json()[0].clone();
    let hidden = [
        (entry["heads"].as_str().unwrap(), "HEADS"),
        (entry["changed_at"].as_str().unwrap(), "NOW"),
    ];
    insta::assert_snapshot!(shown(&list, &hidden), @r#"
    200
    content-type: application/json
    cache-control: no-store
    [
      {
        "changed_at": "NOW",
        "hazards": 0,
        "heads": "HEADS",
        "name": "",
        "survey_id": "survey-1",
        "surveyed_on": "2026-04-14",
        "units": 2
      }
    ]
    "#);
}

/// What OpenAPI says of a survey's readings is what they hold: each key, and nothing else.
#[tokio::test]
async fn the_described_shapes_are_those_of_the_answers() {
    let office = TestOffice::new();
    let mut phone = surveyed(&office).await;
    let hazard = json!({"kind": "trip", "ref": "site", "remark": "a hose"});
    phone.capture.add(SURVEY, Table::Hazards, hazard).unwrap();
    phone.exchange(&office, SURVEY).await;
    let auth = [("authorization", phone.token.as_str())];
    let described = office.ask("GET", "/v1/openapi.json", &[], "").await.json();
    for (reading, shape) in [
        ("survey", "SurveyShape"),
        ("assessment", "AssessmentShape"),
        ("hazards", "HazardShape"),
        ("quote", "QuoteShape"),
    ] {
        let path = format!("/v1/surveys/{SURVEY}/{reading}");
        let told = office.ask("GET", &path, &auth, "").await.is(200).json();
        let told = told.get(0).unwrap_or(&told).as_object().unwrap();
        let shape = &described["components"]["schemas"][shape];
        for key in told.keys() {
            let known = shape["properties"].get(key).is_some();
            assert!(known, "{reading}: {key} is not described");
        }
        let required = shape["required"].as_array().unwrap();
        assert!(required.len() > 5, "{reading}: {shape}");
        for key in required {
            let here = told.contains_key(key.as_str().unwrap());
            assert!(here, "{reading} is without {key}");
        }
    }
}
