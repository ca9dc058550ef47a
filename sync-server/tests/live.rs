//! News of a survey (SSE) without a browser: heard at once by who listens, told on return to who
//! was away, and never missed by who reads slowly.

use crate::access::{SURVEY, surveyed};
use crate::kit::{Phone, TestOffice};
use axum::body::{Body, BodyDataStream};
use axum::http::Request;
use futures_util::StreamExt;
use std::time::Duration;
use tower::ServiceExt;

/// An open stream of events.
struct News {
    body: BodyDataStream,
    unread: String,
}

impl News {
    async fn open(office: &TestOffice, token: &str) -> Self {
        let path = format!("/v1/surveys/{SURVEY}/events");
        let request = Request::get(path).header("authorization", token);
        let request = request.body(Body::empty()).unwrap();
        let answer = office.router.clone().oneshot(request).await.unwrap();
        assert_eq!(answer.status(), 200);
        assert_eq!(answer.headers()["content-type"], "text/event-stream");
        Self {
            body: answer.into_body().into_data_stream(),
            unread: String::new(),
        }
    }

    /// The next event as it stands on the wire.
    async fn next(&mut self) -> String {
        loop {
            if let Some((event, rest)) = self.unread.split_once("\n\n") {
                let (event, rest) = (event.to_owned(), rest.to_owned());
                self.unread = rest;
                return event;
            }
            let more = tokio::time::timeout(Duration::from_secs(10), self.body.next());
            let more = more.await.expect("no news in ten seconds");
            let more = more.expect("the stream ended").unwrap();
            self.unread.push_str(std::str::from_utf8(&more).unwrap());
        }
    }

    /// The state that the next event `heads` tells; `office` follows it.
    async fn heads(&mut self) -> String {
        let event = self.next().await;
        let heads = event.strip_prefix("event: heads\ndata: ");
        let heads = heads.unwrap_or_else(|| panic!("{event}")).to_owned();
        let office = self.next().await;
        assert!(office.starts_with("event: office\ndata: "), "{office}");
        heads
    }
}

/// Where the list of surveys says it stands.
async fn listed(office: &TestOffice, token: &str) -> String {
    let headers = [("authorization", token)];
    let list = office.ask("GET", "/v1/surveys", &headers, "").await;
    list.is(200).json()[0]["heads"].as_str().unwrap().to_owned()
}

async fn work(office: &TestOffice, phone: &mut Phone, tag: &str) -> String {
    phone.unit(SURVEY, tag);
    phone.exchange(office, SURVEY).await;
    listed(office, &phone.token).await
}

#[tokio::test]
async fn who_was_away_is_told_on_return_where_the_survey_stands() {
    let office = TestOffice::new();
    let mut ana = surveyed(&office).await;
    let mut ben = Phone::enrol(&office, "tech-2", "phone-b").await;
    ben.capture.join_survey(SURVEY).unwrap();
    let before = listed(&office, &ana.token).await;
    let mut news = News::open(&office, &ben.token).await;
    assert_eq!(news.heads().await, before);
    // Heard at once.
    let second = work(&office, &mut ana, "RTU-2").await;
    assert_ne!(second, before);
    assert_eq!(news.heads().await, second);
    // The line drops; while it is down two things happen; on return one look tells of both.
    drop(news);
    work(&office, &mut ana, "RTU-3").await;
    let last = work(&office, &mut ana, "RTU-4").await;
    let mut news = News::open(&office, &ben.token).await;
    assert_eq!(news.heads().await, last);
    ben.exchange(&office, SURVEY).await;
    assert_eq!(
        ben.capture.survey(SURVEY).unwrap(),
        ana.capture.survey(SURVEY).unwrap()
    );
    // And goes on from there.
    let after = work(&office, &mut ana, "RTU-5").await;
    assert_eq!(news.heads().await, after);
}

#[tokio::test]
async fn who_reads_slowly_misses_words_and_no_change() {
    let office = TestOffice::new();
    let mut ana = surveyed(&office).await;
    let mut news = News::open(&office, &ana.token).await;
    news.heads().await;
    // More words than are kept for a listener that does not read.
    let mut last = String::new();
    for n in 0..300 {
        let tag = format!("EF-{n}");
        ana.unit(SURVEY, &tag);
        ana.post(&office, SURVEY).await.is(200);
        if n == 299 {
            last = listed(&office, &ana.token).await;
        }
    }
    assert_eq!(news.heads().await, last);
}
