//! The roof notebook in a real browser against a real server: enrolled, used without signal, killed,
//! handed over once; and everything that goes wrong on the way, each with what to do next.
//! Pictures go to `target/page-look`.

use crate::axe;
use crate::command::answer;
use crate::page_kit::fixtures;
use crate::server_kit::{Server, admit, device, free_address, holds, level, merged};
use crate::webdriver::Browser;
use scupper_core::survey::read::survey_from_json;
use scupper_server::client::Client;
use serde_json::json;
use std::path::{Path, PathBuf};

/// A recogniser that hears what the test says, in place of the browser's own.
const EAR: &str = "window.SpeechRecognition = class { \
    start() { window.ear = this; } stop() { this.onend(); } \
    hear(words, other) { const guess = [{transcript: words, confidence: 0.9}, {transcript: other}]; \
        guess.isFinal = true; this.onresult({resultIndex: 0, results: [guess]}); } }";

/// The answer to the first batch is lost on its way; the phone's clock is an hour slow.
const LOST: &str = "const real = window.fetch; let lost = false; \
    window.fetch = async (place, how) => { \
        if (!String(place).endsWith('/entries')) return real(place, how); \
        const body = JSON.parse(how.body); \
        body.sent_at = new Date(Date.now() - 3600e3).toISOString(); \
        const answer = await real(place, {...how, body: JSON.stringify(body)}); \
        if (!lost) { lost = true; throw new TypeError('cut'); } \
        return answer; }; return true";

fn shown(id: &str, words: &str) -> String {
    format!("return document.getElementById('{id}').textContent.includes({words:?})")
}

fn fixture(name: &str) -> PathBuf {
    fixtures().join(name).canonicalize().unwrap()
}

fn look(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/page-look");
    std::fs::create_dir_all(&folder).unwrap();
    folder.join(format!("walk-{name}.png"))
}

/// What sticks out at the side, and what is too small for a glove: both are nothing.
fn fits(browser: &Browser, name: &str, width: u32, height: u32) {
    browser.devtools("Emulation.setScrollbarsHidden", &json!({"hidden": true}));
    browser.size(width, height);
    browser.picture(&look(name));
    let wrong = browser.run(
        "const wide = document.documentElement.clientWidth; \
         const seen = [...document.querySelectorAll('main *')].filter(e => e.getClientRects().length && !e.closest('.unseen')); \
         const out = seen.filter(e => e.getBoundingClientRect().right > wide + 1); \
         const small = seen.filter(e => e.matches('button, .button, input, select, textarea, summary') \
             && (e.offsetHeight < 48 || e.offsetWidth < 48)); \
         return [...out, ...small].map(e => e.outerHTML.slice(0, 120))",
    );
    assert_eq!(wrong, json!([]), "{name}");
}

/// A survey of the bakery with its plan, opened by another device; that device's way in.
fn prepare(data: &Path, base: &str) -> (Client, String) {
    let (client, _) = Client::enrol(base, &admit(data, "tech-9"), "phone-z", "phone").unwrap();
    let home = tempfile::tempdir().unwrap();
    let mut day = device(home.path(), "phone-z", "tech-9", 9);
    let survey = day.create_survey("Bakery").unwrap();
    let plan = std::fs::read_to_string(fixtures().join("plan.json")).unwrap();
    day.import(&survey, &survey_from_json(&plan).unwrap())
        .unwrap();
    level(&mut day, &client, &survey).unwrap();
    (client, survey)
}

/// Presses what is first brought to the middle, as a thumb would: messages stick to the top.
fn press(browser: &Browser, css: &str) {
    browser.run(&format!(
        "document.querySelector({css:?}).scrollIntoView({{block: 'center'}}); return true"
    ));
    browser.click(css);
}

