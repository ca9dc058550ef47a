//! What any page must keep, on a survey whose every text field holds markup.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::forms::Choice;
use super::*;
use crate::accounts::{Settled, Version};
use scupper_core::assess::{AssessOptions, Assessment, OddValue, assess, odd_values};
use scupper_core::document::{Candidate, Conflict, HistoryStep, Means, SameUnitOffer};
use scupper_core::quote::{Quote, RateBook, quote};
use scupper_core::survey::{InputError, Photo, Survey, read};
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet};

/// Typed, spoken or named by someone who means no good.
const EVIL: &str = "<script>alert('x')</script>\"><img src=x onerror=alert(1)>";

fn evil_survey() -> Survey {
    let origin = json!({"author": EVIL, "at": "2026-04-14T08:00:00-08:00", "note_id": "n-1",
        "evidence": {"segment": 0, "start": 0, "end": 8}, "needs_confirmation": EVIL});
    let with = |mut entry: serde_json::Value| {
        let fields = origin.as_object().unwrap().clone();
        entry.as_object_mut().unwrap().extend(fields);
        entry
    };
    let survey = json!({
        "survey_id": EVIL,
        "surveyed_on": "2026-04-14",
        "site": {"name": EVIL, "address": EVIL, "water_source": EVIL, "access": EVIL,
                 "roof": {"height_ft": 22, "membrane": EVIL,
                          "outline_ft": [[0,0],[60,0],[60,40],[0,40]]}},
        "equipment": [
            {"id": "u-1", "tag": EVIL, "kind": "packaged_rooftop_unit", "at_ft": [4, 4],
             "nameplate": {"make": EVIL, "model": EVIL, "serial": EVIL, "refrigerant": EVIL,
                           "mca_a": 24},
             "disconnect": {"rating_a": 15},
             "belts": [{"designation": EVIL, "quantity": 1}]},
            {"id": "u-2", "tag": EVIL, "kind": "exhaust_fan"}],
        "findings": [with(json!({"id": "f-1", "ref": EVIL, "component": "belt",
            "condition": "cracked", "severity": "danger", "remark": EVIL}))],
        "hazards": [with(json!({"id": "h-1", "kind": "trip", "ref": EVIL, "remark": EVIL}))],
        "follow_ups": [with(json!({"id": "fu-1", "ref": EVIL, "about": EVIL}))],
        "drafts": [
            with(json!({"id": "d-1", "ref": EVIL, "field": "nameplate.model", "value": EVIL})),
            with(json!({"id": "d-2", "ref": EVIL, "field": EVIL, "value": EVIL}))],
        "notes": [{"id": "n-1", "author": EVIL, "recorded_at": "2026-04-14T08:00:00-08:00",
                   "segments": [{"text": format!("{EVIL} and more")}]}],
        "photos": [{"id": "p-1", "hash": EVIL, "author": EVIL, "caption": EVIL},
                   {"id": "p-2", "hash": "ab", "ref": EVIL, "caption": EVIL}]
    });
    read::from_json(&survey.to_string()).unwrap()
}

struct Whole {
    survey: Survey,
    assessment: Assessment,
    quote: Quote,
    contested: Vec<Conflict>,
    offers: Vec<SameUnitOffer>,
    settled: Vec<Settled>,
    people: BTreeMap<String, String>,
    arrived: BTreeSet<String>,
    problems: Vec<String>,
    odd: Vec<OddValue>,
}

impl Whole {
    fn evil() -> Self {
        let survey = evil_survey();
        let assessment = assess(&survey, &AssessOptions::default());
        let candidate = |value: &str| Candidate {
            value: json!(value),
            current: true,
            stamp: None,
            means: Means::Dictated,
            entry: EVIL.to_owned(),
        };
        Self {
            quote: quote(&survey, &assessment, &RateBook::builtin_example()),
            contested: vec![Conflict {
                about: EVIL.to_owned(),
                table: "equipment".to_owned(),
                entry: "u-1".to_owned(),
                field: "nameplate.serial".to_owned(),
                candidates: vec![candidate(EVIL), candidate("other")],
            }],
            offers: vec![SameUnitOffer {
                keep: "u-1".to_owned(),
                other: "u-2".to_owned(),
                tags: vec![EVIL.to_owned(), EVIL.to_owned()],
                because: vec![EVIL.to_owned()],
            }],
            settled: vec![Settled {
                seq: 4,
                who: EVIL.to_owned(),
                said: EVIL.to_owned(),
                undoable: true,
                undone: false,
            }],
            people: BTreeMap::from([(EVIL.to_owned(), format!("{EVIL} by name"))]),
            arrived: BTreeSet::from([EVIL.to_owned(), "ab".to_owned()]),
            problems: vec![EVIL.to_owned()],
            odd: vec![OddValue {
                about: EVIL.to_owned(),
                id: "u-1".to_owned(),
                fields: vec!["disconnect.rating_a".to_owned()],
                because: EVIL.to_owned(),
            }],
            survey,
            assessment,
        }
    }

