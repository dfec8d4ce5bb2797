//! Count to voltage, topology B: the cell is the converter's supply and reference, a fixed reference is sampled.
//!
//! ```text
//! V = Vref * F * gain / x
//! ```
//!
//! with x the count in half-steps, centre added and offset taken off. With a common denominator the voltage in output units
//! is N / D(count), where D is a whole number and N a rational constant. Then
//!
//! ```text
//! floor(N / D + 1/2) = floor((floor(2 N) / D + 1) / 2) = floor((floor(floor(2 N) / D) + 1) / 2)
//! ```
//!
//! because rounding down inside a division by a whole number changes nothing. One integer, H = floor(2 N), computed once, is
//! therefore exact for every count: no search, and no other proof is needed.

use crate::acquisition::{Acquisition, CountScale};
use crate::bounds::{REFERENCE_UV, VOLTAGE_MAX};
use crate::calibration::Calibration;
use crate::cell::CellRange;
use crate::error::ConfigError;
use crate::factor::Factor;
use crate::fingerprint::{Described, Fingerprint};
use crate::reciprocal::long_division;
use crate::rounding::{
    divide_ceil_i128, divide_floor_u32, divide_floor_u64, divide_floor_u128, nearest_of_doubled,
};
use crate::units::{Count, Fault, OutputUnit, Voltage};
use crate::window::Window;

/// The reference that is sampled, and what surrounds it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SupplyDescription {
    /// Converter and summing.
    pub acquisition: Acquisition,
    /// Reference voltage in microvolts, 100 000 to 8 000 000, below the emptiest cell.
    pub reference_uv: u32,
    /// The cell in use.
    pub cell: CellRange,
    /// Step of the result.
    pub unit: OutputUnit,
}

/// A supply reference that passed every check, with its exact numerator.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SupplyReference {
    scale: CountScale,
    /// Output units times half-steps.
    factor: Factor,
    unit: OutputUnit,
    front_end: Fingerprint,
}

impl SupplyReference {
    /// Checks a description and reduces it to one exact numerator.
    ///
    /// # Errors
    /// [`ConfigError`] for the first rule broken: acquisition, reference, cell range, and a reference that is not below
    /// the emptiest cell's voltage.
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "reference * full_scale <= 2^23 * 2^27, below 2^62"
    )]
    pub const fn new(description: SupplyDescription) -> Result<Self, ConfigError> {
        let scale = match description.acquisition.scale() {
            Ok(scale) => scale,
            Err(error) => return Err(error),
        };
        if let Err(error) = REFERENCE_UV.check(description.reference_uv as i64) {
            return Err(error);
        }
        if let Err(error) = description.cell.check(description.unit) {
            return Err(error);
        }
        if description.reference_uv >= description.cell.min_uv {
            return Err(ConfigError::ReferenceNotBelowCell {
                reference_uv: description.reference_uv,
                min_uv: description.cell.min_uv,
            });
        }
        Ok(Self {
            scale,
            factor: Factor::reduced(
                description.reference_uv as u64 * scale.full_scale as u64,
                description.unit.step_uv() as u64,
            ),
            unit: description.unit,
            front_end: Described {
                acquisition: description.acquisition,
                unit: description.unit,
                reference_uv: description.reference_uv,
                divider: None,
            }
            .fingerprint(),
        })
    }

    /// The conversion of one module: its window, its numerator and its denominator's line.
    ///
    /// # Rounding
    /// At every count the voltage equals the exact rational of description and stored calibration, rounded to the nearest
    /// output unit, ties upward.
    ///
    /// # Errors
    /// None today; the type is that of [`crate::DividedInput::conversion`], so that the topologies are exchanged by
    /// changing a name.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        clippy::cast_sign_loss,
        reason = "2 * numerator * gain * 2^8 < 2^50 * 2^25 * 2^9 = 2^84; the divisor is 2^24 to 2^24 * 2^17 * 1000; |centre| \
                  < 2^32; slope <= 2^17; the denominator at a count in the window is 1 to 2^28 after the common power of \
                  two is taken out (docs/numerics.md), the doubled numerator below 2^47"
    )]
    pub const fn conversion(
        &self,
        calibration: Calibration,
    ) -> Result<SupplyConversion, ConfigError> {
        let scale = self.scale;
        // In 1/256 half-steps: 256 * (step * count + centre) - 2 * samples * offset.
        let centre = ((scale.centre as i128) << 8)
            - 2 * scale.samples as i128 * calibration.offset().to_bits() as i128;
        let step_log2 = scale.step_log2 + 8;
        let common = ((1_i128 << step_log2) | centre).trailing_zeros();
        let (step_log2, centre) = (step_log2 - common, centre >> common);

        let gained = self.factor.numerator as u128 * calibration.gain().to_bits() as u128;
        let (doubled_numerator, _) = divide_floor_u128(
            gained << 9,
            (self.factor.denominator as u128) << (24 + common),
        );

        // The output is at most VOLTAGE_MAX while floor(H / D) <= 2 * VOLTAGE_MAX, that is while D > H / (2 * VOLTAGE_MAX + 1).
        let (below, _) = divide_floor_u128(doubled_numerator, 2 * VOLTAGE_MAX as u128 + 1);
        let low = divide_ceil_i128(below as i128 + 1 - centre, 1 << step_log2);
        let window = Window::between(
            low,
            i128::MAX,
            scale.largest_count,
            Fault::AboveRange,
            Fault::BelowRange,
        );
        let at_first = if window.counts() == 0 {
            1
        } else {
            ((window.first().0 as i128) << step_log2) + centre
        };
        let quotient = Quotient::new(doubled_numerator as u64, step_log2 as u8, at_first as u32);
        let last = window.counts().saturating_sub(1);
        Ok(SupplyConversion {
            window: window.quick_if(quotient.is_quick(last, scale.largest_count)),
            divider: Divider::of(quotient, last),
        })
    }

    /// Identity of the description, for its calibration records.
    #[must_use]
    pub const fn fingerprint(&self) -> Fingerprint {
        self.front_end
    }

    /// Step of the result.
    #[must_use]
    pub const fn unit(&self) -> OutputUnit {
        self.unit
    }
}

