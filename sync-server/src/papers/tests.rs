//! Every paper of a nasty little survey, read back by parsers that are not ours.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use base64::Engine;
use scupper_core::assess::{AssessOptions, assess};
use scupper_core::quote::{PaperSize, RateBook, quote};
use scupper_core::survey::codes::{Condition, HazardKind};
use scupper_core::survey::read::survey_from_json;
use scupper_core::survey::{Filter, Survey};
use serde_json::Value;
use std::collections::BTreeMap;

/// Commas, quotes, newlines, emoji, markup, and texts that a spreadsheet would run.
const NASTY: &str = r#"{
 "survey_id": "nasty-1", "surveyed_on": "2026-04-14",
 "site": {"name": "Müller & <Söhne>, Kühlhaus", "roof": {
   "height_ft": 20, "outline_ft": [[0,0],[0,80],[120,80],[120,0]],
   "edges": [{"from": 0, "parapet_in": 8}],
   "openings": [{"kind": "skylight", "at_ft": [60,40], "size_ft": [4,4], "guarded": false}],
   "access": {"kind": "hatch", "at_ft": [10,10]}}},
 "equipment": [
  {"tag": "RTU-1", "kind": "packaged_rooftop_unit", "at_ft": [30,40], "size_ft": [8,5],
   "nameplate": {"make": "=1+1", "model": "NX, \"24\"\nline two 🧊", "serial": "@SUM(A1:A9)"},
   "filters": [{"width_in": 20, "height_in": 25, "depth_in": 2, "quantity": 4}]},
  {"tag": "+EF", "kind": "exhaust_fan", "belts": [{"designation": "A42", "quantity": 1}]}],
 "findings": [
  {"ref": "RTU-1", "component": "outdoor_air_screen", "condition": "torn", "severity": "urgent",
   "action": "replace", "remark": "<script>alert(1)</script> torn & open", "photos": ["good"]}],
 "photos": [
  {"id": "good", "ref": "RTU-1", "caption": "Screen \"left\" <b>", "latitude_deg": 60.0, "longitude_deg": 24.0},
  {"id": "broken", "caption": "A broken file"}, {"id": "missing", "hash": "0123456789abcdef"}]}"#;

struct Shelves;

impl Shelf for Shelves {
    fn bytes(&self, photo: &scupper_core::survey::Photo) -> Result<Vec<u8>, String> {
        match photo.id.as_str() {
            "good" => {
                let mut bytes = std::io::Cursor::new(Vec::new());
                let picture = image::RgbImage::from_fn(900, 600, |x, _| match x < 450 {
                    true => image::Rgb([220, 20, 20]),
                    false => image::Rgb([20, 20, 220]),
                });
                picture
                    .write_to(&mut bytes, image::ImageFormat::Png)
                    .unwrap();
                Ok(bytes.into_inner())
            }
            "broken" => Ok(vec![0xff, 0xd8, 0xff, 0xe0, 0, 0]),
            _ => Err("not uploaded yet".to_owned()),
        }
    }
}

fn papers(survey: &Survey) -> BTreeMap<String, Vec<u8>> {
    let mut survey = survey.clone();
    in_order(&mut survey);
    let survey = &survey;
    let assessment = assess(survey, &AssessOptions::default());
    let book = RateBook::builtin_example();
    let quote = quote(survey, &assessment, &book);
    let pictures = Pictures::prepare(survey, &Shelves, &|_| {});
    let material = Material {
        survey,
        assessment: &assessment,
        quote: &quote,
        book: &book,
        pictures: &pictures,
        paper: PaperSize::Letter,
        from: "Ada Quill <ada@example.org>".parse().unwrap(),
        to: Some("\"Kühn, Bo\" <bo@example.org>".parse().unwrap()),
    };
    let mut made = BTreeMap::new();
    make_all(&material, &mut |name, bytes| {
        made.insert(name.to_owned(), bytes.to_vec());
        Ok(())
    })
    .unwrap();
    made
}

