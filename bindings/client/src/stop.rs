//! Ending from another thread what a client waits for.

use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use ureq::Agent;

/// The connections of the clients that are given it. Stopped, they end at once, whatever they wait
/// for; only one that is just being made is finished first: its name is looked up for as long as
/// the system takes, then it has ten seconds.
#[derive(Debug, Clone)]
pub struct Stop {
    stopped: Arc<AtomicBool>,
    pub(crate) agent: Agent,
}

impl Default for Stop {
    fn default() -> Self {
        let config = Agent::config_builder()
            .http_status_as_error(false)
            .timeout_connect(Some(Duration::from_secs(10)))
            .timeout_recv_response(Some(Duration::from_secs(120)))
            .build();
        Self {
            stopped: Arc::default(),
            agent: config.new_agent(),
        }
    }
}

impl Stop {
    /// Ends calls that are under way and those to come.
    pub fn stop(&self) {
        self.stopped.store(true, Ordering::SeqCst);
        self.agent.clone().shutdown();
    }

    /// Whether it was stopped.
    pub fn stopped(&self) -> bool {
        self.stopped.load(Ordering::SeqCst)
    }

    /// Whether to go on.
    pub fn look(&self) -> ControlFlow<()> {
        match self.stopped() {
            true => ControlFlow::Break(()),
            false => ControlFlow::Continue(()),
        }
    }
}
