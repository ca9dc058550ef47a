//! How good bytes are made wrong.

/// Numbers that only depend on the seed: SplitMix64 (Steele, Lea and Flood, 2014).
#[derive(Debug, Clone)]
pub struct Dice(pub u64);

impl Dice {
    /// The next number.
    pub fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `n`, 0 for none.
    pub fn below(&mut self, n: usize) -> usize {
        (self.roll() % (n.max(1) as u64)) as usize
    }
}

/// Pieces that readers tend to stumble over.
const AWKWARD: &[&[u8]] = &[
    b"0",
    b"-1",
    b"-0.0",
    b"1e999",
    b"1e308",
    b"-1e308",
    b"5e-324",
    b"9223372036854775808",
    b"18446744073709551616",
    b"0.30000000000000004",
    b"NaN",
    b"null",
    b"true",
    b"\"\"",
    b"[]",
    b"{}",
    b"[[",
    b"]]",
    b"\\u0000",
    b"\\ud800",
    b"\xff\xfe",
    b"\xf0\x9f\x94\xa5",
    b"e\xcc\x81",
    b"\xe2\x80\xae",
    b"\r\n",
    b"\0",
    b"../",
    b"site",
    b"RTU-1",
    b"point oh five",
    b"twenty twenty-five by twenty",
    b"no make that",
    b"same on four",
    b"2026-02-30T25:61:00Z",
    b"\x7f\xff\xff\xff",
    b"\xff\xff\xff\xff\xff\xff\xff\xff",
    b"\x1b\xff\xff\xff\xff\xff\xff\xff\xff",
    b"\x5b\x7f\xff\xff\xff\xff\xff\xff\xff",
];

const LARGEST: usize = 1 << 20;
const KEPT: usize = 256;

/// Bends examples, and what came of bending them.
#[derive(Debug)]
pub struct Bend {
    dice: Dice,
    pool: Vec<Vec<u8>>,
    good: usize,
}

impl Bend {
    /// Begins with good examples.
    pub fn new(seed: u64, corpus: &[Vec<u8>]) -> Self {
        Self {
            dice: Dice(seed),
            pool: corpus.to_vec(),
            good: corpus.len(),
        }
    }

    /// Keeps an input to bend it further.
    pub fn keep(&mut self, input: Vec<u8>) {
        if self.pool.len() < self.good + KEPT {
            self.pool.push(input);
        } else if self.dice.below(8) == 0 {
            let at = self.good + self.dice.below(KEPT);
            if let Some(slot) = self.pool.get_mut(at) {
                *slot = input;
            }
        }
    }

    /// The next input.
    #[allow(clippy::should_implement_trait, reason = "it never ends")]
    pub fn next(&mut self) -> Vec<u8> {
        let mut bytes = self.any();
        for _ in 0..=self.dice.below(4) {
            self.bend(&mut bytes);
        }
        bytes.truncate(LARGEST);
        bytes
    }

    fn any(&mut self) -> Vec<u8> {
        let at = self.dice.below(self.pool.len());
        self.pool.get(at).cloned().unwrap_or_default()
    }

    fn bend(&mut self, bytes: &mut Vec<u8>) {
        let dice = &mut self.dice;
        let at = dice.below(bytes.len() + 1);
        let run = at + dice.below((bytes.len() + 1 - at).min(64));
        match dice.below(9) {
            0 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 1 << dice.below(8);
                }
            }
            1 => {
                if let Some(byte) = bytes.get_mut(at) {
                    *byte = dice.roll() as u8;
                }
            }
            2 => drop(bytes.drain(at..run)),
            3 => {
                let again: Vec<u8> = bytes.get(at..run).unwrap_or_default().to_vec();
                let times = 1 + dice.below(40);
                let again = again.repeat(times);
                bytes.splice(at..at, again);
            }
            4 => bytes.truncate(at),
            5 | 6 => {
                let piece = AWKWARD.get(dice.below(AWKWARD.len())).copied();
                let piece = piece.unwrap_or_default().to_vec();
                // In place of a number or word, or in between.
                let end = match dice.below(2) {
                    0 => at,
                    _ => at + token(bytes, at),
                };
                bytes.splice(at..end, piece);
            }
            7 => {
                let other = self.any();
                let from = self.dice.below(other.len() + 1);
                let till = from + self.dice.below((other.len() + 1 - from).min(2_000));
                let piece = other.get(from..till).unwrap_or_default().to_vec();
                bytes.splice(at..run, piece);
            }
            _ => {
                // Two stretches change places.
                let (one, other) = (at.min(bytes.len()), dice.below(bytes.len() + 1));
                let (from, mid) = (one.min(other), one.max(other));
                let till = (mid + (mid - from)).min(bytes.len());
                if let Some(stretch) = bytes.get_mut(from..till) {
                    stretch.rotate_left((mid - from).min(stretch.len()));
                }
            }
        }
    }
}

/// How many bytes from here are of one kind: a number, a word.
fn token(bytes: &[u8], at: usize) -> usize {
    let rest = bytes.get(at..).unwrap_or_default();
    let kind = |byte: &u8| byte.is_ascii_alphanumeric() || *byte == b'.';
    let first = rest.first().map(kind);
    rest.iter()
        .take_while(|byte| Some(kind(byte)) == first)
        .take(40)
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_seed_names_its_inputs_and_they_differ_from_the_good_ones() {
        let corpus = vec![
            br#"{"tag": "RTU-1", "mca_a": 24}"#.to_vec(),
            b"abc".to_vec(),
        ];
        let (mut one, mut two) = (Bend::new(7, &corpus), Bend::new(7, &corpus));
        let mut bent = 0;
        for _ in 0..500 {
            let input = one.next();
            assert_eq!(input, two.next());
            bent += u32::from(!corpus.contains(&input));
        }
        assert!(bent > 400, "{bent}");
    }
}
