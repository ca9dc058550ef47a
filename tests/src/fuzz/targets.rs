//! What reads bytes from outside, each with good examples and what it promises.

use chrono::{DateTime, FixedOffset};
use scupper_core::assess::{AssessOptions, assess};
use scupper_core::dictation::{Lexicon, interpret};
use scupper_core::document::{Actor, Change, Edit, Stamp, SurveyDoc, Table};
use scupper_core::exchange::{self, Answer, Caller, Limits, Request, SealKey, Shared};
use scupper_core::photo;
use scupper_core::plan::{DrawOptions, draw};
use scupper_core::quote::{RateBook, quote};
use scupper_core::survey::read::{from_json, survey_from_json};
use scupper_core::survey::spoken::Transcript;
use serde_json::json;
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

/// Reads an input; whether it was taken.
pub type Reader = Box<dyn FnMut(&[u8]) -> bool>;

/// One thing that reads bytes from outside.
#[derive(Debug, Clone, Copy)]
pub struct Target {
    /// What it is called on the command line.
    pub name: &'static str,
    /// Good examples.
    pub corpus: fn() -> Vec<Vec<u8>>,
    /// Makes a fresh reader.
    pub reader: fn() -> Reader,
}

/// Every target.
pub const TARGETS: &[Target] = &[
    Target {
        name: "changes",
        corpus: changes,
        reader: read_changes,
    },
    Target {
        name: "message",
        corpus: messages,
        reader: read_messages,
    },
    Target {
        name: "transcript",
        corpus: transcripts,
        reader: read_transcripts,
    },
    Target {
        name: "survey",
        corpus: surveys,
        reader: read_surveys,
    },
    Target {
        name: "photo",
        corpus: photos,
        reader: read_photos,
    },
    Target {
        name: "upload",
        corpus: uploads,
        reader: read_uploads,
    },
    Target {
        name: "ratebook",
        corpus: ratebooks,
        reader: read_ratebooks,
    },
];

/// The target with this name.
pub fn named(name: &str) -> Option<&'static Target> {
    TARGETS.iter().find(|target| target.name == name)
}

const SURVEY: &str = "s-1";
const KEY: SealKey = SealKey::new([3; 32]);

fn fixtures(folder: &str, ext: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../fixtures")
        .join(folder);
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|found| found == ext))
        .collect();
    files.sort();
    files
        .iter()
        .filter_map(|file| std::fs::read(file).ok())
        .collect()
}

fn stamp() -> Stamp {
    Stamp {
        author: "ana".to_owned(),
        device: "ana".to_owned(),
        at: DateTime::<FixedOffset>::default(),
        clock_offset_ms: None,
    }
}

fn fresh(device: &str) -> Option<SurveyDoc> {
    SurveyDoc::create(SURVEY, Actor::of_device(device, [1; 6])).ok()
}

/// A document with a few edits, and the changes that made it.
fn edited() -> Option<(SurveyDoc, Vec<Change>)> {
    let mut doc = fresh("ana")?;
    let mut made = Vec::new();
    for n in 0..4 {
        let entry = json!({"tag": format!("RTU-{n}"), "kind": "packaged_rooftop_unit",
            "nameplate": {"mca_a": 20 + n}, "at_ft": [n, 2]});
        let id = format!("u{n}");
        let add = Edit::Add {
            table: Table::Equipment,
            id,
            entry,
        };
        made.extend(doc.edit(&stamp(), add).ok()?);
    }
    let set = |field: &str, value| Edit::Set {
        about: "RTU-1".to_owned(),
        field: field.to_owned(),
        value,
    };
    for edit in [
        set("belts", json!([{"designation": "A42", "quantity": 1}])),
        set("nameplate.mca_a", json!(30)),
        Edit::Join {
            keep: "u1".to_owned(),
            other: "u2".to_owned(),
        },
        Edit::Withdraw {
            about: "u3".to_owned(),
        },
    ] {
        made.extend(doc.edit(&stamp(), edit).ok()?);
    }
    Some((doc, made))
}

