//! How quick the page of 500 units and 1,000 photos is, measured in the browser on a real server
//! and printed. No time is asserted, so this runs only when asked for:
//!
//! `cargo test --release -p scupper-tests --test all page_speed -- --ignored --nocapture`

use crate::page_kit::Sample;
use crate::server_kit::{Server, admit, device, level, photo, send_next};
use crate::webdriver::Browser;
use scupper_core::capture::PhotoAbout;
use scupper_server::client::Client;
use serde_json::Value;

/// Milliseconds in the page from an act until something is there; the middle one of several.
fn until(browser: &Browser, act: &str, there: &str) -> f64 {
    let script = format!(
        "return new Promise(done => {{ const from = performance.now(); {act}; \
           const look = () => ({there}) ? done(performance.now() - from) : setTimeout(look, 2); look(); }})"
    );
    browser.run(&script).as_f64().unwrap()
}

fn middle(mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    all[all.len() / 2]
}

#[test]
#[ignore = "prints figures and asserts none; see the top of the file"]
fn five_hundred_units_and_a_thousand_photos_in_the_browser() {
    let Some(browser) = Browser::open(true) else {
        return;
    };
    let data = tempfile::tempdir().unwrap();
    let server = Server::start(data.path());
    let code = admit(data.path(), "tech-1");
    let (client, _) = Client::enrol(&server.base, &code, "phone-a", "phone").unwrap();
    let home = tempfile::tempdir().unwrap();
    let mut day = device(home.path(), "phone-a", "tech-1", 5);
    let id = day.create_survey("A long roof").unwrap();
    let mut survey = Sample::huge().survey;
    survey.survey_id.clone_from(&id);
    survey.photos.clear();
    day.import(&id, &survey).unwrap();
    for n in 0..1000_usize {
        let about = PhotoAbout {
            about: Some(survey.equipment[n / 2].tag.clone()),
            caption: Some(format!("Photo {n}")),
            ..PhotoAbout::default()
        };
        let bytes = photo(&format!("speed {n}"), 0);
        day.take_photo(&id, &bytes, about).unwrap();
    }
    level(&mut day, &client, &id).unwrap();
    while send_next(&mut day, &client).unwrap().is_some() {}

    browser.size(1600, 1000);
    browser.go(&server.link);
    let page = format!("{}/surveys/{id}", server.base);
    browser.go(&page);
    for name in ["first", "again"] {
        browser.go(&page);
        let view = browser.run(
            "return new Promise(done => setTimeout(() => { \
               const t = performance.getEntriesByType('navigation')[0]; \
               const all = performance.getEntriesByType('resource').filter(r => !r.name.includes('/v1/photos/') && !r.name.includes('plan.svg')); \
               const bytes = all.reduce((n, r) => n + r.encodedBodySize, t.encodedBodySize); \
               const paint = performance.getEntriesByName('first-contentful-paint')[0]; \
               done([Math.round(t.responseEnd), Math.round(t.domContentLoadedEventEnd), Math.round(paint?.startTime ?? -1), bytes]); }, 1500))",
        );
        let view: Vec<i64> = view
            .as_array()
            .unwrap()
            .iter()
            .filter_map(Value::as_i64)
            .collect();
        println!(
            "{name} view: answer whole after {} ms, ready after {} ms, first paint after {} ms, {} bytes before photos and plan",
            view[0], view[1], view[2], view[3]
        );
    }
    browser.until("return !!document.querySelector('.plan a[data-unit]')");
    let mut opened = Vec::new();
    for n in [3, 40, 111, 250, 499] {
        let act = format!(
            "const a = document.querySelectorAll('.plan a[data-unit]')[{n}]; const tag = a.dataset.unit; a.dispatchEvent(new MouseEvent('click', {{bubbles: true, cancelable: true}}))"
        );
        opened.push(until(
            &browser,
            &act,
            "document.getElementById('unit-t')?.textContent.startsWith(tag)",
        ));
    }
    println!("a unit opens beside the plan: {:.0} ms", middle(opened));
    let mut settled = Vec::new();
    for _ in 0..5 {
        browser.run("document.querySelector('.slip').focus(); return true");
        let act = "const slip = document.querySelector('.slip'); const id = slip.id; slip.querySelector('button').click()";
        settled.push(until(&browser, act, "!document.getElementById(id)"));
        browser.run("return new Promise(done => setTimeout(() => done(true), 3000))");
    }
    println!(
        "an answer in the queue, until the next question: {:.0} ms",
        middle(settled)
    );
    browser.go(&format!("{}/?q=speed", server.base));
    browser.go(&format!("{}/?q=serial", server.base));
    let found = browser.run(
        "return Math.round(performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd)",
    );
    println!("a search: {found} ms");
    browser.go(&format!("{page}?all=photos"));
    let frames = browser.run(
        "return new Promise(done => { const gaps = []; let last = performance.now(); let n = 0; \
           const step = now => { gaps.push(now - last); last = now; scrollBy(0, 400); \
             if (++n < 120) requestAnimationFrame(step); else { gaps.shift(); gaps.sort((a, b) => a - b); \
               done([gaps[Math.floor(gaps.length / 2)], gaps[Math.floor(gaps.length * 0.95)], gaps[gaps.length - 1], document.querySelectorAll('.grid img').length]); } }; \
           requestAnimationFrame(step); })",
    );
    println!("scrolling the grid, ms a frame (middle, 19 of 20, longest), photos: {frames}");
}
