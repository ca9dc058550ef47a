//! Tests of the document as its users see it: edits, merges, reading back.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::survey::codes::EquipmentKind;
use crate::survey::spoken::{Evidence, Fact, Interpretation, Mention, Segment, Transcript};
use crate::survey::{SITE, Survey, read};
use chrono::DateTime;
use serde_json::{Value, json};

/// A person at a device with a document of their own.
struct Person {
    name: &'static str,
    doc: SurveyDoc,
    ids: UuidIds<Box<dyn FnMut() -> [u8; 8]>>,
    minute: u32,
}

impl Person {
    fn new(name: &'static str) -> Self {
        let seed = name.bytes().fold(7_u64, |s, b| s * 31 + u64::from(b));
        let mut state = seed;
        let random = move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            state.to_be_bytes()
        };
        Self {
            name,
            doc: SurveyDoc::create("s-1", Actor::of_device(name, [1; 6])).unwrap(),
            ids: UuidIds::new(Box::new(random)),
            minute: 0,
        }
    }

    fn stamp(&mut self) -> Stamp {
        self.minute += 1;
        let at = format!(
            "2026-04-14T{:02}:{:02}:00-05:00",
            8 + self.minute / 60,
            self.minute % 60
        );
        Stamp {
            author: self.name.to_owned(),
            device: format!("phone of {}", self.name),
            at: DateTime::parse_from_rfc3339(&at).unwrap(),
            clock_offset_ms: None,
        }
    }

    fn try_edit(&mut self, edit: Edit) -> Result<Option<Change>, DocumentError> {
        let stamp = self.stamp();
        self.doc.edit(&stamp, edit)
    }

    #[track_caller]
    fn edit(&mut self, edit: Edit) {
        self.try_edit(edit).unwrap();
    }

    #[track_caller]
    fn set(&mut self, about: &str, field: &str, value: Value) {
        self.edit(Edit::Set {
            about: about.to_owned(),
            field: field.to_owned(),
            value,
        });
    }

    #[track_caller]
    fn add_unit(&mut self, tag: &str, kind: EquipmentKind) -> String {
        let stamp = self.stamp();
        let id = self.ids.next_id(stamp.at.timestamp_millis());
        self.edit(Edit::Add {
            table: Table::Equipment,
            id: id.clone(),
            entry: json!({"tag": tag, "kind": kind}),
        });
        id
    }

    fn say(&mut self, note: &str, facts: &[(&str, &str, Value)]) {
        let evidence = Evidence {
            segment: 0,
            start: 0,
            end: 4,
        };
        let heard = Interpretation {
            note_id: note.to_owned(),
            equipment: facts
                .iter()
                .filter(|(about, ..)| *about != SITE)
                .map(|(about, ..)| Mention {
                    tag: (*about).to_owned(),
                    kind: EquipmentKind::PackagedRooftopUnit,
                    number: None,
                })
                .collect(),
            facts: facts
                .iter()
                .map(|(about, field, value)| Fact {
                    about: (*about).to_owned(),
                    field: (*field).to_owned(),
                    value: value.clone(),
                    evidence,
                    confidence: 0.9,
                    needs_confirmation: None,
                })
                .collect(),
            ..Interpretation::default()
        };
        let transcript = Transcript {
            note_id: note.to_owned(),
            author: None,
            recorded_at: None,
            segments: vec![Segment {
                text: "said".to_owned(),
                ..Segment::default()
            }],
        };
        let stamp = self.stamp();
        self.doc
            .add_interpretation(&stamp, &transcript, &heard, &mut self.ids)
            .unwrap();
    }

    fn pull(&mut self, from: &Self) {
        let theirs = from.doc.changes_since(&[]).unwrap();
        self.doc.apply_changes(&theirs).unwrap();
    }

    fn unit(&self, tag: &str) -> crate::survey::Equipment {
        self.doc.survey().unit(tag).unwrap().clone()
    }
}

