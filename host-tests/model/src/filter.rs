//! Filters as plain operations on whole streams.

use num_rational::BigRational;
use num_traits::ToPrimitive;

use super::rational::{nearest_ties_up, whole};

/// The middle of every window of `length` (odd), sorted.
#[must_use]
pub fn medians(stream: &[u16], length: usize) -> Vec<u16> {
    stream
        .windows(length)
        .map(|window| sorted(window)[length / 2])
        .collect()
}

/// Sum of every whole block of `samples` + 2, without its smallest and its largest.
#[must_use]
pub fn trimmed_sums(stream: &[u16], samples: usize) -> Vec<u64> {
    stream
        .chunks_exact(samples + 2)
        .map(|block| {
            sorted(block)[1..=samples]
                .iter()
                .map(|sample| u64::from(*sample))
                .sum()
        })
        .collect()
}

/// y' = y + (x - nearest(y)) / 2^k in fractions, the first input taken whole; answers nearest(y'). Inputs are cut at `most`.
#[must_use]
pub fn low_pass(stream: &[u32], time_log2: u32, most: u32) -> Vec<u32> {
    let mut state: Option<BigRational> = None;
    stream
        .iter()
        .filter_map(|count| {
            let input = whole((*count).min(most));
            let next = match state.take() {
                None => input,
                Some(y) => {
                    let nearest = BigRational::from_integer(nearest_ties_up(&y));
                    y + (input - nearest) / whole(2_u32.pow(time_log2))
                }
            };
            let answer = nearest_ties_up(&next).to_u32();
            state = Some(next);
            answer
        })
        .collect()
}

fn sorted(samples: &[u16]) -> Vec<u16> {
    let mut sorted = samples.to_vec();
    sorted.sort_unstable();
    sorted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        assert_eq!(medians(&[5, 1, 9, 2], 3), [5, 2]);
        assert_eq!(trimmed_sums(&[5, 1, 9, 2, 0, 0], 2), [7]);
        // 0, then 0 + 10/4 = 2.5 -> 3, 2.5 + 7/4 = 4.25 -> 4.
        assert_eq!(low_pass(&[0, 10, 10, 99], 2, 10), [0, 3, 4, 6]);
    }
}
