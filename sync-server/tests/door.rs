//! Coming in: enrolment, sign-in, tokens, and what everyone outside sees.

use crate::kit::TestOffice;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::Request;
use scupper_server::{Door, Limits, Role};
use std::net::SocketAddr;
use tower::ServiceExt;

#[tokio::test]
async fn a_code_enrols_once() {
    let office = TestOffice::new();
    let code = office.code(office.contractor, "tech-1", Role::Technician);
    let answer = office.enrol(&code, "phone-a").await.is(201);
    assert_eq!(answer.json()["author"], "tech-1");
    assert_eq!(answer.header("cache-control"), "no-store");
    let again = office.enrol(&code, "phone-b").await.is(401);
    assert_eq!(again.header("content-type"), "application/problem+json");
}

#[tokio::test]
async fn guessing_codes_is_slow() {
    let office = TestOffice::with(Limits {
        tries_per_minute: 3,
        ..Limits::default()
    });
    for _ in 0..3 {
        office.enrol("0000-0000-0000", "phone-a").await.is(401);
    }
    let answer = office.enrol("0000-0000-0000", "phone-a").await.is(429);
    let wait: u32 = answer.header("retry-after").parse().unwrap();
    assert!((1..=20).contains(&wait), "{wait}");
    // The right code has to wait as well, or the answer would tell which code is right.
    let code = office.code(office.contractor, "tech-1", Role::Technician);
    office.enrol(&code, "phone-a").await.is(429);
}

#[tokio::test]
async fn callers_behind_a_trusted_proxy_are_counted_apart_and_nobody_else_names_an_address() {
    let door = Door {
        trusted_proxies: vec!["127.0.0.1".parse().unwrap()],
        ..Door::default()
    };
    let limits = Limits {
        tries_per_minute: 2,
        ..Limits::default()
    };
    let office = TestOffice::behind(door, limits);
    let guess = async |peer: &str, header: &str, from: &str| {
        let body = r#"{"code": "0000-0000-0000", "device_id": "p", "device_name": "x"}"#;
        let peer: SocketAddr = format!("{peer}:4711").parse().unwrap();
        let request = Request::post("/v1/enrol").header(header, from);
        let request = request.extension(ConnectInfo(peer));
        let request = request.body(Body::from(body)).unwrap();
        let answer = office.router.clone().oneshot(request).await.unwrap();
        answer.status().as_u16()
    };
    let proxy = "127.0.0.1";
    for _ in 0..2 {
        assert_eq!(guess(proxy, "x-forwarded-for", "198.51.100.1").await, 401);
    }
    assert_eq!(guess(proxy, "x-forwarded-for", "198.51.100.1").await, 429);
    // A lie in front of what the proxy adds does not help, and Forwarded says the same.
    let lie = "203.0.113.1, 198.51.100.1";
    assert_eq!(guess(proxy, "x-forwarded-for", lie).await, 429);
    assert_eq!(guess(proxy, "forwarded", "for=198.51.100.1").await, 429);
    assert_eq!(guess(proxy, "x-forwarded-for", "198.51.100.2").await, 401);
    // Who comes past the proxy is who they are, whatever they write.
    for n in 0..3 {
        let status = guess("192.0.2.9", "x-forwarded-for", &format!("198.51.100.{n}")).await;
        assert_eq!(status, if n < 2 { 401 } else { 429 });
    }
}

#[tokio::test]
async fn a_browser_that_came_by_https_is_told_to_stay() {
    let https = Door {
        https: true,
        ..Door::default()
    };
    for (door, told) in [(https, "max-age=31536000"), (Door::default(), "")] {
        let office = TestOffice::behind(door, Limits::default());
        for path in ["/sign-in", "/v1/surveys", "/healthz"] {
            let answer = office.ask("GET", path, &[], "").await;
            assert_eq!(answer.header("strict-transport-security"), told, "{path}");
        }
    }
}

