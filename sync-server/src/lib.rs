//! The office side of a survey: exchange, photo upload, review page, papers.
//!
//! [`app`] answers HTTP over an [`Office`] and opens no socket; [`cli`] is the `scupper`
//! command. What a document, a rule or a price means is core's business; this crate carries,
//! admits and shows.

mod accounts;
mod api;
mod app;
mod catalogue;
pub mod cli;
pub use scupper_client as client;
mod demo;
mod desk;
mod error;
mod limits;
mod live;
mod metrics;
mod office;
mod pace;
pub mod page;
pub mod papers;
mod pricing;
mod random;
mod readings;
mod sending;
mod sql;
mod state;
mod storage;
mod walk;
mod web;
mod words;

pub use accounts::{
    Accounts, Caller, DeviceRow, Link, Reach, Rights, Role, Seen, Settled, Version,
};
pub use app::app;
pub use error::AppError;
pub use limits::Limits;
pub use metrics::metrics_app;
pub use state::{AppState, Door, Office};
