//! V-belts: what a designation means, what fits instead, length from sheaves, tension.
//!
//! A designation is read, never guessed: what is not of a listed section gives nothing.

use super::catalogue::Cite;
use super::profile::Standard::{BeltTension, Belts};
use crate::survey::units::Inches;
use std::fmt;

/// Where datum lengths come from.
pub const LENGTHS: Cite = Cite::published(Belts, "standard datum lengths");
/// Where the deflection comes from.
pub const TENSION: Cite = Cite::published(BeltTension, "5-5.1");

/// Cross-section of a belt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Section {
    /// Classical, 1/2 in wide.
    A,
    /// Classical, notched.
    Ax,
    /// Classical, 21/32 in wide.
    B,
    /// Classical, notched.
    Bx,
    /// Classical, 7/8 in wide.
    C,
    /// Classical, notched.
    Cx,
    /// Classical, 1 1/4 in wide.
    D,
    /// Light duty, 3/8 in wide.
    L3,
    /// Light duty, 1/2 in wide.
    L4,
    /// Light duty, 21/32 in wide.
    L5,
}

impl Section {
    const ALL: &'static [(&'static str, Self)] = &[
        ("AX", Self::Ax),
        ("BX", Self::Bx),
        ("CX", Self::Cx),
        ("3L", Self::L3),
        ("4L", Self::L4),
        ("5L", Self::L5),
        ("A", Self::A),
        ("B", Self::B),
        ("C", Self::C),
        ("D", Self::D),
    ];

    fn code(self) -> &'static str {
        Self::ALL
            .iter()
            .find(|(_, s)| *s == self)
            .map_or("", |(code, _)| code)
    }

    /// Whether it is a light-duty section, numbered by outside length in tenths of an inch.
    pub const fn light_duty(self) -> bool {
        matches!(self, Self::L3 | Self::L4 | Self::L5)
    }

    /// Datum and outside length beyond the number, for a classical section.
    const fn beyond_inside(self) -> Option<(f64, f64)> {
        match self {
            Self::A | Self::Ax => Some((1.3, 2.0)),
            Self::B | Self::Bx => Some((1.8, 3.0)),
            Self::C | Self::Cx => Some((2.9, 4.0)),
            Self::D => Some((3.3, 5.0)),
            Self::L3 | Self::L4 | Self::L5 => None,
        }
    }
}

/// A belt designation that was understood.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Designation {
    /// Its section.
    pub section: Section,
    /// Its number: nominal inside length in inches, or outside length in tenths if light duty.
    pub number: u32,
}

impl Designation {
    /// Reads `A42`, `bx 90`, `4L460`.
    pub fn read(text: &str) -> Option<Self> {
        let text: String = text
            .chars()
            .filter(|c| !c.is_whitespace() && *c != '-')
            .collect::<String>()
            .to_ascii_uppercase();
        Section::ALL.iter().find_map(|(code, section)| {
            let number = text.strip_prefix(code)?;
            if number.is_empty() || !number.chars().all(|c| c.is_ascii_digit()) {
                return None;
            }
            let number = number.parse().ok().filter(|n| *n > 0)?;
            Some(Self {
                section: *section,
                number,
            })
        })
    }

    /// Datum (pitch) length, for classical sections up to 210, where the steps are regular.
    pub fn datum_length(self) -> Option<Inches> {
        let (datum, _) = self.section.beyond_inside()?;
        (self.number <= 210).then(|| Inches::of(f64::from(self.number) + datum))
    }

    /// Outside length.
    pub fn outside_length(self) -> Inches {
        Inches::of(match self.section.beyond_inside() {
            Some((_, outside)) => f64::from(self.number) + outside,
            None => f64::from(self.number) / 10.0,
        })
    }

    /// The belt of the other family with the same groove and outside length, if there is one.
    /// Light-duty belts are for fractional horsepower: never offer one for a larger drive.
    pub fn cross(self) -> Option<Self> {
        let to = |section, number| Some(Self { section, number });
        let whole = |less: u32| {
            let outside = self.number.is_multiple_of(10).then_some(self.number / 10)?;
            outside.checked_sub(less).filter(|n| *n > 0)
        };
        match self.section {
            Section::A => to(Section::L4, self.number.checked_add(2)?.checked_mul(10)?),
            Section::B => to(Section::L5, self.number.checked_add(3)?.checked_mul(10)?),
            Section::L4 => to(Section::A, whole(2)?),
            Section::L5 => to(Section::B, whole(3)?),
            _ => None,
        }
    }
}

impl fmt::Display for Designation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.section.code(), self.number)
    }
}

/// Two sheaves and the distance between their shafts. An open drive only: neither crossed nor
/// with a third sheave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drive {
    /// Datum diameter of the larger sheave.
    pub large: Inches,
    /// Datum diameter of the smaller.
    pub small: Inches,
    /// Distance between shafts.
    pub center: Inches,
}

impl Drive {
    /// Datum length of belt: 2C + pi/2 (D + d) + (D - d)^2 / 4C. None if the sheaves overlap.
    pub fn belt_length(self) -> Option<Inches> {
        let (large, small, center) = (self.large.get(), self.small.get(), self.center.get());
        if center <= 0.0 || center < (large + small) / 2.0 {
            return None;
        }
        let arcs = std::f64::consts::FRAC_PI_2 * (large + small);
        Some(Inches::of(
            2.0 * center + arcs + (large - small).powi(2) / (4.0 * center),
        ))
    }

    /// Free span of belt between the sheaves.
    pub fn span(self) -> Option<Inches> {
        let half = (self.large.get() - self.small.get()) / 2.0;
        let squared = self.center.get().powi(2) - half.powi(2);
        (squared > 0.0).then(|| Inches::of(squared.sqrt()))
    }
}

/// Deflection at mid-span that shows the right tension: 1/64 in for each inch of span, at the
/// force that the belt maker's table gives.
pub fn deflection(span: Inches) -> Inches {
    Inches::of(span.get() / 64.0)
}
