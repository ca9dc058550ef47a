//! A seeded simulation of the hours a year, to hold against the range by formula.
//!
//! Each rate-book entry draws its minutes from the PERT beta distribution of its three points.
//! Entries hang together so: with the probability sqrt(correlation) an entry takes the one
//! luck of the trial that all share, else its own; so two entries share it with the
//! probability of the correlation. The generator is SplitMix64 (Steele, Lea, Flood 2014) and
//! the powers are libm's own, so that every machine gets the same bytes.

use super::money::divide;
use super::ratebook::RangeRule;
use super::times::{Group, Spread};
use super::types::{Hours, Simulation};

/// Steps of a distribution's table.
const STEPS: u32 = 128;

/// Draws the hours a year many times.
pub(crate) fn simulate(spread: &Spread, rule: &RangeRule) -> Simulation {
    let tables: Vec<Table> = spread
        .groups()
        .map(|(_, group)| Table::new(group))
        .collect();
    let correlation = u128::from(rule.correlation_percent.hundredths().min(10_000));
    // sqrt(r / 10,000) of 2^64, so that a random word below it means "shared luck".
    let shared_below = ((correlation << 112) / 10_000).isqrt() << 8;
    let mut random = SplitMix64(u64::from(rule.seed));
    let mut sums: Vec<u64> = (0..rule.trials)
        .map(|_| {
            let luck = random.next();
            let minutes = tables.iter().map(|table| {
                let (choice, own) = (random.next(), random.next());
                table.at(if u128::from(choice) < shared_below {
                    luck
                } else {
                    own
                })
            });
            minutes.sum::<f64>().round() as u64
        })
        .collect();
    sums.sort_unstable();
    let total: u128 = sums.iter().map(|minutes| u128::from(*minutes)).sum();
    let mean = divide(
        i128::try_from(total).unwrap_or(0),
        i128::from(rule.trials.max(1)),
    );
    let at = |percent: usize| {
        let place = (sums.len() * percent / 100).min(sums.len().saturating_sub(1));
        Hours::of_minutes(sums.get(place).copied().unwrap_or(0))
    };
    Simulation {
        trials: rule.trials,
        seed: rule.seed,
        correlation_percent: rule.correlation_percent,
        mean_hours: Hours::of_minutes(u64::try_from(mean).unwrap_or(0)),
        p10_hours: at(10),
        p50_hours: at(50),
        p90_hours: at(90),
    }
}

/// SplitMix64, the generator of Steele, Lea and Flood (2014).
pub(crate) struct SplitMix64(pub(crate) u64);

impl SplitMix64 {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}

/// Minutes by luck: the inverse of the distribution, tabulated.
struct Table {
    minutes: Vec<f64>,
}

impl Table {
    /// The PERT beta of a group: density x^p (1 - x)^(4 - p) between low and high, where p is
    /// four times the place of the likely point between them.
    fn new(group: &Group) -> Self {
        let width = (group.high - group.low) as f64;
        let low = group.low as f64;
        if width == 0.0 {
            return Self { minutes: vec![low] };
        }
        let p = 4.0 * (group.likely - group.low) as f64 / width;
        let mut below = vec![0.0];
        let mut sum = 0.0;
        for step in 0..STEPS {
            let x = (f64::from(step) + 0.5) / f64::from(STEPS);
            sum += libm::pow(x, p) * libm::pow(1.0 - x, 4.0 - p);
            below.push(sum);
        }
        // Walk the cumulative sums once, and note where each quantile falls.
        let mut minutes = Vec::with_capacity(STEPS as usize + 1);
        let mut step = 0;
        for quantile in 0..=STEPS {
            let target = sum * f64::from(quantile) / f64::from(STEPS);
            let (mut from, mut to) = (0.0, 0.0);
            while let (Some(a), Some(b)) = (below.get(step), below.get(step + 1)) {
                (from, to) = (*a, *b);
                if to >= target {
                    break;
                }
                step += 1;
            }
            let part = if to > from {
                (target - from) / (to - from)
            } else {
                0.0
            };
            let x = (step as f64 + part.clamp(0.0, 1.0)) / f64::from(STEPS);
            minutes.push(low + width * x.min(1.0));
        }
        Self { minutes }
    }

    fn at(&self, luck: u64) -> f64 {
        if let [only] = self.minutes.as_slice() {
            return *only;
        }
        // The top 32 bits say how far along the table.
        let along = (luck >> 32) as f64 / 4_294_967_296.0 * f64::from(STEPS);
        let step = along as usize;
        match (self.minutes.get(step), self.minutes.get(step + 1)) {
            (Some(a), Some(b)) => a + (b - a) * (along - step as f64),
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::money::Percent;
    use super::super::times::ThreePoint;
    use super::*;

    /// First outputs for seed 1234567, as printed at rosettacode.org/wiki/Pseudo-random_numbers/Splitmix64
    /// (from memory of that page).
    #[test]
    fn the_generator_is_splitmix64() {
        let mut random = SplitMix64(1_234_567);
        let first: Vec<u64> = (0..5).map(|_| random.next()).collect();
        assert_eq!(
            first,
            [
                6_457_827_717_110_365_317,
                3_203_168_211_198_807_973,
                9_817_491_932_198_370_423,
                4_593_380_528_125_082_431,
                16_408_922_859_458_223_821
            ]
        );
    }

    fn rule(correlation: u32) -> RangeRule {
        RangeRule {
            correlation_percent: Percent::from_hundredths(correlation),
            sigmas: Percent::from_hundredths(128),
            trials: 20_000,
            seed: 7,
        }
    }

    /// Twenty equal entries: the simulation must land where the formula says.
    #[test]
    fn agrees_with_the_formula() {
        let mut spread = Spread::default();
        for entry in 0..20 {
            let time = ThreePoint::new(300, 600, 1200).unwrap();
            spread.add(&format!("{entry}"), time, 4);
        }
        for correlation in [0, 3000, 10_000] {
            let rule = rule(correlation);
            let range = spread.range(rule.correlation_percent, rule.sigmas);
            let drawn = simulate(&spread, &rule);
            let near = |hours: Hours, minutes: u64, share: f64| {
                let by_formula = minutes as f64 / 60.0;
                assert!(
                    (hours.get() - by_formula).abs() <= share * by_formula,
                    "{correlation}: {hours:?} against {by_formula}"
                );
            };
            near(drawn.mean_hours, range.likely, 0.01);
            near(drawn.p10_hours, range.low, 0.05);
            near(drawn.p90_hours, range.high, 0.05);
        }
    }
}
