//! Firmware oversampling, as plain sums over the samples.

/// Sum of every whole block of `samples`.
#[must_use]
pub fn block_sums(stream: &[u16], samples: usize) -> Vec<u64> {
    stream
        .chunks_exact(samples)
        .map(|block| block.iter().map(|sample| u64::from(*sample)).sum())
        .collect()
}

/// Sum of every whole block of 4^`extra_bits`, divided by 2^`extra_bits` and rounded to nearest, ties upward.
#[must_use]
pub fn sums_and_shifts(stream: &[u16], extra_bits: u32) -> Vec<u64> {
    let divisor = 2_u64.pow(extra_bits);
    block_sums(stream, 4_usize.pow(extra_bits))
        .into_iter()
        .map(|sum| (2 * sum + divisor) / (2 * divisor))
        .collect()
}

/// Sum of the last `samples`, for every sample from the `samples`-th on.
#[must_use]
pub fn sliding_sums(stream: &[u16], samples: usize) -> Vec<u64> {
    stream
        .windows(samples)
        .map(|window| window.iter().map(|sample| u64::from(*sample)).sum())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        let stream = [1, 2, 3, 4, 10, 20, 30, 41, 7];
        assert_eq!(block_sums(&stream, 4), [10, 101]);
        assert_eq!(sums_and_shifts(&stream, 1), [5, 51]);
        assert_eq!(sliding_sums(&stream, 8), [111, 117]);
    }
}
