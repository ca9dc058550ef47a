//! The office page in a real browser, on the demo's real server: narrow and wide, with and
//! without the script, by keyboard alone. Pictures go to `target/page-look`.

use crate::webdriver::Browser;
use serde_json::json;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// `scupper demo --serve`, stopped when dropped.
pub(crate) struct Demo {
    server: Child,
    pub(crate) link: String,
}

impl Demo {
    pub(crate) fn start(out: &Path) -> Self {
        let mut server = Command::new(env!("CARGO_BIN_EXE_scupper-here"))
            .args(["demo", "--serve", "--out"])
            .arg(out)
            .stdout(Stdio::piped())
            .stderr(Stdio::inherit())
            .spawn()
            .unwrap();
        let lines = BufReader::new(server.stdout.take().unwrap()).lines();
        let mut lines = lines.map_while(Result::ok);
        let link = lines.find_map(|line| {
            let at = line.find("http://127.0.0.1")?;
            line.get(at..)?.split_whitespace().next().map(str::to_owned)
        });
        std::thread::spawn(move || lines.for_each(drop));
        let link = link.expect("the demo prints where its page is");
        Self { server, link }
    }
}

impl Drop for Demo {
    fn drop(&mut self) {
        let _ = self.server.kill();
        let _ = self.server.wait();
    }
}

pub(crate) fn pictures() -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/page-look");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// Opens the demo's survey and returns its address.
pub(crate) fn open_survey(browser: &Browser, demo: &Demo) -> String {
    browser.go(&demo.link);
    if browser.run("return location.pathname") == json!("/") {
        browser.click("a.open");
    }
    browser.until("return location.pathname.startsWith('/surveys/')");
    let address = browser.run("return location.href.split('#')[0]");
    address.as_str().unwrap().to_owned()
}

/// Elements that a person would have to scroll sideways for.
pub(crate) const STICKS_OUT: &str = "const wide = document.documentElement.clientWidth; \
     return [...document.querySelectorAll('body *')] \
         .filter(e => e.getBoundingClientRect().right > wide + 1 && !e.closest('.wide, .plan, .unseen, .skip, .frame')) \
         .slice(0, 5).map(e => e.outerHTML.slice(0, 120))";

/// Waiting items, as the heading counts them.
const WAITING: &str =
    "return Number(/\\((\\d+)\\)/.exec(document.getElementById('settle-t').textContent)?.[1] ?? 0)";

#[test]
fn a_reviewer_settles_by_keyboard_at_any_width_with_and_without_the_script() {
    let Some(browser) = Browser::open(true) else {
        return;
    };
    let out = tempfile::tempdir().unwrap();
    let demo = Demo::start(out.path());
    let address = open_survey(&browser, &demo);

    for width in [320, 800, 1600] {
        browser.size(width, 1000);
        let over = browser.run(STICKS_OUT);
        browser.picture(&pictures().join(format!("browser-{width}.png")));
        assert_eq!(over, json!([]), "these stick out at {width} px");
    }
    let first = browser.run(
        "const t = performance.getEntriesByType('navigation')[0]; \
         return Math.round(t.domContentLoadedEventEnd) + ' ms, ' + t.encodedBodySize + ' bytes'",
    );
    println!("first view on loopback: {first}");

    // A unit on the plan by keyboard: it opens beside the plan, and the address can be kept.
    browser.run("document.querySelector('.plan a[data-unit]').focus(); return true");
    browser.press("\u{e007}");
    browser.until("return !!document.getElementById('unit-t')");
    browser.until("return new URL(location).searchParams.has('unit')");

    // The queue by its keys: the first button of the first item, and on to the next.
    browser.go(&address);
    let before = browser.run(WAITING).as_u64().unwrap();
    assert!(before > 0, "the demo leaves something to settle");
    browser.run("document.getElementById('settle-t').focus(); return true");
    browser.press("n");
    browser.until("return document.activeElement.classList.contains('slip')");
    let item = browser.run("return document.activeElement.id");
    browser.press("1");
    browser.until(&format!("return !document.getElementById({item})"));
    browser.until("return document.activeElement.classList.contains('slip')");
    assert!(browser.run(WAITING).as_u64().unwrap() < before);
    assert_eq!(
        browser.run("return location.href.split('#')[0]"),
        json!(address)
    );
    browser.click("#done button");
    browser.until("return document.getElementById('settle').textContent.includes('(taken back)')");

    // News comes in while something is being typed: both are there afterwards.
    let typing = ".slip .typed input[name=value]";
    browser.type_into(typing, "12");
    let other = browser.run(
        "const form = [...document.querySelectorAll('.slip form')] \
           .filter(f => !f.querySelector('input:not([type=hidden]), select, textarea')).pop(); \
         return fetch(form.action, {method: 'post', body: new URLSearchParams(new FormData(form))}).then(r => r.status)",
    );
    assert_eq!(other, json!(200));
    browser.until("return document.querySelectorAll('.done').length > 2");
    browser.type_into(typing, "3");
    assert_eq!(
        browser.run(&format!("return document.querySelector('{typing}').value")),
        json!("123")
    );

    // Without the script, the same forms and links do it.
    let plain = Browser::open(false).unwrap();
    // A one-time link opens once; the session goes over as its cookie.
    let cookie = session_of(&browser);
    plain.go(&format!("{}/sign-in", origin(&address)));
    plain.cookie(&cookie);
    plain.go(&address);
    plain.size(1600, 1000);
    let asked = |text: &str| text.matches("Which value?").count();
    let before = plain.until_text("something to settle", |text| asked(text) > 0);
    assert_eq!(before.matches("HAZARDS").count(), 1);
    plain.click(".candidates button");
    let settled = plain.until_text("one question less", |text| {
        asked(text) + 1 == asked(&before)
    });
    plain.click("#done button");
    plain.until_text("undo without the script", |text| text != settled);
}

