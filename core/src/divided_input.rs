//! Count to voltage, topology A: the cell through a resistor divider, against a fixed reference.
//!
//! ```text
//! V = x / F * Vref * (Rtop + Rbottom) / Rbottom * gain
//! ```
//!
//! with x the count in half-steps, centre added and offset taken off ([`crate::acquisition`]). In output units this is a
//! straight line in the count with rational slope and intercept; [`crate::straight_line`] finds the multiplier that
//! rounds it exactly, or says that there is none.

use crate::acquisition::{Acquisition, CountScale};
use crate::bounds::{REFERENCE_UV, RESISTANCE, VOLTAGE_MAX};
use crate::calibration::Calibration;
use crate::cell::CellRange;
use crate::error::ConfigError;
use crate::factor::Factor;
use crate::fingerprint::{Described, Fingerprint};
use crate::rounding::{divide_ceil_i128, divide_floor_i128, divide_floor_u128};
use crate::straight_line::{ExactLine, Multiplier};
use crate::units::{Count, Fault, OutputUnit, Voltage};
use crate::window::Window;

/// The four numbers on the schematic, and what surrounds them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct DividedDescription {
    /// Converter and summing.
    pub acquisition: Acquisition,
    /// Reference voltage in microvolts, 100 000 to 8 000 000.
    pub reference_uv: u32,
    /// Resistance from the cell to the converter's pin, 1 to 10 000 000.
    pub top_ohms: u32,
    /// Resistance from the pin to ground, 1 to 10 000 000. Only the ratio enters, so both may be in another unit.
    pub bottom_ohms: u32,
    /// The cell in use.
    pub cell: CellRange,
    /// Step of the result.
    pub unit: OutputUnit,
}

/// A divided input that passed every check, with its exact factor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DividedInput {
    scale: CountScale,
    /// Output units a half-step.
    factor: Factor,
    unit: OutputUnit,
    front_end: Fingerprint,
}