fn of_note(person: &Person, note: &str) -> crate::survey::Draft {
    let drafts = person.doc.survey().drafts;
    let of = |draft: &crate::survey::Draft| draft.origin.note_id.as_deref() == Some(note);
    drafts.into_iter().find(of).unwrap()
}

fn level(a: &mut Person, b: &mut Person) {
    a.pull(b);
    b.pull(a);
    assert_eq!(a.doc.heads(), b.doc.heads());
    assert_eq!(a.doc.survey(), b.doc.survey());
}

fn two() -> (Person, Person) {
    (Person::new("ana"), Person::new("ben"))
}

const RTU: EquipmentKind = EquipmentKind::PackagedRooftopUnit;

#[test]
fn both_values_of_a_field_stand_until_someone_chooses() {
    let (mut ana, mut ben) = two();
    ana.add_unit("RTU-2", RTU);
    level(&mut ana, &mut ben);
    ana.set("RTU-2", "nameplate.mca_a", json!(24));
    ben.set("rtu 2", "nameplate.mca_a", json!(42));
    level(&mut ana, &mut ben);
    let conflicts = ana.doc.conflicts();
    assert_eq!(conflicts.len(), 1);
    let conflict = &conflicts[0];
    assert_eq!(
        (conflict.about.as_str(), conflict.field.as_str()),
        ("RTU-2", "nameplate.mca_a")
    );
    let mut said: Vec<(String, f64)> = conflict
        .candidates
        .iter()
        .map(|c| {
            (
                c.stamp.as_ref().unwrap().author.clone(),
                c.value.as_f64().unwrap(),
            )
        })
        .collect();
    said.sort_by(|a, b| a.0.cmp(&b.0));
    assert_eq!(said, [("ana".to_owned(), 24.0), ("ben".to_owned(), 42.0)]);
    let shown = ana.unit("RTU-2").nameplate.mca_a.unwrap().get();
    assert_eq!(conflict.candidates[0].value, json!(shown));

    // Choosing the value that is shown anyway settles it too.
    ben.set("RTU-2", "nameplate.mca_a", json!(shown));
    level(&mut ana, &mut ben);
    assert_eq!(ana.doc.conflicts(), []);
    let history = ana.doc.history("RTU-2", "nameplate.mca_a").unwrap();
    let authors: Vec<&str> = history
        .iter()
        .map(|h| h.stamp.as_ref().unwrap().author.as_str())
        .collect();
    assert_eq!(authors.len(), 3);
    assert_eq!(authors[2], "ben");
}

#[test]
fn equal_values_from_two_people_are_no_conflict() {
    let (mut ana, mut ben) = two();
    ana.set(SITE, "name", json!("Ovens and Ice"));
    ben.set(SITE, "site.name", json!("Ovens and Ice"));
    ana.set(SITE, "roof.height_ft", json!(24));
    ben.set(SITE, "site.roof_height_ft", json!(24.0));
    level(&mut ana, &mut ben);
    assert_eq!(ana.doc.conflicts(), []);
    assert_eq!(ana.doc.survey().site.name, "Ovens and Ice");
}

