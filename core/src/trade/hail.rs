//! How far hail has flattened a coil's fins, for the repair estimate.

use super::catalogue::Cite;
use crate::survey::units::{Inches, Percent};

/// Where the classes come from.
pub const CLASSES: Cite = Cite::practice("hail damage to fins");

/// Extent of hail damage, as one engineer's public note divides it; no standard does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum HailClass {
    /// Shallow dents.
    Minor,
    /// Dents of 1/8 in or more over at most 30 % of the coil: about 30 minutes a square foot to comb.
    Moderate,
    /// Dents of 1/4 in or more over 30 % or more: 40 to 60 minutes a square foot, or a new coil.
    Severe,
}

/// Class of the damage by depth of the dents and share of the coil. What the note leaves open
/// (shallow dents over much of a coil, deep ones over little) goes to the class that asks for
/// more combing only if the dents are 1/8 in or deeper.
pub fn class(depth: Inches, share: Percent) -> HailClass {
    if depth.get() < 0.125 {
        HailClass::Minor
    } else if depth.get() >= 0.25 && share.get() >= 30.0 {
        HailClass::Severe
    } else {
        HailClass::Moderate
    }
}
