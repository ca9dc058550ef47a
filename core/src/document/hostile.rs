//! Changes that no program of ours would make: each is refused or harmless, never a panic, and
//! the document still reads, saves and loads.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use automerge::legacy::{Key, ObjectId, Op, OpId, OpType, SortedVec};
use automerge::{ActorId, ExpandedChange, ObjType, ScalarValue};
use chrono::DateTime;
use serde_json::json;
use std::num::NonZeroU64;

fn survey() -> (SurveyDoc, Change) {
    let stamp = Stamp {
        author: "ana".to_owned(),
        device: "ana".to_owned(),
        at: DateTime::parse_from_rfc3339("2026-04-14T08:00:00-05:00").unwrap(),
        clock_offset_ms: None,
    };
    let mut doc = SurveyDoc::create("s-1", Actor::of_device("ana", [1; 6])).unwrap();
    let add = |table, id: &str, entry| Edit::Add {
        table,
        id: id.to_owned(),
        entry,
    };
    let unit = json!({"tag": "RTU-1", "kind": "packaged_rooftop_unit", "nameplate": {"mca_a": 9}});
    doc.edit(&stamp, add(Table::Equipment, "u1", unit)).unwrap();
    let hazard = json!({"kind": "trip", "ref": "RTU-1"});
    doc.edit(&stamp, add(Table::Hazards, "h1", hazard)).unwrap();
    doc.edit(&stamp, Edit::Withdraw { about: "h1".into() })
        .unwrap();
    let last = Edit::Set {
        about: "RTU-1".into(),
        field: "airflow_cfm".into(),
        value: json!(5),
    };
    let change = doc.edit(&stamp, last).unwrap().unwrap();
    (doc, change)
}

/// A change by a stranger on top of the survey, bent by `bend`.
fn bent(bend: impl FnOnce(&mut ExpandedChange, &ActorId)) -> Option<Change> {
    let (doc, last) = survey();
    let stranger = ActorId::from([9_u8; 16]);
    let mut change = last.inner().decode();
    let ana = change.actor_id.clone();
    change.actor_id = stranger;
    change.seq = 1;
    change.deps = doc.heads().iter().map(|hash| hash.to_automerge()).collect();
    change.start_op = NonZeroU64::new(last.inner().max_op() + 1).unwrap();
    change.hash = None;
    bend(&mut change, &ana);
    // A change so bent that it cannot even be written down is no danger.
    guard(|| automerge::Change::from(change)).map(Change::from_automerge)
}

fn op(action: OpType, obj: ObjectId, key: &str, pred: Vec<OpId>) -> Op {
    Op {
        action,
        obj,
        key: Key::Map(key.into()),
        pred: SortedVec::from(pred),
        insert: false,
    }
}

fn put(value: ScalarValue) -> OpType {
    OpType::Put(value)
}

#[track_caller]
fn survives(name: &str, bend: impl FnOnce(&mut ExpandedChange, &ActorId)) {
    let Some(change) = bent(bend) else { return };
    let (mut doc, _) = survey();
    let before = doc.save();
    let Ok(parsed) = Change::parse(change.bytes()) else {
        return;
    };
    match guard(|| doc.apply_foreign(&[parsed])).unwrap_or_else(|| panic!("{name}: panic")) {
        Err(DocumentError::Unreadable { .. } | DocumentError::Internal { .. }) => {
            // The contract: load it again.
            doc = SurveyDoc::load("s-1", &[before], Actor::of_device("ana", [2; 6])).unwrap();
        }
        Err(_) => assert_eq!(doc.save(), before, "{name}"),
        Ok(_) => {}
    }
    let read = guard(|| {
        let seen = (
            doc.read(),
            doc.conflicts(),
            doc.same_unit_offers(),
            doc.withdrawn_but_edited(),
        );
        let _ = doc.history("RTU-1", "airflow_cfm");
        (seen, doc.save())
    });
    let (seen, saved) = read.unwrap_or_else(|| panic!("{name}: panic while reading"));
    let again = SurveyDoc::load("s-1", &[saved], Actor::of_device("ana", [3; 6])).unwrap();
    assert_eq!(again.read(), seen.0, "{name}");
}

