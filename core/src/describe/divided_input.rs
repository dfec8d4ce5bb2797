//! A drawing with a divided input: the cell through a resistor divider, against a fixed reference.

use super::acquisition::{Acquisition, CountScale};
use super::cell::CellRange;
use super::factor::Factor;
use super::fingerprint::{Described, Fingerprint};
use super::straight_line::ExactLine;
use crate::bounds::{REFERENCE_UV, RESISTANCE, VOLTAGE_MAX};
use crate::convert::constants::LineConstants;
use crate::convert::line::DividedConversion;
use crate::convert::window::{Summing, Window};
use crate::error::{ConfigError, tried};
use crate::rounding::{divide_floor_i128, divide_floor_u128};
use crate::units::OutputUnit;

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
///
/// ```text
/// V = x / F * Vref * (Rtop + Rbottom) / Rbottom
/// ```
///
/// with x the count in half-steps, centre added ([`Acquisition`]). In output units this is a straight line in the count
/// with rational slope and intercept; a search finds the constants that round it exactly at every count, or says
/// that there are none.
///
/// # The search for its constants
///
/// Wanted are M and B with `floor((M k + B) / 2^S)` equal to `f(k) = floor((P k + R) / Q)` for k = 0 .. n - 1. What a candidate is off
/// before rounding,
///
/// ```text
/// d(k) = (M k + B) / 2^S - (P k + R) / Q
/// ```
///
/// is itself a straight line, so it changes sign at most once. On the part where d(k) >= 0 no value lies below f(k), on the other
/// none above it; so on each part both are equal at every k exactly when their sums are, and a sum costs a few dozen divisions
/// (`floor_sum.rs`), not a sweep.
///
/// The search of the addend is complete. Take M above the exact slope and a B that is right. Where d < 0 everywhere, B can rise until d
/// is just below 0 at the last k, and where d >= 0 everywhere, it can fall until d is just above 0 at the first: it only comes closer to f
/// from one side, so it stays right. Either way it then lies at most n steps below the exact intercept and one above, as it does where d
/// changes sign. Among those a larger B never lowers a value, so halving finds one: too many where d >= 0 means lower, too few where
/// d < 0 means higher, both at once that this M has none. M below the slope is the mirror image.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
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
        let scale = tried!(description.acquisition.scale());
        tried!(REFERENCE_UV.check(description.reference_uv as i64));
        tried!(RESISTANCE.check(description.top_ohms as i64));
        tried!(RESISTANCE.check(description.bottom_ohms as i64));
        tried!(description.cell.check(description.unit));
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

    /// The conversion as drawn, for counts of `BITS` bits: found and proven, so for a compiler and not for a chip.
    ///
    /// # Rounding
    /// At every count the voltage equals the exact rational of the description, rounded to the nearest output unit, ties upward.
    ///
    /// # Errors
    /// [`ConfigError::CountsWider`] when counts are wider than `BITS`; [`ConfigError::Constants`] when no count is a voltage that the
    /// output holds; and [`ConfigError::Unproven`] when no constants are exact at every count, which no description of up to 16 bits
    /// has shown yet (`docs/numerics.md`).
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "twice the numerator below 2^49, shifted by at most 9; centre below 2^11; twice the denominator below 2^62, and \
                  65 536 times it below 2^78; no sum is below 0"
    )]
    pub const fn conversion<const BITS: u32>(
        &self,
    ) -> Result<DividedConversion<BITS>, ConfigError> {
        tried!(self.check_width::<BITS>());
        // Twice the fraction, so that half of the denominator, the rounding, is whole.
        let numerator = 2 * self.factor.numerator as i128;
        let denominator = 2 * self.factor.denominator as i128;
        let slope = numerator << self.scale.step_log2;
        let intercept = numerator * self.scale.centre as i128 + (denominator >> 1);
        let high = divide_floor_i128(
            denominator * (VOLTAGE_MAX as i128 + 1) - 1 - intercept,
            slope,
        );
        // No count is below the range: a drawing has no offset.
        let Some(window) = Window::between(1, high, self.scale.largest_count) else {
            return Err(ConfigError::Constants);
        };
        let line = ExactLine {
            terms: window.counts,
            slope: slope as u128,
            intercept: (slope + intercept) as u128,
            denominator: denominator as u128,
        };
        // The short form first, then the least of those that lose nothing in whole bytes.
        let full = DividedConversion::<BITS>::FULL_SHIFT;
        let short = DividedConversion::<BITS>::SHORT_SHIFT;
        let mut shifts: &[u32] = if BITS > 16 {
            &[full]
        } else {
            &[short, 16, 24, full]
        };
        while let Some((&shift, longer)) = shifts.split_first() {
            if let Some(found) = line.multiplier(shift)
                && (shift % 8 == 0 || found.factor <= u16::MAX as u128)
            {
                let constants = LineConstants {
                    first: window.first,
                    counts: window.counts,
                    factor: found.factor,
                    addend: found.addend,
                    shift: shift as u8,
                };
                if let Some(conversion) = DividedConversion::of(constants, self.summing()) {
                    return Ok(conversion);
                }
            }
            shifts = longer;
        }
        Err(ConfigError::Unproven { shift: full })
    }

    /// The conversion of a module whose constants were chosen elsewhere: on a PC by `fit`, or by a controller.
    ///
    /// # Rounding
    /// At every count the voltage equals the exact rational of the constants, rounded to the nearest output unit, ties upward.
    ///
    /// # Errors
    /// [`ConfigError::CountsWider`], and [`ConfigError::Constants`] for constants with which a count would wrap or leave the
    /// output's range, or that reach beyond the counts of this front end.
    pub const fn module<const BITS: u32>(
        &self,
        constants: LineConstants,
    ) -> Result<DividedConversion<BITS>, ConfigError> {
        tried!(self.check_width::<BITS>());
        match DividedConversion::of(constants, self.summing()) {
            Some(conversion) => Ok(conversion),
            None => Err(ConfigError::Constants),
        }
    }

    const fn check_width<const BITS: u32>(&self) -> Result<(), ConfigError> {
        if self.scale.largest_count >= DividedConversion::<BITS>::COUNT_END {
            return Err(ConfigError::CountsWider {
                largest_count: self.scale.largest_count,
                bits: BITS,
            });
        }
        Ok(())
    }

    /// How a count comes about, and the step of a voltage.
    #[must_use]
    pub const fn summing(&self) -> Summing {
        self.scale.summing(self.unit)
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