/// The contents of change chunks, each by someone new on top of what [`edited`] made; the reader
/// puts head and sum to them, so that what is behind the sum is tried.
fn changes() -> Vec<Vec<u8>> {
    let content = |change: &Change| {
        let bytes = change.bytes();
        let head = bytes.iter().skip(9).position(|byte| byte & 0x80 == 0)?;
        bytes.get(10 + head..).map(<[u8]>::to_vec)
    };
    let on_top = |edit: Edit| {
        let (_, known) = edited()?;
        let mut doc = fresh("zed")?;
        doc.apply_changes(&known).ok()?;
        content(&doc.edit(&stamp(), edit).ok()??)
    };
    let set = |about: &str, field: &str, value| Edit::Set {
        about: about.to_owned(),
        field: field.to_owned(),
        value,
    };
    let note = json!({"id": "n1", "author": "zed", "segments": [{"text": "unit two is torn"}]});
    let edits = [
        set("RTU-1", "nameplate.mca_a", json!(44)),
        set(
            "RTU-0",
            "filters",
            json!([{"width_in": 20, "height_in": 25, "depth_in": 2, "quantity": 4}]),
        ),
        set("site", "roof.outline_ft", json!([[0, 0], [9, 0], [9, 9]])),
        Edit::Add {
            table: Table::Notes,
            id: "n1".to_owned(),
            entry: note,
        },
        Edit::Unjoin {
            other: "u2".to_owned(),
        },
        Edit::Reinstate {
            about: "u3".to_owned(),
        },
        Edit::KeepApart {
            one: "u0".to_owned(),
            other: "u1".to_owned(),
        },
    ];
    edits.into_iter().filter_map(on_top).collect()
}

/// A change chunk of Automerge's format around its content: magic bytes, the first 4 bytes of
/// SHA-256 over the rest, type 1, the length, the content.
fn chunk(content: &[u8]) -> Vec<u8> {
    let mut rest = vec![1];
    let mut length = content.len();
    while length >= 0x80 {
        rest.push(length as u8 | 0x80);
        length >>= 7;
    }
    rest.push(length as u8);
    rest.extend_from_slice(content);
    let sum = Sha256::digest(&rest);
    let mut whole = vec![0x85, 0x6f, 0x4a, 0x83];
    whole.extend(sum.iter().take(4));
    whole.extend(rest);
    whole
}

fn read_changes() -> Reader {
    let known = edited().map(|(_, made)| made).unwrap_or_default();
    Box::new(move |bytes| {
        let Ok(change) = Change::parse(&chunk(bytes)) else {
            return false;
        };
        let Some(mut doc) = fresh("ben") else {
            return false;
        };
        let mut all = known.clone();
        all.push(change);
        if doc.apply_foreign(&all).is_err() {
            return false;
        }
        let survey = doc.survey();
        doc.conflicts();
        // What was taken saves and loads.
        let again = SurveyDoc::load(SURVEY, &[doc.save()], Actor::of_device("cy", [2; 6]));
        assert_eq!(again.map(|doc| doc.survey()).ok(), Some(survey));
        true
    })
}

/// Requests and answers, unfolded: the reader folds them again, so that a bent one gets past zstd.
fn messages() -> Vec<Vec<u8>> {
    let Some((doc, _)) = edited() else {
        return Vec::new();
    };
    let request = exchange::prepare(&doc, &Shared::default(), 7, Limits::default());
    let mut found = Vec::new();
    for message in [
        request.encode(),
        reply(&request).map_or(Ok(Vec::new()), |a| a.encode()),
    ] {
        let unfolded = message
            .ok()
            .and_then(|m| zstd::decode_all(m.as_slice()).ok());
        found.extend(unfolded);
    }
    found
}

fn reply(request: &Request) -> Option<Answer> {
    let mut doc = fresh("office")?;
    let caller = Caller {
        device_id: "ana",
        author: None,
        now_ms: 9,
    };
    let outcome = exchange::answer(&mut doc, request, caller, &KEY, Limits::default());
    Some(outcome.ok()?.answer)
}

fn read_messages() -> Reader {
    Box::new(move |bytes| {
        let limits = Limits::default();
        let folded = zstd::bulk::compress(bytes, 1).unwrap_or_default();
        let mut taken = false;
        for bytes in [folded.as_slice(), bytes] {
            if let Ok(request) = Request::decode(bytes, limits) {
                taken |= reply(&request).is_some();
            }
            if let (Ok(answer), Some(mut doc)) = (Answer::decode(bytes, limits), fresh("ana")) {
                let shared = Shared::default();
                taken |= exchange::accept(&mut doc, &shared, &answer, 9, limits).is_ok();
                doc.survey();
            }
        }
        taken
    })
}

fn transcripts() -> Vec<Vec<u8>> {
    let mut found = fixtures("bakery/notes", "json");
    found.extend(fixtures("exemplar", "json").into_iter().filter(|file| {
        let text = std::str::from_utf8(file).unwrap_or_default();
        text.contains("\"segments\"")
    }));
    found
}

