//! Word that a survey changed, for pages and phones that are listening right now.
//!
//! Only a hint travels: whoever hears it asks for the truth. A listener that was away or too
//! slow is told on its return where the survey stands, so nothing depends on every hint arriving.

use tokio::sync::broadcast;

/// Word about surveys.
#[derive(Debug, Clone)]
pub(crate) enum Word {
    /// One changed.
    Changed {
        /// Whose it is.
        contractor: i64,
        /// Which.
        survey: String,
    },
    /// Any may have: news was missed.
    #[cfg_attr(
        not(feature = "postgres"),
        allow(dead_code, reason = "only a shared office misses news")
    )]
    Anything,
    /// The server stops; listeners should hang up.
    Closing,
}

/// Where changes are called out.
#[derive(Debug)]
pub(crate) struct Live(broadcast::Sender<Word>);

impl Live {
    pub(crate) fn new() -> Self {
        Self(broadcast::channel(256).0)
    }

    /// Calls a change out; nobody listening is fine.
    pub(crate) fn call(&self, contractor: i64, survey: &str) {
        let survey = survey.to_owned();
        let _ = self.0.send(Word::Changed { contractor, survey });
    }

    /// Has every listener look again.
    #[cfg(feature = "postgres")]
    pub(crate) fn call_everyone(&self) {
        let _ = self.0.send(Word::Anything);
    }

    /// Tells listeners to hang up.
    pub(crate) fn close(&self) {
        let _ = self.0.send(Word::Closing);
    }

    /// Begins to listen.
    pub(crate) fn listen(&self) -> broadcast::Receiver<Word> {
        self.0.subscribe()
    }
}