#[test]
fn a_refused_edit_changes_nothing_and_names_the_place() {
    let (mut ana, _) = two();
    ana.add_unit("RTU-2", RTU);
    let before = ana.doc.save();
    let set = |about: &str, field: &str, value: Value| Edit::Set {
        about: about.to_owned(),
        field: field.to_owned(),
        value,
    };
    for (edit, text) in [
        (
            set("RTU-2", "nameplate.mca_a", json!("lots")),
            "RTU-2.nameplate.mca_a: invalid type",
        ),
        (
            set("RTU-9", "nameplate.mca_a", json!(1)),
            "RTU-9: no such entry",
        ),
        (
            set("site", "roof.height_ft", json!(-1)),
            "site.height_ft: -1 ft is negative",
        ),
        (
            set("RTU-2", "same_as", json!("x")),
            "use the edit made for it",
        ),
        (Edit::Confirm { id: "x".into() }, "x: no such entry"),
        (
            Edit::Unjoin {
                other: "RTU-2".into(),
            },
            "is not joined",
        ),
        (
            Edit::Join {
                keep: "RTU-2".into(),
                other: "rtu2".into(),
            },
            "already the same unit",
        ),
        (
            Edit::Add {
                table: Table::Openings,
                id: "o".into(),
                entry: json!({"kind": "pit"}),
            },
            "openings.kind: unknown variant `pit`",
        ),
        (
            Edit::Add {
                table: Table::Openings,
                id: "o".into(),
                entry: json!({"kind": "hole", "at_ft": [1, 2], "roof": "nowhere"}),
            },
            "nowhere: no such entry",
        ),
        (
            Edit::Add {
                table: Table::Site,
                id: "o".into(),
                entry: json!({}),
            },
            "there is one only",
        ),
    ] {
        let error = ana.try_edit(edit).unwrap_err().to_string();
        assert!(error.contains(text), "{error}");
    }
    assert_eq!(ana.doc.save(), before);
}

#[test]
fn what_people_typed_against_each_other_comes_before_what_was_heard() {
    let (mut ana, mut ben) = two();
    ana.add_unit("RTU-1", RTU);
    ana.add_unit("RTU-2", RTU);
    level(&mut ana, &mut ben);
    ana.say("n-1", &[("RTU-1", "nameplate.mca_a", json!(24))]);
    ben.set("RTU-1", "nameplate.mca_a", json!(42));
    ana.set("RTU-2", "nameplate.mca_a", json!(24));
    ben.set("RTU-2", "nameplate.mca_a", json!(42));
    level(&mut ana, &mut ben);
    let conflicts = ana.doc.conflicts();
    let order: Vec<(&str, bool)> = conflicts
        .iter()
        .map(|c| (c.about.as_str(), c.between_people()))
        .collect();
    assert_eq!(order, [("RTU-2", true), ("RTU-1", false)]);
}

#[test]
fn dictation_fills_what_is_empty_and_never_what_a_person_stands_behind() {
    let (mut ana, mut ben) = two();
    ana.say(
        "n1",
        &[
            ("RTU-2", "nameplate.mca_a", json!(24)),
            ("RTU-2", "nameplate.phase", json!(3)),
        ],
    );
    assert_eq!(ana.unit("RTU-2").nameplate.mca_a.unwrap().get(), 24.0);
    // A later note of the same speaker corrects it.
    ana.say("n2", &[("RTU-2", "nameplate.mca_a", json!(42))]);
    assert_eq!(ana.unit("RTU-2").nameplate.mca_a.unwrap().get(), 42.0);
    // The same note again is no second note.
    ana.say("n2", &[("RTU-2", "nameplate.mca_a", json!(1))]);
    assert_eq!(ana.doc.survey().drafts.len(), 3);
    level(&mut ana, &mut ben);
    // Someone else's word waits.
    ben.say("n3", &[("RTU-2", "nameplate.mca_a", json!(30))]);
    let survey = ben.doc.survey();
    assert_eq!(
        survey.unit("RTU-2").unwrap().nameplate.mca_a.unwrap().get(),
        42.0
    );
    let waiting = of_note(&ben, "n3");
    assert_eq!(
        waiting.origin.needs_confirmation.as_deref(),
        Some("ana said 42.0")
    );
    // Confirming it makes it the value, and now speech no longer moves it.
    ben.edit(Edit::Confirm {
        id: waiting.id.clone(),
    });
    assert_eq!(ben.unit("RTU-2").nameplate.mca_a.unwrap().get(), 30.0);
    ben.say("n4", &[("RTU-2", "nameplate.mca_a", json!(31))]);
    assert_eq!(ben.unit("RTU-2").nameplate.mca_a.unwrap().get(), 30.0);
    let doubt = |person: &Person, note| of_note(person, note).origin.needs_confirmation.unwrap();
    assert_eq!(doubt(&ben, "n4"), "ben entered 30.0");
    // Typing what was dictated confirms it.
    ben.set("RTU-2", "nameplate.phase", json!(3));
    let drafts = ben.doc.survey().drafts;
    let phase = drafts
        .iter()
        .find(|d| d.field == "nameplate.phase")
        .unwrap();
    assert_eq!(phase.origin.confirmed_by, ["ben"]);
    ben.say("n5", &[("RTU-2", "nameplate.phase", json!(1))]);
    assert_eq!(ben.unit("RTU-2").nameplate.phase, Some(3));
    assert_eq!(doubt(&ben, "n5"), "ben confirmed 3");
    // What does not fit its field stays a draft.
    ben.say("n6", &[("RTU-2", "nameplate.hertz", json!("many"))]);
    assert!(doubt(&ben, "n6").contains("invalid type"));
    assert_eq!(ben.unit("RTU-2").nameplate.hertz, None);
}

