//! Per-module gain and offset, as stored: what one board differs from its drawing.
//!
//! The same meaning in both topologies: the offset, in single-sample counts, is subtracted from every sample first; the
//! gain then multiplies the voltage.

use fixed::types::{I24F8, U8F24};

use crate::bounds::{GAIN_BITS, OFFSET_BITS};
use crate::error::ConfigError;

/// Gain and offset of one module.
///
/// # Range
/// Gain 0.5 to 2 in steps of 2^-24 (0.06 ppm, 0.26 uV at 4.3 V); offset -4096 to 4096 single-sample counts in steps of
/// 1/256 count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Calibration {
    gain: U8F24,
    offset: I24F8,
}

impl Calibration {
    /// Gain 1, offset 0: an uncalibrated module.
    pub const IDENTITY: Self = Self {
        gain: U8F24::ONE,
        offset: I24F8::ZERO,
    };

    /// A calibration as stored.
    ///
    /// # Errors
    /// [`ConfigError::OutOfBounds`] for the gain or the offset, in steps of the stored type.
    pub const fn new(gain: U8F24, offset: I24F8) -> Result<Self, ConfigError> {
        if let Err(error) = GAIN_BITS.check(gain.to_bits() as i64) {
            return Err(error);
        }
        if let Err(error) = OFFSET_BITS.check(offset.to_bits() as i64) {
            return Err(error);
        }
        Ok(Self { gain, offset })
    }

    /// Gain, a factor on the voltage.
    #[must_use]
    pub const fn gain(self) -> U8F24 {
        self.gain
    }

    /// Offset in single-sample counts.
    #[must_use]
    pub const fn offset(self) -> I24F8 {
        self.offset
    }
}

#[cfg(feature = "defmt")]
impl defmt::Format for Calibration {
    fn format(&self, fmt: defmt::Formatter<'_>) {
        defmt::write!(
            fmt,
            "gain {=u32}/2^24 offset {=i32}/256",
            self.gain.to_bits(),
            self.offset.to_bits()
        );
    }
}
