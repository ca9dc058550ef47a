//! Importing a survey and reading it back gives the same survey.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::survey::{Survey, read};
use chrono::DateTime;
use proptest::option;
use proptest::prelude::*;
use serde_json::{Map, Value, json};

fn amount() -> impl Strategy<Value = f64> {
    (1..4000_u32).prop_map(|n| f64::from(n) / 8.0)
}

fn words() -> impl Strategy<Value = String> {
    "[A-Za-zäß \"\\.<&]{1,12}".prop_filter("not blank", |s| !s.trim().is_empty())
}

fn point() -> impl Strategy<Value = Value> {
    (amount(), amount()).prop_map(|(x, y)| json!([x, -y]))
}

/// An object of those fields that have a value.
fn object(fields: &[(&str, Option<Value>)]) -> Value {
    let given = fields
        .iter()
        .filter_map(|(k, v)| Some(((*k).to_owned(), v.clone()?)));
    Value::Object(given.collect::<Map<_, _>>())
}

fn number() -> impl Strategy<Value = Option<Value>> {
    option::of(amount().prop_map(|n| json!(n)))
}

fn text() -> impl Strategy<Value = Option<Value>> {
    option::of(words().prop_map(|s| json!(s)))
}

fn roof(main: bool) -> impl Strategy<Value = Value> {
    let corners =
        (amount(), amount()).prop_map(|(w, h)| json!([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]));
    let parts = prop::collection::vec((point(), option::of(any::<bool>()), number()), 0..4);
    let edges = prop::collection::btree_map(0..3_usize, (number(), number()), 0..4);
    (corners, parts, edges, text(), number(), option::of(point())).prop_map(
        move |(outline, parts, edges, membrane, height, access)| {
            let edges: Vec<Value> = edges
                .into_iter()
                .map(|(from, (parapet, drop))| {
                    object(&[
                        ("from", Some(json!(from))),
                        ("parapet_in", parapet),
                        ("drop_ft", drop),
                    ])
                })
                .collect();
            let list = |kind: Option<&str>, flag: Option<&str>, extra: Option<&str>| {
                let part = |(at, on, n): &(Value, Option<bool>, Option<Value>)| {
                    let mut part = object(&[
                        ("kind", kind.map(|k| json!(k))),
                        ("at_ft", Some(at.clone())),
                    ]);
                    if let (Some(flag), Some(on)) = (flag, on) {
                        part[flag] = json!(on);
                    }
                    if let (Some(extra), Some(n)) = (extra, n) {
                        part[extra] = n.clone();
                    }
                    part
                };
                Some(Value::Array(parts.iter().map(part).collect()))
            };
            object(&[
                ("id", (!main).then(|| json!("upper"))),
                ("height_ft", height),
                ("membrane", membrane),
                ("obstacles", Some(json!([{"outline_ft": outline.clone()}]))),
                ("outline_ft", Some(outline)),
                ("edges", Some(json!(edges))),
                (
                    "openings",
                    list(Some("skylight"), Some("guarded"), Some("drop_ft")),
                ),
                ("water_sources", list(None, Some("at_grade"), None)),
                ("receptacles", list(None, Some("gfci"), None)),
                ("air_points", list(Some("flue"), None, Some("height_ft"))),
                (
                    "access",
                    access.map(|at| json!({"kind": "hatch", "at_ft": at})),
                ),
            ])
        },
    )
}

fn unit() -> impl Strategy<Value = Value> {
    let plate = (
        text(),
        number(),
        number(),
        option::of(prop::collection::vec(amount(), 0..3)),
    );
    let lists = (0..3_u32, 0..3_u32, any::<bool>());
    (
        plate,
        lists,
        option::of(point()),
        number(),
        option::of(any::<bool>()),
    )
        .prop_map(
            |((serial, mca, voltage, loads), (filters, belts, sides), at, distance, in_sight)| {
                let filter =
                    json!({"width_in": 20.5, "height_in": 25.0, "depth_in": 2.0, "quantity": 4});
                let belt = json!({"designation": "A42", "quantity": 1});
                object(&[
                    ("kind", Some(json!("heat_pump"))),
                    ("at_ft", at),
                    ("service_sides", sides.then(|| json!(["N", "W"]))),
                    (
                        "nameplate",
                        Some(object(&[
                            ("serial", serial),
                            ("mca_a", mca),
                            ("voltage_v", voltage),
                            ("phase", Some(json!(3))),
                            ("loads", loads.map(|others| json!({"other_a": others}))),
                        ])),
                    ),
                    (
                        "disconnect",
                        Some(object(&[
                            ("distance_ft", distance),
                            ("in_sight", in_sight.map(|b| json!(b))),
                        ])),
                    ),
                    ("filters", Some(json!(vec![filter; filters as usize]))),
                    ("belts", Some(json!(vec![belt; belts as usize]))),
                ])
            },
        )
}

fn origin() -> impl Strategy<Value = Map<String, Value>> {
    let people = prop::collection::btree_set("[a-z]{2,4}\\.?[a-z]", 0..3);
    (text(), number(), people, any::<bool>()).prop_map(|(doubt, confidence, people, note)| {
        let origin = object(&[
            ("author", Some(json!("ana"))),
            ("at", Some(json!("2026-04-14T08:02:11-05:00"))),
            ("note_id", note.then(|| json!("n-1"))),
            (
                "evidence",
                note.then(|| json!({"segment": 0, "start": 3, "end": 9})),
            ),
            ("confidence", confidence),
            ("needs_confirmation", doubt),
            ("confirmed_by", Some(json!(people))),
        ]);
        origin.as_object().unwrap().clone()
    })
}

