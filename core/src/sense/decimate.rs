//! Oversampling in firmware: sums of samples, in three forms.

use heapless::Vec;

use crate::bounds::{EXTRA_BITS, SAMPLES, SAMPLES_MAX};
use crate::describe::acquisition::Acquisition;
use crate::error::{ConfigError, tried};
use crate::rounding::shift_nearest_u32;
use crate::units::{Count, Sample};

/// Sum of a block of samples, every bit kept.
///
/// | form | count | full scale | cost |
/// |---|---|---|---|
/// | [`BlockSum`] | sum of n samples, one count every n | grows by n: every bit is kept | one addition a sample |
/// | [`SumAndShift`] | sum of 4^e samples, shifted right by e with rounding | grows by 2^e: e extra bits | the same, and one shift |
/// | [`SlidingSum`] | sum of the last n samples, one count every sample | grows by n | an addition, a subtraction and n words |
///
/// # Accumulator width
/// 1024 samples of at most 65 535 sum to at most 67 107 840 ([`crate::bounds::COUNT_MAX`]), below 2^26: a `u32` cannot
/// overflow, whatever is pushed. The rounding of the shift adds at most 2^4, still below 2^32.
///
/// # What it buys
/// n extra bits need 4^n samples, and only where noise of at least about half a step moves the samples (Atmel AVR121,
/// Microchip AN2572): a noiseless input gives n times the same sample and no new information.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BlockSum {
    sum: u32,
    samples: u16,
    missing: u16,
}

impl BlockSum {
    /// An empty block of `samples`.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] outside 1 to 1024, [`ConfigError::SamplesNotPowerOfTwo`].
    pub const fn new(samples: u16) -> Result<Self, ConfigError> {
        tried!(SAMPLES.check(samples as i64));
        if !samples.is_power_of_two() {
            return Err(ConfigError::SamplesNotPowerOfTwo { samples });
        }
        Ok(Self {
            sum: 0,
            samples,
            missing: samples,
        })
    }

    /// The block that gives the counts of an acquisition.
    ///
    /// # Errors
    /// As [`BlockSum::new`]; [`ConfigError::WindowMismatch`] where the sum is shifted, which [`SumAndShift`] or hardware does.
    pub const fn of(acquisition: Acquisition) -> Result<Self, ConfigError> {
        if acquisition.right_shift != 0 {
            return Err(ConfigError::WindowMismatch {
                window: acquisition.samples as u32,
                samples: acquisition.samples,
                right_shift: acquisition.right_shift,
            });
        }
        Self::new(acquisition.samples)
    }

    /// A block for `extra_bits` more bits: 4^`extra_bits` samples.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] above 5.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "extra_bits is at most 5, so the shift is at most 10"
    )]
    pub const fn for_extra_bits(extra_bits: u8) -> Result<Self, ConfigError> {
        tried!(EXTRA_BITS.check(extra_bits as i64));
        Self::new(1 << (2 * extra_bits))
    }

    /// Takes a sample; every `samples`-th returns the block's sum and begins a new block.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "at most 1024 samples of 65 535 are summed, below 2^26; missing is at least 1 between calls"
    )]
    pub const fn push(&mut self, sample: Sample) -> Option<Count> {
        self.sum += sample.0 as u32;
        self.missing -= 1;
        if self.missing > 0 {
            return None;
        }
        let count = Count(self.sum);
        self.sum = 0;
        self.missing = self.samples;
        Some(count)
    }
}

/// The classic decimator: 4^e samples summed and shifted right by e, rounded to nearest, for e extra bits.
///
/// Describe its counts with `samples = 4^e`, `right_shift = e` and [`crate::ShiftRounding::Nearest`].
///
/// # Rounding
/// To the nearest count, ties upward: at most half a count, on average half a sum step up, which the code centre `half`
/// takes back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SumAndShift {
    block: BlockSum,
    extra_bits: u8,
}

impl SumAndShift {
    /// An empty decimator.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] above 5.
    pub const fn new(extra_bits: u8) -> Result<Self, ConfigError> {
        let block = tried!(BlockSum::for_extra_bits(extra_bits));
        Ok(Self { block, extra_bits })
    }

    /// Takes a sample; every 4^e-th returns a count.
    #[inline]
    pub const fn push(&mut self, sample: Sample) -> Option<Count> {
        match self.block.push(sample) {
            Some(Count(sum)) => Some(Count(shift_nearest_u32(sum, self.extra_bits as u32))),
            None => None,
        }
    }
}

/// Sum of the last `N` samples, a count for every sample once `N` are there.
///
/// # Range
/// `N` a power of two from 1 to 1024; anything else does not compile.
///
/// ```compile_fail
/// let window = tallyvolt::SlidingSum::<12>::new(); // 12 is not a power of two
/// ```
#[derive(Debug, Clone)]
pub struct SlidingSum<const N: usize> {
    /// Lengths of 16 bits: the window takes no more memory than its samples and two counters.
    window: Vec<u16, N, u16>,
    /// Place of the oldest sample once the window is full, 0 to `N` - 1.
    oldest: u16,
    sum: u32,
}