#[test]
fn two_filters_of_one_note_are_a_list_and_each_keeps_its_words() {
    let (mut ana, _) = two();
    let filter = |w: i32, quantity: i32| json!({"width_in": w, "height_in": 25, "depth_in": 2, "quantity": quantity});
    ana.say(
        "n1",
        &[
            ("RTU-1", "filters", filter(20, 4)),
            ("RTU-1", "filters", filter(16, 2)),
        ],
    );
    let survey = ana.doc.survey();
    let unit = survey.unit("RTU-1").unwrap();
    assert_eq!(unit.filters.len(), 2);
    let current = serde_json::to_value(&unit.filters).unwrap();
    assert!(
        survey
            .drafts
            .iter()
            .all(|draft| says(&current, &draft.value))
    );
    ana.say(
        "n2",
        &[
            ("RTU-1", "filters", filter(18, 4)),
            (SITE, "site.roof_membrane", json!("epdm")),
        ],
    );
    let survey = ana.doc.survey();
    assert_eq!(survey.unit("RTU-1").unwrap().filters.len(), 1);
    assert_eq!(survey.site.roof.unwrap().membrane.as_deref(), Some("epdm"));
}

#[test]
fn confirmations_of_two_people_are_both_kept() {
    let (mut ana, mut ben) = two();
    ana.say("n1", &[("RTU-2", "nameplate.mca_a", json!(24))]);
    level(&mut ana, &mut ben);
    let id = ana.doc.survey().drafts[0].id.clone();
    ana.edit(Edit::Confirm { id: id.clone() });
    ben.edit(Edit::Confirm { id });
    level(&mut ana, &mut ben);
    assert_eq!(
        ana.doc.survey().drafts[0].origin.confirmed_by,
        ["ana", "ben"]
    );
    assert_eq!(ana.doc.conflicts(), []);
}

