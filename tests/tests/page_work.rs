//! The office's work on one survey in a real browser, part by part on the demo's real server:
//! hazards, papers, history, what is hard to believe, price, photos, search. Pictures go to
//! `target/page-look`.

use crate::page_browser::{STICKS_OUT, at_survey, origin, pictures};
use crate::webdriver::Browser;
use serde_json::{Value, json};

/// Posts a form of the page's own, without its button; the status.
fn post(browser: &Browser, path: &str, fields: &[(&str, &str)]) -> u64 {
    let fields: Vec<Value> = fields.iter().map(|(k, v)| json!([k, v])).collect();
    let script = format!(
        "const csrf = document.querySelector('input[name=csrf]').value; \
         const body = new URLSearchParams({}); body.set('csrf', csrf); \
         return fetch({}, {{method: 'post', body}}).then(r => r.status)",
        Value::from(fields),
        json!(path)
    );
    browser.run(&script).as_u64().unwrap()
}

fn status(browser: &Browser, path: &str) -> u64 {
    let script = format!("return fetch({}).then(r => r.status)", json!(path));
    browser.run(&script).as_u64().unwrap()
}

fn says(browser: &Browser, css: &str, words: &str) {
    browser.until(&format!(
        "return document.querySelector({})?.textContent.includes({}) ?? false",
        json!(css),
        json!(words)
    ));
}

/// Nothing sticks out at any width that people use, among them twice the size on a small screen.
fn fits(browser: &Browser, name: &str) {
    for width in [320, 512, 1600] {
        browser.size(width, 1000);
        browser.picture(&pictures().join(format!("{name}-{width}.png")));
        assert_eq!(browser.run(STICKS_OUT), json!([]), "{name} at {width} px");
    }
}

#[test]
fn the_office_works_a_survey_through_and_sends_it() {
    let Some((browser, _running, address)) = at_survey() else {
        return;
    };
    let base = address.strip_prefix(origin(&address)).unwrap().to_owned();
    let at = |rest: &str| format!("{base}{rest}");

    hazards_come_before_papers(&browser, &at);
    what_is_hard_to_believe_is_asked_once(&browser, &address, &at);
    an_earlier_value_comes_back_as_a_new_edit(&browser, &address, &at);
    a_price_is_tried_kept_locked_and_compared(&browser, &address);
    a_photo_is_turned_and_captioned(&browser, &address);
    links_end(&browser, &address, &at);
    the_list_finds_a_piece_of_a_serial_number(&browser, origin(&address));
    the_next_visit_is_begun_and_gone_to(&browser, &address);
}

fn hazards_come_before_papers(browser: &Browser, at: &dyn Fn(&str) -> String) {
    let letter = at("/papers/letter.eml?from=ada@office.example");
    let links = at("/links");
    assert_eq!(status(browser, &letter), 409);
    assert_eq!(status(browser, &at("/papers/assessment.pdf")), 409);
    assert_eq!(post(browser, &links, &[("days", "7")]), 409);
    says(browser, "#papers", "Nothing can be sent before");
    browser.click(".hazards .read button");
    says(browser, "#read-hazards summary", "read by reviewer");
    browser.until("return document.activeElement.id === 'hazards-t'");
    browser.picture(&pictures().join("read.png"));
    // On paper they stand open again, with the caution.
    let media = |name: &str| json!({"media": name});
    browser.devtools("Emulation.setEmulatedMedia", &media("print"));
    let printed = "const r = document.querySelector('#read-hazards ol').getBoundingClientRect(); \
         return r.height > 100 && getComputedStyle(document.querySelector('.answers button')).display === 'none'";
    browser.until(printed);
    browser.devtools("Emulation.setEmulatedMedia", &media(""));
    let draft = format!("return fetch({}).then(r => r.text())", json!(letter));
    let draft = browser.run(&draft);
    let draft = draft.as_str().unwrap();
    assert!(draft.contains("X-Unsent: 1") && draft.contains("assessment.pdf"));
}

fn what_is_hard_to_believe_is_asked_once(
    browser: &Browser,
    address: &str,
    at: &dyn Fn(&str) -> String,
) {
    let year = [
        ("choice", "set"),
        ("about", "RTU-2"),
        ("field", "nameplate.manufactured_year"),
        ("value", "2044"),
    ];
    assert_eq!(post(browser, &at("/settle"), &year), 200);
    browser.go(&format!("{address}?all=settle"));
    let slip = "li[id^=settle-o-RTU-2]";
    says(browser, slip, "2044, after the visit in 2026");
    browser.click(&format!("{slip} .answers button"));
    browser.until(&format!("return !document.querySelector('{slip}')"));
    browser.click("#done button");
    says(browser, slip, "2044");
    // Several values at once are taken back at once.
    browser.type_into(&format!("{slip} .gaps input"), "2004");
    browser.press("\u{e007}");
    browser.until(&format!("return !document.querySelector('{slip}')"));
    says(browser, "#done", "2004");
}

