//! Money as whole cents, and shares in hundredths of a percent. No binary floats.
//!
//! The one rounding rule of the house: whatever is not a whole cent is rounded to the nearest
//! cent, and half a cent away from zero. It happens where a rate or a percentage is applied,
//! once for each step of `docs/quote.md`, and nowhere else.

use serde::de::Visitor;
use serde::{Deserialize, Deserializer, Serialize};
use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Sub};

/// An amount of money in cents of the rate book's currency.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(transparent)]
pub struct Cents(i64);

impl Cents {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// So many cents.
    pub const fn new(cents: i64) -> Self {
        Self(cents)
    }

    /// The bare number of cents.
    pub const fn get(self) -> i64 {
        self.0
    }

    /// This amount so many times.
    pub fn times(self, count: u64) -> Self {
        clamp(i128::from(self.0) * i128::from(count))
    }

    /// `numerator / denominator` of this amount, to the nearest cent. Zero parts give zero.
    pub fn part(self, numerator: u64, denominator: u64) -> Self {
        clamp(divide(
            i128::from(self.0) * i128::from(numerator),
            i128::from(denominator),
        ))
    }

    /// A percentage of this amount, to the nearest cent.
    pub fn percent(self, percent: Percent) -> Self {
        self.part(u64::from(percent.hundredths()), 10_000)
    }
}

/// Far above any price; a sum that large stays there instead of wrapping round.
fn clamp(cents: i128) -> Cents {
    let limit = i128::from(i64::MAX);
    Cents(i64::try_from(cents.clamp(-limit, limit)).unwrap_or(i64::MAX))
}

/// Division to the nearest whole number, half away from zero; by zero it gives zero.
pub(crate) fn divide(numerator: i128, denominator: i128) -> i128 {
    if denominator == 0 {
        return 0;
    }
    let half = (denominator / 2).abs();
    let sign = if numerator < 0 { -1 } else { 1 };
    sign * ((numerator.abs() + half) / denominator)
}

impl Add for Cents {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Cents {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Sum for Cents {
    fn sum<I: Iterator<Item = Self>>(amounts: I) -> Self {
        amounts.fold(Self::ZERO, Add::add)
    }
}

impl fmt::Display for Cents {
    /// As units and cents with a comma at the thousands: `1,234.50`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digits = (self.0.unsigned_abs() / 100).to_string();
        let mut grouped = String::new();
        for (i, digit) in digits.chars().enumerate() {
            if i > 0 && (digits.len() - i).is_multiple_of(3) {
                grouped.push(',');
            }
            grouped.push(digit);
        }
        let sign = if self.0 < 0 { "-" } else { "" };
        write!(f, "{sign}{grouped}.{:02}", self.0.unsigned_abs() % 100)
    }
}

impl<'de> Deserialize<'de> for Cents {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(WholeCents)
    }
}

struct WholeCents;

impl Visitor<'_> for WholeCents {
    type Value = Cents;
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("give whole cents, such as 5250 for 52.50")
    }
    fn visit_i64<E>(self, cents: i64) -> Result<Cents, E> {
        Ok(Cents(cents))
    }
    fn visit_u64<E: serde::de::Error>(self, cents: u64) -> Result<Cents, E> {
        i64::try_from(cents).map(Cents).map_err(E::custom)
    }
}

/// A percentage of at most two decimals, held as whole hundredths: 8.25 % is 825.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Percent(u32);

impl Percent {
    /// So many hundredths of a percent, where no one may give more than 10,000 percent.
    ///
    /// # Errors
    /// What would be right, in words.
    pub fn new(hundredths: u32) -> Result<Self, String> {
        match hundredths {
            0..=1_000_000 => Ok(Self(hundredths)),
            _ => Err("give a number from 0 to 10000".to_owned()),
        }
    }

    /// So many hundredths of a percent that is known beforehand.
    pub const fn from_hundredths(hundredths: u32) -> Self {
        Self(hundredths)
    }

    /// The bare number of hundredths.
    pub const fn hundredths(self) -> u32 {
        self.0
    }
}

impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 % 100 {
            0 => write!(f, "{}", self.0 / 100),
            rest => write!(f, "{}.{rest:02}", self.0 / 100),
        }
    }
}

impl Serialize for Percent {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(f64::from(self.0) / 100.0)
    }
}

impl<'de> Deserialize<'de> for Percent {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        use serde::de::Error;
        let hundredths = f64::deserialize(deserializer)? * 100.0;
        let whole = hundredths.round();
        // A number below 0 or not one at all is as far out as the largest.
        let within = (0.0..=f64::from(u32::MAX)).contains(&whole);
        let percent = Self::new(if within { whole as u32 } else { u32::MAX });
        let percent = percent.map_err(D::Error::custom)?;
        if (hundredths - whole).abs() > 1e-6 {
            return Err(D::Error::custom("give at most two decimals, such as 8.25"));
        }
        Ok(percent)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_cent_goes_away_from_zero() {
        for (cents, numerator, denominator, expected) in [
            (1, 1, 2, 1),
            (3, 1, 2, 2),
            (-1, 1, 2, -1),
            (1, 1, 3, 0),
            (2, 1, 3, 1),
            (999, 825, 10_000, 82),  // 82.4175
            (1000, 825, 10_000, 83), // 82.5
            (9500, 37, 60, 5858),    // 5858.33
            (100, 5, 0, 0),
        ] {
            assert_eq!(
                Cents::new(cents).part(numerator, denominator),
                Cents::new(expected),
                "{cents} x {numerator} / {denominator}"
            );
        }
    }

    #[test]
    fn a_percentage_is_exact_to_two_decimals() {
        for (text, hundredths) in [("8.25", 825), ("0.07", 7), ("20", 2000), ("0", 0)] {
            let percent: Percent = serde_json::from_str(text).unwrap_or_default();
            assert_eq!(percent.hundredths(), hundredths);
            assert_eq!(percent.to_string(), text);
        }
        assert!(serde_json::from_str::<Percent>("8.251").is_err());
        assert!(serde_json::from_str::<Percent>("-1").is_err());
    }

    #[test]
    fn reads_as_money() {
        for (cents, words) in [
            (0, "0.00"),
            (5, "0.05"),
            (123_456, "1,234.56"),
            (-100_000_000, "-1,000,000.00"),
        ] {
            assert_eq!(Cents::new(cents).to_string(), words);
        }
        assert_eq!(Cents::new(i64::MAX).times(3), Cents::new(i64::MAX));
    }
}