    fn view(&self) -> SurveyView<'_> {
        let session = Session {
            name: EVIL,
            csrf: Some("key-1"),
        };
        SurveyView {
            quote: Some(&self.quote),
            contested: &self.contested,
            offers: &self.offers,
            settled: &self.settled,
            people: &self.people,
            arrived: &self.arrived,
            problems: &self.problems,
            odd: &self.odd,
            papers: &[Paper {
                href: "/surveys/s/papers/assessment.html",
                words: "Assessment",
            }],
            ..SurveyView::new(&self.survey, &self.assessment, session)
        }
    }

    /// Every page that there is of a survey.
    fn pages(&self) -> Vec<String> {
        let parts = Part::ALL.iter().map(|part| Asked {
            all: Some(*part),
            ..Asked::default()
        });
        let units = [None, Some(EVIL), Some("u-2"), Some("site"), Some("gone")];
        let asked = units.map(|unit| Asked {
            unit,
            ..Asked::default()
        });
        asked
            .into_iter()
            .chain(parts)
            .map(|asked| {
                let view = SurveyView {
                    asked,
                    ..self.view()
                };
                survey(&view).into_string()
            })
            .collect()
    }

    /// The pages beside that of the survey: history, price, two prices, a photo.
    fn others(&self) -> Vec<String> {
        let session = self.view().session;
        let step = |value: &str| {
            let step = HistoryStep {
                value: json!(value),
                stamp: None,
                means: Means::Typed,
                change: String::new(),
            };
            (EVIL.to_owned(), step)
        };
        let book = RateBook::builtin_example();
        let version = Version {
            seq: 3,
            at: 0,
            who: EVIL.to_owned(),
            title: EVIL.to_owned(),
            heads: String::new(),
            as_of: String::new(),
            book: String::new(),
            programme: None,
            figures: String::new(),
        };
        let error = InputError::at(EVIL, EVIL);
        let price = |standing: Standing<'_>| {
            price(&PriceView {
                session,
                survey: EVIL,
                name: EVIL,
                book: &book,
                quote: &self.quote,
                office: &book,
                by_office: &self.quote,
                standing,
                versions: std::slice::from_ref(&version),
                error: Some(&error),
                toml: Some(EVIL),
                typed: &[("technician".to_owned(), EVIL.to_owned())],
                live: Live {
                    href: "/v1/surveys/s/events",
                    heads: "",
                    office: 0,
                },
            })
        };
        let side = Side {
            title: EVIL,
            book: &book,
            quote: &self.quote,
            units: &[EVIL],
            holds: false,
        };
        let photos = in_order(&self.survey);
        let pages = [
            history(&HistoryView {
                session,
                survey: EVIL,
                title: EVIL,
                about: EVIL,
                steps: &[step(EVIL), step("other")],
                now: &BTreeMap::new(),
                people: &self.people,
            }),
            price(Standing::Office),
            price(Standing::Locked(&version, false)),
            compare(session, EVIL, &side, &side),
            picture(&PictureView {
                session,
                survey: &self.survey,
                photos: &photos,
                at: 0,
                beside: photos.get(1).copied(),
                arrived: &self.arrived,
                bare: &BTreeSet::new(),
                people: &self.people,
            })
            .unwrap(),
        ];
        pages.into_iter().map(maud::Markup::into_string).collect()
    }
}

/// The start tags of a page, each with its attributes as written.
fn tags(page: &str) -> impl Iterator<Item = &str> {
    page.split('<')
        .skip(1)
        .filter(|tag| tag.starts_with(|c: char| c.is_ascii_alphabetic()))
        .map(|tag| tag.split_once('>').map_or(tag, |(tag, _)| tag))
}

fn attribute<'t>(tag: &'t str, name: &str) -> Option<&'t str> {
    let (_, after) = tag.split_once(&format!(" {name}=\""))?;
    after.split_once('"').map(|(value, _)| value)
}

