//! What several of these tests need: seeded numbers, and numbers from the environment that make a
//! run longer.
#![allow(dead_code, reason = "no test needs all of it")]

/// Numbers that only depend on the seed: SplitMix64 (Steele, Lea and Flood, 2014).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    /// The next number.
    pub(crate) fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `n`; 0 if `n` is.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        (self.roll() % n.max(1) as u64) as usize
    }
}

/// A number from the environment.
pub(crate) fn number(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}