#[test]
fn bent_changes_are_refused_or_harmless() {
    let root = || ObjectId::Root;
    let zero = ActorId::from([0_u8; 16]);
    let genesis = |n: u64| OpId::new(n, &zero);
    let table = |n: u64| ObjectId::Id(genesis(n));
    survives("nothing bent", |_, _| {});
    survives("object that is not there", |c, ana| {
        c.operations = vec![op(
            put(1.into()),
            ObjectId::Id(OpId::new(999, ana)),
            "x",
            vec![],
        )];
    });
    survives("object of an unknown actor", |c, _| {
        let nobody = ActorId::from([7_u8; 16]);
        c.operations = vec![op(
            put(1.into()),
            ObjectId::Id(OpId::new(1, &nobody)),
            "x",
            vec![],
        )];
    });
    survives("overwrites what is not there", |c, ana| {
        c.operations = vec![op(put(1.into()), root(), "x", vec![OpId::new(999, ana)])];
    });
    survives("far ahead", |c, _| {
        c.start_op = NonZeroU64::new(u64::from(u32::MAX) - 1).unwrap()
    });
    survives("farther", |c, _| c.start_op = NonZeroU64::MAX);
    survives("behind", |c, _| c.start_op = NonZeroU64::MIN);
    survives("number skipped", |c, _| c.seq = 7);
    survives("number zero", |c, _| c.seq = 0);
    survives("greatest number", |c, _| c.seq = u64::MAX);
    survives("out of nothing", |c, _| c.deps.clear());
    survives("same parent twice", |c, _| c.deps.extend(c.deps.clone()));
    survives("no operations", |c, _| c.operations.clear());
    survives("no message", |c, _| c.message = None);
    survives("not our message", |c, _| {
        c.message = Some("[1, 2".to_owned())
    });
    for n in 1..20 {
        survives("table replaced by a number", |c, _| {
            c.operations = vec![op(put(5.into()), root(), "equipment", vec![genesis(n)])];
        });
        survives("table deleted", |c, _| {
            c.operations = vec![op(OpType::Delete, root(), "equipment", vec![genesis(n)])];
        });
        survives("table doubled", |c, _| {
            c.operations = vec![op(OpType::Make(ObjType::Map), root(), "equipment", vec![])];
        });
        for made in [ObjType::List, ObjType::Text, ObjType::Map, ObjType::Table] {
            survives("entry of another kind", |c, _| {
                c.operations = vec![op(OpType::Make(made), table(n), "u1", vec![])];
            });
        }
        for value in [
            ScalarValue::F64(f64::NAN),
            ScalarValue::F64(f64::INFINITY),
            ScalarValue::Bytes(b"{not json".to_vec()),
            ScalarValue::Uint(u64::MAX),
            ScalarValue::Timestamp(i64::MIN),
            ScalarValue::counter(3),
            ScalarValue::Null,
            ScalarValue::Str("\u{0}\u{202e}".into()),
            ScalarValue::Unknown {
                type_code: 12,
                bytes: vec![1, 2],
            },
        ] {
            survives("value that does not fit", |c, _| {
                c.operations = vec![op(put(value.clone()), table(n), "survey_id", vec![])];
            });
        }
        survives("empty and odd keys", |c, _| {
            c.operations = [
                "",
                ".",
                "a..b",
                "edges.x.y",
                "edges.99999999999999999999.from",
            ]
            .map(|key| op(put(1.into()), table(n), key, vec![]))
            .to_vec();
        });
        survives("counted up", |c, _| {
            c.operations = vec![op(
                OpType::Increment(i64::MAX),
                table(n),
                "survey_id",
                vec![genesis(2)],
            )];
        });
        survives("inserted into a map", |c, _| {
            let mut insert = op(put(1.into()), table(n), "x", vec![]);
            insert.insert = true;
            c.operations = vec![insert];
        });
        survives("a list's key in a map", |c, _| {
            let mut odd = op(put(1.into()), table(n), "x", vec![]);
            odd.key = Key::head();
            c.operations = vec![odd];
        });
    }
}

#[test]
fn fields_that_do_not_fit_are_left_out_and_named() {
    let (mut doc, _) = survey();
    let unit = doc.object(Table::Equipment, "u1").unwrap();
    let automerge::ObjId::Id(counter, actor, _) = unit else {
        panic!()
    };
    let unit = ObjectId::Id(OpId::new(counter, &actor));
    let change = bent(|c, _| {
        c.operations = vec![
            op(put("lots".into()), unit.clone(), "nameplate.mocp_a", vec![]),
            op(
                put("x".into()),
                unit.clone(),
                "nameplate.mca_a.deeper",
                vec![],
            ),
            op(put("somewhere".into()), unit.clone(), "at_ft", vec![]),
            op(put("teleporter".into()), unit, "outdoor_air_side", vec![]),
        ];
    });
    doc.apply_changes(&[change.unwrap()]).unwrap();
    let reading = doc.read();
    let read = reading.survey.unit("RTU-1").unwrap();
    assert_eq!(read.nameplate.mca_a.map(|a| a.get()), Some(9.0));
    assert_eq!(read.airflow_cfm.map(|a| a.get()), Some(5.0));
    assert_eq!(reading.problems.len(), 3, "{:?}", reading.problems);
    assert!(
        reading
            .problems
            .iter()
            .all(|p| p.starts_with("equipment/u1.")),
        "{:?}",
        reading.problems
    );
}
