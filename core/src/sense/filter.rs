//! Filters: median of three and five, trimmed sum, first-order low-pass. (Plain sums are in [`super::decimate`].)

use crate::bounds::{COUNT_MAX, LOW_PASS_LOG2, SAMPLES};
use crate::error::{ConfigError, tried};
use crate::rounding::shift_nearest_u32;
use crate::units::{Count, Sample};

/// Running median of the last `N` samples, a sample for every sample once `N` are there.
///
/// | filter | in, out | noise left, of white Gaussian | delay | cost |
/// |---|---|---|---|---|
/// | [`Median`] of 3 | sample, sample | 0.670 | 1 sample | 3 words |
/// | [`Median`] of 5 | sample, sample | 0.537 | 2 samples | 5 words |
/// | [`TrimmedSum`] of 4 (of 6 taken) | samples, count | 0.429 of one sample | 2.5 samples | no window |
/// | [`TrimmedSum`] of 16 (of 18 taken) | samples, count | 0.239 of one sample | 8.5 samples | no window |
/// | [`LowPass`] 2^k | count, count | 1 / sqrt(2^(k+1) - 1): 0.378 for k = 2, 0.180 for k = 4 | 2^k - 1 readings | 1 word |
///
/// Noise is a standard deviation relative to the input's; delay is that of a slow ramp. The medians' and trimmed sums'
/// figures are those of order statistics of a normal distribution, measured again by the repository's `tests/filter.rs`;
/// the low-pass figures are a / (2 - a) in variance and (1 - a) / a in delay with a = 2^-k.
///
/// A median throws away single wild samples whole; a sum lets each in by its share. A spike of `s` moves a sum of 16 by
/// `s`, a trimmed sum by at most the noise, and a median of three not at all.
///
/// # Range
/// `N` 3 or 5; anything else does not compile. Any sample is accepted.
///
/// ```
/// use tallyvolt::{Median, Sample};
///
/// let mut median = Median::<3>::new();
/// let out = [3065, 3066, 12, 3065].map(|sample| median.push(Sample(sample)));
/// assert_eq!(out, [None, None, Some(Sample(3065)), Some(Sample(3065))]);
/// ```
///
/// ```compile_fail
/// let median = tallyvolt::Median::<4>::new(); // an even number has no middle
/// ```
#[derive(Debug, Clone)]
pub struct Median<const N: usize> {
    /// The newest sample last.
    window: [u16; N],
    missing: u8,
}

impl<const N: usize> Median<N> {
    /// An empty window.
    #[must_use]
    pub const fn new() -> Self {
        const {
            assert!(N == 3 || N == 5, "a running median takes 3 or 5 samples");
        }
        Self {
            window: [0; N],
            missing: if N == 3 { 3 } else { 5 },
        }
    }

    /// Takes a sample; from the `N`-th on each returns the median of the last `N`.
    #[inline]
    pub const fn push(&mut self, sample: Sample) -> Option<Sample> {
        // Moved along rather than written round: two or four moves cost less than a place that has to be kept in range.
        let median = match &mut self.window as &mut [u16] {
            [a, b, c] => {
                (*a, *b, *c) = (*b, *c, sample.0);
                median_of_3(*a, *b, *c)
            }
            [a, b, c, d, e] => {
                (*a, *b, *c, *d, *e) = (*b, *c, *d, *e, sample.0);
                median_of_5(*a, *b, *c, *d, *e)
            }
            _ => return None,
        };
        self.missing = self.missing.saturating_sub(1);
        if self.missing == 0 {
            Some(Sample(median))
        } else {
            None
        }
    }
}

impl<const N: usize> Default for Median<N> {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(feature = "defmt")]
impl<const N: usize> defmt::Format for Median<N> {
    fn format(&self, fmt: defmt::Formatter<'_>) {
        defmt::write!(
            fmt,
            "median of {=usize} samples, {=u8} missing",
            N,
            self.missing
        );
    }
}

/// The two in order: smaller, larger.
const fn ordered(a: u16, b: u16) -> (u16, u16) {
    if a <= b { (a, b) } else { (b, a) }
}

const fn median_of_3(a: u16, b: u16, c: u16) -> u16 {
    let (low, high) = ordered(a, b);
    let (middle, _) = ordered(high, c);
    let (_, median) = ordered(low, middle);
    median
}

