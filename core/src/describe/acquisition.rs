//! Sample to count: how a converter's results become the number that is converted.

use crate::bounds::{BITS, RIGHT_SHIFT, SAMPLES};
use crate::convert::window::Summing;
use crate::error::{ConfigError, tried};
use crate::rounding::{shift_floor_u32, shift_nearest_u32};
use crate::units::OutputUnit;

/// The sample that would mean ratio 1. Makers differ; take it from the manual's transfer formula.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum FullScale {
    /// 2^bits: the top code lies one step below the reference.
    PowerOfTwo,
    /// 2^bits - 1: the top code stands for the reference itself.
    TopCode,
}

/// Where inside its step a code stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum CodeCentre {
    /// Code k stands for k.
    Edge,
    /// Code k stands for k + 1/2: the middle of a truncating converter's interval.
    Half,
}

/// What happens to the bits that a right shift drops.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum ShiftRounding {
    /// Dropped, as accumulating converters do.
    Truncate,
    /// Rounded to nearest, ties upward, as [`crate::SumAndShift`] does.
    Nearest,
}

/// Description of converter and summing.
///
/// Everything is expressed in *half-steps*, halves of one single-sample step inside the sum, because that is the
/// coarsest unit in which code centres are whole numbers:
///
/// ```text
/// x = step * count + centre      (half-steps)
/// F = 2 * samples * full scale of one sample
/// step = 2^(right_shift + 1)
/// ```
///
/// | shift rounding | centre at `edge` | centre at `half` |
/// |---|---|---|
/// | truncate, shift s | 0 | samples + 2^s - 1 |
/// | nearest, s = 0 | 0 | samples |
/// | nearest, s > 0 | 0 | samples - 1 |
///
/// The last column: each of the `samples` results stands half a step higher than its code. A shift that truncates throws
/// away 0 to 2^s - 1 sum steps, (2^s - 1)/2 on average, which is 2^s - 1 half-steps; one that rounds ties upward moves the
/// sum by -2^(s-1) + 1 to 2^(s-1) steps, half a step up on average, so one half-step comes off.
///
/// # Range
/// `bits` 8 to 16; `samples` a power of two from 1 to 1024; `right_shift` 0 to 8, and at least two counts above zero must
/// be left. each front end checks all of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Acquisition {
    /// Width of one sample.
    pub bits: u8,
    /// The sample that would mean ratio 1.
    pub full_scale: FullScale,
    /// Where a code stands.
    pub code_centre: CodeCentre,
    /// Samples in a count.
    pub samples: u16,
    /// Right shift of the sum.
    pub right_shift: u8,
    /// What the shift does with the bits it drops.
    pub shift_rounding: ShiftRounding,
}

impl Acquisition {
    /// One sample a count, full scale 2^bits, codes at the middle of their interval: most converters as they come.
    #[must_use]
    pub const fn single(bits: u8) -> Self {
        Self {
            bits,
            full_scale: FullScale::PowerOfTwo,
            code_centre: CodeCentre::Half,
            samples: 1,
            right_shift: 0,
            shift_rounding: ShiftRounding::Truncate,
        }
    }

    /// The same with `samples` of them summed, every bit kept.
    #[must_use]
    pub const fn summed(bits: u8, samples: u16) -> Self {
        let mut acquisition = Self::single(bits);
        acquisition.samples = samples;
        acquisition
    }

    /// Checks the description and derives the scale in half-steps.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] for bits, samples or shift, [`ConfigError::SamplesNotPowerOfTwo`],
    /// [`ConfigError::ShiftTooLarge`].
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "bits <= 16, samples <= 1024 and shift <= 8 are checked first: every sum and product is below 2^28; samples >= 1"
    )]
    pub(crate) const fn scale(self) -> Result<CountScale, ConfigError> {
        tried!(BITS.check(self.bits as i64));
        tried!(SAMPLES.check(self.samples as i64));
        tried!(RIGHT_SHIFT.check(self.right_shift as i64));
        if !self.samples.is_power_of_two() {
            return Err(ConfigError::SamplesNotPowerOfTwo {
                samples: self.samples,
            });
        }
        let (samples, shift) = (self.samples as u32, self.right_shift as u32);
        let top_code = (1_u32 << self.bits) - 1;
        let largest_sum = samples * top_code;
        let largest_count = match self.shift_rounding {
            ShiftRounding::Truncate => shift_floor_u32(largest_sum, shift),
            ShiftRounding::Nearest => shift_nearest_u32(largest_sum, shift),
        };
        if largest_count < 2 {
            return Err(ConfigError::ShiftTooLarge {
                right_shift: self.right_shift,
                largest_count,
            });
        }
        let centre = match (self.code_centre, self.shift_rounding) {
            (CodeCentre::Edge, _) => 0,
            (CodeCentre::Half, ShiftRounding::Truncate) => samples + (1 << shift) - 1,
            (CodeCentre::Half, ShiftRounding::Nearest) if shift == 0 => samples,
            (CodeCentre::Half, ShiftRounding::Nearest) => samples - 1,
        };
        let full_scale = match self.full_scale {
            FullScale::PowerOfTwo => top_code + 1,
            FullScale::TopCode => top_code,
        };
        Ok(CountScale {
            step_log2: shift + 1,
            centre,
            full_scale: 2 * samples * full_scale,
            largest_count,
            samples: self.samples,
            right_shift: self.right_shift,
        })
    }
}

/// An acquisition in half-steps, checked.
///
/// # Range
/// `step_log2` 1 to 9, `centre` 0 to 1279, `full_scale` 510 to 2^27, `largest_count` 2 to
/// [`crate::bounds::COUNT_MAX`]; `largest_count << step_log2` is below 2^27 + 2^9.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct CountScale {
    pub(crate) step_log2: u32,
    pub(crate) centre: u32,
    pub(crate) full_scale: u32,
    pub(crate) largest_count: u32,
    samples: u16,
    right_shift: u8,
}

impl CountScale {
    /// What a conversion keeps of it.
    pub(crate) const fn summing(self, unit: OutputUnit) -> Summing {
        Summing {
            rail: self.largest_count,
            samples: self.samples,
            right_shift: self.right_shift,
            unit,
        }
    }
}