fn read_back(made: &BTreeMap<String, Vec<u8>>) -> Value {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in made {
        std::fs::write(folder.path().join(name), bytes).unwrap();
    }
    let answer = std::process::Command::new("python3")
        .args(["-c", include_str!("read_back.py")])
        .arg(folder.path())
        .output()
        .expect("python3 runs");
    let complaint = String::from_utf8_lossy(&answer.stderr);
    assert!(answer.status.success(), "{complaint}");
    serde_json::from_slice(&answer.stdout).unwrap()
}

#[test]
fn python_reads_back_what_was_written() {
    let made = papers(&survey_from_json(NASTY).unwrap());
    let back = read_back(&made);

    let rows = back["register"].as_array().unwrap();
    assert_eq!(rows.len(), 3);
    assert_eq!(rows[0][0], "Tag");
    let row = |tag: &str| rows.iter().find(|row| row[0] == tag).unwrap();
    assert_eq!(row("RTU-1")[2], "'=1+1");
    assert_eq!(row("RTU-1")[3], "NX, \"24\"\nline two 🧊");
    assert_eq!(row("RTU-1")[4], "'@SUM(A1:A9)");
    assert_eq!(row("'+EF")[13], "1 of A42");
    assert_eq!(back["order"][1][0], "filter 20x25x2");

    assert_eq!(back["defects"], serde_json::json!([]));
    assert_eq!(
        back["subject"],
        "Rooftop equipment assessment: Müller & <Söhne>, Kühlhaus"
    );
    assert_eq!(back["to"], "\"Kühn, Bo\" <bo@example.org>");
    assert_eq!(back["unsent"], "1");
    assert_eq!(back["date"], "2026-04-14 12:00:00+00:00");
    let types: Vec<&str> = back["types"]
        .as_array()
        .unwrap()
        .iter()
        .map(|t| t.as_str().unwrap())
        .collect();
    assert_eq!(
        types,
        [
            "multipart/mixed",
            "multipart/alternative",
            "text/plain",
            "text/html",
            "application/pdf",
            "text/csv"
        ]
    );
    let plain = back["plain"].as_str().unwrap();
    assert!(plain.contains("Müller & <Söhne>"));
    assert_eq!(
        plain.trim_end().rsplit('\n').next(),
        Some("Ada Quill"),
        "signed by whom it is from"
    );
    assert!(
        back["html"]
            .as_str()
            .unwrap()
            .contains("Müller &amp; &lt;Söhne&gt;")
    );
    for name in ["assessment.pdf", "register.csv"] {
        let sent = back["attachments"][name].as_str().unwrap();
        let sent = base64::engine::general_purpose::STANDARD
            .decode(sent)
            .unwrap();
        assert_eq!(sent, made[name], "{name} arrives as it was");
    }
}

#[test]
fn the_map_lies_where_its_photo_was_taken() {
    let made = papers(&survey_from_json(NASTY).unwrap());
    let map: Value = serde_json::from_slice(&made["survey.geojson"]).unwrap();
    let features = map["features"].as_array().unwrap();
    let what = |name: &str| {
        features
            .iter()
            .find(|f| f["properties"]["what"] == name)
            .unwrap()
    };
    let ring: Vec<[f64; 2]> =
        serde_json::from_value(what("roof")["geometry"]["coordinates"][0].clone()).unwrap();
    assert_eq!(ring.len(), 5);
    assert_eq!(ring.first(), ring.last());
    // Entered clockwise, written against the clock (RFC 7946 3.1.6).
    let area: f64 = ring
        .windows(2)
        .map(|w| w[0][0] * w[1][1] - w[1][0] * w[0][1])
        .sum();
    assert!(area > 0.0);
    // The middle of the ring is the photo's position.
    let middle = |i: usize| (ring[0][i].min(ring[2][i]) + ring[0][i].max(ring[2][i])) / 2.0;
    assert!((middle(0) - 24.0).abs() < 1e-6 && (middle(1) - 60.0).abs() < 1e-6);
    // 120 ft is 36.576 m; at 60 degrees a degree of longitude is 111,195.08 m x cos 60.
    let width = (ring[0][0] - ring[2][0]).abs() * 111_195.08 * 0.5;
    assert!((width - 36.576).abs() < 0.02, "{width} m");
    assert!(
        features.iter().all(|f| f["properties"]["ref"] != "+EF"),
        "a unit without a place is not on the map"
    );
}

