//! People who were given certain surveys of their firm: every way to another one is closed.

use crate::access::{READS, SURVEY, csrf, post, with_survey};
use crate::kit::Phone;

#[tokio::test]
async fn whoever_is_given_one_survey_finds_no_other() {
    let (office, mut phone) = with_survey().await;
    let original = phone.photo(SURVEY, 9);
    let hash = blake3::hash(&original).to_hex().to_string();
    phone.exchange(&office, SURVEY).await;
    crate::uploads::send_all(&office, &mut phone).await;
    let accounts = &office.state.accounts;
    let mut guest = Phone::enrol(&office, "sub-1", "phone-g").await;
    let bo = office.reviewer("bo").await;
    let key = csrf(
        &office
            .ask("GET", "/surveys/survey-1", &[("cookie", &bo)], "")
            .await,
    );
    for name in ["sub-1", "bo"] {
        let reach = scupper_server::Reach::only(["survey-2"]);
        accounts
            .limit(office.state.unix(), office.contractor, name, &reach)
            .unwrap();
    }
    let token = guest.token.clone();
    let device = ("authorization", token.as_str());
    let page = ("cookie", bo.as_str());
    // Pages, JSON, papers and events, to a device and to a reviewer.
    for path in READS {
        office.ask("GET", path, &[device], "").await.is(404);
        office.ask("GET", path, &[page], "").await.is(404);
    }
    // Photos, whole and small.
    for path in [
        format!("/v1/photos/{hash}"),
        format!("/v1/photos/{hash}/thumbnail"),
    ] {
        office.ask("GET", &path, &[device], "").await.is(404);
        office.ask("GET", &path, &[page], "").await.is(404);
    }
    // Exchange: neither read nor written.
    guest.capture.join_survey(SURVEY).unwrap();
    guest.unit(SURVEY, "RTU-9");
    guest.post(&office, SURVEY).await.is(404);
    // Uploads: neither asked after nor appended to nor given up, nor begun for that survey.
    let place = format!("/v1/uploads/original-{hash}");
    let at = ("upload-offset", "0");
    office.ask("HEAD", &place, &[device], "").await.is(404);
    office
        .ask("PATCH", &place, &[device, at], "x")
        .await
        .is(404);
    office.ask("DELETE", &place, &[device], "").await.is(404);
    let length = original.len().to_string();
    let begin = |survey: &'static str| {
        let (office, hash, length, token) = (&office, &hash, &length, token.clone());
        async move {
            let headers = [
                ("authorization", token.as_str()),
                ("upload-length", length),
                ("content-type", "image/jpeg"),
                ("scupper-photo", hash),
                ("scupper-part", "original"),
                ("scupper-content", hash),
                ("scupper-survey", survey),
            ];
            office.ask("POST", "/v1/uploads", &headers, "").await
        }
    };
    begin(SURVEY).await.is(404);
    // Forms.
    for (path, form) in [
        (
            "/surveys/survey-1/settle",
            "choice=set&about=RTU-1&field=nameplate.model&value=x",
        ),
        ("/surveys/survey-1/settle", "choice=undo&seq=1"),
        ("/surveys/survey-1/links", ""),
        ("/surveys/survey-1/links/00/revoke", ""),
    ] {
        let form = format!("csrf={key}&{form}");
        post(&office, path, &bo, &form).await.is(404);
    }
    post(&office, "/surveys", &bo, &format!("csrf={key}&name=x"))
        .await
        .is(403);
    // What they were given works, and naming the other survey's photo there does not open it.
    guest.capture.join_survey("survey-2").unwrap();
    guest.unit("survey-2", "RTU-1");
    guest.exchange(&office, "survey-2").await;
    begin("survey-2").await.is(200);
    office
        .ask("GET", &format!("/v1/photos/{hash}"), &[device], "")
        .await
        .is(404);
    let own = guest.photo("survey-2", 3);
    guest.exchange(&office, "survey-2").await;
    crate::uploads::send_all(&office, &mut guest).await;
    let own = blake3::hash(&own).to_hex().to_string();
    office
        .ask("GET", &format!("/v1/photos/{own}"), &[device], "")
        .await
        .is(200);
    office
        .ask("GET", "/surveys/survey-2", &[page], "")
        .await
        .is(200);
    for caller in [device, page] {
        let list = office
            .ask("GET", "/v1/surveys", &[caller], "")
            .await
            .is(200)
            .json();
        assert_eq!(list.as_array().unwrap().len(), 1, "{list}");
        assert_eq!(list[0]["survey_id"], "survey-2");
    }
    // Nothing that was refused got in.
    let own = [("authorization", phone.token.as_str())];
    let survey = office
        .ask("GET", "/v1/surveys/survey-1/survey", &own, "")
        .await
        .is(200)
        .json();
    assert_eq!(survey["equipment"].as_array().unwrap().len(), 1);
    // Let at all again, at once.
    accounts
        .limit(
            office.state.unix(),
            office.contractor,
            "sub-1",
            &scupper_server::Reach::All,
        )
        .unwrap();
    guest.exchange(&office, SURVEY).await;
}