#[test]
fn a_unit_entered_twice_is_offered_joined_and_parted_again() {
    let (mut ana, mut ben) = two();
    let first = ana.add_unit("EF-4", EquipmentKind::ExhaustFan);
    ana.set("EF-4", "nameplate.mca_a", json!(7));
    let second = ben.add_unit("ef4", EquipmentKind::ExhaustFan);
    ben.set("ef4", "nameplate.mca_a", json!(8));
    ben.set("ef4", "nameplate.serial", json!("Q-11"));
    ben.edit(Edit::Add {
        table: Table::Findings,
        id: "f1".into(),
        entry: json!({"ref": "ef4", "component": "belt", "condition": "frayed"}),
    });
    level(&mut ana, &mut ben);
    let offers = ana.doc.same_unit_offers();
    assert_eq!(offers.len(), 1);
    assert_eq!(offers[0].because, ["same tag and kind"]);
    let (keep, other) = (offers[0].keep.clone(), offers[0].other.clone());
    assert_eq!(
        [&keep, &other],
        [(&first).min(&second), (&first).max(&second)]
    );

    // Each joins the other way round at the same time: still one unit.
    ana.edit(Edit::Join {
        keep: keep.clone(),
        other: other.clone(),
    });
    ben.edit(Edit::Join {
        keep: other.clone(),
        other: keep.clone(),
    });
    level(&mut ana, &mut ben);
    let survey = ana.doc.survey();
    assert_eq!(survey.equipment.len(), 1);
    assert_eq!(
        survey.equipment[0].nameplate.serial.as_deref(),
        Some("Q-11")
    );
    assert_eq!(survey.findings[0].about, survey.equipment[0].tag);
    assert_eq!(ana.doc.same_unit_offers(), []);
    let fields: Vec<String> = ana.doc.conflicts().into_iter().map(|c| c.field).collect();
    assert_eq!(fields, ["nameplate.mca_a", "tag"]);
    ana.set(&keep, "nameplate.mca_a", json!(8));
    ana.set(&keep, "tag", json!("EF-4"));
    assert_eq!(ana.doc.conflicts(), []);

    ana.edit(Edit::Unjoin {
        other: other.clone(),
    });
    assert_eq!(ana.doc.survey().equipment.len(), 2);
    ana.edit(Edit::KeepApart { one: keep, other });
    assert_eq!(ana.doc.same_unit_offers(), []);
}

#[test]
fn offers_look_at_serial_and_place_and_reach() {
    let (mut ana, _) = two();
    let place = |ana: &mut Person, id: &str, x: f64| ana.set(id, "at_ft", json!([x, 10.0]));
    let a = ana.add_unit("RTU-1", RTU);
    let b = ana.add_unit("RTU-1", RTU);
    place(&mut ana, &a, 10.0);
    place(&mut ana, &b, 80.0);
    assert_eq!(
        ana.doc.same_unit_offers(),
        [],
        "far apart: one tag used twice"
    );
    ana.set(&b, "at_accuracy_ft", json!(50));
    assert_eq!(
        ana.doc.same_unit_offers()[0].because,
        ["same tag and kind, 20 ft apart"]
    );
    ana.set(&b, "at_accuracy_ft", Value::Null);
    let c = ana.add_unit("RTU-7", RTU);
    place(&mut ana, &c, 81.0);
    ana.set(&a, "nameplate.serial", json!("ab 12-34"));
    ana.set(&c, "nameplate.serial", json!("AB1234"));
    let because: Vec<Vec<String>> = ana
        .doc
        .same_unit_offers()
        .into_iter()
        .map(|o| o.because)
        .collect();
    assert_eq!(
        because,
        [
            vec!["same serial number"],
            vec!["same kind in the same place"]
        ]
    );
}

#[test]
fn withdrawn_but_edited_since_is_back_in_view() {
    let (mut ana, mut ben) = two();
    ana.edit(Edit::Add {
        table: Table::Hazards,
        id: "h1".into(),
        entry: json!({"kind": "trip", "ref": "site"}),
    });
    level(&mut ana, &mut ben);
    ana.edit(Edit::Withdraw { about: "h1".into() });
    assert_eq!(ana.doc.survey().hazards.len(), 0);
    ben.set("h1", "remark", json!("hose across the walkway"));
    level(&mut ana, &mut ben);
    let hazards = ana.doc.survey().hazards;
    assert_eq!(hazards.len(), 1);
    assert_eq!(
        hazards[0].remark.as_deref(),
        Some("hose across the walkway")
    );
    assert_eq!(
        ana.doc.withdrawn_but_edited(),
        [("hazards", "h1".to_owned())]
    );
    // Withdrawn again with that in view, it is gone; reinstated, it is back for good.
    ana.edit(Edit::Reinstate { about: "h1".into() });
    assert_eq!(ana.doc.withdrawn_but_edited(), []);
    assert_eq!(ana.doc.survey().hazards.len(), 1);
    ana.edit(Edit::Withdraw { about: "h1".into() });
    assert_eq!(ana.doc.survey().hazards, []);
    level(&mut ana, &mut ben);
}