fn keep_note(browser: &Browser, about: &str, words: &str) {
    browser.run(&format!(
        "const about = document.getElementById('about'); about.value = '{about}'; \
         about.dispatchEvent(new Event('change')); return true"
    ));
    browser.type_into("#note", words);
    press(browser, "#keep-note");
    browser.until(&shown("word", "The note is kept"));
}

fn exchange(browser: &Browser, ends: &str) {
    browser.until("return !document.getElementById('exchange').hasAttribute('aria-disabled')");
    press(browser, "#exchange");
    browser.until(ends);
}

#[test]
fn a_roof_taken_down_without_signal_and_without_the_app_arrives_once() {
    let profile = tempfile::tempdir().unwrap();
    let data = tempfile::tempdir().unwrap();
    let folder = data.path().to_str().unwrap();
    let Some(browser) = Browser::open_at(profile.path()) else {
        return;
    };
    let address = free_address();
    let mut server = Server::start_at(data.path(), &address);
    let (client, survey) = prepare(data.path(), &server.base);
    let home = format!("{}/walk/", server.base);

    // A scanned invitation leads to the page with its code, which is spent only when asked to.
    let code = admit(data.path(), "tech-1");
    browser.size(320, 700);
    browser.go(&format!("{}/enrol#{code}", server.base));
    browser.until(&format!(
        "return document.getElementById('code').value === '{code}'"
    ));
    assert_eq!(browser.run("return location.href"), json!(home));
    fits(&browser, "enrol-320", 320, 700);
    assert_eq!(axe::findings(&browser, &[]), [""; 0]);
    press(&browser, "#enrol-form button");
    browser.until("return document.querySelectorAll('#roof-list button').length === 1");
    browser.until("return !!navigator.serviceWorker.controller");
    browser.until(&shown("ready", "Yes: this page opens without signal"));
    fits(&browser, "list-320", 320, 700);
    assert_eq!(axe::findings(&browser, &[]), [""; 0]);
    press(&browser, "#roof-list button");
    browser.until(&shown("exchanged", "Last exchange"));
    browser.until(&shown("hazards-here", "Caution at"));
    for size in [0, 1, 1024, 1025, 5000, 200_001] {
        let bytes: Vec<u8> = (0..size).map(|i| (i % 251) as u8).collect();
        let named = browser.run(&format!(
            "return import('/walk/blake3.js').then(it => it.blake3(new Uint8Array({size}).map((_, i) => i % 251)))"
        ));
        assert_eq!(
            named,
            json!(blake3::hash(&bytes).to_string()),
            "{size} bytes"
        );
    }

    // No signal: the server is gone, and the page opens all the same.
    server.kill();
    browser.devtools(
        "Page.addScriptToEvaluateOnNewDocument",
        &json!({"source": EAR}),
    );
    browser.go(&home);
    browser.until(&shown("roof-t", "Sorrelgate Bakery"));
    browser.until(&shown("hazards-here", "Caution at"));
    keep_note(&browser, "RTU-1", "the belt is cracked. <b>MCA</b> 24 amps");
    press(&browser, "#new-unit summary");
    browser.run("document.getElementById('kind').value = 'exhaust_fan'; return true");
    browser.type_into("#number", "9");
    press(&browser, "#unit-form button");
    browser.until("return document.getElementById('about').value === 'EF-9'");
    press(&browser, "#dictate");
    browser.until("return !!window.ear");
    browser.run("window.ear.hear('the bearing is noisy', 'the barring is noisy'); return true");
    press(&browser, "#keep-note");
    browser.until(&shown("waiting-all", "3 waiting"));
    let photo = fixture("photos/p-17-ef1.jpg");
    browser.type_into("#caption", "Fan from the north");
    browser.type_into("#shot", photo.to_str().unwrap());
    browser.until(&shown("waiting-all", "4 waiting"));
    browser.type_into("#note", "half a thou");
    exchange(
        &browser,
        &shown(
            "alarm",
            "No answer from the office. Everything is still on this phone",
        ),
    );
    fits(&browser, "roof-320", 320, 700);
    fits(&browser, "roof-landscape", 740, 360);
    assert_eq!(axe::findings(&browser, &[]), [""; 0]);

    // The browser dies while it keeps a note; the same phone goes on where it was. The note is
    // kept or still in hand, and not both.
    browser.run("document.getElementById('keep-note').click(); return true");
    browser.kill();
    let browser = Browser::open_at(profile.path()).unwrap();
    browser.size(320, 700);
    browser.go(&home);
    browser.until("return /[45] waiting/.test(document.getElementById('waiting-all').textContent)");
    let in_hand = browser.run("return document.getElementById('note').value");
    let kept = browser.run(&shown("waiting-all", "5 waiting")) == json!(true);
    assert_eq!(in_hand, json!(if kept { "" } else { "half a thou" }));
    println!(
        "killed in the middle: the note was {}",
        if kept { "kept" } else { "in hand" }
    );
    if !kept {
        press(&browser, "#keep-note");
    }
    browser.until(&shown("waiting-all", "5 waiting"));

    // Signal. The first answer is lost, the office has it all the same; again, and it is there once.
    let server = Server::start_at(data.path(), &address);
    browser.run(LOST);
    exchange(&browser, &shown("alarm", "No answer from the office"));
    assert_eq!(merged(&client, &survey).notes.len(), 3);
    browser.until(&shown("waiting-all", "5 waiting"));
    exchange(
        &browser,
        &shown("word", "Everything is on the office's disk"),
    );
    browser.until(&shown("waiting-all", "0 waiting"));
    browser.until(&shown("told", "RTU-1: belt cracked"));
    browser.until(&shown("told", "EF-9: bearing noisy"));
    browser.until(&shown("clock", "60 minutes behind the office's"));
    let roof = merged(&client, &survey);
    let fans = roof.equipment.iter().filter(|unit| unit.tag == "EF-9");
    assert_eq!(
        (roof.notes.len(), roof.photos.len(), fans.count()),
        (3, 1, 1)
    );
    let spoken = &roof.notes[1].segments[1];
    assert_eq!(
        (spoken.confidence, spoken.alternatives.len()),
        (Some(0.9), 1)
    );
    let shot = &roof.photos[0];
    assert_eq!(
        shot.hash,
        blake3::hash(&std::fs::read(photo).unwrap()).to_string()
    );
    assert_eq!(
        (shot.about.as_deref(), shot.author.as_deref()),
        (Some("EF-9"), Some("tech-1"))
    );
    assert!(shot.width_px > 0 && holds(&client, &shot.hash));
    fits(&browser, "told-320", 320, 700);

    goes_wrong(&browser, folder, &survey);
    assert_eq!(merged(&client, &survey).notes.len(), 5);
    drop(server);
}

