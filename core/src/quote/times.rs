//! Three-point times in whole minutes, their PERT mean, and the range of a sum of them.
//!
//! The mean is (low + 4 likely + high) / 6 and the standard deviation (high - low) / 6, as in
//! the usual PERT approximation. Lines that use the same rate-book entry are taken to be wrong
//! together; different entries hang together by the rate book's correlation.

use super::money::{Percent, divide};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// No time is longer, in minutes.
const LONGEST: u32 = 100_000;

/// Minutes of one person, at best, most often and at worst.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "Written")]
pub struct ThreePoint {
    /// When all goes well.
    pub low: u32,
    /// Most often.
    pub likely: u32,
    /// When all goes badly.
    pub high: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    low: f64,
    likely: f64,
    high: f64,
}

impl TryFrom<Written> for ThreePoint {
    type Error = String;
    fn try_from(written: Written) -> Result<Self, String> {
        let whole = |minutes: f64| {
            let fits = minutes.fract() == 0.0 && (0.0..=f64::from(LONGEST)).contains(&minutes);
            let mend = || format!("{minutes}: give whole minutes from 0 to {LONGEST}");
            fits.then_some(minutes as u32).ok_or_else(mend)
        };
        Self::new(
            whole(written.low)?,
            whole(written.likely)?,
            whole(written.high)?,
        )
    }
}

impl ThreePoint {
    /// Checks and makes a three-point time; the message says what would be right.
    pub fn new(low: u32, likely: u32, high: u32) -> Result<Self, String> {
        if low > likely || likely > high {
            return Err(format!(
                "low {low}, likely {likely}, high {high}: give low <= likely <= high"
            ));
        }
        if high > likely.saturating_mul(3) {
            return Err(format!(
                "high {high} is over three times likely {likely}; bring them nearer, or split the task"
            ));
        }
        if high > LONGEST {
            return Err(format!("high {high}: give minutes up to {LONGEST}"));
        }
        Ok(Self { low, likely, high })
    }

    /// The PERT mean, to the nearest whole minute, half a minute up.
    pub fn mean(self) -> u64 {
        let sixths = i128::from(self.low) + 4 * i128::from(self.likely) + i128::from(self.high);
        u64::try_from(divide(sixths, 6)).unwrap_or(0)
    }

    /// `count` times as long with a percentage added, each point to the nearest minute.
    pub fn scaled(self, count: u32, add: Percent) -> Self {
        let scale = |minutes: u32| {
            let exact =
                i128::from(minutes) * i128::from(count) * (10_000 + i128::from(add.hundredths()));
            u32::try_from(divide(exact, 10_000)).unwrap_or(u32::MAX)
        };
        Self {
            low: scale(self.low),
            likely: scale(self.likely),
            high: scale(self.high),
        }
    }

    /// High less low: six standard deviations.
    pub fn width(self) -> u64 {
        u64::from(self.high - self.low)
    }
}

/// A low, a likely and a high of the same quantity.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Range<T> {
    /// Low end.
    pub low: T,
    /// The expected value.
    pub likely: T,
    /// High end.
    pub high: T,
}

impl<T: Copy> Range<T> {
    /// The same done to all three.
    pub fn map<U>(self, mut f: impl FnMut(T) -> U) -> Range<U> {
        Range {
            low: f(self.low),
            likely: f(self.likely),
            high: f(self.high),
        }
    }
}

/// Person-minutes a year, gathered by rate-book entry.
#[derive(Debug, Clone, Default)]
pub(crate) struct Spread {
    groups: BTreeMap<String, Group>,
}

/// The minutes that rest on one rate-book entry.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Group {
    /// Sum of the low points.
    pub(crate) low: u64,
    /// Sum of the likely points.
    pub(crate) likely: u64,
    /// Sum of the rounded means.
    pub(crate) mean: u64,
    /// Sum of the high points.
    pub(crate) high: u64,
}

impl Spread {
    /// Adds a time that one or more people need `count` times a year.
    pub(crate) fn add(&mut self, entry: &str, time: ThreePoint, count: u64) {
        let group = match self.groups.get_mut(entry) {
            Some(group) => group,
            None => self.groups.entry(entry.to_owned()).or_default(),
        };
        group.low += u64::from(time.low) * count;
        group.likely += u64::from(time.likely) * count;
        group.mean += time.mean() * count;
        group.high += u64::from(time.high) * count;
    }

    /// The groups in the order of their entries.
    pub(crate) fn groups(&self) -> impl Iterator<Item = (&str, &Group)> {
        self.groups
            .iter()
            .map(|(entry, group)| (entry.as_str(), group))
    }

