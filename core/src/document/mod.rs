//! The survey document: a CRDT that any number of people edit offline and that always merges.
//!
//! The only room that knows Automerge. Others see a [`SurveyDoc`], plain [`Survey`]s read from
//! it, and [`Change`]s as bytes with a hash. Nothing is ever deleted: an entry is withdrawn, two
//! values of one field are both kept until a person chooses.
//!
//! [`Survey`]: crate::survey::Survey

mod change;
mod check;
mod commit;
mod conflict;
mod doc;
mod edit;
mod error;
mod held;
mod ids;
mod import;
mod past;
mod place;
mod read;
mod reopen;
mod same;
mod schema;
mod spoken;
mod stamp;
mod stand;
mod summary;
mod units;
mod view;

pub use change::{Change, ChangeHash, grow_heads};
pub use conflict::{Candidate, Conflict, HistoryStep};
pub use doc::SurveyDoc;
pub use edit::{Edit, says};
pub use error::DocumentError;
pub use ids::{Actor, INCARNATION_LEN, IdClock, Ids, UuidIds};
pub use read::Reading;
pub use same::SameUnitOffer;
pub use schema::{MAIN_ROOF, Table, same_value};
pub use stamp::{Means, Stamp};
pub use summary::Summary;

#[cfg(test)]
mod hostile;
#[cfg(test)]
mod laws;
#[cfg(test)]
mod round_trip;
#[cfg(test)]
mod tests;

/// Runs library code over bytes from outside; none if it panicked, which a malformed change can
/// bring about. What it worked on must not be used after that.
fn guard<T>(work: impl FnOnce() -> T) -> Option<T> {
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(work)).ok()
}