#[test]
fn what_people_type_stays_text_and_nothing_runs_inline() {
    let evil = Whole::evil();
    for page in evil.pages().into_iter().chain(evil.others()) {
        assert_eq!(
            page.matches("<script").count(),
            1,
            "only the module of every page"
        );
        assert!(page.contains("<script type=\"module\" src=\"/assets/page.js\"></script>"));
        assert!(!page.contains("<img src=x"), "an image came out of a text");
        for tag in tags(&page) {
            assert!(attribute(tag, "style").is_none(), "inline style: {tag}");
            assert!(attribute(tag, "onerror").is_none(), "inline handler: {tag}");
            let target = attribute(tag, "href").or(attribute(tag, "action"));
            let outside =
                target.is_some_and(|to| !to.starts_with(['/', '#', '?']) && to != "data:,");
            assert!(!outside, "leads outside: {tag}");
        }
    }
}

#[test]
fn every_form_is_complete_without_the_script() {
    for page in Whole::evil().pages() {
        for form in page.split("<form").skip(1) {
            let form = form.split("</form>").next().unwrap();
            if !form.contains("method=\"post\"") || form.contains("/sign-out") {
                continue;
            }
            assert!(form.contains("<button"), "no button: {form}");
            assert!(form.contains("name=\"csrf\" value=\"key-1\""));
            let other = ["/links", "/next-visit", "/hazards\""];
            if other.iter().any(|address| form.contains(address)) {
                continue;
            }
            let mut fields: Vec<(String, String)> = Vec::new();
            for tag in tags(form) {
                let Some(name) = attribute(tag, "name") else {
                    continue;
                };
                let plain = |text: &str| {
                    let text = text.replace("&lt;", "<").replace("&gt;", ">");
                    text.replace("&quot;", "\"").replace("&amp;", "&")
                };
                // What a person would type; a select offers yes and no.
                let typed = if tag.starts_with("select") {
                    "no"
                } else {
                    typed_into(&plain(name), &fields)
                };
                let value = attribute(tag, "value").map_or(typed.to_owned(), plain);
                fields.push((plain(name), value));
            }
            Choice::read(&fields).unwrap_or_else(|error| panic!("{error}: {fields:?}"));
        }
    }
}

/// Something that fits the field that an input is for.
fn typed_into(name: &str, before: &[(String, String)]) -> &'static str {
    let field = name.strip_prefix("value:").or_else(|| {
        let field = before.iter().find(|(key, _)| key == "field");
        field.map(|(_, field)| field.as_str())
    });
    match field.map(forms::Sort::of) {
        Some(forms::Sort::YesOrNo) => "no",
        Some(forms::Sort::Filters) => "4 of 20 x 25 x 2",
        Some(forms::Sort::Belts) => "2 of A42",
        Some(forms::Sort::Sides) => "N, E",
        _ => "24",
    }
}

#[test]
fn ids_are_unique_and_every_reference_within_the_page_has_its_target() {
    let evil = Whole::evil();
    for page in evil.pages().into_iter().chain(evil.others()) {
        let mut ids = BTreeSet::new();
        for tag in tags(&page) {
            if let Some(id) = attribute(tag, "id") {
                assert!(ids.insert(id), "two elements have the id {id}");
            }
        }
        for tag in tags(&page) {
            for name in ["aria-labelledby", "aria-describedby", "for", "list"] {
                let target = attribute(tag, name);
                assert!(target.is_none_or(|id| ids.contains(id)), "{tag}");
            }
            let inside = attribute(tag, "href").and_then(|to| to.strip_prefix('#'));
            assert!(inside.is_none_or(|id| ids.contains(id)), "{tag}");
        }
    }
}

#[test]
fn headings_landmarks_and_labels_are_there() {
    for page in Whole::evil().pages() {
        assert_eq!(page.matches("<h1").count(), 1);
        assert_eq!(page.matches("<main").count(), 1);
        let mut level = 1;
        for tag in tags(&page) {
            let heading = tag
                .strip_prefix('h')
                .and_then(|rest| rest.get(..1)?.parse::<u8>().ok());
            if let Some(next) = heading {
                assert!(next <= level + 1, "h{level} is followed by h{next}");
                level = next;
            }
            let asks = tag.starts_with("input") || tag.starts_with("select");
            if asks && attribute(tag, "type") != Some("hidden") && tag.contains(" name=") {
                let labelled = attribute(tag, "aria-label").is_some()
                    || attribute(tag, "id")
                        .is_some_and(|id| page.contains(&format!("for=\"{id}\"")))
                    || page.split("<label").skip(1).any(|label| {
                        label
                            .split("</label>")
                            .next()
                            .is_some_and(|label| label.contains(tag))
                    });
                assert!(labelled, "no label: {tag}");
            }
            assert!(!tag.starts_with("img ") || attribute(tag, "alt").is_some());
        }
        let hazards = page.find("id=\"hazards\"").unwrap();
        let rest = page.find("<section id=").unwrap_or(usize::MAX);
        assert!(hazards < rest, "hazards come first");
        assert!(
            page.contains("never says"),
            "the caution stands on every page"
        );
    }
}

