//! Filters against plain models, their documented noise measured, and the low-pass's exact convergence.

use proptest::prelude::*;
use tallyvolt::bounds::COUNT_MAX;
use tallyvolt::{ConfigError, Count, LowPass, Median, Sample, TrimmedSum};
use tallyvolt_model::filter;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn medians_equal_the_middle_of_the_sorted_window(stream in prop::collection::vec(any::<u16>(), 0..60)) {
        let (mut three, mut five) = (Median::<3>::new(), Median::<5>::new());
        let out: Vec<u16> = stream.iter().filter_map(|s| three.push(Sample(*s))).map(|s| s.0).collect();
        prop_assert_eq!(out, filter::medians(&stream, 3));
        let out: Vec<u16> = stream.iter().filter_map(|s| five.push(Sample(*s))).map(|s| s.0).collect();
        prop_assert_eq!(out, filter::medians(&stream, 5));
    }

    #[test]
    fn trimmed_sums_equal_the_sorted_block_without_its_ends(
        stream in prop::collection::vec(any::<u16>(), 0..200),
        samples_log2 in 0_u32..=5,
    ) {
        let samples = 1_u16 << samples_log2;
        let mut trimmed = TrimmedSum::new(samples).expect("a power of two");
        let out: Vec<u64> =
            stream.iter().filter_map(|s| trimmed.push(Sample(*s))).map(|c| u64::from(c.0)).collect();
        prop_assert_eq!(out, filter::trimmed_sums(&stream, samples.into()));
    }

    /// The state is the exact recursion in fractions of 2^-k; any count at all is accepted.
    #[test]
    fn low_pass_equals_the_rational_recursion(
        stream in prop::collection::vec(prop_oneof![any::<u32>(), 0_u32..70_000, Just(COUNT_MAX)], 0..100),
        time_log2 in 1_u8..=6,
    ) {
        let mut low_pass = LowPass::new(time_log2).expect("in bounds");
        let out: Vec<u32> = stream.iter().map(|count| low_pass.push(Count(*count)).0).collect();
        prop_assert_eq!(out, filter::low_pass(&stream, time_log2.into(), COUNT_MAX));
    }

    /// A step from anywhere to anywhere is reached exactly, never passed, and kept.
    #[test]
    fn a_step_converges_to_the_exact_final_value(
        from in 0..=COUNT_MAX,
        distance in prop_oneof![0_i64..=3, -3_i64..=0, -70_000_000_i64..=70_000_000],
        time_log2 in 1_u8..=6,
    ) {
        let to = u32::try_from((i64::from(from) + distance).clamp(0, COUNT_MAX.into())).expect("clamped");
        let mut low_pass = LowPass::new(time_log2).expect("in bounds");
        prop_assert_eq!(low_pass.push(Count(from)), Count(from));
        let mut last = from;
        // Each reading leaves at most 1 - 2^-k of the distance, and the last step is one of at most 2^k readings.
        let readings = (1 << time_log2) * 20;
        for _ in 0..readings {
            let out = low_pass.push(Count(to)).0;
            prop_assert!(last.abs_diff(to) >= out.abs_diff(to), "turned back from {last} to {out} on the way to {to}");
            prop_assert!((out <= to) == (from <= to) || out == to, "passed {to}");
            last = out;
        }
        prop_assert_eq!(last, to);
    }
}

/// Every wild pattern of five small numbers, repeats included.
#[test]
fn medians_of_every_small_window() {
    for code in 0..5_u32.pow(5) {
        let window: Vec<u16> = (0..5)
            .map(|place| u16::try_from(code / 5_u32.pow(place) % 5).expect("below 5"))
            .collect();
        let mut median = Median::<5>::default();
        let out = window
            .iter()
            .filter_map(|sample| median.push(Sample(*sample)))
            .last();
        let mut sorted = window.clone();
        sorted.sort_unstable();
        assert_eq!(out, Some(Sample(sorted[2])), "{window:?}");
    }
}

