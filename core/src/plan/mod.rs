//! The roof as geometry: outlines, edges, footprints, distances, ways round obstacles.
//!
//! Which distance matters is for `trade` to say, of which only bounds and views are used here.
//! Coordinates are feet, x
//! east, y north. A place that is not known gives no distance, and one that is only roughly known
//! gives a span, so that no caller can mistake a guess for a measurement.

mod clearance;
mod draw;
mod edges;
mod geometry;
mod path;
mod site;

pub use clearance::{Clearance, Opposite};
pub use draw::{DrawOptions, draw};
pub use edges::{Beyond, EdgeRun};
pub use geometry::{footprint, gap, opposite, side_line, standing_area};
pub use site::{Place, RoofPlan, SitePlan};