impl<const N: usize> SlidingSum<N> {
    /// An empty window.
    #[must_use]
    pub const fn new() -> Self {
        const {
            assert!(
                N.is_power_of_two() && N <= SAMPLES_MAX as usize,
                "a sliding sum takes a power of two of samples, 1 to 1024"
            );
        }
        Self {
            window: Vec::new(),
            oldest: 0,
            sum: 0,
        }
    }

    /// Takes a sample; from the `N`-th on each returns the sum of the last `N`.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "sum is that of the at most 1024 samples in the window, so the oldest can be taken off and one added; \
                  N is a power of two up to 1024, so N - 1 is a mask of 10 bits"
    )]
    pub fn push(&mut self, sample: Sample) -> Option<Count> {
        // Pushing fails exactly when the window is full. Nothing here can panic, even with the window behind a pointer.
        if self.window.push(sample.0).is_err()
            && let Some(place) = self.window.get_mut(usize::from(self.oldest))
        {
            self.sum -= u32::from(*place);
            *place = sample.0;
            self.oldest = (self.oldest + 1) & (N - 1) as u16;
        }
        self.sum += u32::from(sample.0);
        self.count()
    }

    /// Takes several samples, the oldest first, and answers what pushing each in turn answers last.
    ///
    /// Of `N` samples or more only the last `N` are looked at: they are the window, and their sum is the count.
    #[inline]
    pub fn extend(&mut self, samples: &[u16]) -> Option<Count> {
        match samples.last_chunk() {
            Some(newest) => {
                self.sum = sum_of(newest);
                self.oldest = 0;
                self.keep(newest);
            }
            None => self.extend_by_few(samples),
        }
        self.count()
    }

    /// Takes a full window's new samples by a function that copies them to the places it is given and answers their sum; false
    /// if it answers none, and then the window must be renewed otherwise.
    #[inline]
    pub(crate) fn renew_by(&mut self, copied_sum: impl FnOnce(&mut [u16]) -> Option<u32>) -> bool {
        if !self.window.is_full() {
            return false;
        }
        let Some(sum) = copied_sum(&mut self.window) else {
            return false;
        };
        self.sum = sum;
        self.oldest = 0;
        true
    }

    /// Separate from [`sum_of`]: in a shared loop the compiler loads every sample first, and small cores run out of registers.
    #[inline(never)]
    fn keep(&mut self, newest: &[u16; N]) {
        self.window.clear();
        for sample in newest {
            // There are as many places as samples.
            let _ = self.window.push(*sample);
        }
    }

    /// Fewer than `N`: what the window still lacks, then two runs of places at most, from the oldest sample to the end and on
    /// from the start.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "sum is that of the at most 1024 samples in the window, so the oldest can be taken off and one added; \
                  N is a power of two up to 1024, so N - 1 is a mask of 10 bits, and oldest and places are below N"
    )]
    fn extend_by_few(&mut self, samples: &[u16]) {
        let missing = N - self.window.len();
        let mut samples = samples.iter();
        let mut sum = self.sum;
        for sample in samples.by_ref().take(missing) {
            let _ = self.window.push(*sample);
            sum += u32::from(*sample);
        }
        let mut oldest = self.oldest;
        if let Some((young, old)) = self.window.split_at_mut_checked(usize::from(oldest)) {
            for (sample, place) in samples.zip(old.iter_mut().chain(young)) {
                sum = sum - u32::from(*place) + u32::from(*sample);
                *place = *sample;
                oldest += 1;
            }
        }
        self.oldest = oldest & (N - 1) as u16;
        self.sum = sum;
    }

    /// The sum of the last `N` samples, once they are there.
    #[inline]
    #[must_use]
    pub fn count(&self) -> Option<Count> {
        self.window.is_full().then_some(Count(self.sum))
    }
}

impl<const N: usize> Default for SlidingSum<N> {
    fn default() -> Self {
        Self::new()
    }
}

/// The plain sum of at most 1024 samples.
#[inline(never)]
#[expect(
    clippy::arithmetic_side_effects,
    reason = "at most 1024 samples of 65 535 are summed, below 2^26"
)]
fn sum_of(samples: &[u16]) -> u32 {
    let mut sum = 0;
    for sample in samples {
        sum += u32::from(*sample);
    }
    sum
}

#[cfg(feature = "defmt")]
impl<const N: usize> defmt::Format for SlidingSum<N> {
    fn format(&self, fmt: defmt::Formatter<'_>) {
        defmt::write!(
            fmt,
            "{=usize} of {=usize} samples, sum {=u32}",
            self.window.len(),
            N,
            self.sum
        );
    }
}
