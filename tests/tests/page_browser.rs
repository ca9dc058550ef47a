//! The office page in a real browser, on the demo's real server: narrow and wide, with and
//! without the script, by keyboard alone. Pictures go to `target/page-look`.

use crate::axe;
use crate::webdriver::Browser;
use serde_json::json;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// `scupper demo --serve`, killed when dropped. Its stores are in a folder that goes with it.
pub(crate) struct Demo {
    server: Child,
    _stores: tempfile::TempDir,
    pub(crate) link: String,
}

impl Demo {
    pub(crate) fn start(out: &Path) -> Self {
        let stores = tempfile::tempdir().unwrap();
        let mut server = Command::new(env!("CARGO_BIN_EXE_scupper-here"))
            .args(["demo", "--serve", "--out"])
            .arg(out)
            .env("TMPDIR", stores.path())
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
        Self {
            server,
            _stores: stores,
            link,
        }
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

/// A browser of 1,600 pixels at the survey of a running demo, what keeps the demo running, and the
/// survey's address; nothing where there is no browser.
pub(crate) fn at_survey() -> Option<(Browser, (Demo, tempfile::TempDir), String)> {
    let browser = Browser::open(true)?;
    let out = tempfile::tempdir().unwrap();
    let demo = Demo::start(out.path());
    browser.size(1600, 1000);
    let address = open_survey(&browser, &demo);
    Some((browser, (demo, out), address))
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
    let Some((browser, _running, address)) = at_survey() else {
        return;
    };

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
    let unit = "document.querySelector('.plan a[data-unit]')";
    let unit = browser.run(&format!("{unit}.focus(); return {unit}.dataset.unit"));
    browser.press("\u{e007}");
    browser.until(&format!(
        "return document.getElementById('unit-t').textContent.startsWith({unit})"
    ));
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

/// Where queue, plan and unit stand: left and top of each, and the bottom of the plan.
const PLACES: &str = "return ['settle', 'roof', 'unit'].map(id => document.getElementById(id).getBoundingClientRect()) \
     .flatMap(r => [r.left, r.top]).concat(document.getElementById('plan').getBoundingClientRect().bottom)";

#[test]
fn the_plan_stands_in_the_middle_of_the_work() {
    let Some((browser, _running, _)) = at_survey() else {
        return;
    };
    let places = || {
        let all = browser.run(PLACES);
        let all: Vec<f64> = all
            .as_array()
            .unwrap()
            .iter()
            .filter_map(|n| n.as_f64())
            .collect();
        <[f64; 7]>::try_from(all).unwrap()
    };
    let look = |name: &str, what: &str| {
        browser.run(&format!(
            "document.querySelector('{what}').scrollIntoView(); return true"
        ));
        browser.sight(&pictures().join(format!("work-{name}.png")));
    };
    // The n-th item of the queue is marked on the plan, which is all in sight while that is done.
    let marks = |n: usize| {
        browser.run(&format!(
            "const slip = document.querySelectorAll('.slip[data-about]')[{n}]; slip.focus(); \
             const on = [...document.querySelectorAll('.plan [data-asked]')].map(a => a.dataset.unit); \
             return on.length > 0 && on.every(tag => tag === slip.dataset.about)"
        ))
    };

    browser.size(1600, 1000);
    look("1600", ".work");
    for n in [0, 2] {
        assert_eq!(marks(n), json!(true), "item {n}");
        let [queue, _, plan, top, unit, _, bottom] = places();
        assert!(queue < plan && plan < unit, "{queue} {plan} {unit}");
        assert!(top > -1.0 && bottom <= 1000.0, "{top} {bottom}");
    }
    browser.click(".plan a[data-unit=RTU-2]");
    browser.until("return document.getElementById('unit-t').textContent.startsWith('RTU-2')");
    look("1600-unit", ".work");
    let [.., bottom] = places();
    assert!(bottom <= 1000.0, "{bottom}");
    // Each unit is one stop of the tab key, though its words on the plan can be pressed, too.
    let stops = "const all = [...document.querySelectorAll('.plan a')].filter(a => a.tabIndex >= 0).map(a => a.dataset.unit); \
         return all.length > 5 && new Set(all).size === all.length";
    assert_eq!(browser.run(stops), json!(true));
    // What waits of a unit is gone to where it is on the page.
    browser.click("#unit a[href*='#settle-d']");
    browser.until("return document.activeElement.matches('.slip[data-about=RTU-2]')");
    // What is worked at keeps its place when something else is laid open or brought up to date.
    browser.run("document.querySelector('.queue').scrollTop = 300; return true");
    browser.click("#unit a[rel=next]");
    browser.until("return !document.getElementById('unit-t').textContent.startsWith('RTU-2')");
    assert_eq!(
        browser.run("return document.querySelector('.queue').scrollTop"),
        json!(300)
    );
    browser.click("#unit .around a:not([rel])");
    browser.until("return document.getElementById('unit-t').textContent === 'Units'");

    // A tablet: the queue beside the plan, the unit below it.
    browser.size(1024, 768);
    look("1024", ".work");
    assert_eq!(marks(2), json!(true));
    let [queue, _, plan, top, unit, unit_top, bottom] = places();
    assert!(
        queue < plan && plan <= unit && bottom <= unit_top,
        "{:?}",
        places()
    );
    assert!(top > -1.0 && bottom <= 768.0, "{top} {bottom}");
    // No room for two: one after the other, as it is read.
    for (name, width, height) in [("800", 800, 500), ("320", 320, 700)] {
        browser.size(width, height);
        look(name, ".work");
        look(&format!("{name}-roof"), "#roof");
        let [queue, queue_top, plan, top, unit, unit_top, _] = places();
        assert!(queue_top < top && top < unit_top, "{:?}", places());
        assert!((queue - plan).abs() < 2.0 && (plan - unit).abs() < 2.0);
    }
    // On paper of A4 all is there, at full length and within the edges.
    let media = |name: &str| json!({"media": name});
    browser.size(718, 1000);
    browser.devtools("Emulation.setEmulatedMedia", &media("print"));
    browser.picture(&pictures().join("work-print.png"));
    let cut = "const wide = document.documentElement.clientWidth; \
         const long = [...document.querySelectorAll('.queue, .about, .plan, .roof')].filter(e => e.scrollHeight > e.clientHeight + 8); \
         const out = [...document.querySelectorAll('main *')].filter(e => e.getClientRects().length && !e.closest('.unseen') \
             && e.getBoundingClientRect().right > wide + 1); \
         return [...long, ...out].slice(0, 5).map(e => e.outerHTML.slice(0, 120))";
    assert_eq!(browser.run(cut), json!([]));
    browser.devtools("Emulation.setEmulatedMedia", &media(""));
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
        format!("{survey}?unit=nowhere"),
        format!("{survey}?all=register"),
        format!("{survey}?all=findings"),
        format!("{survey}?all=missing"),
        format!("{survey}?all=photos"),
        format!("{survey}?all=quote"),
        format!("{survey}?all=limits"),
        format!("{survey}/price/compare?one=now&other=now"),
        format!("{survey}/papers/assessment.html"),
        format!("{home}/account"),
        format!("{home}/walk/"),
    ];
    let mut wrong = Vec::new();
    let wide = pages.iter().map(|page| (page, 1600));
    for (page, width) in wide.chain([(&pages[0], 320), (&survey, 320), (&pages[9], 320)]) {
        browser.size(width, 1000);
        browser.go(page);
        for line in axe::findings(&browser, &["serious", "critical"]) {
            wrong.push(format!("{width} {page}: {line}"));
        }
    }
    // What a customer sees: the page that tells a reviewer the link, what the link opens in a browser
    // of somebody else, and what it opens once it was revoked.
    browser.size(1600, 1000);
    browser.go(&survey);
    browser.click(".hazards .read button");
    browser.until("return !!document.querySelector('#links form.line button')");
    browser.click("#links form.line button");
    browser.until("return !!document.getElementById('link')");
    let mut look = |browser: &Browser, what: &str| {
        for line in axe::findings(browser, &["serious", "critical"]) {
            wrong.push(format!("{what}: {line}"));
        }
    };
    look(&browser, "a link that was made");
    let link = browser.run("return document.getElementById('link').textContent");
    let customer = Browser::open(true).unwrap();
    for width in [1600, 320] {
        customer.size(width, 1000);
        customer.go(link.as_str().unwrap());
        customer.until("return location.pathname.endsWith('/papers/assessment.html')");
        look(&customer, "what a customer's link opens");
    }
    customer.picture(&pictures().join("customer-320.png"));
    browser.go(&survey);
    browser.click("#links .links button");
    browser.until("return document.querySelector('#links .links').textContent.includes('revoked')");
    customer.go(link.as_str().unwrap());
    customer.until("return document.querySelector('h1').textContent === 'Not here'");
    look(&customer, "a link that was revoked");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    println!(
        "axe-core: nothing serious or critical on {} pages, four of them also at 320 px",
        pages.len() + 3
    );
}