#[test]
fn someone_who_may_only_read_gets_no_form_and_no_queue() {
    let whole = Whole::evil();
    let mut view = whole.view();
    view.session.csrf = None;
    view.asked.unit = Some("u-1");
    let page = survey(&view).into_string();
    assert!(!page.contains("<form") && !page.contains("id=\"settle\""));
    assert!(!page.contains("Mend"));
    assert!(page.contains("id=\"hazards\"") && page.contains("id=\"register\""));
}

#[test]
fn a_number_that_fails_a_check_is_asked_about_before_it_is_believed() {
    let survey = json!({
        "survey_id": "s",
        "equipment": [{"id": "u-1", "tag": "RTU-1", "kind": "packaged_rooftop_unit",
            "nameplate": {"mca_a": 24}, "disconnect": {"rating_a": 15}}],
        "drafts": [
            {"id": "d-1", "ref": "RTU-1", "field": "disconnect.rating_a", "value": 15,
             "note_id": "n-1", "evidence": {"segment": 0, "start": 0, "end": 7}},
            {"id": "d-2", "ref": "RTU-1", "field": "nameplate.phase", "value": 3,
             "note_id": "n-1", "evidence": {"segment": 0, "start": 0, "end": 7}},
            {"id": "d-3", "ref": "RTU-1", "field": "nameplate.mca_a", "value": 42,
             "note_id": "n-1", "evidence": {"segment": 0, "start": 0, "end": 7}}],
        "notes": [{"id": "n-1", "segments": [{"text": "fifteen amp three phase"}]}]
    });
    let survey = read::survey_from_json(&survey.to_string()).unwrap();
    let assessment = assess(&survey, &AssessOptions::default());
    let session = Session {
        name: "Maren",
        csrf: Some("k"),
    };
    let odd = odd_values(&survey, &assessment.checks, None);
    let page = super::survey(&SurveyView {
        odd: &odd,
        ..SurveyView::new(&survey, &assessment, session)
    });
    let page = page.into_string();
    assert!(
        page.contains("id=\"settle-d-d-1\""),
        "15 A on a 24 A nameplate is asked about"
    );
    assert!(page.contains("Accept 15 A"));
    // Phase was heard, too, but the survey holds nothing there: that speaks for itself.
    assert!(page.contains("value=\"d-2\""));
    // 42 A was heard, then 24 A was entered: nobody needs to be asked again.
    assert!(
        !page.contains("d-3"),
        "an overtaken entry is not asked about"
    );
    let slip = page.split("id=\"settle-d-d-1\"").nth(1).unwrap();
    assert!(slip.contains("<mark>fifteen</mark>"), "with the very words");
}

#[test]
fn a_photo_that_no_browser_shows_is_named_and_can_be_opened() {
    let photo = Photo {
        id: "p-1".to_owned(),
        hash: "ab".to_owned(),
        media_type: "image/heic".to_owned(),
        ..Photo::default()
    };
    let survey = Survey {
        survey_id: "s".to_owned(),
        photos: vec![photo],
        ..Survey::default()
    };
    let here = BTreeSet::from(["ab".to_owned()]);
    let session = Session {
        name: "Ada",
        csrf: Some("k"),
    };
    let assessment = Assessment::default();
    let view = SurveyView {
        arrived: &here,
        bare: &here,
        ..SurveyView::new(&survey, &assessment, session)
    };
    let grid = super::survey(&view).into_string();
    assert!(
        grid.contains("HEIC photo, without a small picture</a>"),
        "{grid}"
    );
    let large = picture(&PictureView {
        session,
        survey: &survey,
        photos: &in_order(&survey),
        at: 0,
        beside: None,
        arrived: &here,
        bare: &here,
        people: &NO_NAMES,
    });
    let large = large.unwrap().into_string();
    assert!(
        large.contains("HEIC photo: no browser shows it."),
        "{large}"
    );
    for page in [grid, large] {
        assert!(!page.contains("<img"), "{page}");
        assert!(page.contains("photos/"), "{page}");
    }
}
