//! The one test binary across the crates; each module is a subject.
//!
//! Add a file, add its `mod` line: [`house`] fails on a file that is not listed here.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod axe;
mod client_put_off;
mod command;
mod crash;
mod demo;
mod dictation;
mod fuzz;
mod house;
mod not_run;
mod page_browser;
mod page_kit;
mod page_look;
mod page_plain;
mod page_speed;
mod page_together;
mod page_work;
#[cfg(feature = "sqlcipher")]
mod sealed;
mod server_bad_input;
mod server_crash;
mod server_cut;
mod server_kit;
mod server_load;
mod server_openapi;
mod server_process;
#[cfg(feature = "postgres")]
mod server_shared;
mod walk_browser;
mod webdriver;
