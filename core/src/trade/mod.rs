//! Rules of the trade, one file a subject: each a pure function with its published source.
//!
//! Nothing here knows a survey as a whole or a plan: a rule takes numbers and answers with an
//! [`Outcome`]. `assess` decides what to ask of which unit. [`RULES`] lists all that give a
//! verdict; `docs/rules.md` is written from it by [`rules_page`].

pub mod air;
pub mod belts;
mod catalogue;
pub mod condensate;
pub mod conductor;
pub mod conduit;
pub mod disconnect;
mod facts;
pub mod falls;
pub mod filters;
pub mod guards;
pub mod hail;
pub mod ladders;
pub mod nameplate;
mod outcome;
pub mod overcurrent;
mod page;
mod profile;
pub mod receptacle;
pub mod refrigerant;
pub mod service_life;
mod source;
pub mod supply;
#[cfg(test)]
mod tests;
pub mod water;
pub mod workspace;

pub use catalogue::{Cite, RULES, Rule};
pub use facts::{FACTS, Fact};
pub use outcome::Outcome;
pub(crate) use outcome::{num, settle};
pub use page::rules_page;
pub use profile::{Limits, Profile, Standard};
pub use source::{Basis, Quantity, Requirement, Source, Verdict};
