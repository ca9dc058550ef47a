//! A script typed into every field that takes text: it stays text on every page.

use crate::access::{SURVEY, csrf, post};
use crate::kit::{Phone, TestOffice};
use scupper_core::document::Table;
use scupper_core::quote::EXAMPLE;
use scupper_server::Role;
use serde_json::json;
use std::collections::BTreeSet;
use std::path::Path;

const EVIL: &str = r#"<script>alert("x")</script><img src=x onerror=alert(1)>'"&"#;

/// Fields of text that are set one by one, on the site and on a unit.
const SITE: &[&str] = &["name", "address", "water_source", "access", "roof.membrane"];
const UNIT: &[&str] = &["make", "model", "serial", "refrigerant"];

/// Fields of text that come with an entry, below.
const ENTERED: &[&str] = &[
    "tag",
    "designation",
    "remark",
    "what",
    "author",
    "needs_confirmation",
    "note_id",
    "about",
    "field",
    "caption",
    "media_type",
    "text",
    "alternatives",
];

/// Fields of the trade's types that a device cannot put text of its own into: the document makes
/// them, or takes ids and hashes only.
const NOT_FREE: &[&str] = &[
    "id",
    "hash",
    "confirmed_by",
    "photos",
    "withdrawn_by",
    "roof",
    "code_profile",
];

#[test]
fn no_text_field_of_the_trades_types_is_left_out() {
    let below = Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/src/survey");
    let tried = [SITE, UNIT, ENTERED, NOT_FREE].concat();
    let tried: BTreeSet<&str> = tried
        .iter()
        .map(|f| f.rsplit('.').next().unwrap())
        .collect();
    let mut left_out = Vec::new();
    for file in ["equipment.rs", "record.rs", "site.rs"] {
        let text = std::fs::read_to_string(below.join(file)).unwrap();
        for line in text.lines() {
            let field = line.trim().strip_prefix("pub ");
            let field = field.and_then(|line| line.trim_end_matches(',').split_once(": "));
            if let Some((name, kind)) = field
                && kind.contains("String")
                && !name.contains('(')
                && !tried.contains(name)
            {
                left_out.push(format!("{file}: {name}"));
            }
        }
    }
    assert_eq!(left_out, Vec::<String>::new());
}

/// Whatever a device may say, said by someone whose very name is a script.
async fn filled(office: &TestOffice) -> Phone {
    let mut phone = Phone::enrol(office, EVIL, "phone-a").await;
    phone.capture.join_survey(SURVEY).unwrap();
    phone.unit(SURVEY, "RTU-1");
    let mut set = |about: &str, field: &str, value: serde_json::Value| {
        phone.capture.set(SURVEY, about, field, value).unwrap();
    };
    for field in SITE {
        set("site", field, EVIL.into());
    }
    for field in UNIT {
        set("RTU-1", &format!("nameplate.{field}"), EVIL.into());
    }
    set(
        "RTU-1",
        "belts",
        json!([{"designation": EVIL, "quantity": 1}]),
    );
    let outline = json!([[0, 0], [60, 0], [60, 40], [0, 40]]);
    set("site", "roof.outline_ft", outline);
    set("RTU-1", "at_ft", json!([20, 20]));
    let said = json!({"author": EVIL, "needs_confirmation": EVIL, "note_id": EVIL});
    let with = |mut entry: serde_json::Value| {
        let fields = said.as_object().unwrap().clone();
        entry.as_object_mut().unwrap().extend(fields);
        entry
    };
    let entries = [
        (
            Table::Equipment,
            json!({"tag": EVIL, "kind": "other", "at_ft": [30, 30]}),
        ),
        (
            Table::Findings,
            with(
                json!({"ref": "RTU-1", "component": "belt", "condition": "worn",
                "severity": "danger", "action": "replace", "remark": EVIL}),
            ),
        ),
        (
            Table::Findings,
            with(json!({"ref": EVIL, "component": "belt", "condition": "worn"})),
        ),
        (
            Table::Hazards,
            with(json!({"kind": "trip", "ref": "site", "remark": EVIL})),
        ),
        (
            Table::FollowUps,
            with(json!({"ref": "RTU-1", "about": EVIL, "what": EVIL})),
        ),
        (
            Table::Drafts,
            with(json!({"ref": "RTU-1", "field": "nameplate.model", "value": EVIL})),
        ),
        (
            Table::Drafts,
            with(json!({"ref": "RTU-1", "field": EVIL, "value": EVIL})),
        ),
        (
            Table::Notes,
            json!({"id": "n-1", "author": EVIL,
                "segments": [{"text": EVIL, "alternatives": [EVIL]}]}),
        ),
        (
            Table::Photos,
            json!({"hash": "0".repeat(64), "caption": EVIL, "author": EVIL, "ref": EVIL,
                "media_type": EVIL}),
        ),
    ];
    for (table, entry) in entries {
        let whole = entry.to_string();
        let added = phone.capture.add(SURVEY, table, entry);
        added.unwrap_or_else(|error| panic!("{error}: {whole}"));
    }
    phone.exchange(office, SURVEY).await;
    phone
}

