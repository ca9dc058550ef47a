//! One visit after another to the same roof.

use crate::access::{csrf, post, with_survey};

#[tokio::test]
async fn the_next_visit_begins_with_the_units_of_this_one_and_names_it() {
    let (office, _) = with_survey().await;
    let ana = office.reviewer("ana").await;
    let cookie = [("cookie", ana.as_str())];
    let page = office.ask("GET", "/surveys/survey-1", &cookie, "").await;
    let path = "/surveys/survey-1/next-visit";
    post(&office, path, &ana, "csrf=00").await.is(403);
    let form = format!("csrf={}", csrf(&page));
    let begun = post(&office, path, &ana, &form).await.is(303);
    let next = begun
        .header("location")
        .replace("/surveys/", "/v1/surveys/");
    let read = |path: String| {
        let office = &office;
        async move { office.ask("GET", &path, &cookie, "").await.is(200).json() }
    };
    let next = read(format!("{next}/survey")).await;
    let last = read("/v1/surveys/survey-1/survey".to_owned()).await;
    assert_eq!(next["parent"], "survey-1");
    assert_eq!(next["equipment"][0]["tag"], last["equipment"][0]["tag"]);
    assert!(next["equipment"][0]["tag"].is_string());
    // One that is not theirs gives nothing away.
    post(&office, "/surveys/survey-9/next-visit", &ana, &form)
        .await
        .is(404);
}
