//! Numbers from a seed: SplitMix64 (Steele, Lea, Flood: "Fast splittable pseudorandom number generators", 2014).

use std::ops::RangeInclusive;

/// A stream of numbers, the same for the same seed on every machine.
#[derive(Debug, Clone)]
pub struct Random {
    state: u64,
}

impl Random {
    /// The stream of a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self { state: seed }
    }

    /// Any `u64`.
    pub fn word(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut word = self.state;
        word = (word ^ (word >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        word ^ (word >> 31)
    }

    /// A number of a range; the bias of the remainder, below 2^-32, does not matter here.
    pub fn within(&mut self, range: RangeInclusive<u32>) -> u32 {
        let width = u64::from(range.end() - range.start()) + 1;
        let above = u32::try_from(self.word() % width).expect("the width is at most 2^32");
        range.start() + above
    }

    /// One of a few.
    pub fn one_of<T: Copy>(&mut self, choices: &[T]) -> T {
        let index = self.word() % choices.len() as u64;
        choices[usize::try_from(index).expect("the index is below a length")]
    }
}

/// `number` counts from 0 to `last`.
#[must_use]
pub fn counts(seed: u64, number: usize, last: u32) -> Vec<u32> {
    let mut random = Random::new(seed);
    (0..number).map(|_| random.within(0..=last)).collect()
}

#[cfg(test)]
mod tests {
    use super::Random;

    /// Reference stream for seed 1234567, from memory; it is in general circulation with the algorithm.
    #[test]
    fn gives_the_reference_stream() {
        let mut random = Random::new(1_234_567);
        assert_eq!(random.word(), 6_457_827_717_110_365_317);
        assert_eq!(random.word(), 3_203_168_211_198_807_973);
        assert_eq!(random.word(), 9_817_491_932_198_370_423);
    }

    #[test]
    fn stays_within_and_reaches_both_ends() {
        let mut random = Random::new(1);
        let drawn: Vec<u32> = (0..1000).map(|_| random.within(7..=9)).collect();
        assert!((7..=9).all(|value| drawn.contains(&value)));
        assert!(drawn.iter().all(|value| (7..=9).contains(value)));
        assert_eq!(random.within(5..=5), 5);
        random.within(0..=u32::MAX);
    }
}
