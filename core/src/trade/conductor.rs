//! Hints on conductors: what a copper wire carries. Never a verdict, for no panel is opened.

use super::catalogue::Cite;
use super::outcome::settle;
use super::profile::Standard::Nec;
use crate::survey::units::Amps;

/// Where [`AMPACITY_75C`] comes from.
pub const AMPACITY: Cite = Cite::published(Nec, "Table 310.16");

/// Copper at 75 C, 30 C ambient, at most three current-carrying conductors: AWG size, amperes.
pub const AMPACITY_75C: &[(&str, f64)] = &[
    ("14", 20.0),
    ("12", 25.0),
    ("10", 35.0),
    ("8", 50.0),
    ("6", 65.0),
    ("4", 85.0),
    ("3", 100.0),
    ("2", 115.0),
    ("1", 130.0),
    ("1/0", 150.0),
    ("2/0", 175.0),
    ("3/0", 200.0),
    ("4/0", 230.0),
];

/// Share of the ampacity that is left in warmer air: up to this many degrees C, factor.
const WARMER: &[(f64, f64)] = &[
    (30.0, 1.0),
    (35.0, 0.94),
    (40.0, 0.88),
    (45.0, 0.82),
    (50.0, 0.75),
    (55.0, 0.67),
    (60.0, 0.58),
];

/// The smallest copper conductor of the table that carries a current, as AWG.
pub fn smallest_copper(current: Amps) -> Option<&'static str> {
    let current = settle(current.get());
    let row = AMPACITY_75C.iter().find(|(_, amps)| *amps >= current)?;
    Some(row.0)
}

/// Ampacity of a copper conductor in air of this temperature, degrees C; none for a size or a
/// temperature outside the tables.
pub fn ampacity(awg: &str, ambient_c: f64) -> Option<Amps> {
    let (_, amps) = AMPACITY_75C.iter().find(|(size, _)| *size == awg)?;
    let (_, factor) = WARMER.iter().find(|(to, _)| ambient_c <= *to)?;
    Some(Amps::of(settle(amps * factor)))
}