fn an_earlier_value_comes_back_as_a_new_edit(
    browser: &Browser,
    address: &str,
    at: &dyn Fn(&str) -> String,
) {
    browser.go(&format!("{address}?unit=RTU-2#unit"));
    says(browser, "#unit", "2004");
    browser.click("#unit a[href*=history]");
    says(browser, "main", "2044");
    fits(browser, "history");
    browser.size(1600, 1000);
    let bring =
        "[...document.querySelectorAll('.steps li')].find(li => li.textContent.includes('2044'))";
    says(browser, ".steps", "reviewer, ");
    browser.run(&format!(
        "{bring}.querySelector('button').click(); return true"
    ));
    browser.until(&format!(
        "return document.readyState === 'complete' && {bring}?.textContent.includes('as it is now')"
    ));
    assert_eq!(
        browser.run("return location.pathname"),
        json!(at("/history"))
    );
}

fn a_price_is_tried_kept_locked_and_compared(browser: &Browser, address: &str) {
    let likely = "document.querySelector('#figures .likely dd').textContent";
    let is_not = |value: &Value| format!("return {likely} !== {value}");
    browser.go(&format!("{address}/price"));
    let before = browser.run(&format!("return {likely}"));
    let rate = "document.querySelector('input[name=technician]')";
    browser.run(&format!("{rate}.select(); return true"));
    browser.type_into("input[name=technician]", "\u{e009}a\u{e000}99.50");
    browser.until(&is_not(&before));
    says(browser, "#figures", "Other than the office's");
    let tried = browser.run(&format!("return {likely}"));
    fits(browser, "price");
    browser.size(1600, 1000);
    browser.click("button[value=keep]");
    says(browser, ".lead", "kept for this survey");
    assert_eq!(browser.run(&format!("return {likely}")), tried);
    browser.type_into("#title", "as offered");
    browser.press("\u{e007}");
    says(browser, ".lead", "Locked");
    assert_eq!(browser.run(&format!("return {likely}")), tried);
    browser.go(&format!("{address}/price"));
    browser.click("button[value=office]");
    says(browser, ".lead", "By the office's rates");
    assert_eq!(browser.run(&format!("return {likely}")), before);
    browser.click("a[href*='other=now']");
    says(browser, "table", "as offered");
    let row = browser.run("return [...document.querySelectorAll('tbody tr')].map(r => r.textContent).find(t => t.startsWith('A year, likely'))");
    let row = row.as_str().unwrap();
    assert!(
        row.contains(tried.as_str().unwrap()) && row.contains(before.as_str().unwrap()),
        "{row}"
    );
    browser.picture(&pictures().join("compare.png"));
    // A rate book that cannot be used is named by its line, and stays to be mended.
    browser.go(&format!("{address}/price"));
    browser.run("document.getElementById('book').open = true; const t = document.getElementById('toml'); \
                 t.value = t.value.replace('technician_cents_per_hour', 'technican_cents_per_hour'); return true");
    browser.click("button[value=keep-book]");
    says(browser, ".wrong", "line ");
    says(browser, "#toml", "technican_cents_per_hour");
}

fn a_photo_is_turned_and_captioned(browser: &Browser, address: &str) {
    browser.go(&format!("{address}?all=photos"));
    browser.click(".grid a[href*='/photos/']");
    browser.until("return !!document.querySelector('.whole img')?.complete");
    fits(browser, "photo");
    browser.size(1600, 1000);
    browser.click(".tools form:nth-child(2) button");
    browser.until("return !!document.querySelector('.frame.turn-90')");
    browser.run("document.querySelector('input[id^=caption]').value = ''; return true");
    browser.type_into("input[id^=caption]", "Plate, wiped clean");
    browser.press("\u{e007}");
    says(browser, "h1", "Plate, wiped clean");
    let here = browser.run("return location.pathname");
    browser.click("form[action*='/photos/'][method=get] button");
    browser.until("return document.querySelectorAll('.large figure').length === 2");
    browser.picture(&pictures().join("two-photos.png"));
    browser.run("document.body.focus(); return true");
    browser.press("\u{e014}");
    browser.until(&format!("return location.pathname !== {here}"));
}

