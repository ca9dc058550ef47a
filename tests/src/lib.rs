//! Tests across the crates; the crate itself holds only their shared helpers.
pub mod dictation_score;
pub mod fuzz;