fn read_transcripts() -> Reader {
    Box::new(|bytes| {
        let Ok(text) = std::str::from_utf8(bytes) else {
            return false;
        };
        let Ok(note) = from_json::<Transcript>(text) else {
            return false;
        };
        let found = interpret(&note, Lexicon::builtin());
        // Nothing without words that are really there.
        let facts = found.facts.iter().map(|fact| &fact.evidence);
        for evidence in facts.chain(found.findings.iter().map(|finding| &finding.evidence)) {
            let segment = note.segments.get(evidence.segment);
            let words = segment.and_then(|s| s.text.get(evidence.start..evidence.end));
            assert!(words.is_some(), "evidence beside the text: {evidence:?}");
        }
        if let Some(mut doc) = fresh("ana") {
            let mut ids = scupper_core::document::UuidIds::new(|| [7; 8]);
            let _ = doc.add_interpretation(&stamp(), &note, &found, &mut ids);
            doc.survey();
        }
        true
    })
}

fn surveys() -> Vec<Vec<u8>> {
    let all = fixtures("exemplar", "json")
        .into_iter()
        .chain(fixtures("bakery", "json"));
    let read = |file: &Vec<u8>| {
        let text = std::str::from_utf8(file).unwrap_or_default();
        text.contains("\"site\"") && survey_from_json(text).is_ok()
    };
    all.filter(read).collect()
}

fn read_surveys() -> Reader {
    let book = RateBook::builtin_example();
    Box::new(move |bytes| {
        let Ok(text) = std::str::from_utf8(bytes) else {
            return false;
        };
        let Ok(survey) = survey_from_json(text) else {
            return false;
        };
        let assessment = assess(&survey, &AssessOptions::default());
        let price = quote(&survey, &assessment, &book);
        draw(&survey, &DrawOptions::default());
        assert!(
            serde_json::to_string(&assessment).is_ok() && serde_json::to_string(&price).is_ok()
        );
        // What is written out is read back.
        let written = serde_json::to_string(&survey).unwrap_or_default();
        let again = survey_from_json(&written);
        assert!(again.as_ref() == Ok(&survey), "not read back: {again:?}");
        true
    })
}

fn photos() -> Vec<Vec<u8>> {
    let mut found: Vec<Vec<u8>> = fixtures("bakery/photos", "jpg");
    // Small ones bend more often where it matters.
    found.sort_by_key(Vec::len);
    found.truncate(1);
    let small = image::RgbImage::from_fn(16, 9, |x, y| image::Rgb([x as u8, y as u8, 7]));
    for format in [image::ImageFormat::Png, image::ImageFormat::Jpeg] {
        let mut bytes = std::io::Cursor::new(Vec::new());
        if small.write_to(&mut bytes, format).is_ok() {
            found.push(bytes.into_inner());
        }
    }
    found.push(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic".to_vec());
    found
}

fn read_photos() -> Reader {
    Box::new(|bytes| {
        let taken = photo::intake(bytes, None, photo::Limits::default());
        let by_preview =
            photo::intake(b"\0\0\0\x18ftypheic", Some(bytes), photo::Limits::default());
        taken.is_ok() || by_preview.is_ok()
    })
}

fn uploads() -> Vec<Vec<u8>> {
    let hash = blake3::hash(b"x").to_hex();
    vec![
        format!(
            "POST /v1/uploads\nUpload-Length: 1\nContent-Type: image/jpeg\nScupper-Photo: {hash}\n\
             Scupper-Part: original\nScupper-Content: {hash}\nScupper-Survey: {SURVEY}\n\n"
        )
        .into_bytes(),
        format!("HEAD /v1/uploads/original-{hash}\n\n").into_bytes(),
        format!("PATCH /v1/uploads/original-{hash}\nUpload-Offset: 0\n\nx").into_bytes(),
        format!("DELETE /v1/uploads/thumbnail-{hash}\n\n").into_bytes(),
        format!("GET /v1/photos/{hash}\nRange: bytes=0-\n\n").into_bytes(),
    ]
}

fn read_uploads() -> Reader {
    let mut office = super::office::Office::open();
    Box::new(move |bytes| office.as_mut().is_some_and(|office| office.ask(bytes)))
}

fn ratebooks() -> Vec<Vec<u8>> {
    fixtures("bakery", "toml")
}

fn read_ratebooks() -> Reader {
    let surveys = fixtures("exemplar", "json");
    let survey = surveys
        .iter()
        .find_map(|s| survey_from_json(std::str::from_utf8(s).ok()?).ok());
    let survey = survey.unwrap_or_default();
    let assessment = assess(&survey, &AssessOptions::default());
    Box::new(move |bytes| {
        let Ok(text) = std::str::from_utf8(bytes) else {
            return false;
        };
        let Ok(book) = RateBook::from_toml(text) else {
            return false;
        };
        let price = quote(&survey, &assessment, &book);
        serde_json::to_string(&price).is_ok()
    })
}
