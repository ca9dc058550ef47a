//! The drawing says what the plan says, escapes what people typed, and fits its sheet.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::survey::read::survey_from_json;

fn survey(name: &str, tag: &str) -> Survey {
    let json = format!(
        r#"{{"site": {{"name": "{name}", "roof": {{"height_ft": 20,
            "outline_ft": [[0,0],[80,0],[80,40],[0,40]], "edges": [{{"from": 0, "parapet_in": 42}}],
            "openings": [{{"kind": "skylight", "at_ft": [40,20], "guarded": false}}]}}}},
            "equipment": [{{"tag": "{tag}", "kind": "packaged_rooftop_unit", "at_ft": [6,20],
            "size_ft": [6,4], "service_sides": ["W"]}}]}}"#
    );
    survey_from_json(&json).unwrap()
}

#[test]
fn names_are_escaped_and_units_link() {
    let options = DrawOptions {
        link: Some("#unit-".to_owned()),
        ..DrawOptions::default()
    };
    let svg = draw(&survey("Salt & <Pepper>", "RTU-2"), &options);
    assert!(
        svg.contains("Roof plan, Salt &amp; &lt;Pepper&gt;"),
        "{svg}"
    );
    assert!(svg.contains("<a href=\"#unit-RTU-2\" data-unit=\"RTU-2\">"));
    assert!(svg.contains("work 0 ft from an unguarded edge"));
    assert_eq!(svg.matches("<a ").count(), svg.matches("</a>").count());
    assert_eq!(svg.matches("<g").count(), svg.matches("</g>").count());
    assert_eq!(svg.matches("<text").count(), svg.matches("</text>").count());
}

#[test]
fn the_legend_names_only_what_is_drawn() {
    let svg = draw(&survey("n", "RTU-2"), &DrawOptions::default());
    for (words, drawn) in [
        ("guard of 39 in or more", true),
        ("open edge: not recorded", true),
        ("opening, not guarded", true),
        ("open edge: low or none", false),
        ("water", false),
        ("obstacle", false),
    ] {
        assert_eq!(svg.contains(words), drawn, "{words}");
    }
}

#[test]
fn black_and_white_has_no_colour() {
    let options = DrawOptions {
        colour: false,
        ..DrawOptions::phone()
    };
    let svg = draw(&survey("n", "RTU-2"), &options);
    let colours = svg.split('#').skip(1).filter_map(|rest| {
        let digits: String = rest.chars().take_while(char::is_ascii_hexdigit).collect();
        (digits.len() == 3 || digits.len() == 6).then_some(digits)
    });
    for colour in colours {
        let part = colour.len() / 3;
        assert!(
            colour
                .as_bytes()
                .chunks(part)
                .all(|c| c == &colour.as_bytes()[..part]),
            "#{colour}"
        );
    }
}

#[test]
fn nothing_recorded_is_said() {
    let svg = draw(&Survey::default(), &DrawOptions::default());
    assert!(svg.contains("No roof outline"), "{svg}");
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
}

#[test]
fn labels_cover_neither_each_other_nor_the_sheet_s_edge() {
    let mut crowd = survey("n", "RTU-0");
    let first = crowd.equipment[0].clone();
    for k in 1..20 {
        let mut unit = first.clone();
        unit.tag = format!("RTU-{k}");
        unit.at_ft = Some([8.0 + 8.0 * f64::from(k % 5), 6.0 + 8.0 * f64::from(k / 5)].into());
        crowd.equipment.push(unit);
    }
    let plan = SitePlan::new(&crowd);
    let options = DrawOptions::default();
    let mut canvas = Canvas::new(&plan, &options);
    let mut labels = Labels::new(canvas.bounds());
    unit::units(&plan, &options, &mut canvas, &mut labels);
    let boxes = labels.boxes();
    assert_eq!(boxes.len(), 20);
    for (i, a) in boxes.iter().enumerate() {
        assert!(a.min().x >= 0.0 && a.max().x <= 720.0);
        for b in &boxes[i + 1..] {
            let wide = a.max().x.min(b.max().x) - a.min().x.max(b.min().x);
            let tall = a.max().y.min(b.max().y) - a.min().y.max(b.min().y);
            assert!(wide <= 0.0 || tall <= 0.0, "{a:?} covers {b:?}");
        }
    }
}

#[test]
fn a_unit_far_off_or_without_a_place_is_named_and_shrinks_nothing() {
    let alone = draw(&survey("n", "RTU-0"), &DrawOptions::default());
    let mut more = survey("n", "RTU-0");
    let first = more.equipment[0].clone();
    for (tag, at) in [("RTU-1", Some([900.0, 900.0].into())), ("RTU-2", None)] {
        let mut unit = first.clone();
        unit.tag = tag.to_owned();
        unit.at_ft = at;
        more.equipment.push(unit);
    }
    let svg = draw(&more, &DrawOptions::default());
    assert!(svg.contains("Place not recorded: RTU-2. Recorded far from every roof: RTU-1."));
    let outline = |svg: &str| {
        svg.lines()
            .find(|l| l.contains("<path"))
            .unwrap()
            .to_owned()
    };
    assert_eq!(outline(&alone), outline(&svg));
}
