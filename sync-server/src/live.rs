//! Word that a survey changed, for pages and phones that are listening right now.
//!
//! Only a hint travels: whoever hears it asks for the truth. A listener that was away or too
//! slow is told on its return where the survey stands, so nothing depends on every hint arriving.

use tokio::sync::broadcast;

/// A survey that changed.
#[derive(Debug, Clone)]
pub(crate) struct Changed {
    /// Whose it is.
    pub(crate) contractor: i64,
    /// Which.
    pub(crate) survey: String,
}

/// Where changes are called out.
#[derive(Debug)]
pub(crate) struct Live(broadcast::Sender<Changed>);

impl Live {
    pub(crate) fn new() -> Self {
        Self(broadcast::channel(256).0)
    }

    /// Calls a change out; nobody listening is fine.
    pub(crate) fn call(&self, contractor: i64, survey: &str) {
        let _ = self.0.send(Changed {
            contractor,
            survey: survey.to_owned(),
        });
    }

    /// Begins to listen.
    pub(crate) fn listen(&self) -> broadcast::Receiver<Changed> {
        self.0.subscribe()
    }
}