#[test]
fn one_id_made_on_two_devices_is_one_entry() {
    let (mut ana, mut ben) = two();
    let plan: Survey = read::from_json(
        r#"{"equipment": [{"id": "u1", "tag": "CU-1", "kind": "condensing_unit"}]}"#,
    )
    .unwrap();
    for person in [&mut ana, &mut ben] {
        let stamp = person.stamp();
        person.doc.import(&stamp, &plan, &mut person.ids).unwrap();
    }
    ana.set("CU-1", "nameplate.mca_a", json!(9));
    ben.set("CU-1", "nameplate.mocp_a", json!(15));
    level(&mut ana, &mut ben);
    let unit = ana.unit("CU-1");
    assert_eq!(unit.nameplate.mca_a.map(|a| a.get()), Some(9.0));
    assert_eq!(unit.nameplate.mocp_a.map(|a| a.get()), Some(15.0));
    assert_eq!(ana.doc.survey().equipment.len(), 1);
}

#[test]
fn an_earlier_value_comes_back_as_a_new_edit() {
    let (mut ana, _) = two();
    ana.add_unit("RTU-2", RTU);
    ana.set("RTU-2", "nameplate.mca_a", json!(24));
    ana.set("RTU-2", "nameplate.mca_a", Value::Null);
    let history = ana.doc.history("RTU-2", "nameplate.mca_a").unwrap();
    let values: Vec<Value> = history.iter().map(|step| step.value.clone()).collect();
    assert_eq!(values, [json!(24.0), Value::Null]);
    assert_eq!(history[0].stamp.as_ref().unwrap().device, "phone of ana");
    ana.set("RTU-2", "nameplate.mca_a", history[0].value.clone());
    assert_eq!(ana.unit("RTU-2").nameplate.mca_a.unwrap().get(), 24.0);
}

#[test]
fn the_next_visit_takes_the_register_and_names_its_parent() {
    let (mut ana, _) = two();
    let unit = ana.add_unit("RTU-2", RTU);
    ana.set("RTU-2", "readings.line_voltage_v", json!([238, 241]));
    ana.set("RTU-2", "nameplate.serial", json!("Z-1"));
    ana.set(SITE, "roof.outline_ft", json!([[0, 0], [9, 0], [9, 9]]));
    ana.say("n1", &[("RTU-2", "nameplate.mca_a", json!(24))]);
    let (stamp, start) = (ana.stamp(), ana.doc.next_visit());
    let mut next = SurveyDoc::create("s-2", Actor::of_device("ana", [2; 6])).unwrap();
    let change = next.import(&stamp, &start, &mut ana.ids).unwrap();
    assert!(change.is_some());
    let (last, next) = (ana.doc.survey(), next.survey());
    assert_eq!(
        (next.survey_id.as_str(), next.parent.as_deref()),
        ("s-2", Some("s-1"))
    );
    assert_eq!(next.site, last.site);
    assert_eq!(next.equipment[0].id, unit);
    assert_eq!(next.equipment[0].nameplate, last.equipment[0].nameplate);
    assert_eq!(next.equipment[0].readings, Default::default());
    assert_eq!((next.drafts.len(), next.notes.len()), (0, 0));
}