#[tokio::test]
async fn a_body_of_the_wrong_shape_is_named() {
    let office = TestOffice::new();
    let post = |body: &'static str| office.ask("POST", "/v1/enrol", &[], body);
    let answer = post(r#"{"code": 7, "device_id": "phone-a", "device_name": "x"}"#)
        .await
        .is(400);
    assert_eq!(answer.json()["place"], "code");
    let answer = post("{").await.is(400);
    assert!(answer.json()["place"].as_str().unwrap().contains("line 1"));
    let huge = vec![b' '; office.state.limits.small_body + 1];
    office.ask("POST", "/v1/enrol", &[], huge).await.is(413);
}

#[tokio::test]
async fn nothing_is_open_without_a_token_or_session() {
    let office = TestOffice::new();
    for (method, path) in [
        ("GET", "/v1/surveys"),
        ("GET", "/v1/surveys/s/survey"),
        ("GET", "/v1/surveys/s/assessment"),
        ("GET", "/v1/surveys/s/quote"),
        ("GET", "/v1/surveys/s/hazards"),
        ("GET", "/v1/surveys/s/events"),
        ("POST", "/v1/surveys/s/exchange"),
        ("POST", "/v1/surveys/s/entries"),
        ("POST", "/v1/uploads"),
        ("HEAD", "/v1/uploads/x"),
        ("PATCH", "/v1/uploads/x"),
        ("DELETE", "/v1/uploads/x"),
        ("POST", "/v1/token"),
        ("GET", "/surveys/s"),
        ("GET", "/surveys/s/plan.svg"),
        ("POST", "/surveys/s/settle"),
        (
            "GET",
            "/v1/photos/0000000000000000000000000000000000000000000000000000000000000000",
        ),
    ] {
        for headers in [
            vec![],
            vec![("authorization", "Bearer 00")],
            vec![("authorization", "Basic dXNlcjpwYXNz")],
            vec![("cookie", "scupper_session=00; scupper_link=00")],
        ] {
            let answer = office.ask(method, path, &headers, "").await;
            assert_eq!(answer.status, 401, "{method} {path} {headers:?}");
        }
    }
    let list = office.ask("GET", "/", &[], "").await.is(303);
    assert_eq!(list.header("location"), "/sign-in");
    office.ask("GET", "/healthz", &[], "").await.is(200);
}

#[tokio::test]
async fn a_cookie_is_no_device_and_a_token_no_reviewer() {
    let office = TestOffice::new();
    let cookie = office.reviewer("ana").await;
    office
        .ask("POST", "/v1/uploads", &[("cookie", &cookie)], "")
        .await
        .is(401);
    let token = office.device("tech-1", "phone-a").await;
    office.state.accounts.contractor("Us").unwrap();
    let form = "form_key=&what=confirm&about=x";
    let kind = ("content-type", "application/x-www-form-urlencoded");
    let headers = [("authorization", token.as_str()), kind];
    office
        .ask("POST", "/surveys/s/settle", &headers, form)
        .await
        .is(403);
}

#[tokio::test]
async fn a_revoked_or_changed_token_is_shut_out() {
    let office = TestOffice::new();
    let token = office.device("tech-1", "phone-a").await;
    let list = |token: String| {
        let office = &office;
        async move {
            office
                .ask("GET", "/v1/surveys", &[("authorization", &token)], "")
                .await
        }
    };
    list(token.clone()).await.is(200);
    let fresh = office
        .ask("POST", "/v1/token", &[("authorization", &token)], "")
        .await
        .is(200);
    let fresh = format!("Bearer {}", fresh.json()["token"].as_str().unwrap());
    list(token.clone()).await.is(200);
    list(fresh.clone()).await.is(200);
    list(token).await.is(401);
    office
        .state
        .accounts
        .revoke(office.state.unix(), office.contractor, "phone-a")
        .unwrap();
    list(fresh).await.is(401);
}

#[tokio::test]
async fn a_sign_in_link_works_once_and_its_cookie_stays_home() {
    let office = TestOffice::new();
    let code = office.code(office.contractor, "ana", Role::Reviewer);
    let link = format!("/sign-in/{code}?next=/surveys/s");
    let answer = office.ask("GET", &link, &[], "").await.is(303);
    assert_eq!(answer.header("location"), "/surveys/s");
    let cookie = answer.header("set-cookie").to_owned();
    for part in ["HttpOnly", "SameSite=Strict", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    office.ask("GET", &link, &[], "").await.is(401);
    let held = cookie.split(';').next().unwrap();
    office
        .ask("GET", &link, &[("cookie", held)], "")
        .await
        .is(303);
    let out = office
        .ask("POST", "/sign-out", &[("cookie", held)], "")
        .await
        .is(303);
    assert!(out.header("set-cookie").contains("Max-Age=0"));
    office
        .ask("GET", &link, &[("cookie", held)], "")
        .await
        .is(401);
}

#[tokio::test]
async fn other_sites_cannot_post_and_pages_run_no_foreign_script() {
    let office = TestOffice::new();
    let cookie = office.reviewer("ana").await;
    for evil in [
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
        ("origin", "https://evil.example"),
        ("origin", "null"),
    ] {
        let headers = [
            ("cookie", cookie.as_str()),
            ("host", "office.example"),
            evil,
        ];
        office.ask("POST", "/sign-out", &headers, "").await.is(403);
    }
    let page = office
        .ask("GET", "/", &[("cookie", &cookie)], "")
        .await
        .is(200);
    let policy = page.header("content-security-policy");
    assert!(policy.contains("script-src 'self'") && policy.contains("frame-ancestors 'none'"));
    assert!(!policy.contains("unsafe"), "{policy}");
    assert_eq!(page.header("x-content-type-options"), "nosniff");
    assert_eq!(page.header("cache-control"), "no-store");
}

#[tokio::test]
async fn every_caller_has_a_pace_and_one_who_runs_holds_up_nobody_else() {
    let office = TestOffice::with(Limits {
        requests_per_minute: 4,
        ..Limits::default()
    });
    let token = office.device("tech-1", "phone-a").await;
    let (ana, bo) = (office.reviewer("ana").await, office.reviewer("bo").await);
    for runs in [("authorization", token.as_str()), ("cookie", ana.as_str())] {
        for _ in 0..4 {
            office.ask("GET", "/v1/surveys", &[runs], "").await.is(200);
        }
        let answer = office.ask("GET", "/v1/surveys", &[runs], "").await.is(429);
        assert!(!answer.header("retry-after").is_empty());
    }
    let bo = [("cookie", bo.as_str())];
    office.ask("GET", "/v1/surveys", &bo, "").await.is(200);
}

fn cookie_of(answer: &crate::kit::Answer) -> String {
    let cookie = answer.header("set-cookie");
    cookie.split(';').next().unwrap().to_owned()
}

#[tokio::test]
async fn a_password_opens_the_office_for_its_reviewer_and_guessing_it_is_slow() {
    let office = TestOffice::with(Limits {
        tries_per_minute: 6,
        ..Limits::default()
    });
    let held = office.reviewer("ana").await;
    let page = office
        .ask("GET", "/account", &[("cookie", &held)], "")
        .await
        .is(200);
    let csrf = crate::access::csrf(&page);
    let post = |path: &'static str, cookie: String, form: String| {
        let office = &office;
        async move { crate::access::post(office, path, &cookie, &form).await }
    };
    let two = |csrf: &str, one: &str, again: &str| {
        format!("csrf={csrf}&password={one}&password_again={again}")
    };
    let good = "gulls+over+wet+gravel";
    post("/account", held.clone(), two("00", good, good))
        .await
        .is(403);
    post("/account", String::new(), two(&csrf, good, good))
        .await
        .is(401);
    post("/account", held.clone(), two(&csrf, good, "gulls"))
        .await
        .is(400);
    post("/account", held.clone(), two(&csrf, "short", "short"))
        .await
        .is(400);
    post("/account", held.clone(), two(&csrf, good, good))
        .await
        .is(200);
    let token = office.device("tech-1", "phone-a").await;
    let kind = ("content-type", "application/x-www-form-urlencoded");
    let device = [("authorization", token.as_str()), kind];
    office
        .ask("POST", "/account", &device, two("", good, good))
        .await
        .is(403);

    let form = |name: &str, password: &str| format!("firm=Us&name={name}&password={password}");
    let wrong = post("/sign-in", String::new(), form("ana", "gulls"))
        .await
        .is(401);
    assert!(wrong.header("set-cookie").is_empty());
    let none = post("/sign-in", String::new(), form("nobody", "gulls"))
        .await
        .is(401);
    assert_eq!(none.text(), wrong.text(), "tells which names there are");
    let opened = post("/sign-in", String::new(), form("ana", good))
        .await
        .is(303);
    let cookie = opened.header("set-cookie").to_owned();
    assert!(
        cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"),
        "{cookie}"
    );
    let list = [("cookie", cookie_of(&opened))];
    office
        .ask("GET", "/", &[(list[0].0, &list[0].1)], "")
        .await
        .is(200);
    // The peer's tries are used up: by the link, the enrolment, and these.
    post("/sign-in", String::new(), form("ana", "gulls"))
        .await
        .is(401);
    post("/sign-in", String::new(), form("ana", good))
        .await
        .is(429);
}

#[tokio::test]
async fn paths_that_try_to_climb_out_lead_nowhere() {
    let office = TestOffice::new();
    let token = office.device("tech-1", "phone-a").await;
    let cookie = office.reviewer("ana").await;
    let tricks = [
        "..%2Foffice.sqlite",
        "..%2f..%2f..%2fetc%2fpasswd",
        "%2e%2e",
        "..%5Coffice.sqlite",
        "%00",
        "original-..%2F..%2Foffice.sqlite",
        "%2Fetc%2Fpasswd",
        "....%2F%2Foffice.sqlite",
        "%F0%28%8C%28",
    ];
    for trick in tricks {
        for place in [
            format!("/v1/surveys/{trick}/survey"),
            format!("/v1/surveys/{trick}/events"),
            format!("/v1/photos/{trick}"),
            format!("/v1/photos/{trick}/thumbnail"),
            format!("/surveys/{trick}"),
            format!("/surveys/{trick}/papers/assessment.html"),
            format!("/surveys/s/papers/{trick}"),
            format!("/assets/{trick}"),
            format!("/shared/{trick}"),
            format!("/{trick}"),
        ] {
            for header in [
                ("authorization", token.as_str()),
                ("cookie", cookie.as_str()),
            ] {
                let answer = office.ask("GET", &place, &[header], "").await;
                let status = answer.status.as_u16();
                // 429: `/shared` counts its tries.
                assert!([400, 404, 429].contains(&status), "{place}: {status}");
                assert!(!answer.text().contains("SQLite format"), "{place}");
            }
        }
        let device = [("authorization", token.as_str()), ("upload-offset", "0")];
        for method in ["HEAD", "PATCH", "DELETE"] {
            let place = format!("/v1/uploads/{trick}");
            let status = office.ask(method, &place, &device, "x").await.status;
            assert!(
                [400, 404, 422].contains(&status.as_u16()),
                "{method} {place}: {status}"
            );
        }
        let place = format!("/v1/surveys/{trick}/exchange");
        office.ask("POST", &place, &device, "x").await.is(400);
    }
}
