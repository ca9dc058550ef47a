//! Who may see what: firms apart, customers narrow, scripts harmless.

use crate::kit::{Answer, Phone, TestOffice};

pub(crate) const SURVEY: &str = "survey-1";
pub(crate) const READS: &[&str] = &[
    "/v1/surveys/survey-1/survey",
    "/v1/surveys/survey-1/assessment",
    "/v1/surveys/survey-1/hazards",
    "/v1/surveys/survey-1/quote",
    "/v1/surveys/survey-1/events",
    "/surveys/survey-1",
    "/surveys/survey-1/plan.svg",
    "/surveys/survey-1/papers/assessment.html",
    "/surveys/survey-1/papers/register.csv",
    "/surveys/survey-1/papers/order.csv",
];

pub(crate) async fn with_survey() -> (TestOffice, Phone) {
    let office = TestOffice::new();
    let phone = surveyed(&office).await;
    (office, phone)
}

/// A phone that surveyed one unit for this office.
pub(crate) async fn surveyed(office: &TestOffice) -> Phone {
    let mut phone = Phone::enrol(office, "tech-1", "phone-a").await;
    phone.capture.join_survey(SURVEY).unwrap();
    phone.unit(SURVEY, "RTU-1");
    phone.exchange(office, SURVEY).await;
    phone
}

