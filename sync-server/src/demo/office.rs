//! The demo's office: a real server on a free loopback port, on the scenario's clock until its
//! story is told.

use super::scenario::{Person, Scenario};
use crate::accounts::{Caller, Reach, Rights, Role};
use crate::cli::Failure;
use crate::state::Clock;
use crate::{AppState, Door, Limits, Office, app};
use chrono::{DateTime, FixedOffset, Local};
use scupper_core::document::{Conflict, SameUnitOffer};
use scupper_core::quote::RateBook;
use std::net::SocketAddr;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use tokio::runtime::Runtime;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

/// The true time of the story, by which the server's clock goes; real time once it is over.
#[derive(Debug, Clone, Default)]
pub(super) struct StoryClock(Arc<Mutex<Option<DateTime<FixedOffset>>>>);

impl StoryClock {
    pub(super) fn now(&self) -> DateTime<FixedOffset> {
        let told = *self.0.lock().unwrap_or_else(PoisonError::into_inner);
        told.unwrap_or_else(|| Local::now().fixed_offset())
    }

    /// Moves on to a time of the story; never back.
    pub(super) fn reach(&self, at: DateTime<FixedOffset>) {
        let mut told = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        *told = Some(told.map_or(at, |now| now.max(at)));
    }

    fn end(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }
}

/// A running server.
pub(super) struct DemoOffice {
    pub(super) clock: StoryClock,
    runtime: Runtime,
    state: AppState,
    contractor: i64,
    address: SocketAddr,
    stop: oneshot::Sender<()>,
    serving: JoinHandle<std::io::Result<()>>,
}

impl DemoOffice {
    pub(super) fn start(data: &Path, scenario: &Scenario) -> Result<Self, Failure> {
        let runtime = crate::cli::runtime()?;
        let clock = StoryClock::default();
        if let Some(begin) = scenario.begins() {
            clock.reach(begin);
        }
        let book = RateBook::from_toml(&scenario.rates).map_err(|error| {
            let file = scenario.dir.join("rates.toml");
            Failure::Input(format!("{}: {error}", file.display()))
        })?;
        let story = clock.clone();
        let time = Clock::new(move || story.now());
        let state = Office::open_at(data, Limits::default(), Door::default(), book, time)?;
        let contractor = state.accounts.contractor("demo")?;
        let listener = runtime
            .block_on(tokio::net::TcpListener::bind("127.0.0.1:0"))
            .map_err(|error| Failure::other("listening on a loopback port", error))?;
        let address = listener
            .local_addr()
            .map_err(|error| Failure::other("listening", error))?;
        let (stop, stopped) = oneshot::channel();
        let service = app(state.clone()).into_make_service_with_connect_info::<SocketAddr>();
        let live = state.clone();
        let serving = runtime.spawn(async move {
            axum::serve(listener, service)
                .with_graceful_shutdown(async move {
                    let _ = stopped.await;
                    live.live.close();
                })
                .await
        });
        Ok(Self {
            clock,
            runtime,
            state,
            contractor,
            address,
            stop,
            serving,
        })
    }

    /// Where the server listens.
    pub(super) fn base(&self) -> String {
        format!("http://{}", self.address)
    }

    /// A one-time code for a technician's device.
    pub(super) fn admit(&self, person: &Person) -> Result<String, Failure> {
        let life = self.state.limits.code_life;
        let (accounts, now) = (&self.state.accounts, self.state.unix());
        let code = accounts.admit(now, life, self.contractor, &person.id, Role::Technician)?;
        accounts.call_person(self.contractor, &person.id, &person.name)?;
        Ok(code)
    }

    /// The office opens the survey, as it would from an order.
    pub(super) fn prepare(&self, scenario: &Scenario) -> Result<String, Failure> {
        let name = scenario
            .people
            .iter()
            .find(|person| person.device.is_none());
        let caller = Caller {
            contractor: self.contractor,
            name: name.map_or_else(|| "office".to_owned(), |person| person.id.clone()),
            rights: Rights::Reviewer {
                form_key: String::new(),
            },
            reach: Reach::All,
        };
        Ok(self.state.prepare(&caller, &scenario.site)?)
    }

    /// The rate book of every quote.
    pub(super) fn book(&self) -> &RateBook {
        &self.state.book
    }

    /// The heads of the server's replica.
    pub(super) fn heads(&self, survey: &str) -> Result<String, Failure> {
        Ok(self.state.heads_text(self.contractor, survey)?)
    }

    /// What the office has to settle: fields with two values, units entered twice.
    pub(super) fn doubts(
        &self,
        survey: &str,
    ) -> Result<(Vec<Conflict>, Vec<SameUnitOffer>), Failure> {
        let desk = self.state.desks.of(self.contractor)?;
        Ok(desk.with_doc(survey, |doc| Ok((doc.conflicts(), doc.same_unit_offers())))?)
    }

    /// Leaves the review page up until the process is asked to stop.
    pub(super) fn serve_until_stopped(self, survey: &str) -> Result<(), Failure> {
        self.clock.end();
        let (now, life) = (self.state.unix(), self.state.limits.code_life);
        let code =
            self.state
                .accounts
                .admit(now, life, self.contractor, "reviewer", Role::Reviewer)?;
        let link = format!("{}/sign-in/{code}?next=/surveys/{survey}\n", self.base());
        crate::cli::answer(&link)?;
        eprintln!("The line above opens the review page once, within 15 minutes. Ctrl-C stops.");
        let (accounts, visitor) = (&self.state.accounts, "visitor");
        let code = accounts.admit(now, life, self.contractor, visitor, Role::Technician)?;
        let base = self.base();
        eprintln!("To take notes on this roof without the app, open {base}/enrol#{code}");
        self.runtime.block_on(crate::cli::stop());
        self.stop();
        Ok(())
    }

    pub(super) fn stop(self) {
        let _ = self.stop.send(());
        let patience = std::time::Duration::from_secs(5);
        let serving = self.serving;
        // A connection that does not end in time ends with the process.
        let _ = self
            .runtime
            .block_on(async { tokio::time::timeout(patience, serving).await });
    }
}
