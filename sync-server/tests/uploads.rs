//! Photos over HTTP: resumed at any byte, counted only when whole, sent once, read in ranges.

use crate::kit::{Phone, TestOffice, lent};

const SURVEY: &str = "survey-1";

async fn with_photo() -> (TestOffice, Phone, Vec<u8>) {
    let office = TestOffice::new();
    let mut phone = Phone::enrol(&office, "tech-1", "phone-a").await;
    phone.capture.join_survey(SURVEY).unwrap();
    phone.unit(SURVEY, "RTU-1");
    let original = phone.photo(SURVEY, 90);
    phone.exchange(&office, SURVEY).await;
    (office, phone, original)
}

/// Sends the phone's next file in pieces of so many bytes; returns the answer to the last one.
async fn send(office: &TestOffice, phone: &mut Phone, piece: usize) {
    let (upload, headers) = phone.next().unwrap();
    let bytes = std::fs::read(&upload.path).unwrap();
    let begun = office
        .ask("POST", &upload.create_path, &lent(&headers), "")
        .await
        .is(201);
    let place = begun.header("location").to_owned();
    let mut at = 0;
    while at < bytes.len() {
        let end = (at + piece).min(bytes.len());
        let offset = at.to_string();
        let headers = [
            ("authorization", phone.token.as_str()),
            ("upload-offset", &offset),
        ];
        let answer = office
            .ask("PATCH", &place, &headers, bytes[at..end].to_vec())
            .await
            .is(204);
        at = answer.header("upload-offset").parse().unwrap();
        assert_eq!(at, end);
        let whole = if end == bytes.len() { "?1" } else { "?0" };
        assert_eq!(answer.header("upload-complete"), whole);
    }
    phone
        .capture
        .upload_result(&upload.hash, upload.part, true)
        .unwrap();
}

/// Sends every file that waits, each whole.
pub(crate) async fn send_all(office: &TestOffice, phone: &mut Phone) {
    while phone.next().is_some() {
        send(office, phone, usize::MAX >> 1).await;
    }
}

#[tokio::test]
async fn a_photo_in_pieces_comes_back_whole() {
    let (office, mut phone, original) = with_photo().await;
    send(&office, &mut phone, 1 << 20).await;
    send(&office, &mut phone, 7_001).await;
    assert!(phone.next().is_none());
    let hash = blake3::hash(&original).to_hex().to_string();
    let path = format!("/v1/photos/{hash}");
    let auth = ("authorization", phone.token.as_str());
    let whole = office.ask("GET", &path, &[auth], "").await.is(200);
    assert_eq!(whole.body, original);
    assert_eq!(whole.header("content-type"), "image/jpeg");
    assert!(whole.header("cache-control").contains("private"));
    let part = office
        .ask("GET", &path, &[auth, ("range", "bytes=10-19")], "")
        .await
        .is(206);
    assert_eq!(part.body, &original[10..20]);
    assert_eq!(
        part.header("content-range"),
        format!("bytes 10-19/{}", original.len())
    );
    let tail = office
        .ask("GET", &path, &[auth, ("range", "bytes=-5")], "")
        .await
        .is(206);
    assert_eq!(tail.body, &original[original.len() - 5..]);
    office
        .ask("GET", &path, &[auth, ("range", "bytes=99999999-")], "")
        .await
        .is(416);
    for nonsense in ["null", "bytes=", "bytes=-", "bytes=a-b", "lines=1-2"] {
        let answer = office
            .ask("GET", &path, &[auth, ("range", nonsense)], "")
            .await;
        assert_eq!(answer.is(200).body, original, "{nonsense}");
    }
    let small = office
        .ask("GET", &format!("{path}/thumbnail"), &[auth], "")
        .await
        .is(200);
    assert!(small.body.starts_with(b"\xff\xd8"));
}