#[track_caller]
fn stays_text(path: &str, page: &str) {
    for live in ["<script>alert", "<img src=x", "onerror=alert(1)>'"] {
        assert!(!page.contains(live), "{path} holds {live}");
    }
}

#[tokio::test]
async fn a_script_in_every_text_field_stays_text_on_every_page() {
    let office = TestOffice::new();
    let phone = filled(&office).await;
    let accounts = &office.state.accounts;
    accounts.call_person(office.contractor, EVIL, EVIL).unwrap();
    let reviewer = format!("{EVIL}!");
    let code = office.code(office.contractor, &reviewer, Role::Reviewer);
    let entered = office
        .ask("GET", &format!("/sign-in/{code}"), &[], "")
        .await
        .is(303);
    let cookie = entered.header("set-cookie").split(';').next().unwrap();
    let auth = [("cookie", cookie)];
    let price = format!("/surveys/{SURVEY}/price");
    let key = csrf(&office.ask("GET", &price, &auth, "").await.is(200));

    // What a reviewer types: a survey's name, a price's title, rates that do not fit, a rate book.
    let form = |fields: &[(&str, &str)]| {
        let escaped =
            |text: &str| -> String { text.bytes().map(|byte| format!("%{byte:02x}")).collect() };
        let key = [("csrf", key.as_str())];
        let fields = fields.iter().chain(&key);
        let pairs = fields.map(|(name, value)| format!("{name}={}", escaped(value)));
        pairs.collect::<Vec<_>>().join("&")
    };
    let begun = form(&[("name", EVIL), ("address", EVIL)]);
    post(&office, "/surveys", cookie, &begun).await.is(303);
    let book = EXAMPLE.replace("Example rates (invented figures)", "EVIL");
    let book = book.replace("Every figure in this rate book is invented", "EVIL");
    let book = book.replace("EVIL", &EVIL.replace('"', "\\\""));
    let kept = form(&[("do", "keep-book"), ("toml", &book)]);
    post(&office, &price, cookie, &kept).await.is(303);
    let lock = form(&[("do", "lock"), ("title", EVIL)]);
    let locked = post(&office, &price, cookie, &lock).await.is(303);
    let version = locked.header("location").to_owned();
    for (wrong, status) in [
        (vec![("do", "try"), ("technician", EVIL)], 400),
        (vec![("do", "try-book"), ("toml", EVIL)], 400),
        (vec![("do", "try-book"), ("toml", book.as_str())], 200),
    ] {
        let answer = post(&office, &price, cookie, &form(&wrong)).await;
        let page = answer.is(status).text();
        stays_text(&format!("{wrong:?}"), &page);
        assert!(page.contains("&lt;script&gt;"), "{wrong:?}");
    }

    let seq = version.rsplit('=').next().unwrap().to_owned();
    let survey = office.ask("GET", "/v1/surveys/survey-1/survey", &auth, "");
    let survey = survey.await.is(200).json();
    let photo = survey["photos"][0]["id"].as_str().unwrap();
    let evil = "%3Cscript%3Ealert%3C%2Fscript%3E";
    let at = |rest: &str| format!("/surveys/{SURVEY}{rest}");
    for path in [
        "/".to_owned(),
        "/?q=script".to_owned(),
        format!("/?q={evil}"),
        "/account".to_owned(),
        at(""),
        at("?unit=RTU-1"),
        at(&format!("?unit={evil}&all=notes")),
        at("/history"),
        at("/history?unit=RTU-1"),
        at("/price"),
        version,
        at(&format!("/price/compare?one={seq}&other=now")),
        at(&format!("/photos/{photo}")),
        at("/papers/assessment.html"),
    ] {
        let page = office.ask("GET", &path, &auth, "").await.is(200).text();
        stays_text(&path, &page);
        assert!(page.contains("&lt;script&gt;"), "{path} shows none of it");
    }
    let plan = office.ask("GET", &at("/plan.svg"), &auth, "").await;
    stays_text("plan.svg", &plan.is(200).text());
    let wrong = at(&format!("/history?unit={evil}"));
    let wrong = office.ask("GET", &wrong, &auth, "").await;
    stays_text("a unit that is none", &wrong.text());
    // The notebook is told in JSON, and never as a page.
    let headers = [("authorization", phone.token.as_str())];
    let batch = r#"{"sent_at": "2026-04-14T08:00:00Z"}"#;
    let told = office.ask("POST", "/v1/surveys/survey-1/entries", &headers, batch);
    let told = told.await.is(200);
    assert_eq!(told.header("content-type"), "application/json");
    assert_eq!(told.header("x-content-type-options"), "nosniff");
}
