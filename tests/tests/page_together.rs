//! Two reviewers and a technician's device on one survey at the same time: each sees the others'
//! work within about a second, nobody loses what they type, and an office that is away comes back.

use crate::page_browser::session_of;
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