#[test]
fn the_assessment_runs_nothing_and_fetches_nothing() {
    let made = papers(&survey_from_json(NASTY).unwrap());
    let html = String::from_utf8(made["assessment.html"].clone()).unwrap();
    assert!(!html.contains("<script"));
    assert!(html.contains("&lt;script&gt;alert(1)&lt;/script&gt; torn &amp; open"));
    for fetched in ["src=\"http", "href=\"http", "url(http", "@import"] {
        assert!(!html.contains(fetched), "{fetched}");
    }
    assert!(html.contains("<svg"), "the plan is drawn");
    assert!(
        html.contains("alt=\"Photo, RTU-1: Screen &quot;left&quot; &lt;b"),
        "alt text"
    );
    // Gaps have a name and a reason.
    assert!(html.contains("The photo A broken file is not shown: cannot be read as a picture"));
    assert!(html.contains("The photo without a caption, 01234567 is not shown: not uploaded yet"));
    // A customer reads no cost, rate or mark-up.
    for secret in [
        "52.00",
        "5200",
        "mark-up",
        "Mark-up",
        "contingency",
        "technician_cents",
    ] {
        assert!(!html.contains(secret), "{secret}");
    }
    assert!(html.contains("Every figure in this rate book is invented"));
}

#[test]
fn a_control_is_said_once_with_the_voltages_it_holds_for() {
    let unit = |tag: &str, volts: u32| {
        format!(
            r#"{{"tag": "{tag}", "kind": "packaged_rooftop_unit", "disconnect": {{"in_sight": false}},
                 "nameplate": {{"voltage_v": {volts}}}}}"#
        )
    };
    let units = [
        ("RTU-1", 460),
        ("RTU-2", 208),
        ("RTU-3", 460),
        ("RTU-4", 24),
    ];
    let units: Vec<String> = units.iter().map(|(tag, volts)| unit(tag, *volts)).collect();
    let survey = format!(r#"{{"equipment": [{}]}}"#, units.join(", "));
    let survey = survey_from_json(&survey).unwrap();
    let rows = assess(&survey, &AssessOptions::default()).hazards;
    let live = rows.iter().filter(|h| h.kind == HazardKind::LiveElectrical);
    assert_eq!(live.count(), 4, "a row for each unit");
    let html = String::from_utf8(papers(&survey)["assessment.html"].clone()).unwrap();
    let said = |words: &str| html.matches(words).count();
    assert_eq!(said("<b>Live electrical</b>"), 1);
    assert_eq!(said("have a qualified person prove it dead"), 1);
    assert_eq!(
        said("At 208 and 460 V between phases: limited approach 42 in"),
        1
    );
    assert_eq!(said("V between phases"), 1);
}

