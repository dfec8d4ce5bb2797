//! The firmware's side: a [`FrontEnd`] handed to the `tallyvolt` crate, and its conversion as the harness sees it.

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::ToPrimitive;
use tallyvolt::{
    Acquisition, Calibration, CellRange, ConfigError, Count, DividedConversion, DividedDescription,
    DividedInput, Fault, Fingerprint, OutputUnit, SupplyConversion, SupplyDescription,
    SupplyReference, Voltage, bounds,
};
use thiserror::Error;

use crate::front_end::{
    CodeCentre, Converter, Divider, FrontEnd, FullScale, ShiftRounding, Topology,
};
use crate::outcome::{FaultName, Outcome};

/// A front end that the crate accepted.
#[derive(Debug, Clone, Copy)]
pub enum Firmware {
    /// Topology A.
    Divided(DividedInput),
    /// Topology B.
    Supply(SupplyReference),
}

/// A conversion as firmware runs it.
#[derive(Debug, Clone, Copy)]
pub enum Conversion {
    /// Topology A.
    Divided(DividedConversion),
    /// Topology B.
    Supply(SupplyConversion),
}

/// Why the crate cannot take a front end.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum DescribeError {
    /// A rule of the crate.
    #[error(transparent)]
    Config(#[from] ConfigError),
    /// Resistances whose ratio needs larger whole numbers than the crate carries.
    #[error(
        "the divider's resistances are {top} to {bottom} in lowest whole numbers, more digits than can be carried"
    )]
    Digits {
        /// Top resistance, scaled.
        top: BigInt,
        /// Bottom resistance, scaled.
        bottom: BigInt,
    },
}

impl Firmware {
    /// Describes a front end to the crate.
    ///
    /// # Errors
    /// [`DescribeError`]: the rule that was broken.
    pub fn describe(front_end: &FrontEnd) -> Result<Self, DescribeError> {
        let acquisition = acquisition(&front_end.converter);
        let reference_uv = front_end.reference.microvolts;
        let cell = CellRange {
            min_uv: front_end.cell.min_uv,
            max_uv: front_end.cell.max_uv,
        };
        let unit = output_unit(front_end);
        Ok(match &front_end.topology {
            Topology::DividedInput(divider) => {
                let (top_ohms, bottom_ohms) = whole_resistances(divider)?;
                Self::Divided(DividedInput::new(DividedDescription {
                    acquisition,
                    reference_uv,
                    top_ohms,
                    bottom_ohms,
                    cell,
                    unit,
                })?)
            }
            Topology::SupplyReference => Self::Supply(SupplyReference::new(SupplyDescription {
                acquisition,
                reference_uv,
                cell,
                unit,
            })?),
        })
    }

    /// The conversion of one module.
    ///
    /// # Errors
    /// [`ConfigError::Unproven`].
    pub fn conversion(&self, calibration: Calibration) -> Result<Conversion, ConfigError> {
        match self {
            Self::Divided(input) => input.conversion(calibration).map(Conversion::Divided),
            Self::Supply(reference) => reference.conversion(calibration).map(Conversion::Supply),
        }
    }
}

impl Firmware {
    /// Identity of the description, for calibration records.
    #[must_use]
    pub fn fingerprint(&self) -> Fingerprint {
        match self {
            Self::Divided(input) => input.fingerprint(),
            Self::Supply(reference) => reference.fingerprint(),
        }
    }
}

impl Conversion {
    /// What firmware answers for a count.
    #[inline]
    #[must_use]
    pub fn outcome(&self, count: u32) -> Outcome {
        answered(match self {
            Self::Divided(conversion) => conversion.voltage(Count(count)),
            Self::Supply(conversion) => conversion.voltage(Count(count)),
        })
    }
}

/// An answer of the crate in the harness's words.
#[inline]
#[must_use]
pub fn answered(answer: Result<Voltage, Fault>) -> Outcome {
    match answer {
        Ok(voltage) => Outcome::Units(u32::from(voltage.0)),
        Err(Fault::ZeroCount) => Outcome::Fault(FaultName::ZeroCount),
        Err(Fault::Rail) => Outcome::Fault(FaultName::Rail),
        Err(Fault::BelowRange) => Outcome::Fault(FaultName::BelowRange),
        Err(Fault::AboveRange) => Outcome::Fault(FaultName::AboveRange),
    }
}

/// The acquisition as the crate describes it.
#[must_use]
pub fn acquisition(converter: &Converter) -> Acquisition {
    Acquisition {
        // Wider values were refused on reading; saturating keeps the crate's own check in charge all the same.
        bits: u8::try_from(converter.bits).unwrap_or(u8::MAX),
        full_scale: match converter.full_scale {
            FullScale::PowerOfTwo => tallyvolt::FullScale::PowerOfTwo,
            FullScale::TopCode => tallyvolt::FullScale::TopCode,
        },
        code_centre: match converter.code_centre {
            CodeCentre::Edge => tallyvolt::CodeCentre::Edge,
            CodeCentre::Half => tallyvolt::CodeCentre::Half,
        },
        samples: u16::try_from(converter.samples).unwrap_or(u16::MAX),
        right_shift: u8::try_from(converter.right_shift).unwrap_or(u8::MAX),
        shift_rounding: match converter.shift_rounding {
            ShiftRounding::Truncate => tallyvolt::ShiftRounding::Truncate,
            ShiftRounding::Nearest => tallyvolt::ShiftRounding::Nearest,
        },
    }
}

/// The output unit as the crate names it.
#[must_use]
pub fn output_unit(front_end: &FrontEnd) -> OutputUnit {
    if front_end.unit_uv == OutputUnit::TenthMillivolt.step_uv() {
        OutputUnit::TenthMillivolt
    } else {
        OutputUnit::Millivolt
    }
}

/// Both resistances as whole numbers of a common unit: ohms where they are whole, else a decimal part of an ohm, else in
/// lowest terms.
///
/// # Errors
/// [`DescribeError::Digits`] when even lowest terms exceed `bounds::RESISTANCE`.
pub fn whole_resistances(divider: &Divider) -> Result<(u32, u32), DescribeError> {
    let unit = divider.top_ohms.denom().lcm(divider.bottom_ohms.denom());
    let scaled = |ohms: &BigRational| (ohms * BigRational::from_integer(unit.clone())).to_integer();
    let (top, bottom) = (scaled(&divider.top_ohms), scaled(&divider.bottom_ohms));
    let common = top.gcd(&bottom);
    let fits = |value: &BigInt| {
        value
            .to_u32()
            .filter(|value| i64::from(*value) <= bounds::RESISTANCE.max)
    };
    let pair = |top: &BigInt, bottom: &BigInt| Some((fits(top)?, fits(bottom)?));
    pair(&top, &bottom)
        .or_else(|| pair(&(&top / &common), &(&bottom / &common)))
        .ok_or(DescribeError::Digits { top, bottom })
}