/// The value of the first hidden field `csrf` on a page.
pub(crate) fn csrf(page: &Answer) -> String {
    let text = page.text();
    let (_, rest) = text.split_once(r#"name="csrf" value=""#).unwrap();
    rest.split('"').next().unwrap().to_owned()
}

pub(crate) async fn post(office: &TestOffice, path: &str, cookie: &str, form: &str) -> Answer {
    let kind = ("content-type", "application/x-www-form-urlencoded");
    office
        .ask("POST", path, &[("cookie", cookie), kind], form.to_owned())
        .await
}

#[tokio::test]
async fn another_firm_finds_nothing_and_can_take_nothing() {
    let (office, phone) = with_survey().await;
    let them = office.state.accounts.contractor("Them").unwrap();
    let token = office.device_of(them, "tech-1", "phone-z").await;
    let cookie = office.reviewer_of(them, "eve").await;
    for path in READS {
        for headers in [
            [("authorization", token.as_str())],
            [("cookie", cookie.as_str())],
        ] {
            office.ask("GET", path, &headers, "").await.is(404);
        }
        let own = [("authorization", phone.token.as_str())];
        // Events never end by themselves; their first byte is checked elsewhere.
        if !path.ends_with("events") {
            office.ask("GET", path, &own, "").await.is(200);
        }
    }
    let list = office
        .ask("GET", "/v1/surveys", &[("authorization", &token)], "")
        .await;
    assert_eq!(list.is(200).json(), serde_json::json!([]));
    // The same survey id in another firm is another survey.
    let mut stranger = Phone::with("tech-1", "phone-z", token);
    stranger.capture.join_survey(SURVEY).unwrap();
    stranger.exchange(&office, SURVEY).await;
    assert!(
        stranger
            .capture
            .survey(SURVEY)
            .unwrap()
            .equipment
            .is_empty()
    );
}

#[tokio::test]
async fn knowing_a_hash_is_not_enough_to_read_a_photo() {
    let (office, mut phone) = with_survey().await;
    let original = phone.photo(SURVEY, 7);
    let hash = blake3::hash(&original).to_hex().to_string();
    let headers = |token: &str, length: usize| {
        vec![
            ("authorization".to_owned(), token.to_owned()),
            ("upload-length".to_owned(), length.to_string()),
            ("content-type".to_owned(), "image/jpeg".to_owned()),
            ("scupper-photo".to_owned(), hash.clone()),
            ("scupper-part".to_owned(), "original".to_owned()),
            ("scupper-content".to_owned(), hash.clone()),
            ("scupper-survey".to_owned(), SURVEY.to_owned()),
        ]
    };
    let own = headers(&phone.token, original.len());
    let begun = office
        .ask("POST", "/v1/uploads", &crate::kit::lent(&own), "")
        .await
        .is(201);
    let place = begun.header("location").to_owned();
    let at = [
        ("authorization", phone.token.as_str()),
        ("upload-offset", "0"),
    ];
    office
        .ask("PATCH", &place, &at, original.clone())
        .await
        .is(204);

    let them = office.state.accounts.contractor("Them").unwrap();
    let token = office.device_of(them, "tech-9", "phone-z").await;
    let mut stranger = Phone::with("tech-9", "phone-z", token.clone());
    stranger.capture.join_survey(SURVEY).unwrap();
    stranger.exchange(&office, SURVEY).await;
    // Neither asking for it nor claiming to have it gets at the bytes.
    let path = format!("/v1/photos/{hash}");
    office
        .ask("GET", &path, &[("authorization", &token)], "")
        .await
        .is(404);
    let theirs = headers(&token, original.len());
    let begun = office
        .ask("POST", "/v1/uploads", &crate::kit::lent(&theirs), "")
        .await
        .is(201);
    assert_eq!(begun.header("upload-offset"), "0");
    office
        .ask("GET", &path, &[("authorization", &token)], "")
        .await
        .is(404);
    office
        .ask("GET", &path, &[("authorization", &phone.token)], "")
        .await
        .is(200);
}

#[tokio::test]
async fn a_customers_link_opens_the_assessment_and_nothing_more() {
    let (office, mut phone) = with_survey().await;
    phone.capture.join_survey("survey-2").unwrap();
    let note = serde_json::json!({"note_id": "n-1", "segments": [
        {"text": "the boss said they never pay on time"}]});
    let note = serde_json::from_value(note).unwrap();
    phone.capture.dictate(SURVEY, &note).unwrap();
    let mut photos = std::collections::BTreeMap::new();
    for (survey, shade) in [(SURVEY, 1), ("survey-2", 2)] {
        photos.insert(survey, phone.photo(survey, shade));
        phone.exchange(&office, survey).await;
    }
    crate::uploads::send_all(&office, &mut phone).await;
    let ana = office.reviewer("ana").await;
    let page = office
        .ask("GET", "/surveys/survey-1", &[("cookie", &ana)], "")
        .await
        .is(200);
    let form = format!("csrf={}", csrf(&page));
    let made = post(&office, "/surveys/survey-1/links", &ana, &form)
        .await
        .is(200);
    let shown = made.text();
    let (_, link) = shown.split_once("/shared/").unwrap();
    let link = format!("/shared/{}", link.split('<').next().unwrap());
    let opened = office.ask("GET", &link, &[], "").await.is(303);
    assert_eq!(
        opened.header("location"),
        "/surveys/survey-1/papers/assessment.html"
    );
    let customer = opened
        .header("set-cookie")
        .split(';')
        .next()
        .unwrap()
        .to_owned();
    let read = |path: &'static str| {
        let (office, customer) = (&office, customer.clone());
        async move { office.ask("GET", path, &[("cookie", &customer)], "").await }
    };
    for path in READS {
        let status = match path.ends_with("/assessment.html") {
            true => 200,
            false => 403,
        };
        let answer = read(path).await;
        assert_eq!(answer.status, status, "{path}");
        let text = answer.text();
        assert!(!text.contains("the boss said"), "{path} shows a raw note");
        assert!(!text.contains("csrf"), "{path} shows a form");
    }
    for path in [
        "/surveys/survey-2",
        "/surveys/survey-2/papers/assessment.html",
        "/v1/surveys/survey-2/survey",
    ] {
        assert_eq!(read(path).await.status, 404, "{path}");
    }
    assert_eq!(read("/v1/surveys").await.is(200).text(), "[]");
    let home = read("/").await.is(303);
    assert_eq!(
        home.header("location"),
        "/surveys/survey-1/papers/assessment.html"
    );
    // Photos are in the paper, and nowhere else for a customer.
    for survey in [SURVEY, "survey-2"] {
        let hash = blake3::hash(&photos[survey]).to_hex().to_string();
        for path in [
            format!("/v1/photos/{hash}"),
            format!("/v1/photos/{hash}/thumbnail"),
        ] {
            let answer = office.ask("GET", &path, &[("cookie", &customer)], "").await;
            assert_eq!(answer.status, 404, "photo of {survey}");
        }
    }
    let paper = read("/surveys/survey-1/papers/assessment.html")
        .await
        .text();
    assert!(
        paper.contains("data:image/jpeg;base64,"),
        "the paper lacks its photo"
    );
    for (path, form) in [
        (
            "/surveys/survey-1/settle",
            "choice=set&about=RTU-1&field=nameplate.model&value=x",
        ),
        ("/surveys/survey-1/links", ""),
        ("/surveys", "name=x"),
    ] {
        post(&office, path, &customer, form).await.is(403);
    }
    let id = office
        .state
        .accounts
        .links(office.contractor, SURVEY)
        .unwrap()[0]
        .id
        .clone();
    let revoke = format!("/surveys/survey-1/links/{id}/revoke");
    let form = format!(
        "csrf={}",
        csrf(
            &office
                .ask("GET", "/surveys/survey-1", &[("cookie", &ana)], "")
                .await
        )
    );
    post(&office, &revoke, &ana, &form).await.is(303);
    read("/surveys/survey-1/papers/assessment.html")
        .await
        .is(401);
    office.ask("GET", &link, &[], "").await.is(404);
}

