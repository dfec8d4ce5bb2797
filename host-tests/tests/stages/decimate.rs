//! Decimators: block, sliding and shifted sums of any samples, whole or in slices, against the model's.

use proptest::prelude::*;
use tallyvolt::{BlockSum, Sample, SlidingSum, SumAndShift};
use tallyvolt_model::decimate::{block_sums, sliding_sums, sums_and_shifts};

use super::strategies::config;

proptest! {
    #![proptest_config(config(256))]

    #[test]
    fn block_sums_are_the_models(stream in prop::collection::vec(any::<u16>(), 0..3000), power in 0..=10_u32) {
        let samples = 1_u16 << power;
        let mut block = BlockSum::new(samples).expect("a power of two to 1024");
        let counts = stream.iter().filter_map(|sample| block.push(Sample(*sample)));
        let counts: Vec<u64> = counts.map(|count| u64::from(count.0)).collect();
        prop_assert_eq!(counts, block_sums(&stream, usize::from(samples)));
    }

    #[test]
    fn sums_and_shifts_are_the_models(stream in prop::collection::vec(any::<u16>(), 0..3000), extra_bits in 0..=5_u8) {
        let mut decimator = SumAndShift::new(extra_bits).expect("at most 5");
        let counts = stream.iter().filter_map(|sample| decimator.push(Sample(*sample)));
        let counts: Vec<u64> = counts.map(|count| u64::from(count.0)).collect();
        prop_assert_eq!(counts, sums_and_shifts(&stream, u32::from(extra_bits)));
    }

    #[test]
    fn sliding_sums_are_the_models(stream in prop::collection::vec(any::<u16>(), 0..3000)) {
        prop_assert_eq!(slid::<1>(&stream), sliding_sums(&stream, 1));
        prop_assert_eq!(slid::<2>(&stream), sliding_sums(&stream, 2));
        prop_assert_eq!(slid::<16>(&stream), sliding_sums(&stream, 16));
        prop_assert_eq!(slid::<256>(&stream), sliding_sums(&stream, 256));
        prop_assert_eq!(slid::<1024>(&stream), sliding_sums(&stream, 1024));
    }

    /// Samples in slices, short and long, are the samples one by one.
    #[test]
    fn slices_of_samples_are_the_samples(
        slices in prop::collection::vec(prop::collection::vec(any::<u16>(), 0..40), 0..60),
        long in prop::collection::vec(any::<u16>(), 0..2100),
    ) {
        let mut slices = slices;
        slices.insert(slices.len() / 2, long);
        prop_assert_eq!(in_slices::<1>(&slices), after_each(&slices, 1));
        prop_assert_eq!(in_slices::<2>(&slices), after_each(&slices, 2));
        prop_assert_eq!(in_slices::<16>(&slices), after_each(&slices, 16));
        prop_assert_eq!(in_slices::<256>(&slices), after_each(&slices, 256));
        prop_assert_eq!(in_slices::<1024>(&slices), after_each(&slices, 1024));
    }

    /// Decimators take or refuse any number of samples.
    #[test]
    fn decimators_refuse_what_they_cannot_sum(samples in any::<u16>(), extra_bits in any::<u8>()) {
        let legal = samples.is_power_of_two() && samples <= 1024;
        prop_assert_eq!(BlockSum::new(samples).is_ok(), legal);
        prop_assert_eq!(SumAndShift::new(extra_bits).is_ok(), extra_bits <= 5);
        prop_assert_eq!(BlockSum::for_extra_bits(extra_bits).is_ok(), extra_bits <= 5);
    }
}

fn slid<const N: usize>(stream: &[u16]) -> Vec<u64> {
    let mut sum = SlidingSum::<N>::new();
    stream
        .iter()
        .filter_map(|sample| sum.push(Sample(*sample)))
        .map(|count| u64::from(count.0))
        .collect()
}

/// The count after each slice; slices of one sample are pushed.
fn in_slices<const N: usize>(slices: &[Vec<u16>]) -> Vec<Option<u64>> {
    let mut sum = SlidingSum::<N>::new();
    let count = slices.iter().map(|slice| {
        let count = match slice[..] {
            [sample] => sum.push(Sample(sample)),
            _ => sum.extend(slice),
        };
        assert_eq!(count, sum.count());
        count.map(|count| u64::from(count.0))
    });
    count.collect()
}

/// The sum of the last `samples` after each slice, from the whole stream anew.
fn after_each(slices: &[Vec<u16>], samples: usize) -> Vec<Option<u64>> {
    let mut stream = Vec::new();
    let sum = slices.iter().map(|slice| {
        stream.extend_from_slice(slice);
        let first = stream.len().checked_sub(samples)?;
        sliding_sums(&stream[first..], samples).pop()
    });
    sum.collect()
}

/// Negative control: a slice that comes in another order, or without its last sample, gives other counts later or at once.
#[test]
fn other_slices_give_other_counts() {
    let slices = [vec![1, 2, 3, 4, 5], vec![60, 7, 8], vec![9, 100, 11]];
    let found = in_slices::<4>(&slices);
    assert_eq!(found, [Some(14), Some(80), Some(128)]);
    for (changed, slice) in [(1, vec![8, 7, 60]), (1, vec![60, 7])] {
        let mut others = slices.clone();
        others[changed] = slice;
        assert_ne!(after_each(&others, 4), found);
        assert_eq!(after_each(&others, 4), in_slices::<4>(&others));
    }
}

#[test]
fn a_window_begins_empty() {
    let mut window = SlidingSum::<2>::default();
    assert_eq!(window.count(), None);
    assert_eq!(window.push(Sample(3)), None);
    assert_eq!(window.push(Sample(4)).map(|count| count.0), Some(7));
}