/// What can go wrong, with the words that say what to do next; nothing is lost by any of it.
fn goes_wrong(browser: &Browser, folder: &str, survey: &str) {
    // No room on the phone: the photo stays in hand until there is.
    browser.run(
        "window.put = IDBObjectStore.prototype.put; \
         IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); }; \
         return true",
    );
    let photo = fixture("photos/p-18-hatch.jpg");
    browser.type_into("#album", photo.to_str().unwrap());
    browser.until(&shown("alarm", "NOT kept. Exchange now, or free room"));
    browser.run("IDBObjectStore.prototype.put = window.put; return true");
    press(browser, "#keep-photo");
    browser.until(&shown("waiting-all", "1 waiting"));
    // The office's disk is full, it is asked too often, a guest network answers in its place.
    for (status, body, words) in [
        (
            507,
            r#"{"detail":"all bytes are used"}"#,
            "no room left: all bytes are used. Everything is still on",
        ),
        (429, "{}", "asked too often"),
        (200, "<html>", "If this is a guest network"),
    ] {
        browser.run(&format!(
            "window.true_fetch ??= window.fetch; \
             window.fetch = async () => new Response({body:?}, {{status: {status}}}); return true"
        ));
        exchange(browser, &shown("alarm", words));
    }
    browser.run("window.fetch = window.true_fetch; return true");
    // A file that is no picture stays, with the reason, and holds up nothing else.
    let text = fixture("people.json");
    browser.type_into("#album", text.to_str().unwrap());
    browser.until(&shown("waiting-all", "2 waiting"));
    exchange(browser, &shown("waiting", "the file is not an image"));
    browser.until(&shown("waiting-all", "1 waiting"));
    press(browser, "#waiting .trouble button:last-child");
    press(browser, "#waiting .trouble button:last-child");
    browser.until(&shown("waiting-all", "0 waiting"));
    // A kind of photo that this browser cannot show is named, on the phone and at the office.
    let heic = PathBuf::from(folder).join("plate.heic");
    let bytes = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic and no picture that a browser knows";
    std::fs::write(&heic, bytes).unwrap();
    browser.type_into("#album", heic.to_str().unwrap());
    browser.until(&shown("last-none", "HEIC photo"));
    browser.until(
        "return document.getElementById('last-photo').hidden && !document.getElementById('last-none').hidden",
    );
    exchange(
        browser,
        &shown("word", "Everything is on the office's disk"),
    );
    // After a month the phone has a fresh token, and the one before is good no more.
    let token = "import('/walk/keep.js').then(it => it.fact('device')).then(it => it.token)";
    let spent = browser.run(&format!("return {token}"));
    browser.run(
        "return import('/walk/keep.js').then(async it => \
           it.setFact('device', {...await it.fact('device'), token_at: Date.now() - 31 * 864e5})).then(() => true)",
    );
    exchange(
        browser,
        &shown("word", "The newest from the office is here"),
    );
    browser.until(&format!("return {token}.then(it => it !== {spent})"));
    exchange(
        browser,
        &shown("word", "The newest from the office is here"),
    );
    let refused = format!(
        "return fetch('/v1/surveys', {{headers: {{authorization: 'Bearer ' + {spent}}}}}).then(it => it.status)"
    );
    assert_eq!(browser.run(&refused), json!(401));
    // The survey is no longer this person's.
    let limit = |words: &[&str]| {
        let all = [&["limit", "tech-1", "--data", folder], words].concat();
        answer(&all)
    };
    limit(&["--survey", "another"]);
    browser.run("document.getElementById('note').value = ''; return true");
    keep_note(browser, "site", "the drain is clogged");
    exchange(browser, "return !document.getElementById('gone').hidden");
    browser.until(&shown(
        "alarm",
        "this survey was not found. Everything is still on this phone",
    ));
    limit(&["--all"]);
    exchange(
        browser,
        &shown("word", "Everything is on the office's disk"),
    );
    // The phone was shut out: what waits goes once it is enrolled again, as the same device.
    keep_note(browser, "site", "the hatch has no railing");
    let id = browser
        .run("return import('/walk/keep.js').then(it => it.fact('device')).then(it => it.id)");
    answer(&["revoke", id.as_str().unwrap(), "--data", folder]);
    exchange(browser, &shown("enrol-why", "1 entry waits here"));
    browser.type_into("#code", "0000-0000-0000");
    press(browser, "#enrol-form button");
    browser.until(&shown("alarm", "Ask the office for a new one"));
    browser.run("document.getElementById('code').value = ''; return true");
    browser.type_into("#code", &admit(Path::new(folder), "tech-1"));
    press(browser, "#enrol-form button");
    browser.until("return document.querySelectorAll('#roof-list button').length === 1");
    press(browser, "#roof-list button");
    browser.until(&format!(
        "return import('/walk/keep.js').then(it => it.fact('last')).then(it => it === '{survey}')"
    ));
    exchange(
        browser,
        &shown("word", "Everything is on the office's disk"),
    );
}
