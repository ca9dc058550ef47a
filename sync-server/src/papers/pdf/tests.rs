//! The PDF says what the HTML says, keeps to its pages, and is the same every time.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::read::{Element, Node};
use super::strip::{Area, Ink, Strip};
use super::*;
use crate::papers::NoPictures;
use scupper_core::assess::{AssessOptions, assess};
use scupper_core::quote::{PaperSize, RateBook, quote};
use scupper_core::survey::read::survey_from_json;

fn survey(units: usize, extra: &str) -> Survey {
    let kinds = ["packaged_rooftop_unit", "exhaust_fan", "condensing_unit"];
    let equipment: Vec<String> = (0..units)
        .map(|k| {
            format!(
                r#"{{"tag": "U-{k}", "kind": "{}", "at_ft": [{}, {}], "size_ft": [6, 4], "service_sides": ["S"],
                "nameplate": {{"make": "Invented & Sons", "model": "M{k}", "mca_a": 24, "mocp_a": 30, "voltage_v": 208}},
                "disconnect": {{"rating_a": 20}}, "belts": [{{"designation": "A42", "quantity": 1}}]}}"#,
                kinds[k % 3],
                10 + 12 * (k % 8),
                6 + 10 * (k / 8)
            )
        })
        .collect();
    survey_from_json(&format!(
        r#"{{"survey_id": "s", "surveyed_on": "2026-04-14",
        "site": {{"name": "Kühlhaus <東> 🧊 & Söhne", "address": "A very long street name, 41", "roof": {{"height_ft": 20,
            "outline_ft": [[0,0],[110,0],[110,80],[0,80]], "edges": [{{"from": 0, "parapet_in": 8}}],
            "access": {{"kind": "hatch", "at_ft": [5, 5]}}}}}},
        "equipment": [{}] {extra}}}"#,
        equipment.join(",")
    ))
    .unwrap()
}

const FOUND: &str = r#", "findings": [{"ref": "U-1", "component": "belt", "condition": "frayed", "severity": "repair",
    "action": "replace", "photos": ["gone"], "remark": "quite frayed"}],
    "photos": [{"id": "gone", "ref": "U-1", "caption": "The belt"}, {"id": "also", "caption": "Roof"}]"#;

fn laid_out(survey: &Survey, paper: PaperSize) -> (Element, Flow, Vec<u8>) {
    let assessment = assess(survey, &AssessOptions::default());
    let quote = quote(survey, &assessment, &RateBook::builtin_example());
    let pictures = Pictures::prepare(survey, &NoPictures, &|_| {});
    let html = page(
        survey,
        &assessment,
        Some(&quote),
        &pictures,
        (Inline::Named, paper),
    );
    let body = read::body(&html);
    let mut flow = Flow::new(Area::of(paper));
    flow.within(&body, 0);
    let pdf = assessment_pdf(survey, &assessment, Some(&quote), &pictures, paper).unwrap();
    (body, flow, pdf)
}

fn words_of(strips: &[Strip]) -> String {
    let mut words = String::new();
    for mark in strips.iter().flat_map(|s| &s.marks) {
        if let Ink::Words { text, .. } = &mark.ink {
            words.push_str(text);
        }
    }
    letters(&words)
}

fn letters(text: &str) -> String {
    let mut letters: Vec<char> = text.chars().filter(|c| !c.is_whitespace()).collect();
    letters.sort_unstable();
    letters.into_iter().collect()
}

fn page_words(element: &Element, out: &mut String) {
    for child in &element.children {
        match child {
            Node::Text(text) => out.push_str(text),
            Node::Element(e) => page_words(e, out),
            Node::Drawing(_) => {}
        }
    }
}

#[test]
fn every_letter_of_the_page_is_set_once() {
    let (body, flow, _) = laid_out(&survey(9, FOUND), PaperSize::Letter);
    let mut said = String::new();
    page_words(&body, &mut said);
    let bullets = words_of(&flow.strips).matches('•').count();
    assert!(bullets > 5);
    let set = words_of(&flow.strips).replace('•', "");
    assert_eq!(set, letters(&face::known(&said).replace('•', "")));
}

#[test]
fn nothing_runs_off_the_page() {
    for (survey, paper) in [
        (survey(0, ""), PaperSize::Letter),
        (survey(9, FOUND), PaperSize::A4),
        (survey(60, FOUND), PaperSize::Letter),
    ] {
        let (_, flow, _) = laid_out(&survey, paper);
        within(&flow, Area::of(paper));
    }
}

fn within(flow: &Flow, area: Area) {
    for strip in &flow.strips {
        assert!(strip.height <= area.depth, "{strip:?}");
        for mark in &strip.marks {
            let right = match &mark.ink {
                Ink::Words { text, style } => face::width(text, style.bold, style.size),
                Ink::Rule { width, .. } => *width,
                Ink::Frame { size, .. } | Ink::Photo { size, .. } | Ink::Drawing { size, .. } => {
                    size.0
                }
            };
            assert!(
                mark.x >= 0.0 && mark.x + right <= area.room + 0.5,
                "{mark:?}"
            );
        }
    }
}

#[test]
fn the_file_is_tagged_for_everyone_and_the_same_every_time() {
    let survey = survey(9, FOUND);
    let (_, _, pdf) = laid_out(&survey, PaperSize::A4);
    assert!(pdf.starts_with(b"%PDF-1.7"));
    let text = String::from_utf8_lossy(&pdf);
    for claim in [
        "<pdfuaid:part>1</pdfuaid:part>",
        "/MarkInfo",
        "/StructTreeRoot",
        "/Lang(en)",
        "/MediaBox[0 0 595.28 841.89]",
    ] {
        assert!(text.replace("/Lang (", "/Lang(").contains(claim), "{claim}");
    }
    assert_eq!(pdf, laid_out(&survey, PaperSize::A4).2);
}

#[test]
fn a_row_longer_than_a_page_is_cut_between_lines() {
    let long = "all the way along the north side ".repeat(400);
    let extra = format!(r#", "hazards": [{{"kind": "trip", "ref": "U-1", "remark": "{long}"}}]"#);
    let (body, flow, _) = laid_out(&survey(2, &extra), PaperSize::Letter);
    let mut said = String::new();
    page_words(&body, &mut said);
    assert!(flow.strips.iter().all(|s| s.height <= flow.area.depth));
    let set = words_of(&flow.strips).replace('•', "");
    assert_eq!(set, letters(&face::known(&said).replace('•', "")));
}

#[test]
fn a_photo_stays_with_its_finding() {
    let (_, flow, _) = laid_out(&survey(9, FOUND), PaperSize::Letter);
    let says = |strip: &Strip, words: &str| {
        let has = |m: &super::strip::Mark| matches!(&m.ink, Ink::Words { text, .. } if text.contains(words));
        strip.marks.iter().any(has)
    };
    let finding = flow
        .strips
        .iter()
        .position(|s| says(s, "belt frayed"))
        .unwrap();
    assert!(flow.strips[finding].keep);
    assert!(says(&flow.strips[finding + 1], "The belt"));
}
