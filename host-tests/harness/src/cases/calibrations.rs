//! Gains and offsets of modules from a seed: the ends of the range, a bench's everyday, and anything between.

use super::random::Random;

/// Gain 1 in steps of 2^-24.
pub const UNITY: u32 = 1 << 24;
/// Gain 0.5 and 2.
const GAINS: [u32; 2] = [UNITY / 2, UNITY * 2];
/// Offset 4096 single-sample counts in steps of 1/256.
const OFFSET: i32 = 4096 * 256;

/// `number` pairs of gain and offset words: eight at the ends of the range, then one within 2 % and 8 counts of identity
/// for each anywhere in the range.
#[must_use]
pub fn words(seed: u64, number: usize) -> Vec<(u32, i32)> {
    let mut random = Random::new(seed);
    let mut words = ends();
    while words.len() < number {
        words.push(if words.len().is_multiple_of(2) {
            (
                random.within(UNITY - UNITY / 50..=UNITY + UNITY / 50),
                signed(&mut random, 8 * 256),
            )
        } else {
            (
                random.within(GAINS[0]..=GAINS[1]),
                signed(&mut random, OFFSET),
            )
        });
    }
    words.truncate(number);
    words
}

/// Both ends of gain with both ends of offset, and each end beside identity.
#[must_use]
pub fn ends() -> Vec<(u32, i32)> {
    let mut ends: Vec<(u32, i32)> = GAINS
        .iter()
        .flat_map(|gain| [(*gain, -OFFSET), (*gain, OFFSET), (*gain, 0)])
        .collect();
    ends.extend([(UNITY, -OFFSET), (UNITY, OFFSET)]);
    ends
}

fn signed(random: &mut Random, magnitude: i32) -> i32 {
    let width = 2 * magnitude.unsigned_abs();
    i32::try_from(random.within(0..=width)).expect("twice 2^20 fits") - magnitude
}