#[tokio::test]
async fn a_form_without_the_sessions_own_key_settles_nothing() {
    let (office, _) = with_survey().await;
    let (ana, bo) = (office.reviewer("ana").await, office.reviewer("bo").await);
    let key = csrf(
        &office
            .ask("GET", "/surveys/survey-1", &[("cookie", &ana)], "")
            .await,
    );
    let set = "choice=set&about=RTU-1&field=nameplate.model&value=PX-7";
    let path = "/surveys/survey-1/settle";
    post(&office, path, &ana, set).await.is(403);
    post(&office, path, &ana, &format!("csrf=00&{set}"))
        .await
        .is(403);
    post(&office, path, &bo, &format!("csrf={key}&{set}"))
        .await
        .is(403);
    post(&office, path, &ana, &format!("csrf={key}&{set}"))
        .await
        .is(303);
    let page = office
        .ask("GET", "/surveys/survey-1", &[("cookie", &bo)], "")
        .await;
    assert!(page.text().contains("PX-7"));
}

#[tokio::test]
async fn a_choice_is_an_edit_under_the_reviewers_name_and_can_be_taken_back() {
    let (office, mut phone) = with_survey().await;
    phone
        .capture
        .set(SURVEY, "RTU-1", "disconnect.rating_a", 30.into())
        .unwrap();
    phone.exchange(&office, SURVEY).await;
    let ana = office.reviewer("ana").await;
    let key = csrf(
        &office
            .ask("GET", "/surveys/survey-1", &[("cookie", &ana)], "")
            .await,
    );
    let path = "/surveys/survey-1/settle";
    let form =
        format!("csrf={key}&choice=set&about=RTU-1&field=disconnect.rating_a&value=60&back=checks");
    let settled = post(&office, path, &ana, &form).await.is(303);
    assert_eq!(settled.header("location"), "/surveys/survey-1#checks");
    phone.exchange(&office, SURVEY).await;
    let history = phone
        .capture
        .history(SURVEY, "RTU-1", "disconnect.rating_a")
        .unwrap();
    let last = history.last().unwrap();
    assert_eq!(last.value, 60.0);
    assert_eq!(last.stamp.as_ref().unwrap().author, "ana");
    let done = office
        .state
        .accounts
        .settled(office.contractor, SURVEY, 5)
        .unwrap();
    assert!(done[0].undoable && done[0].said.contains("60"), "{done:?}");
    let form = format!("csrf={key}&choice=undo&seq={}", done[0].seq);
    post(&office, path, &ana, &form).await.is(303);
    post(&office, path, &ana, &form).await.is(404);
    phone.exchange(&office, SURVEY).await;
    let unit = phone.capture.survey(SURVEY).unwrap().equipment[0].clone();
    assert_eq!(unit.disconnect.rating_a.unwrap().get(), 30.0);
    // Nonsense is refused with its place, and changes nothing.
    let form = format!("csrf={key}&choice=set&about=RTU-1&field=disconnect.rating_a&value=-4");
    let answer = post(&office, path, &ana, &form).await.is(400);
    assert!(
        answer.text().contains("disconnect.rating_a"),
        "{}",
        answer.text()
    );
}