#[tokio::test]
async fn a_wrong_offset_is_told_the_true_one() {
    let (office, phone, _) = with_photo().await;
    let (upload, headers) = phone.next().unwrap();
    let begun = office
        .ask("POST", &upload.create_path, &lent(&headers), "")
        .await
        .is(201);
    let place = begun.header("location").to_owned();
    let auth = ("authorization", phone.token.as_str());
    office
        .ask("PATCH", &place, &[auth, ("upload-offset", "0")], "12345")
        .await
        .is(204);
    for wrong in ["0", "4", "6", "999"] {
        let answer = office
            .ask("PATCH", &place, &[auth, ("upload-offset", wrong)], "x")
            .await;
        assert_eq!(answer.is(409).header("upload-offset"), "5");
    }
    let stands = office.ask("HEAD", &place, &[auth], "").await.is(204);
    assert_eq!(stands.header("upload-offset"), "5");
    assert_eq!(stands.header("upload-complete"), "?0");
    // Beginning again finds it where it stands.
    let again = office
        .ask("POST", &upload.create_path, &lent(&headers), "")
        .await
        .is(201);
    assert_eq!(again.header("upload-offset"), "5");
    office.ask("DELETE", &place, &[auth], "").await.is(204);
    office.ask("HEAD", &place, &[auth], "").await.is(404);
    office
        .ask("PATCH", &place, &[auth, ("upload-offset", "5")], "x")
        .await
        .is(404);
}

#[tokio::test]
async fn a_wrong_hash_never_counts() {
    let (office, mut phone, original) = with_photo().await;
    send(&office, &mut phone, 1 << 20).await;
    let (upload, headers) = phone.next().unwrap();
    let begun = office
        .ask("POST", &upload.create_path, &lent(&headers), "")
        .await
        .is(201);
    let place = begun.header("location").to_owned();
    let token = phone.token.clone();
    let auth = ("authorization", token.as_str());
    let mut spoiled = original.clone();
    spoiled[100] ^= 1;
    office
        .ask("PATCH", &place, &[auth, ("upload-offset", "0")], spoiled)
        .await
        .is(422);
    let path = format!("/v1/photos/{}", upload.hash);
    office.ask("GET", &path, &[auth], "").await.is(404);
    // The right bytes are still welcome, from the start.
    send(&office, &mut phone, 1 << 20).await;
    assert_eq!(
        office.ask("GET", &path, &[auth], "").await.is(200).body,
        original
    );
}

#[tokio::test]
async fn a_photo_is_sent_once_whoever_took_it() {
    let (office, mut phone, original) = with_photo().await;
    let mut other = Phone::enrol(&office, "tech-2", "phone-b").await;
    other.capture.join_survey(SURVEY).unwrap();
    other.photo(SURVEY, 90);
    send(&office, &mut phone, 1 << 20).await;
    send(&office, &mut phone, 1 << 20).await;
    let (upload, headers) = other.next().unwrap();
    let answer = office
        .ask("POST", &upload.create_path, &lent(&headers), "")
        .await
        .is(200);
    assert_eq!(answer.header("upload-complete"), "?1");
    assert_eq!(upload.hash, blake3::hash(&original).to_hex().to_string());
    // The exchange says so too, so that the phone need not even ask.
    other.exchange(&office, SURVEY).await;
    assert!(other.next().is_none());
}

#[tokio::test]
async fn heads_that_make_no_sense_are_refused() {
    let (office, phone, _) = with_photo().await;
    let (upload, headers) = phone.next().unwrap();
    let change = |name: &str, value: Option<&str>| {
        let mut headers = headers.clone();
        headers.retain(|(n, _)| !n.eq_ignore_ascii_case(name));
        headers.extend(value.map(|v| (name.to_owned(), v.to_owned())));
        headers
    };
    for (name, value, status) in [
        ("Upload-Length", None, 400),
        ("Upload-Length", Some("-5"), 400),
        ("Upload-Length", Some("0"), 422),
        ("Upload-Length", Some("99999999999"), 413),
        ("Scupper-Photo", None, 400),
        ("Scupper-Photo", Some("../../../../etc/passwd"), 422),
        ("Scupper-Part", Some("poster"), 400),
        ("Scupper-Content", Some("zz"), 422),
        ("Scupper-Survey", Some("../../etc"), 404),
        ("Scupper-Survey", Some("survey-of-others"), 404),
    ] {
        let headers = change(name, value);
        let answer = office
            .ask("POST", &upload.create_path, &lent(&headers), "")
            .await;
        assert_eq!(
            answer.status,
            status,
            "{name}: {value:?}: {}",
            answer.text()
        );
    }
    let auth = ("authorization", phone.token.as_str());
    for path in [
        "original-..%2F..%2Fetc%2Fpasswd",
        "original-",
        "poster-00",
        "x",
    ] {
        let place = format!("/v1/uploads/{path}");
        let answer = office
            .ask("PATCH", &place, &[auth, ("upload-offset", "0")], "x")
            .await;
        assert!(
            matches!(answer.status.as_u16(), 404 | 422),
            "{path}: {}",
            answer.status
        );
    }
}

