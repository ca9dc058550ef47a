//! Rules of the trade, one file a subject: each a pure function with its published source.

mod source;

pub use source::{Basis, Quantity, Requirement, Source, Verdict};
