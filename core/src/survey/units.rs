//! Measured quantities as thin newtypes, so that feet and inches cannot mix.
//!
//! Own newtypes rather than `uom`: the survey needs a dozen fixed units that map one to one
//! to JSON fields (`_ft`, `_in`, `_a`, …), no unit algebra, and errors that name the field.
//! Every value is finite; all but pressure are also never negative, which is checked
//! whenever one is made, so that no rule has to ask again.

use serde::{Deserialize, Deserializer, Serialize};
use std::fmt;

/// A number that cannot be a measurement.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum UnitError {
    /// Not a number, or infinite.
    #[error("{0} is not a finite number")]
    NotFinite(f64),
    /// Below zero where the quantity has no negative values.
    #[error("{value} {unit} is negative; give zero or more")]
    Negative {
        /// The refused number.
        value: f64,
        /// The unit it was given in.
        unit: &'static str,
    },
}

macro_rules! measure {
    ($($(#[$doc:meta])* $name:ident, $unit:literal, $signed:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// The unit as written behind a number.
            pub const UNIT: &'static str = $unit;

            /// Checks and wraps a number in this unit.
            pub fn new(value: f64) -> Result<Self, UnitError> {
                if !value.is_finite() {
                    Err(UnitError::NotFinite(value))
                } else if value < 0.0 && !$signed {
                    Err(UnitError::Negative { value, unit: $unit })
                } else {
                    Ok(Self(value))
                }
            }

            /// Wraps a number written in this crate's own source; outside input goes through
            /// [`Self::new`].
            #[allow(dead_code)] // Not every unit has constants.
            pub(crate) const fn of(value: f64) -> Self {
                Self(value)
            }

            /// The bare number in this unit.
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{} {}", self.0, $unit)
            }
        }

        impl TryFrom<f64> for $name {
            type Error = UnitError;
            fn try_from(value: f64) -> Result<Self, UnitError> {
                Self::new(value)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(de: D) -> Result<Self, D::Error> {
                Self::new(f64::deserialize(de)?).map_err(serde::de::Error::custom)
            }
        }
    )*};
}

measure! {
    /// A length in feet.
    Feet, "ft", false;
    /// A length in inches.
    Inches, "in", false;
    /// An electric current in amperes.
    Amps, "A", false;
    /// An electric potential in volts.
    Volts, "V", false;
    /// A frequency in hertz.
    Hertz, "Hz", false;
    /// A mass in pounds.
    Pounds, "lb", false;
    /// Cooling capacity in tons of refrigeration (12,000 BTU/h).
    Tons, "tons", false;
    /// Heat input in BTU per hour.
    Btuh, "BTU/h", false;
    /// Air flow in cubic feet per minute.
    Cfm, "cfm", false;
    /// Air velocity in feet per minute.
    Fpm, "fpm", false;
    /// A share in percent.
    Percent, "%", false;
    /// Static pressure in inches of water gauge; negative on the suction side of a fan.
    InWg, "in wg", true;
    /// Roof slope as inches of rise in 12 inches of run.
    RiseIn12, "in 12", false;
}

impl Feet {
    /// The same length in inches.
    pub fn inches(self) -> Inches {
        Inches(self.0 * 12.0)
    }
}

impl Inches {
    /// The same length in feet.
    pub fn feet(self) -> Feet {
        Feet(self.0 / 12.0)
    }
}

/// A point on the survey's local plan: feet east (`x`) and feet north (`y`), as `[x, y]`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct PointFt {
    /// Feet east of the plan's origin.
    pub x: f64,
    /// Feet north of the plan's origin.
    pub y: f64,
}

impl From<[f64; 2]> for PointFt {
    fn from([x, y]: [f64; 2]) -> Self {
        Self { x, y }
    }
}

impl From<PointFt> for [f64; 2] {
    fn from(point: PointFt) -> Self {
        [point.x, point.y]
    }
}

/// A length of which only bounds are known, because a position was paced or taken by GPS.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpanFt {
    /// It is no less than this.
    pub low: f64,
    /// It is no more than this.
    pub high: f64,
}

impl SpanFt {
    /// A length that is known.
    pub const fn exact(value: f64) -> Self {
        Self {
            low: value,
            high: value,
        }
    }

    /// A length that may be off by `accuracy` either way; never negative.
    pub fn about(value: f64, accuracy: f64) -> Self {
        Self {
            low: (value - accuracy).max(0.0),
            high: value + accuracy,
        }
    }

    /// The shorter of two, bound by bound.
    pub fn min(self, other: Self) -> Self {
        Self {
            low: self.low.min(other.low),
            high: self.high.min(other.high),
        }
    }
}

/// Extent in feet along the plan's x and y axes, as `[x, y]`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "[Feet; 2]", into = "[Feet; 2]")]
pub struct SizeFt {
    /// Extent east to west.
    pub x: Feet,
    /// Extent north to south.
    pub y: Feet,
}

impl From<[Feet; 2]> for SizeFt {
    fn from([x, y]: [Feet; 2]) -> Self {
        Self { x, y }
    }
}

impl From<SizeFt> for [Feet; 2] {
    fn from(size: SizeFt) -> Self {
        [size.x, size.y]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refuses_what_cannot_be_measured() {
        assert!(matches!(
            Amps::new(f64::NAN),
            Err(UnitError::NotFinite(v)) if v.is_nan()
        ));
        assert!(matches!(
            Feet::new(-0.1),
            Err(UnitError::Negative { unit: "ft", .. })
        ));
        assert_eq!(InWg::new(-1.5).map(InWg::get), Ok(-1.5));
        assert!(serde_json::from_str::<Inches>("-2").is_err());
    }

    #[test]
    fn feet_and_inches_round_trip() {
        for value in [0.0, 0.25, 6.0, 14.9, 1234.5] {
            let feet = Feet::new(value).unwrap_or(Feet(0.0));
            assert!((feet.inches().feet().get() - value).abs() < 1e-12);
        }
    }
}
