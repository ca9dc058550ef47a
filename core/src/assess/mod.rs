//! From a survey to what the office reads: register, verdicts, hazards, what is missing.

mod types;

pub use types::{Assessment, Check, HazardEntry, Missing, RegisterRow};