fn links_end(browser: &Browser, address: &str, at: &dyn Fn(&str) -> String) {
    browser.go(address);
    // The hazards are as they were read, whatever else was entered since.
    let unread = "return !!document.querySelector('.hazards .read')";
    if browser.run(unread) == json!(true) {
        browser.click(".hazards .read button");
        browser.until("return !document.querySelector('.hazards .read')");
    }
    assert_eq!(post(browser, &at("/links"), &[("days", "3650")]), 400);
    browser.run("document.getElementById('days').value = '7'; return true");
    browser.click("#links form.line button");
    says(browser, "main", "for 7 days");
    let link = browser.run("return document.getElementById('link').textContent");
    let link = link.as_str().unwrap().to_owned();
    let path = link.strip_prefix(origin(address)).unwrap();
    let asked = format!(
        "return fetch({}, {{redirect: 'manual', credentials: 'omit'}}).then(r => r.type)",
        json!(path)
    );
    assert_eq!(browser.run(&asked), json!("opaqueredirect"));
    browser.go(address);
    browser.picture(&pictures().join("send.png"));
    browser.click("#links .links button");
    says(browser, "#links .links", "revoked");
    assert_eq!(browser.run(&asked), json!("basic"));
}

fn the_list_finds_a_piece_of_a_serial_number(browser: &Browser, home: &str) {
    browser.go(home);
    let list = browser.text();
    assert!(
        list.contains("to settle") && list.contains("all read"),
        "{list}"
    );
    fits(browser, "list");
    browser.size(1600, 1000);
    browser.type_into("#q", "wiped clean");
    browser.press("\u{e007}");
    says(browser, ".hit", "Plate, wiped clean");
    browser.go(&format!("{home}/?q=zebra+quartz"));
    says(browser, "main", "Show all surveys");
}

fn the_next_visit_is_begun_and_gone_to(browser: &Browser, address: &str) {
    browser.go(address);
    let here = browser.run("return location.pathname");
    browser.click("#next-visit button");
    browser.until(&format!(
        "return location.pathname.startsWith('/surveys/') && location.pathname !== {here}"
    ));
    browser.until("return !!document.getElementById('roof')");
}

/// Presses, by its number, the first of these buttons that the item in hand has; what the item
/// asked, or nothing if it has none of them.
fn answer_by_key(browser: &Browser, wanted: &[&str]) -> Option<String> {
    let found = browser.run(&format!(
        "const slip = document.activeElement.closest('.slip'); \
         const all = [...slip.querySelectorAll('button')].filter(b => b.offsetParent).map(b => b.textContent); \
         const at = {}.map(words => all.findIndex(text => text.startsWith(words))).find(n => n >= 0) ?? -1; \
         return [slip.querySelector('.kind').textContent, at]",
        json!(wanted)
    ));
    let at = found[1].as_i64().unwrap();
    (at >= 0).then(|| {
        browser.press(&(at + 1).to_string());
        found[0].as_str().unwrap().to_owned()
    })
}

#[test]
fn a_stranger_clears_the_queue_by_keyboard_and_sends_the_papers() {
    let Some((browser, _running, address)) = at_survey() else {
        return;
    };
    let base = address.strip_prefix(origin(&address)).unwrap();
    let waits = "return document.querySelectorAll('.slip').length";
    browser.run("document.getElementById('settle-t').focus(); return true");
    browser.press("n");
    let answers = [
        "It is right as it stands",
        "Leave",
        "Accept",
        "Use ",
        "Two units",
    ];
    let mut asked = std::collections::BTreeMap::<String, usize>::new();
    while browser.run(waits) != json!(0) {
        browser.until("return !!document.activeElement.closest('.slip')");
        let item = browser.run("return document.activeElement.closest('.slip').id");
        let kind = answer_by_key(&browser, &answers).unwrap_or_else(|| {
            // A photo of nobody knows what: its field is the next stop but for the photo itself.
            browser.press("\u{e004}\u{e004}site\u{e007}");
            "Photo of what?".to_owned()
        });
        browser.until(&format!("return !document.getElementById({item})"));
        *asked.entry(kind).or_default() += 1;
        assert!(asked.values().sum::<usize>() < 200, "{asked:?}");
    }
    println!("settled by keyboard: {asked:?}");
    assert!(asked.len() > 3, "{asked:?}");
    says(&browser, "#settle", "Nothing waits for you");
    browser.sight(&pictures().join("cleared.png"));
    // What comes next is said where the papers are, and leads there.
    says(&browser, "#papers .before", "Nothing can be sent before");
    browser.run("document.querySelector('.before a').focus(); return true");
    browser.press("\u{e007}");
    browser.run("document.querySelector('.hazards .read button').focus(); return true");
    browser.press("\u{e007}");
    says(&browser, "#papers .before", "Every hazard was read by name");
    says(&browser, "#papers .before", "Nothing waits to be settled");
    for paper in ["assessment.pdf", "letter.eml?from=ada@office.example"] {
        assert_eq!(status(&browser, &format!("{base}/papers/{paper}")), 200);
    }
    browser.run("document.querySelector('#links form.line button').focus(); return true");
    browser.press("\u{e007}");
    says(&browser, "main", "A link for the customer");
}
