//! What the price page keeps, tries and locks goes by the office's own maintenance programme.

use crate::access::{SURVEY, csrf, post, surveyed};
use crate::kit::TestOffice;
use scupper_core::quote::{EXAMPLE, Programme, RateBook};
use scupper_server::Limits;

/// One task, three times a year, that the built-in programme does not know.
const PROGRAMME: &str = r#"
standard = "House rules"
edition = "2026"

[[tasks]]
task = "wipe_the_casing"
words = "Wipe the casing down"
kinds = ["packaged_rooftop_unit"]
per_year = 3
section = "page 1"
basis = "common practice"
"#;

#[tokio::test]
async fn rates_of_a_survey_s_own_keep_to_the_programme_of_the_office() {
    let timed = format!(
        "{EXAMPLE}\n[[minutes]]\ntask = \"wipe_the_casing\"\n\
         minutes = {{ low = 5, likely = 7, high = 9 }}\n"
    );
    let programme = Programme::from_toml(PROGRAMME).unwrap();
    let book = RateBook::with_programme(&timed, programme).unwrap();
    let office = TestOffice::priced_by(book, Limits::default());
    let phone = surveyed(&office).await;
    let device = [("authorization", phone.token.as_str())];
    let cookie = office.reviewer("ana").await;
    let page = format!("/surveys/{SURVEY}/price");
    let shown = office.ask("GET", &page, &[("cookie", &cookie)], "").await;
    let key = csrf(&shown.is(200));

    let tasks = || async {
        let path = format!("/v1/surveys/{SURVEY}/quote");
        let quote = office.ask("GET", &path, &device, "").await.is(200).json();
        let tasks = quote["tasks"].as_array().unwrap().iter();
        let said = |task: &serde_json::Value| {
            let (name, a_year) = (task["task"].as_str().unwrap(), &task["per_year"]);
            format!("{name} {a_year} x {}", task["minutes"])
        };
        tasks.map(said).collect::<Vec<_>>()
    };
    let ours = ["wipe_the_casing 3 x 7"];
    assert_eq!(tasks().await, ours, "by the office's rates");

    // The few rates of the form, then a whole rate book.
    let mended = timed.replace("= 5200", "= 6000");
    assert_ne!(mended, timed);
    let whole = [("do", "keep-book"), ("toml", mended.as_str())];
    for fields in [&[("do", "keep"), ("technician", "61")][..], &whole] {
        let form = encoded(&[fields, &[("csrf", key.as_str())]].concat());
        post(&office, &page, &cookie, &form).await.is(303);
        assert_eq!(tasks().await, ours, "{form}");
    }

    // A version that is locked gives the same again.
    let form = format!("do=lock&title=offered&csrf={key}");
    let locked = post(&office, &page, &cookie, &form).await.is(303);
    let path = locked.header("location").to_owned();
    let shown = office.ask("GET", &path, &[("cookie", &cookie)], "").await;
    let shown = shown.is(200).text();
    assert!(shown.contains("Locked: ") && !shown.contains("not what they were"));

    // The office gives the task up: rates that still time it stay usable, and the version, which
    // keeps its programme, comes to what it came to.
    let office = office.reopened(RateBook::builtin_example());
    let as_ana = [("cookie", cookie.as_str())];
    office.ask("GET", &page, &as_ana, "").await.is(200);
    let shown = office.ask("GET", &path, &as_ana, "").await.is(200).text();
    assert!(shown.contains("House rules") && !shown.contains("not what they were"));
    let number = path.rsplit('=').next().unwrap();
    let two = format!("{page}/compare?one={number}&other=now");
    let two = office.ask("GET", &two, &as_ana, "").await.is(200).text();
    assert!(two.contains("go by different maintenance programmes"));
    assert!(two.contains("Wipe the casing"));

    // What is tried from it would be kept under the programme of today, and goes by that.
    let form = format!("do=try&version={number}&technician=61&csrf={key}");
    let tried = post(&office, &page, &cookie, &form).await.is(200).text();
    assert!(tried.contains("Tried out") && !tried.contains("House rules"));

    // A version of the time before programmes were kept says that it differs.
    let file = rusqlite::Connection::open(office.folder().join("office.sqlite")).unwrap();
    let forgotten = file.execute("UPDATE price_version SET programme = NULL", []);
    assert_eq!(forgotten.unwrap(), 1);
    let shown = office.ask("GET", &path, &as_ana, "").await.is(200).text();
    assert!(shown.contains("not what they were"));
}

fn encoded(fields: &[(&str, &str)]) -> String {
    let escaped = |text: &str| -> String {
        let byte = |byte: u8| format!("%{byte:02x}");
        text.bytes().map(byte).collect()
    };
    let pair = |(name, value): &(&str, &str)| format!("{}={}", escaped(name), escaped(value));
    fields.iter().map(pair).collect::<Vec<_>>().join("&")
}