pub(crate) fn origin(address: &str) -> &str {
    address.split("/surveys/").next().unwrap()
}

pub(crate) fn session_of(browser: &Browser) -> serde_json::Value {
    let all = browser.cookies();
    let session = all
        .as_array()
        .unwrap()
        .iter()
        .find(|c| c["name"] == "scupper_session");
    session.unwrap().clone()
}

#[test]
fn axe_finds_nothing_serious_on_any_page() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/axe");
    let script = folder.join("package/axe.min.js");
    if !script.exists() {
        std::fs::create_dir_all(&folder).unwrap();
        let packed = Command::new("sh")
            .args([
                "-c",
                "npm pack --silent axe-core@4.11.0 && tar xzf axe-core-4.11.0.tgz",
            ])
            .current_dir(&folder)
            .status();
        if !packed.is_ok_and(|status| status.success()) {
            println!("NOT RUN: axe-core could not be fetched with npm");
            return;
        }
    }
    let axe = std::fs::read_to_string(script).unwrap();
    let Some(browser) = Browser::open(true) else {
        return;
    };
    let out = tempfile::tempdir().unwrap();
    let demo = Demo::start(out.path());
    let survey = open_survey(&browser, &demo);
    let home = origin(&survey).to_owned();
    let unit = browser.run("return document.querySelector('.plan a[data-unit]').href.baseVal");
    let unit = format!("{home}{}", unit.as_str().unwrap());
    let photo = browser.run("return document.querySelector('.photos a[href*=\"/photos/\"]').href");
    let photo = photo.as_str().unwrap().to_owned();
    let pages = [
        format!("{home}/"),
        format!("{home}/sign-in"),
        format!("{home}/surveys/nowhere"),
        survey.clone(),
        unit,
        format!("{survey}?all=settle"),
        format!("{survey}?all=notes"),
        format!("{survey}?all=checks"),
        format!("{home}/?q=RTU"),
        format!("{survey}/price"),
        format!("{survey}/history?unit=RTU-2"),
        photo,
    ];
    let mut wrong = Vec::new();
    let wide = pages.iter().map(|page| (page, 1600));
    for (page, width) in wide.chain([(&pages[0], 320), (&survey, 320), (&pages[9], 320)]) {
        browser.size(width, 1000);
        browser.go(page);
        browser.run(&format!("{axe}; window.axe = axe; return true"));
        let found = browser.run(
            "return axe.run({resultTypes: ['violations']}).then(r => r.violations.filter(v => ['serious', 'critical'].includes(v.impact)) \
             .map(v => v.id + ': ' + v.nodes.slice(0, 3).map(n => n.html.slice(0, 160)).join(' | ')))",
        );
        for line in found.as_array().unwrap() {
            wrong.push(format!("{width} {page}: {line}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    println!(
        "axe-core: nothing serious or critical on {} pages, three of them also at 320 px",
        pages.len()
    );
}