    /// Sum of the means, and how far the ends lie from it.
    ///
    /// With w the width of a group, r the correlation and k the number of standard deviations:
    /// `k x sqrt((1 - r) x sum(w^2) + r x sum(w)^2) / 6`, whole minutes, rounded down, and never
    /// beyond the sum of the low points or that of the high points.
    pub(crate) fn range(&self, correlation: Percent, sigmas: Percent) -> Range<u64> {
        let mut likely = 0;
        let (mut least, mut most) = (0, 0);
        let (mut sum, mut squares) = (0_u128, 0_u128);
        for group in self.groups.values() {
            let width = u128::from(group.high - group.low);
            likely += group.mean;
            least += group.low;
            most += group.high;
            sum += width;
            squares += width.saturating_mul(width);
        }
        let r = u128::from(correlation.hundredths().min(10_000));
        let k = u128::from(sigmas.hundredths());
        // r is in 1/10,000 and k in 1/100, so k^2 is in 1/10,000 too; 36 is 6 squared.
        let apart = (10_000 - r).saturating_mul(squares);
        let together = r.saturating_mul(sum.saturating_mul(sum));
        let variance = (k * k).saturating_mul(apart.saturating_add(together));
        let away = (variance / (36 * 10_000 * 10_000)).isqrt();
        let away = u64::try_from(away).unwrap_or(u64::MAX);
        Range {
            low: likely.saturating_sub(away).max(least).min(likely),
            likely,
            high: likely.saturating_add(away).min(most).max(likely),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// A worked PERT table of 14 activities with means and standard deviations to two decimals,
    /// as printed at wizedu.com, question 717873 (looked up).
    #[test]
    fn means_and_deviations_of_a_published_table() {
        for (low, likely, high, mean, deviation) in [
            (5, 5, 7, 533, 33),
            (1, 2, 5, 233, 67),
            (5, 5, 5, 500, 0),
            (4, 8, 13, 817, 150),
            (1, 10, 17, 967, 267),
            (1, 5, 7, 467, 100),
            (2, 6, 9, 583, 117),
            (4, 4, 6, 433, 33),
            (2, 7, 10, 667, 133),
            (2, 4, 7, 417, 83),
            (6, 10, 13, 983, 117),
            (2, 6, 6, 533, 67),
            (2, 2, 3, 217, 17),
            (7, 7, 12, 783, 83),
        ] {
            // In hundredths of a day, so that whole minutes can show the two decimals.
            let time = ThreePoint::new(low * 100, likely * 100, high * 100).unwrap();
            assert_eq!(time.mean(), mean, "{time:?}");
            let mut one = Spread::default();
            one.add("activity", time, 1);
            let range = one.range(Percent::default(), Percent::from_hundredths(100));
            // The range rounds down where the table rounds to the nearest.
            let away = range.high - range.likely;
            assert!(
                away == deviation || away + 1 == deviation,
                "{time:?} {away}"
            );
        }
    }

    /// Expected times of seven activities as printed at liquisearch.com/gantt_chart/example
    /// (looked up).
    #[test]
    fn means_of_a_second_published_table() {
        for (low, likely, high, mean) in [
            (2, 4, 6, 400),
            (3, 5, 9, 533),
            (4, 5, 7, 517),
            (4, 6, 10, 633),
            (3, 4, 8, 450),
            (3, 5, 8, 517),
        ] {
            let time = ThreePoint::new(low * 100, likely * 100, high * 100).unwrap();
            assert_eq!(time.mean(), mean);
        }
    }

    /// Independent parts add as squares: a path of standard deviations 0.5, 1.5, 0.5 and 0.33
    /// has 1.69, as printed at schematex.js.org/examples/pert-three-point-estimation (looked up).
    #[test]
    fn independent_deviations_add_as_squares() {
        let sigmas = Percent::from_hundredths(100);
        let mut path = Spread::default();
        // Width is six deviations: 3, 9, 3 and 2 days, in thousandths.
        for (entry, width) in [("a", 3000), ("b", 9000), ("c", 3000), ("d", 2000)] {
            let time = ThreePoint::new(10_000, 10_000, 10_000 + width).unwrap();
            path.add(entry, time, 1);
        }
        let range = path.range(Percent::default(), sigmas);
        assert_eq!((range.high - range.likely) / 10, 169);
        // Wholly correlated, they add straight: 0.5 + 1.5 + 0.5 + 0.33.
        let range = path.range(Percent::from_hundredths(10_000), sigmas);
        assert_eq!((range.high - range.likely) / 10, 283);
    }

    #[test]
    fn a_time_out_of_order_is_refused() {
        assert!(ThreePoint::new(5, 4, 9).is_err());
        assert!(ThreePoint::new(1, 2, 7).is_err());
        assert!(ThreePoint::new(0, 0, 0).is_ok());
    }
}
