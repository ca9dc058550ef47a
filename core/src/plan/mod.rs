//! The roof as geometry: outlines, edges, footprints, distances, ways round obstacles.
//!
//! Knows only `survey`; which distance matters is for `trade` to say. Coordinates are feet, x
//! east, y north. A place that is not known gives no distance, and one that is only roughly known
//! gives a span, so that no caller can mistake a guess for a measurement.

mod clearance;
mod edges;
mod geometry;
mod path;
mod site;

pub use clearance::{Clearance, Opposite};
pub use edges::{Beyond, EdgeRun};
pub use geometry::{footprint, gap, opposite, side_line, standing_area};
pub use site::{EdgeDistance, Place, RoofPlan, SitePlan};
