//! Two reviewers and a technician's device on one survey at the same time: each sees the others'
//! work within about a second, nobody loses what they type, and an office that is away comes back.

use crate::page_browser::{Demo, open_survey, origin, session_of};
use crate::server_kit::{Server, admit, device, free_address, level};
use crate::webdriver::Browser;
use scupper_core::survey::read;
use scupper_core::survey::spoken::Transcript;
use scupper_server::client::Client;
use serde_json::json;
use std::time::Instant;

fn note(id: &str, words: &str) -> Transcript {
    let note = json!({"note_id": id, "author": "tech-1",
        "recorded_at": "2026-04-14T08:10:00-08:00", "segments": [{"text": words}]});
    read::from_json(&note.to_string()).unwrap()
}

#[test]
fn two_reviewers_and_a_device_work_at_once() {
    let (Some(one), Some(two)) = (Browser::open(true), Browser::open(true)) else {
        return;
    };
    let data = tempfile::tempdir().unwrap();
    let address = free_address();
    let mut server = Server::start_at(data.path(), &address);
    let code = admit(data.path(), "tech-1");
    let (client, _) = Client::enrol(&server.base, &code, "phone-a", "phone").unwrap();
    let home = tempfile::tempdir().unwrap();
    let mut day = device(home.path(), "phone-a", "tech-1", 3);
    let survey = day.create_survey("Ovens and Ice").unwrap();
    let first = "Exhaust fan one. MCA is 12. The belt is cracked.";
    day.dictate(&survey, &note("n-1", first)).unwrap();
    level(&mut day, &client, &survey).unwrap();

    one.go(&server.link);
    two.go(&format!("{}/sign-in", server.base));
    two.cookie(&session_of(&one));
    let page = format!("{}/surveys/{survey}", server.base);
    for browser in [&one, &two] {
        browser.size(1200, 900);
        browser.go(&page);
        browser.until("return !!document.getElementById('settle-t')");
    }
    let seen = "window.__seen = null; new MutationObserver(() => { \
         if (!window.__seen && document.body.textContent.includes('EF-2')) window.__seen = performance.now(); \
         }).observe(document.body, {childList: true, subtree: true}); return true";
    // One types, the device brings another unit: both see it, and the words are still there.
    one.run(seen);
    two.run(seen);
    let field = ".gaps input[name='value:nameplate.mocp_a']";
    one.type_into(field, "2");
    let sent = Instant::now();
    let more = "Exhaust fan two. MCA is 8. The belt is worn.";
    day.dictate(&survey, &note("n-2", more)).unwrap();
    level(&mut day, &client, &survey).unwrap();
    for (name, browser) in [("one", &one), ("two", &two)] {
        browser.until("return window.__seen !== null");
        println!(
            "reviewer {name} saw the device's note {} ms after it was spoken",
            sent.elapsed().as_millis()
        );
    }
    one.type_into(field, "4");
    let typed = format!("return document.querySelector({field:?}).value");
    assert_eq!(one.run(&typed), json!("24"));

    // The other settles something: the first sees that, too, and goes on typing.
    two.click(".slip form:has([value=confirm]) button");
    one.until("return document.getElementById('done')?.textContent.includes('onfirmed') ?? false");
    assert_eq!(one.run(&typed), json!("24"));

    // The office goes away while something is sent: it is kept, said, and sent when it is back.
    server.kill();
    one.until("return !document.getElementById('stale').hidden");
    one.run(&format!(
        "document.querySelector({field:?}).form.querySelector('button').click(); return true"
    ));
    one.until("return document.getElementById('stale').textContent.includes('sent as soon as')");
    assert_eq!(one.run(&typed), json!("24"));
    let _back = Server::start_at(data.path(), &address);
    one.until("return document.getElementById('stale').hidden && document.getElementById('done').textContent.includes('24')");
    two.until("return document.getElementById('done').textContent.includes('24')");
}

#[test]
fn what_one_reviewer_does_beside_the_survey_reaches_the_other() {
    let (Some(one), Some(two)) = (Browser::open(true), Browser::open(true)) else {
        return;
    };
    let out = tempfile::tempdir().unwrap();
    let demo = Demo::start(out.path());
    let address = open_survey(&one, &demo);
    two.go(&format!("{}/sign-in", origin(&address)));
    two.cookie(&session_of(&one));
    two.go(&address);
    two.size(1600, 1000);
    two.until("return !!document.querySelector('.hazards .read')");
    let field = ".slip .typed input[name=value]";
    two.type_into(field, "12");
    let says = |css: &str, words: &str| {
        two.until(&format!(
            "return document.querySelector('{css}')?.textContent.includes('{words}') ?? false"
        ));
    };
    // One reads the hazards, has other rates count, locks a price, makes a link and revokes it.
    one.click(".hazards .read button");
    says("#read-hazards summary", "read by reviewer");
    let price = "return document.querySelector('#quote .likely dd').textContent";
    let before = two.run(price);
    one.go(&format!("{address}/price"));
    one.run("document.querySelector('input[name=technician]').select(); return true");
    one.type_into("input[name=technician]", "\u{e009}a\u{e000}99.50");
    one.click("button[value=keep]");
    two.until(&format!("{price} !== {before}"));
    // A third look, at the price itself, with a rate half typed.
    let three = Browser::open(true).unwrap();
    three.go(&format!("{}/sign-in", origin(&address)));
    three.cookie(&session_of(&one));
    three.go(&format!("{address}/price"));
    three.type_into("input[name=second]", "7");
    let typed = three.run("return document.querySelector('input[name=second]').value");
    one.type_into("#title", "as offered");
    one.press("\u{e007}");
    says("#quote", "as offered");
    three.until(
        "return document.querySelector('#versions .versions')?.textContent.includes('as offered') ?? false",
    );
    one.go(&format!("{address}/price"));
    one.click("button[value=office]");
    three.until(
        "return document.querySelector('#standing').textContent.includes(\"By the office's\")",
    );
    assert_eq!(
        three.run("return document.querySelector('input[name=second]').value"),
        typed
    );
    one.go(&address);
    one.click("#links form.line button");
    says("#links .links", "good until");
    one.go(&address);
    one.click("#links .links button");
    says("#links .links", "revoked");
    assert_eq!(
        two.run(&format!("return document.querySelector('{field}').value")),
        json!("12")
    );
}
