//! What a form of the survey's page is answered with: the page's parts for the script, the way
//! back to the page for a browser by itself.

use crate::access::{csrf, post, with_survey};

#[tokio::test]
async fn an_answer_carries_the_parts_that_were_asked_for_as_they_are_now() {
    let (office, _) = with_survey().await;
    let ana = office.reviewer("ana").await;
    let cookie = [("cookie", ana.as_str())];
    let page = office.ask("GET", "/surveys/survey-1", &cookie, "").await;
    let heads = |text: &str| {
        let start = text.find("data-heads=\"").map(|at| at + 12);
        let rest = start.and_then(|at| text.get(at..)).unwrap_or_default();
        rest.split('"').next().unwrap_or_default().to_owned()
    };
    let form = |value: u32| {
        format!(
            "csrf={}&choice=set&about=RTU-1&field=nameplate.mca_a&value={value}",
            csrf(&page)
        )
    };
    let parts = "/surveys/survey-1/settle?only=title,settle";
    let answer = post(&office, parts, &ana, &form(31)).await.is(200).text();
    for (there, part) in [
        (true, "id=\"title\""),
        (true, "id=\"settle\""),
        (false, "id=\"hazards\""),
        (false, "id=\"register\""),
        (false, "<html"),
    ] {
        assert_eq!(answer.contains(part), there, "{part} in {answer}");
    }
    assert!(answer.contains("31"), "what was done, with its way back");
    // It tells of the state after the edit, which is what a page asked for now tells, too.
    let again = office.ask("GET", "/surveys/survey-1", &cookie, "").await;
    assert_eq!(heads(&answer), heads(&again.text()));
    assert_ne!(heads(&answer), heads(&page.text()));
    // Sent twice it counts once, and is answered the same.
    let twice = post(&office, parts, &ana, &form(31)).await.is(200).text();
    assert_eq!(heads(&twice), heads(&answer));
    // By itself a browser is led back.
    let plain = post(&office, "/surveys/survey-1/settle", &ana, &form(32)).await;
    assert_eq!(plain.is(303).header("location"), "/surveys/survey-1#settle");
    // What cannot be used is refused either way.
    let wrong = form(0).replace("value=0", "value=many");
    post(&office, parts, &ana, &wrong).await.is(400);
    // An address that is not there is a page to a browser and a problem to a program.
    let nowhere = [("accept", "text/html"), ("cookie", ana.as_str())];
    let told = office.ask("GET", "/nowhere", &nowhere, "").await.is(404);
    assert!(told.text().contains("All surveys"));
    let told = office.ask("GET", "/nowhere", &cookie, "").await.is(404);
    assert_eq!(told.header("content-type"), "application/problem+json");
}
