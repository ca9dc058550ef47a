//! The office's router without a socket: every address, and every attempt that must fail.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod access;
mod answers;
mod door;
mod exchange;
mod kit;
mod live;
mod price;
mod reach;
mod script;
mod uploads;
mod visits;
mod walk;
mod wire;