impl DividedInput {
    /// Checks a description and reduces it to one exact factor.
    ///
    /// # Errors
    /// [`ConfigError`] for the first rule broken: acquisition, reference, resistances, cell range, and a fullest cell
    /// that the divider would put above the reference.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        reason = "CELL_UV * RESISTANCE < 2^26 * 2^24; reference * (top + bottom) < 2^23 * 2^25 and full_scale * step * \
                  bottom <= 2^27 * 2^10 * 2^24, all below 2^62; the pin's voltage is below the cell's, a u32; divisors >= 1"
    )]
    pub const fn new(description: DividedDescription) -> Result<Self, ConfigError> {
        let scale = match description.acquisition.scale() {
            Ok(scale) => scale,
            Err(error) => return Err(error),
        };
        if let Err(error) = REFERENCE_UV.check(description.reference_uv as i64) {
            return Err(error);
        }
        if let Err(error) = RESISTANCE.check(description.top_ohms as i64) {
            return Err(error);
        }
        if let Err(error) = RESISTANCE.check(description.bottom_ohms as i64) {
            return Err(error);
        }
        if let Err(error) = description.cell.check(description.unit) {
            return Err(error);
        }
        let bottom = description.bottom_ohms as u64;
        let whole = description.top_ohms as u64 + bottom;
        let reference = description.reference_uv as u64;
        if description.cell.max_uv as u64 * bottom > reference * whole {
            let (pin_uv, _) = divide_floor_u128(
                description.cell.max_uv as u128 * bottom as u128,
                whole as u128,
            );
            return Err(ConfigError::DividerAboveReference {
                pin_uv: pin_uv as u32,
                reference_uv: description.reference_uv,
            });
        }
        Ok(Self {
            scale,
            factor: Factor::reduced(
                reference * whole,
                scale.full_scale as u64 * description.unit.step_uv() as u64 * bottom,
            ),
            unit: description.unit,
            front_end: Described {
                acquisition: description.acquisition,
                unit: description.unit,
                reference_uv: description.reference_uv,
                divider: Some((description.top_ohms, description.bottom_ohms)),
            }
            .fingerprint(),
        })
    }

    /// The conversion of one module: its window and its proven multiplier.
    ///
    /// Identity for an uncalibrated module. While compiling it costs nothing at run time; at load it costs 20 to
    /// 350 wide divisions, once (`docs/numerics.md`).
    ///
    /// # Rounding
    /// At every count the voltage equals the exact rational of description and stored calibration, rounded to the nearest
    /// output unit, ties upward.
    ///
    /// # Errors
    /// [`ConfigError::Unproven`] when no multiplier is exact at every count of the window.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_sign_loss,
        reason = "slope < 2^(9 + 8) * 2^48 * 2^25 = 2^90 and, as a count's half-steps are below 2^27 + 2^9, slope * count < \
                  2^110; |intercept| < 2^32 * 2^73 + 2^93; denominator < 2^61 * 2^32; VOLTAGE_MAX + 1 times it < 2^110; \
                  at the window's first count the sum is at least 0; window counts are u32; common is below 128"
    )]
    pub const fn conversion(
        &self,
        calibration: Calibration,
    ) -> Result<DividedConversion, ConfigError> {
        let scale = self.scale;
        // In 1/256 half-steps: 256 * (step * count + centre) - 2 * samples * offset.
        let gained = self.factor.numerator as i128 * calibration.gain().to_bits() as i128;
        let slope = gained << (scale.step_log2 + 8);
        let centre = ((scale.centre as i128) << 8)
            - 2 * scale.samples as i128 * calibration.offset().to_bits() as i128;
        // 24 bits of gain, 8 of offset. The denominator is even, so half of it, the rounding, is whole.
        let denominator = (self.factor.denominator as i128) << 32;
        let intercept = gained * centre + (denominator >> 1);

        let low = divide_ceil_i128(-intercept, slope);
        let high = divide_floor_i128(
            denominator * (VOLTAGE_MAX as i128 + 1) - 1 - intercept,
            slope,
        );
        let window = Window::between(
            low,
            high,
            scale.largest_count,
            Fault::BelowRange,
            Fault::AboveRange,
        );
        let at_first = if window.counts() == 0 {
            0
        } else {
            (slope * window.first().0 as i128 + intercept) as u128
        };

        // Powers of two are most of what is common to the three; taking them out keeps the proof's numbers short.
        let common = (slope as u128 | at_first | denominator as u128).trailing_zeros();
        let line = ExactLine {
            terms: window.counts(),
            slope: slope as u128 >> common,
            intercept: at_first >> common,
            denominator: denominator as u128 >> common,
        };
        match line.prove() {
            Ok(multiplier) => {
                // Counts of 16 bits, so that an 8-bit core need not look at more.
                let quick = multiplier.is_narrow() && scale.largest_count.0 <= 1 << 16;
                Ok(DividedConversion {
                    window: window.quick_if(quick),
                    multiplier,
                })
            }
            Err(error) => Err(error),
        }
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

/// Count to voltage for one module with a divided input. Total, integer-only, proven.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub struct DividedConversion {
    window: Window,
    pub(crate) multiplier: Multiplier,
}

impl DividedConversion {
    /// The voltage of a count in output units, or why the count is none.
    ///
    /// # Range
    /// Every `u32` is accepted.
    ///
    /// # Rounding
    /// To the nearest output unit, ties upward, of the exact model; no error on top.
    ///
    /// # Errors
    /// [`Fault::ZeroCount`], [`Fault::Rail`], or, under a calibration or a coarse divider, [`Fault::BelowRange`] and
    /// [`Fault::AboveRange`].
    #[expect(
        clippy::inline_always,
        reason = "a compiler that weighs the slow way, too, calls it; with constants compiled in, inlined, only a product is left"
    )]
    #[inline(always)]
    pub const fn voltage(&self, count: Count) -> Result<Voltage, Fault> {
        if let Some(position) = self.window.quick_position(count) {
            return Ok(Voltage(self.multiplier.narrow_at(position)));
        }
        match self.window.position(count) {
            Ok(position) => Ok(Voltage(self.multiplier.at(position))),
            Err(fault) => Err(fault),
        }
    }

    /// The counts that are voltages.
    #[must_use]
    pub const fn window(&self) -> &Window {
        &self.window
    }

    /// The proven multiplier, over positions in the window.
    #[must_use]
    pub const fn multiplier(&self) -> &Multiplier {
        &self.multiplier
    }
}