#[test]
fn outliers_leave_no_trace() {
    let mut trimmed = TrimmedSum::new(4).expect("a power of two");
    let out = [1000, 1001, 0, 65_535, 1002, 1003].map(|sample| trimmed.push(Sample(sample)));
    assert_eq!(out[5], Some(Count(4006)));
    let largest = [65_535; 1026].map(Sample);
    let mut trimmed = TrimmedSum::new(1024).expect("a power of two");
    let out = largest
        .iter()
        .filter_map(|sample| trimmed.push(*sample))
        .last();
    assert_eq!(out, Some(Count(COUNT_MAX)));
}

#[test]
fn bounds_are_kept() {
    assert!(matches!(
        TrimmedSum::new(12),
        Err(ConfigError::SamplesNotPowerOfTwo { samples: 12 })
    ));
    assert!(TrimmedSum::new(0).is_err() && TrimmedSum::new(2048).is_err());
    assert!(LowPass::new(0).is_err() && LowPass::new(7).is_err());
}

/// Standard deviations after each filter, of 400 000 pseudo-random normal samples, against what `filter.rs` documents.
#[test]
fn noise_is_what_the_table_in_the_docs_says() {
    let noise = normal(400_000);
    let samples: Vec<u16> = noise
        .iter()
        .map(|z| (30_000.0 + 1000.0 * z).round() as u16)
        .collect();
    let measured = |values: Vec<f64>| {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64;
        variance.sqrt() / 1000.0
    };
    let mut three = Median::<3>::new();
    let out = samples
        .iter()
        .filter_map(|s| three.push(Sample(*s)))
        .map(|s| f64::from(s.0))
        .collect();
    near(measured(out), 0.670);
    let mut five = Median::<5>::new();
    let out = samples
        .iter()
        .filter_map(|s| five.push(Sample(*s)))
        .map(|s| f64::from(s.0))
        .collect();
    near(measured(out), 0.537);
    for (count, documented) in [(4, 0.429), (16, 0.239)] {
        let mut trimmed = TrimmedSum::new(count).expect("a power of two");
        let out = samples
            .iter()
            .filter_map(|s| trimmed.push(Sample(*s)))
            .map(|c| f64::from(c.0) / f64::from(count))
            .collect();
        near(measured(out), documented);
    }
    for (time_log2, documented) in [(2, 0.378), (4, 0.180)] {
        let mut low_pass = LowPass::new(time_log2).expect("in bounds");
        let out = samples
            .iter()
            .map(|s| f64::from(low_pass.push(Count(u32::from(*s))).0))
            .skip(1000)
            .collect();
        near(measured(out), documented);
    }
}

fn near(measured: f64, documented: f64) {
    assert!(
        (measured / documented - 1.0).abs() < 0.02,
        "measured {measured:.4}, documented {documented}"
    );
}

/// The low-pass lags a ramp by 2^k - 1 readings: a ramp of one count a reading shows it as a distance.
#[test]
fn delay_of_a_ramp() {
    for time_log2 in 1..=6 {
        let mut low_pass = LowPass::new(time_log2).expect("in bounds");
        let out = (0..5000_u32)
            .map(|count| low_pass.push(Count(count)).0)
            .last();
        assert_eq!(out, Some(4999 - ((1 << time_log2) - 1)));
    }
}

/// Sums of twelve uniform numbers less six: mean 0, deviation 1, from a fixed 64-bit congruential generator.
fn normal(length: usize) -> Vec<f64> {
    let mut state = 0x1234_5678_9abc_def1_u64;
    let mut uniform = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    (0..length)
        .map(|_| (0..12).map(|_| uniform()).sum::<f64>() - 6.0)
        .collect()
}

/// After a reset the next count is taken whole, as the first was.
#[test]
fn a_low_pass_forgets_all_at_a_reset() {
    let mut low_pass = LowPass::new(4).expect("in bounds");
    assert_eq!(low_pass.push(Count(60_000)), Count(60_000));
    assert_eq!(low_pass.push(Count(10)), Count(56_251));
    low_pass.reset();
    assert_eq!(low_pass, LowPass::new(4).expect("in bounds"));
    assert_eq!(low_pass.push(Count(10)), Count(10));
}