fn with(mut fields: Map<String, Value>, more: &[(&str, Value)]) -> Value {
    fields.extend(more.iter().map(|(k, v)| ((*k).to_owned(), v.clone())));
    Value::Object(fields)
}

/// Makes one entry from its number, `ref`, origin and a text.
type Make<'a> = &'a dyn Fn(usize, &Value, &Map<String, Value>, &Option<Value>) -> Value;

fn survey() -> impl Strategy<Value = Survey> {
    let records = prop::collection::vec(
        (
            origin(),
            any::<bool>(),
            text(),
            any::<prop::sample::Index>(),
        ),
        0..4,
    );
    let units = prop::collection::vec(unit(), 1..5);
    (words(), text(), roof(true), option::of(roof(false)), units, records).prop_map(
        |(name, address, roof, upper, mut units, records)| {
            for (n, unit) in units.iter_mut().enumerate() {
                unit["id"] = json!(format!("u{n}"));
                unit["tag"] = json!(format!("HP-{n}"));
            }
            let about = |on_site: bool, pick: &prop::sample::Index| match on_site {
                true => json!("site"),
                false => json!(format!("HP-{}", pick.index(units.len()))),
            };
            let list = |make: Make<'_>| {
                let made = records.iter().enumerate().map(|(n, (origin, on_site, remark, pick))| {
                    make(n, &about(*on_site, pick), origin, remark)
                });
                Value::Array(made.collect())
            };
            let findings = list(&|n, about, origin, remark| {
                with(origin.clone(), &[
                    ("id", json!(format!("f{n}"))),
                    ("ref", about.clone()),
                    ("component", json!("belt")),
                    ("condition", json!("worn")),
                    ("remark", remark.clone().unwrap_or(Value::Null)),
                ])
            });
            let hazards = list(&|n, about, origin, _| {
                with(origin.clone(), &[("id", json!(format!("h{n}"))), ("ref", about.clone()), ("kind", json!("trip"))])
            });
            let follow_ups = list(&|n, about, origin, _| {
                with(origin.clone(), &[("id", json!(format!("t{n}"))), ("ref", about.clone()), ("about", json!("nameplate"))])
            });
            let drafts = list(&|n, about, origin, remark| {
                with(origin.clone(), &[
                    ("id", json!(format!("d{n}"))),
                    ("ref", about.clone()),
                    ("field", json!("nameplate.serial")),
                    ("value", remark.clone().unwrap_or_else(|| json!({"a": [1, 2.5]}))),
                ])
            });
            let notes = list(&|n, _, _, remark| {
                let said = remark.clone().unwrap_or_else(|| json!(""));
                json!({"id": format!("n{n}"), "author": "ana", "segments": [{"text": said}]})
            });
            let photos = list(&|n, about, _, caption| {
                json!({"id": format!("p{n}"), "hash": "ab", "ref": about, "caption": caption, "bytes": n,
                    "latitude_deg": 45.25})
            });
            let whole = json!({
                "survey_id": "s-1", "surveyed_on": "2026-04-14", "parent": "s-0",
                "site": object(&[
                    ("name", Some(json!(name))),
                    ("address", address),
                    ("roof", Some(roof)),
                    ("more_roofs", upper.map(|upper| json!([upper]))),
                ]),
                "equipment": units, "findings": findings, "hazards": hazards,
                "follow_ups": follow_ups, "drafts": drafts, "notes": notes, "photos": photos,
            });
            read::survey_from_json(&whole.to_string()).unwrap()
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn import_is_the_inverse_of_reading(survey in survey()) {
        let stamp = Stamp {
            author: "ana".to_owned(),
            device: "ana".to_owned(),
            at: DateTime::parse_from_rfc3339("2026-04-14T08:00:00-05:00").unwrap(),
            clock_offset_ms: None,
        };
        let mut n = 0_u64;
        let mut ids = UuidIds::new(move || { n += 1; n.to_be_bytes() });
        let mut doc = SurveyDoc::create("s-1", Actor::of_device("ana", [0; 6])).unwrap();
        prop_assert!(doc.import(&stamp, &survey, &mut ids).unwrap().is_some());
        let reading = doc.read();
        prop_assert_eq!(&reading.survey, &survey);
        prop_assert_eq!(reading.problems, Vec::<String>::new());
        prop_assert_eq!(doc.conflicts(), Vec::new());
        // Again, it says nothing new.
        prop_assert!(doc.import(&stamp, &survey, &mut ids).unwrap().is_none());
        prop_assert_eq!(&doc.survey(), &survey);
        // And through JSON, as the command line writes it.
        let json = serde_json::to_string(&doc.survey()).unwrap();
        prop_assert_eq!(&read::survey_from_json(&json).unwrap(), &survey);
    }
}

#[test]
fn a_corner_with_two_edges_is_refused() {
    // Unchecked: the reader refuses it too.
    let survey: Survey = read::from_json(
        r#"{"site": {"roof": {"outline_ft": [[0,0],[1,0],[1,1]],
            "edges": [{"from": 1, "parapet_in": 4}, {"from": 1, "parapet_in": 40}]}}}"#,
    )
    .unwrap();
    let stamp = Stamp {
        author: "ana".to_owned(),
        device: "ana".to_owned(),
        at: DateTime::parse_from_rfc3339("2026-04-14T08:00:00-05:00").unwrap(),
        clock_offset_ms: None,
    };
    let mut doc = SurveyDoc::create("s-1", Actor::of_device("ana", [0; 6])).unwrap();
    let error = doc
        .import(&stamp, &survey, &mut UuidIds::new(|| [0; 8]))
        .unwrap_err();
    assert!(error.to_string().contains("edges[1].from"), "{error}");
}