#[test]
fn what_was_measured_and_told_is_known_from_both_and_a_tag_twice_says_so() {
    let survey = NASTY.replace(
        r#""findings": ["#,
        r#""hazards": [{"kind": "unprotected_edge", "ref": "RTU-1", "remark": "right by the drop"}],
           "findings": ["#,
    );
    let twin = r#"{"tag": "+EF", "kind": "exhaust_fan"}, {"tag": "+EF","#;
    let survey = survey
        .replace(r#""at_ft": [30,40]"#, r#""at_ft": [8,40]"#)
        .replace(r#"{"tag": "+EF","#, twin);
    let made = papers(&survey_from_json(&survey).unwrap());
    let html = String::from_utf8(made["assessment.html"].clone()).unwrap();
    assert!(html.contains("<td>a person, the plan</td>"));
    assert!(html.contains(">+EF (2 units), RTU-1</td>"));
    assert!(html.contains("4\u{a0}of\u{a0}20\u{a0}x\u{a0}25\u{a0}x\u{a0}2\u{a0}in"));
}

#[test]
fn a_photo_that_a_person_turned_is_turned_on_every_paper() {
    let upright = papers(&survey_from_json(NASTY).unwrap());
    let turned = NASTY.replace(r#""id": "good","#, r#""id": "good", "turned_deg": 90,"#);
    let turned = papers(&survey_from_json(&turned).unwrap());
    let shown = |made: &BTreeMap<String, Vec<u8>>| {
        let html = String::from_utf8(made["assessment.html"].clone()).unwrap();
        let (_, rest) = html.split_once("data:image/jpeg;base64,").unwrap();
        let (bytes, rest) = rest.split_once('"').unwrap();
        let bytes = base64::engine::general_purpose::STANDARD
            .decode(bytes)
            .unwrap();
        let picture = image::load_from_memory(&bytes).unwrap().to_rgb8();
        let (width, height) = picture.dimensions();
        assert!(rest.starts_with(&format!(" width=\"{width}\" height=\"{height}\"")));
        // The PDF holds the very picture of the page.
        let in_pdf = made["assessment.pdf"]
            .windows(bytes.len())
            .any(|window| window == bytes);
        assert!(in_pdf, "{width} x {height}");
        // Whether the last corner across and the last one down are red, as the first is.
        let red = |x: u32, y: u32| picture.get_pixel(x, y).0[0] > 150;
        assert!(red(0, 0));
        (width, height, red(width - 1, 0), red(0, height - 1))
    };
    assert_eq!(shown(&upright), (512, 341, false, true));
    assert_eq!(shown(&turned), (341, 512, true, false));
}

#[test]
fn the_same_survey_gives_the_same_bytes_in_whatever_order() {
    let mut survey = survey_from_json(NASTY).unwrap();
    // Two of a kind and more, so that there is an order to be told.
    let second = survey.equipment[0].filters[0].clone();
    survey.equipment[0].filters.push(Filter {
        quantity: 9,
        ..second
    });
    let mut finding = survey.findings[0].clone();
    finding.condition = Condition::Dirty;
    survey.findings.push(finding);
    let one = papers(&survey);
    let unit = &mut survey.equipment[0];
    unit.filters.reverse();
    survey.equipment.reverse();
    survey.findings.reverse();
    survey.photos.reverse();
    let two = papers(&survey);
    for (name, bytes) in &one {
        assert!(bytes == &two[name], "{name} differs by the order of entry");
    }
}

#[test]
fn a_letter_leaves_out_what_no_mail_carries() {
    let survey = survey_from_json(NASTY).unwrap();
    let assessment = assess(&survey, &AssessOptions::default());
    let enclosure = |name: &str, size: usize| Enclosure {
        name: name.to_owned(),
        media_type: "text/html".to_owned(),
        bytes: vec![b'x'; size],
    };
    let files = vec![
        enclosure("big.html", 14_000_001),
        enclosure("small.html", 10),
    ];
    let from = "Ada Quill <ada@example.org>".parse().unwrap();
    let letter = letter_eml(&survey, &assessment, None, from, None, files).unwrap();
    let letter = String::from_utf8(letter).unwrap();
    assert!(!letter.contains("big.html") && letter.contains("small.html"));
    assert!(letter.contains("too large for mail"));
    assert!(!letter.contains("\r\nTo:"), "whom it goes to is left open");
}

#[test]
fn an_empty_survey_still_makes_papers() {
    let made = papers(&Survey::default());
    let html = String::from_utf8(made["assessment.html"].clone()).unwrap();
    assert!(html.contains("records no equipment"));
    let back = read_back(&made);
    assert_eq!(back["register"].as_array().unwrap().len(), 1);
}