#[tokio::test]
async fn a_script_posing_as_a_photo_is_only_ever_a_download() {
    let (office, phone, _) = with_photo().await;
    let evil = b"<script>alert(1)</script>".to_vec();
    let hash = blake3::hash(&evil).to_hex().to_string();
    let length = evil.len().to_string();
    let auth = ("authorization", phone.token.as_str());
    let headers = [
        auth,
        ("upload-length", length.as_str()),
        ("content-type", "text/html"),
        ("scupper-photo", hash.as_str()),
        ("scupper-part", "original"),
        ("scupper-content", hash.as_str()),
        ("scupper-survey", SURVEY),
    ];
    let begun = office
        .ask("POST", "/v1/uploads", &headers, "")
        .await
        .is(201);
    let place = begun.header("location").to_owned();
    office
        .ask("PATCH", &place, &[auth, ("upload-offset", "0")], evil)
        .await
        .is(204);
    let got = office
        .ask("GET", &format!("/v1/photos/{hash}"), &[auth], "")
        .await
        .is(200);
    assert_eq!(got.header("content-type"), "application/octet-stream");
    assert_eq!(got.header("content-disposition"), "attachment");
    assert_eq!(got.header("x-content-type-options"), "nosniff");
}

#[tokio::test]
async fn a_type_we_do_not_read_is_kept_byte_for_byte_and_shown_by_its_preview() {
    let (office, mut phone, _) = with_photo().await;
    send_all(&office, &mut phone).await;
    let heic = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic and then what this program does not read";
    let preview = image::RgbImage::from_pixel(40, 30, image::Rgb([200, 30, 30]));
    let mut jpeg = Vec::new();
    let to = image::codecs::jpeg::JpegEncoder::new(&mut jpeg);
    preview.write_with_encoder(to).unwrap();
    let about = scupper_core::capture::PhotoAbout {
        preview: Some(jpeg),
        ..Default::default()
    };
    phone.capture.take_photo(SURVEY, heic, about).unwrap();
    phone.exchange(&office, SURVEY).await;
    send_all(&office, &mut phone).await;
    let hash = blake3::hash(heic).to_hex().to_string();
    let auth = ("authorization", phone.token.as_str());
    let path = format!("/v1/photos/{hash}");
    let whole = office.ask("GET", &path, &[auth], "").await.is(200);
    assert_eq!(whole.body, heic);
    assert_eq!(whole.header("content-type"), "image/heic");
    let small = office
        .ask("GET", &format!("{path}/thumbnail"), &[auth], "")
        .await
        .is(200);
    assert_eq!(small.header("content-type"), "image/jpeg");
    let shown = image::load_from_memory(&small.body).unwrap();
    assert_eq!((shown.width(), shown.height()), (40, 30));
}

#[tokio::test]
async fn a_full_quota_is_told_and_takes_nothing() {
    let office = TestOffice::with(scupper_server::Limits {
        contractor_photos: 1,
        ..Default::default()
    });
    let mut phone = Phone::enrol(&office, "tech-1", "phone-a").await;
    phone.capture.join_survey(SURVEY).unwrap();
    phone.unit(SURVEY, "RTU-1");
    let original = phone.photo(SURVEY, 90);
    phone.exchange(&office, SURVEY).await;
    let (upload, headers) = phone.next().unwrap();
    let answer = office
        .ask("POST", &upload.create_path, &lent(&headers), "")
        .await
        .is(507);
    assert!(answer.text().contains("quota"), "{}", answer.text());
    let hash = blake3::hash(&original).to_hex().to_string();
    let auth = ("authorization", phone.token.as_str());
    office
        .ask("GET", &format!("/v1/photos/{hash}"), &[auth], "")
        .await
        .is(404);
}
