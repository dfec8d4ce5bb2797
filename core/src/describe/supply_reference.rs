//! A drawing with a supply reference: the cell is the converter's supply and reference, a fixed reference is sampled.

use super::acquisition::{Acquisition, CountScale};
use super::cell::CellRange;
use super::factor::Factor;
use super::fingerprint::{Described, Fingerprint};
use crate::bounds::{REFERENCE_UV, VOLTAGE_MAX};
use crate::convert::constants::QuotientConstants;
use crate::convert::quotient::SupplyConversion;
use crate::convert::window::{Summing, Window};
use crate::error::{ConfigError, tried};
use crate::rounding::{divide_ceil_i128, divide_floor_u128};
use crate::units::OutputUnit;

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
///
/// ```text
/// V = Vref * F / x
/// ```
///
/// with x the count in half-steps, centre added: a whole number D'. With N = Vref * F in output units, a rational,
///
/// ```text
/// floor(N / D' + 1/2) = floor((2 N + D') / (2 D')) = floor((floor(2 N) + D') / (2 D'))
/// ```
///
/// because rounding down before a division by a whole number changes nothing. So K = floor(2 N) and D = 2 D', an even number, are
/// exact for every count ([`crate::SupplyConversion`]): no search, and no other proof is needed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
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
        let scale = tried!(description.acquisition.scale());
        tried!(REFERENCE_UV.check(description.reference_uv as i64));
        tried!(description.cell.check(description.unit));
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

    /// The conversion as drawn.
    ///
    /// # Rounding
    /// At every count the voltage equals the exact rational of the description, rounded to the nearest output unit, ties upward.
    ///
    /// # Errors
    /// [`ConfigError::Constants`] when no count below the rail is a voltage that the output holds: a reference within a step or so of its end.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        clippy::cast_sign_loss,
        reason = "2 N is below 2^51 / 100, below 2^46 after the common power of two is taken out (docs/numerics.md); D' at most 2^27 + \
                  2^11, so twice it below 2^29; step_log2 at most 10"
    )]
    pub const fn conversion(&self) -> Result<SupplyConversion, ConfigError> {
        let scale = self.scale;
        let common = ((1_u32 << scale.step_log2) | scale.centre).trailing_zeros();
        let (step_log2, centre) = (scale.step_log2 - common, (scale.centre >> common) as i128);
        let (numerator, _) = divide_floor_u128(
            2 * self.factor.numerator as u128,
            (self.factor.denominator as u128) << common,
        );
        // The voltage is at most VOLTAGE_MAX while floor(K / D') <= 2 * VOLTAGE_MAX, that is while D' > K / (2 * VOLTAGE_MAX + 1).
        let (below, _) = divide_floor_u128(numerator, 2 * VOLTAGE_MAX as u128 + 1);
        let low = divide_ceil_i128(below as i128 + 1 - centre, 1 << step_log2);
        let Some(window) = Window::between(low, i128::MAX, scale.largest_count) else {
            return Err(ConfigError::Constants);
        };
        let at_first = ((window.first as i128) << step_log2) + centre;
        self.module(QuotientConstants {
            first: window.first,
            counts: window.counts,
            numerator: numerator as u64,
            at_first: (at_first << 1) as u32,
            step_log2: step_log2 as u8 + 1,
        })
    }

    /// The conversion of a module whose constants were chosen elsewhere: on a PC by `fit`, or by a controller.
    ///
    /// # Rounding
    /// At every count the voltage equals the exact rational of the constants, rounded to the nearest output unit, ties upward.
    ///
    /// # Errors
    /// [`ConfigError::Constants`] for constants with which a count would wrap or leave the output's range, or that reach beyond
    /// the counts of this front end.
    pub const fn module(
        &self,
        constants: QuotientConstants,
    ) -> Result<SupplyConversion, ConfigError> {
        match SupplyConversion::of(constants, self.summing()) {
            Some(conversion) => Ok(conversion),
            None => Err(ConfigError::Constants),
        }
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