#[tokio::test]
async fn taking_back_a_choice_between_two_values_opens_it_again() {
    let (office, mut phone) = with_survey().await;
    let mut other = Phone::enrol(&office, "tech-2", "phone-b").await;
    other.capture.join_survey(SURVEY).unwrap();
    other.exchange(&office, SURVEY).await;
    for (phone, amps) in [(&mut phone, 30), (&mut other, 60)] {
        let field = "disconnect.rating_a";
        phone
            .capture
            .set(SURVEY, "RTU-1", field, amps.into())
            .unwrap();
        phone.exchange(&office, SURVEY).await;
    }
    phone.exchange(&office, SURVEY).await;
    let shown = |phone: &mut Phone| {
        let survey = phone.capture.survey(SURVEY).unwrap();
        survey.unit("RTU-1").unwrap().disconnect.rating_a
    };
    let before = shown(&mut phone);
    let open = |phone: &mut Phone| {
        let found = phone.capture.conflicts(SURVEY).unwrap();
        let said = |c: &scupper_core::document::Candidate| {
            (c.value.clone(), c.stamp.as_ref().map(|s| s.author.clone()))
        };
        let mut said: Vec<_> = found.iter().flat_map(|c| &c.candidates).map(said).collect();
        said.sort_by_key(|(_, author)| author.clone());
        said.into_iter().map(|(value, _)| value).collect::<Vec<_>>()
    };
    assert_eq!(open(&mut phone), [30.0, 60.0]);
    let ana = office.reviewer("ana").await;
    let page = ("cookie", ana.as_str());
    let key = csrf(&office.ask("GET", "/surveys/survey-1", &[page], "").await);
    let path = "/surveys/survey-1/settle";
    let form = format!("csrf={key}&choice=set&about=RTU-1&field=disconnect.rating_a&value=45");
    post(&office, path, &ana, &form).await.is(303);
    let seq = office
        .state
        .accounts
        .settled(office.contractor, SURVEY, 1)
        .unwrap()[0]
        .seq;
    let undo = format!("csrf={key}&choice=undo&seq={seq}");
    post(&office, path, &ana, &undo).await.is(303);
    phone.exchange(&office, SURVEY).await;
    assert_eq!(shown(&mut phone), before);
    // Sorted by who said it: still tech-1 and tech-2, not the reviewer.
    assert_eq!(open(&mut phone), [30.0, 60.0]);
    let history = phone
        .capture
        .history(SURVEY, "RTU-1", "disconnect.rating_a")
        .unwrap();
    let values: Vec<_> = history.iter().map(|step| step.value.clone()).collect();
    assert!(values.contains(&30.0.into()) && values.contains(&60.0.into()));
    // A reviewer on the page sees it, and whoever chooses now, closes it.
    let page = office
        .ask("GET", "/surveys/survey-1", &[page], "")
        .await
        .text();
    assert!(page.contains("Took back: RTU-1"), "{page}");
    phone
        .capture
        .set(SURVEY, "RTU-1", "disconnect.rating_a", 60.into())
        .unwrap();
    assert!(phone.capture.conflicts(SURVEY).unwrap().is_empty());
}
