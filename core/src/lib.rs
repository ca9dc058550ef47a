//! Everything a rooftop survey needs that can be thought out without a network.
//!
//! The rooms, from the ground up: [`survey`] holds the plain types; `document` keeps them in a
//! CRDT; `store` makes them durable; `dictation` turns speech text into drafts; [`trade`] and
//! `plan` hold the rules; [`assess`] and `quote` derive what the office reads. A room only
//! looks down. Time, randomness and identity come in as arguments.
//!
//! With the feature `uniffi` the records that a phone gets are derived here, where they are
//! defined; `door` says how types of other crates cross over.

pub mod assess;
pub mod capture;
pub mod dictation;
pub mod document;
#[cfg(feature = "uniffi")]
pub mod door;
pub mod exchange;
pub mod photo;
pub mod plan;
pub mod quote;
pub mod store;
pub mod survey;
pub mod trade;

#[cfg(feature = "uniffi")]
uniffi::setup_scaffolding!();