/// The smallest of two ordered pairs and the largest cannot be the median of five: three numbers are left.
const fn median_of_5(a: u16, b: u16, c: u16, d: u16, e: u16) -> u16 {
    let ((a, b), (c, d)) = (ordered(a, b), ordered(c, d));
    let (_, not_smallest) = ordered(a, c);
    let (not_largest, _) = ordered(b, d);
    median_of_3(not_smallest, not_largest, e)
}

/// Sum of a block of samples without its smallest and its largest: a trimmed mean that keeps every bit.
///
/// Takes `samples` + 2 and sums `samples`, so the count is described like a [`crate::BlockSum`] of `samples`. One low and
/// one high outlier in a block leave no trace.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TrimmedSum {
    sum: u32,
    smallest: u16,
    largest: u16,
    samples: u16,
    missing: u16,
}

impl TrimmedSum {
    /// An empty block that sums `samples`, of `samples` + 2 taken.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] outside 1 to 1024, [`ConfigError::SamplesNotPowerOfTwo`].
    pub const fn new(samples: u16) -> Result<Self, ConfigError> {
        tried!(SAMPLES.check(samples as i64));
        if !samples.is_power_of_two() {
            return Err(ConfigError::SamplesNotPowerOfTwo { samples });
        }
        Ok(Self::empty(samples))
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "samples is at most 1024 once checked"
    )]
    const fn empty(samples: u16) -> Self {
        Self {
            sum: 0,
            smallest: u16::MAX,
            largest: 0,
            samples,
            missing: samples + 2,
        }
    }

    /// Takes a sample; every (`samples` + 2)-th returns the block's trimmed sum and begins a new block.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "at most 1026 samples of 65 535 are summed, below 2^27; the two taken off are part of the sum; missing is \
                  at least 1 between calls"
    )]
    pub const fn push(&mut self, sample: Sample) -> Option<Count> {
        let sample = sample.0;
        self.sum += sample as u32;
        if sample < self.smallest {
            self.smallest = sample;
        }
        if sample > self.largest {
            self.largest = sample;
        }
        self.missing -= 1;
        if self.missing > 0 {
            return None;
        }
        let count = Count(self.sum - self.smallest as u32 - self.largest as u32);
        *self = Self::empty(self.samples);
        Some(count)
    }
}

/// First-order low-pass that keeps its fraction: each reading goes 2^-k of the way to the input.
///
/// # Rounding
/// The state holds the output times 2^k in whole numbers; nothing is dropped from one reading to the next. A constant
/// input is reached exactly, from above and from below: while the rounded output differs from the input, the state moves
/// by at least one step towards it. There is no dead band, and no overshoot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LowPass {
    /// Output times 2^k, once a count was taken.
    state: Option<u32>,
    time_log2: u8,
}

impl LowPass {
    /// A low-pass with a time constant of 2^`time_log2` readings; the first count is taken whole.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] outside 1 to 6.
    pub const fn new(time_log2: u8) -> Result<Self, ConfigError> {
        tried!(LOW_PASS_LOG2.check(time_log2 as i64));
        let state = None;
        Ok(Self { state, time_log2 })
    }

    /// Takes a count and returns the filtered one. Counts above [`COUNT_MAX`] are taken as [`COUNT_MAX`].
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "state is at most COUNT_MAX << 6, 2^32 - 2^16 at most, so the half fits; output <= state because time_log2 >= \
                  1; the new state is at most COUNT_MAX << time_log2 again, since state - output grows with state"
    )]
    pub const fn push(&mut self, count: Count) -> Count {
        let input = if count.0 > COUNT_MAX {
            COUNT_MAX
        } else {
            count.0
        };
        let shift = self.time_log2 as u32;
        let state = match self.state {
            None => input << shift,
            Some(state) => state - shift_nearest_u32(state, shift) + input,
        };
        self.state = Some(state);
        Count(shift_nearest_u32(state, shift))
    }

    /// Forgets everything; the next count is taken whole.
    pub const fn reset(&mut self) {
        self.state = None;
    }
}

const _: () = assert!(COUNT_MAX as u64 * (1 << LOW_PASS_LOG2.max) <= (1 << 32) - (1 << 16));
