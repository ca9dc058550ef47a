//! Everything the office does, in a browser whose script is switched off: links and forms alone
//! read and post the same.

use crate::page_browser::{Demo, open_survey, origin, session_of};
use crate::webdriver::Browser;

/// A browser without the script, signed in, at a running demo's survey.
struct Plain {
    browser: Browser,
    address: String,
    _demo: (Demo, tempfile::TempDir),
}

impl Plain {
    fn open() -> Option<Self> {
        let (scripted, browser) = (Browser::open(true)?, Browser::open(false)?);
        let out = tempfile::tempdir().unwrap();
        let demo = Demo::start(out.path());
        let address = open_survey(&scripted, &demo);
        // A one-time link opens once; the session goes over as its cookie.
        browser.go(&format!("{}/sign-in", origin(&address)));
        browser.cookie(&session_of(&scripted));
        browser.size(1600, 1000);
        Some(Self {
            browser,
            address,
            _demo: (demo, out),
        })
    }

    fn home(&self) -> &str {
        origin(&self.address)
    }

    /// Opens what follows the survey's address.
    fn at(&self, rest: &str) -> &Self {
        self.browser.go(&format!("{}{rest}", self.address));
        self
    }

    /// Waits until something is there: a page may still be on its way.
    #[track_caller]
    fn there(&self, css: &str) -> &Self {
        let soon = (0..100).any(|_| {
            self.browser.has(css) || {
                std::thread::sleep(std::time::Duration::from_millis(100));
                false
            }
        });
        assert!(soon, "never there: {css}");
        self
    }

    #[track_caller]
    fn click(&self, css: &str) -> &Self {
        self.there(css).browser.click(css);
        self
    }

    fn fill(&self, css: &str, words: &str) -> &Self {
        self.there(css).browser.type_into(css, words);
        self
    }

    #[track_caller]
    fn says(&self, words: &str) -> &Self {
        self.browser.until_text(words, |text| text.contains(words));
        self
    }
}

#[test]
fn the_office_reads_and_posts_everything_without_the_script() {
    let Some(plain) = Plain::open() else {
        return;
    };
    reading(&plain);
    settling(&plain);
    photos_and_history(&plain);
    prices(&plain);
    sending(&plain);
    surveys(&plain);
    own_account(&plain);
}

fn reading(plain: &Plain) {
    plain.at("").click(".plan a[data-unit=RTU-2]");
    plain
        .says("RTU-2 packaged rooftop unit")
        .says("Who entered what");
    plain
        .click("#unit a[rel=next]")
        .click("#unit .around a:not([rel])");
    plain.says("Choose one on the plan or here.");
    for (part, words) in [
        ("settle", "To settle"),
        ("checks", "Could not be made"),
        ("register", "Equipment register"),
        ("findings", "Findings"),
        ("photos", "Photos"),
        ("notes", "tech-"),
        ("missing", "To fetch"),
        ("quote", "Price"),
        ("limits", "Not checked"),
    ] {
        plain.at(&format!("?all={part}")).says(words);
        plain.says("Back to the whole survey");
    }
    plain.at("/papers/assessment.html");
    plain.browser.go(&format!("{}/", plain.home()));
    plain.fill("#q", "RTU-2").click("[role=search] button");
    plain.says("Show all");
    plain.browser.go(&format!("{}/nowhere", plain.home()));
    plain.says("Not here").says("All surveys");
}

fn settling(plain: &Plain) {
    plain
        .at("")
        .says("Nothing can be sent before")
        .click(".hazards .read button");
    plain.at("#papers").says("Every hazard was read by name");
    // A value of one's own, a unit's field mended, and both taken back.
    plain.at("").fill(".slip .typed input[name=value]", "12");
    plain
        .click(".slip .typed button")
        .says("settled by reviewer");
    plain.click("#done button").says("Took back");
    plain
        .at("?unit=RTU-2#unit")
        .click("#unit .plate details summary");
    plain.fill("#unit .plate details[open] input[name=value]", "208");
    plain.click("#unit .plate details[open] .typed button");
    plain
        .says("RTU-2 nameplate")
        .click("#done button")
        .says("Took back");
    // A photo's subject, and fields that were missing.
    plain
        .at("?all=settle")
        .fill("[id^=settle-p] input[name=value]", "site");
    plain
        .click("[id^=settle-p] .typed button")
        .says("shows site");
    plain
        .at("?all=settle")
        .click("[id^=settle-m] form:last-child button");
    plain.says("for the next visit");
}

fn photos_and_history(plain: &Plain) {
    plain.at("?all=photos").click(".grid a[href*='/photos/']");
    plain.click(".tools form:nth-child(2) button");
    plain.there(".frame.turn-90");
    plain.fill("input[id^=caption]", " (seen)");
    plain
        .click("form:has(input[id^=caption]) button")
        .says("(seen)");
    plain
        .click("form[method=get][action*='/photos/'] button")
        .says("This one alone");
    plain.click("a[rel=next]").says("2 of ");
    plain.at("/history?unit=RTU-2").says("who entered what");
    plain.click(".steps form button").says("as it is now");
}

fn prices(plain: &Plain) {
    plain.at("/price").says("By the office");
    plain
        .fill("input[name=technician]", "\u{e009}a\u{e000}99.50")
        .click("button[value=try]");
    plain.says("Tried out").click("button[value=keep]");
    plain.says("kept for this survey alone");
    plain.fill("#title", "as offered");
    plain
        .click("button[value=lock]")
        .says("Locked: \u{201c}as offered\u{201d}");
    plain
        .at("/price")
        .click("button[value=office]")
        .says("By the office");
    plain
        .click("#versions a[href*='other=now']")
        .says("as offered");
    plain
        .at("/price")
        .click("#book summary")
        .click("button[value=try-book]");
    plain.says("Tried out");
}

fn sending(plain: &Plain) {
    // What was settled since may have changed a hazard; then it is to be read again.
    plain.at("");
    if plain
        .browser
        .text()
        .contains("Papers are sent only after that")
    {
        plain.click(".hazards .read button");
    }
    plain
        .at("")
        .click("#links form.line button")
        .says("A link for the customer");
    let told = plain.browser.text();
    let link = told.lines().find(|line| line.starts_with("http")).unwrap();
    let away = Browser::open(false).unwrap();
    away.go(link);
    away.find("section.plan svg");
    plain
        .at("")
        .click("#links .links button")
        .says("revoked on");
    away.go(link);
    away.until_text("that the link has ended", |text| {
        text.contains("ask whoever sent it")
    });
}

fn surveys(plain: &Plain) {
    plain
        .at("")
        .click("#next-visit button")
        .says("No photo was taken yet");
}

fn own_account(plain: &Plain) {
    let password = "seven lamps under rain";
    plain.browser.go(&format!("{}/", plain.home()));
    plain
        .fill("#name", "Icehouse")
        .click("form.begin button")
        .says("Icehouse");
    plain.browser.go(&format!("{}/account", plain.home()));
    plain.fill("input[name=password]", password);
    plain.fill("input[name=password_again]", password);
    plain
        .click("main form button")
        .says("The new password holds");
    plain.click("header form button").says("By a one-time link");
    plain.fill("input[name=name]", "reviewer");
    plain.fill("input[name=firm]", "\u{e009}a\u{e000}demo");
    plain.fill("input[name=password]", password);
    plain.click("main form button").says("Surveys");
}