/// `round(H / 2 / D)` with `D = position * 2^step_log2 + at_first`.
///
/// # Range
/// `doubled_numerator` (H) below 2^47; D from 1 to below 2^28 at every position of the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct Quotient {
    doubled_numerator: u64,
    at_first: u32,
    step_log2: u8,
    /// 2^`step_log2`, or 0 if that is above 16 bits: an 8-bit core multiplies faster than it shifts.
    step: u16,
}

impl Quotient {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a step above 16 bits is 0 on purpose"
    )]
    pub(crate) const fn new(doubled_numerator: u64, step_log2: u8, at_first: u32) -> Self {
        Self {
            doubled_numerator,
            at_first,
            step_log2,
            step: 1_u32.wrapping_shl(step_log2 as u32) as u16,
        }
    }

    /// D at a position.
    #[inline]
    #[expect(
        clippy::arithmetic_side_effects,
        reason = "D is below 2^28 at every position of the window"
    )]
    pub(crate) const fn denominator(&self, position: u32) -> u32 {
        (position << self.step_log2) + self.at_first
    }

    /// Whether a kernel takes the positions to `last`. That for AVR has counts and steps of 16 bits, and 2 D below 2^23.
    const fn is_quick(&self, last: u32, largest_count: Count) -> bool {
        !cfg!(target_arch = "avr")
            || (largest_count.0 <= 1 << 16 && self.step != 0 && self.denominator(last) < 1 << 22)
    }

    /// The value at a position: by the core's divider, on AVR bit by bit.
    ///
    /// # Range
    /// `position` below the window's counts; the result is then at most [`VOLTAGE_MAX`].
    #[inline]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "the window keeps H / D at most 2 * VOLTAGE_MAX, so the result fits 16 bits"
    )]
    pub(crate) const fn at(&self, position: u32) -> u16 {
        if cfg!(target_arch = "avr") {
            return self.bit_by_bit(position);
        }
        let denominator = self.denominator(position);
        let doubled = if self.doubled_numerator <= u32::MAX as u64 {
            divide_floor_u32(self.doubled_numerator as u32, denominator)
        } else {
            divide_floor_u64(self.doubled_numerator, denominator as u64) as u32
        };
        nearest_of_doubled(doubled) as u16
    }

    /// The value at a position bit by bit, for cores that have neither a divider nor a wide multiplication.
    ///
    /// # Range
    /// `position` below the window's counts.
    #[inline]
    #[must_use]
    pub const fn bit_by_bit(&self, position: u32) -> u16 {
        long_division(self.doubled_numerator, self.denominator(position) << 1)
    }

    /// H, twice the numerator, rounded down.
    #[must_use]
    pub const fn doubled_numerator(&self) -> u64 {
        self.doubled_numerator
    }

    /// Base-2 logarithm of the denominator's step from one count to the next.
    #[must_use]
    pub const fn step_log2(&self) -> u8 {
        self.step_log2
    }

    /// Denominator at the window's first count.
    #[must_use]
    pub const fn at_first(&self) -> u32 {
        self.at_first
    }
}

/// What a conversion divides with. Cores without a fast divider refine a reciprocal; AVR, where 32-bit products are calls and
/// constants take RAM, divides bit by bit ([`Quotient::at`]).
#[cfg(any(
    all(target_arch = "arm", not(target_has_atomic = "32")),
    target_arch = "riscv32"
))]
pub(crate) type Divider = crate::reciprocal::Reciprocal;
#[cfg(not(any(
    all(target_arch = "arm", not(target_has_atomic = "32")),
    target_arch = "riscv32"
)))]
pub(crate) type Divider = Quotient;

#[cfg(not(any(
    all(target_arch = "arm", not(target_has_atomic = "32")),
    target_arch = "riscv32"
)))]
impl Quotient {
    const fn of(quotient: Self, _last: u32) -> Self {
        quotient
    }

    const fn quotient(&self) -> Self {
        *self
    }
}

/// Count to voltage for one module with a supply reference. Total, integer-only, exact.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct SupplyConversion {
    window: Window,
    pub(crate) divider: Divider,
}

impl SupplyConversion {
    /// The voltage of a count in output units, or why the count is none.
    ///
    /// # Range
    /// Every `u32` is accepted.
    ///
    /// # Rounding
    /// To the nearest output unit, ties upward, of the exact model; no error on top.
    ///
    /// # Errors
    /// [`Fault::ZeroCount`]; [`Fault::Rail`], where the cell is at or below the reference; [`Fault::AboveRange`] for
    /// counts so small that the voltage would not fit.
    #[inline]
    pub const fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        match self.window.position(count) {
            Ok(position) => Ok(Voltage(self.divider.at(position))),
            Err(fault) => Err(fault),
        }
    }

    /// The counts that are voltages.
    #[must_use]
    pub const fn window(&self) -> &Window {
        &self.window
    }

    /// The numerator and the denominator's line.
    #[must_use]
    pub const fn quotient(&self) -> Quotient {
        self.divider.quotient()
    }
}