#[test]
fn changes_of_another_survey_or_out_of_thin_air_are_refused() {
    let (mut ana, mut ben) = two();
    ana.set(SITE, "name", json!("one"));
    let mut other = SurveyDoc::create("s-2", Actor::of_device("x", [0; 6])).unwrap();
    let changes = ana.doc.changes_since(&[]).unwrap();
    let error = other.apply_changes(&changes[1..]).unwrap_err();
    assert!(
        matches!(error, DocumentError::MissingChange { .. }),
        "{error}"
    );
    // The same actor signing two different changes under one number.
    let mut double = SurveyDoc::create("s-1", Actor::of_device("ana", [1; 6])).unwrap();
    let mut stamp = ana.stamp();
    stamp.author = "impostor".to_owned();
    let edit = Edit::Set {
        about: SITE.into(),
        field: "name".into(),
        value: json!("two"),
    };
    let forged = double.edit(&stamp, edit).unwrap().unwrap();
    let error = ana
        .doc
        .apply_changes(std::slice::from_ref(&forged))
        .unwrap_err();
    assert!(
        matches!(error, DocumentError::Forked { seq: 1, .. }),
        "{error}"
    );
    ben.doc.apply_changes(&[forged]).unwrap();
    for broken in [
        &b""[..],
        &b"not a change at all"[..],
        &changes[1].bytes()[..40],
    ] {
        assert!(matches!(
            Change::parse(broken),
            Err(DocumentError::Unreadable { .. })
        ));
    }
}

#[test]
fn every_device_begins_a_survey_with_the_same_change() {
    let (ana, ben) = two();
    assert_eq!(ana.doc.heads(), ben.doc.heads());
    // Pinned: another first change would cut every survey in the field off from its replicas.
    insta::assert_snapshot!(ana.doc.heads()[0], @"a8b9d4b6e51dc43dbee70d486b4853098911c91429c0b3833cd6814e9da308ad");
}

#[test]
fn a_settled_conflict_opened_again_stands_on_every_device_until_someone_chooses() {
    let (mut ana, mut ben) = two();
    ana.add_unit("RTU-2", RTU);
    level(&mut ana, &mut ben);
    let field = "nameplate.mca_a";
    ana.set("RTU-2", field, json!(24));
    ben.set("RTU-2", field, json!(42));
    level(&mut ana, &mut ben);
    ben.set("RTU-2", field, json!(30));
    let reopen = |values: Vec<Value>| Edit::Reopen {
        about: "RTU-2".to_owned(),
        field: field.to_owned(),
        values,
    };
    for bad in [vec![], vec![json!(24)], vec![json!(24), json!(-1)]] {
        let stamp = ben.stamp();
        assert!(ben.doc.edit(&stamp, reopen(bad)).is_err());
    }
    let stamp = ben.stamp();
    ben.doc
        .edit(&stamp, reopen(vec![json!(42), json!(24)]))
        .unwrap();
    level(&mut ana, &mut ben);
    let conflicts = ana.doc.conflicts();
    assert_eq!(conflicts.len(), 1);
    let said: Vec<(f64, &str)> = conflicts[0]
        .candidates
        .iter()
        .map(|c| {
            (
                c.value.as_f64().unwrap(),
                c.stamp.as_ref().unwrap().author.as_str(),
            )
        })
        .collect();
    assert_eq!(said, [(42.0, "ben"), (24.0, "ana")]);
    assert!(conflicts[0].between_people());
    assert_eq!(ana.unit("RTU-2").nameplate.mca_a.unwrap().get(), 42.0);
    assert_eq!(ana.doc.survey(), ben.doc.survey());
    // Choosing what is shown anyway closes it; so does any other value.
    ana.set("RTU-2", field, json!(42));
    level(&mut ana, &mut ben);
    assert_eq!(ben.doc.conflicts(), []);
    let stamp = ana.stamp();
    let outline = |values| Edit::Reopen {
        about: "site".to_owned(),
        field: "roof.height_ft".to_owned(),
        values,
    };
    ana.doc
        .edit(&stamp, outline(vec![json!(20), json!(22)]))
        .unwrap();
    level(&mut ana, &mut ben);
    assert_eq!(ben.doc.conflicts().len(), 1);
    assert_eq!(ben.doc.read().problems, Vec::<String>::new());
    ben.set("site", "roof.height_ft", json!(21));
    level(&mut ana, &mut ben);
    assert_eq!(ana.doc.conflicts(), []);
}
