//! The firmware's side: a [`FrontEnd`] handed to the `tallyvolt` crate, and its conversion as the harness sees it.

pub mod width;

use std::fmt;
use std::ops::Deref;
use std::sync::Arc;

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::ToPrimitive;
use tallyvolt::{
    Acquisition, CellRange, ConfigError, Count, DividedConversion, DividedDescription,
    DividedInput, Fault, Fingerprint, LineConstants, OutputUnit, QuotientConstants, Record,
    RecordError, Summing, SupplyDescription, SupplyReference, Voltage, VoltageLimits, bounds,
};
use tallyvolt_model::front_end::{
    CodeCentre, Converter, Divider, FrontEnd, FullScale, ShiftRounding, Topology,
};
use tallyvolt_model::outcome::{FaultName, Outcome};
use thiserror::Error;

use width::{AtWidth, at_width, count_bits};

/// A front end that the crate accepted.
#[derive(Debug, Clone, Copy)]
pub enum Firmware {
    /// Topology A.
    Divided(DividedInput),
    /// Topology B.
    Supply(SupplyReference),
}

/// What a conversion converts with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Constants {
    /// Topology A: `(M * (count - first) + B) >> S`.
    Line(LineConstants),
    /// Topology B: `K / (2^t * (count - first) + D)`, rounded to nearest.
    Quotient(QuotientConstants),
}

impl Constants {
    /// The first count that is a voltage, and how many are.
    pub fn window(&self) -> (u32, u32) {
        match self {
            Self::Line(line) => (line.first, line.counts),
            Self::Quotient(quotient) => (quotient.first, quotient.counts),
        }
    }
}

/// A conversion as firmware runs it, whatever the width of its counts.
#[derive(Clone)]
pub struct Conversion {
    answers: Arc<dyn VoltageLimits + Send + Sync>,
    constants: Constants,
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

    /// The conversion as drawn, proven by the crate.
    ///
    /// # Errors
    /// [`ConfigError::Unproven`].
    pub fn conversion(&self) -> Result<Conversion, ConfigError> {
        match self {
            Self::Divided(input) => at_width(self.summing().rail().0, Drawn(input)),
            Self::Supply(reference) => reference.conversion().map(Conversion::quotient),
        }
    }

    /// The conversion of a module with these constants.
    ///
    /// # Errors
    /// [`ConfigError::Constants`], also for constants of the other topology.
    pub fn module(&self, constants: Constants) -> Result<Conversion, ConfigError> {
        self.stored(constants, 0).map(|(module, _)| module)
    }

    /// The record of a module with these constants.
    ///
    /// # Errors
    /// As [`Firmware::module`].
    pub fn record(&self, constants: Constants, sequence: u16) -> Result<Record, ConfigError> {
        self.stored(constants, sequence).map(|(_, record)| record)
    }

    fn stored(
        &self,
        constants: Constants,
        sequence: u16,
    ) -> Result<(Conversion, Record), ConfigError> {
        match (self, constants) {
            (Self::Divided(input), Constants::Line(line)) => {
                at_width(self.summing().rail().0, Stored(input, line, sequence))
            }
            (Self::Supply(reference), Constants::Quotient(quotient)) => {
                let module = reference.module(quotient)?;
                let record = reference.record(&module, sequence);
                Ok((Conversion::quotient(module), record))
            }
            _ => Err(ConfigError::Constants),
        }
    }

    /// The conversion of a record, as a chip loads it.
    ///
    /// # Errors
    /// [`RecordError`].
    pub fn recorded(&self, record: &Record) -> Result<Conversion, RecordError> {
        match self {
            Self::Divided(input) => at_width(self.summing().rail().0, Recorded(input, record)),
            Self::Supply(reference) => reference.recorded(record).map(Conversion::quotient),
        }
    }

    /// How a count comes about, and the step of a voltage.
    pub fn summing(&self) -> Summing {
        match self {
            Self::Divided(input) => input.summing(),
            Self::Supply(reference) => reference.summing(),
        }
    }

    /// Bits of the counts, as the type of a divided input's conversion names them: 8 to 16, or 26.
    pub fn count_bits(&self) -> u32 {
        count_bits(self.summing().rail().0)
    }

    /// Identity of the description, for calibration records.
    pub fn fingerprint(&self) -> Fingerprint {
        match self {
            Self::Divided(input) => input.fingerprint(),
            Self::Supply(reference) => reference.fingerprint(),
        }
    }
}

struct Drawn<'a>(&'a DividedInput);

impl AtWidth for Drawn<'_> {
    type Answer = Result<Conversion, ConfigError>;

    fn at<const BITS: u32>(self) -> Self::Answer {
        self.0.conversion::<BITS>().map(Conversion::line)
    }
}

struct Stored<'a>(&'a DividedInput, LineConstants, u16);

impl AtWidth for Stored<'_> {
    type Answer = Result<(Conversion, Record), ConfigError>;

    fn at<const BITS: u32>(self) -> Self::Answer {
        let module = self.0.module::<BITS>(self.1)?;
        let record = self.0.record(&module, self.2);
        Ok((Conversion::line(module), record))
    }
}

struct Recorded<'a>(&'a DividedInput, &'a Record);

impl AtWidth for Recorded<'_> {
    type Answer = Result<Conversion, RecordError>;

    fn at<const BITS: u32>(self) -> Self::Answer {
        self.0.recorded(self.1).map(Conversion::line::<BITS>)
    }
}

impl fmt::Debug for Conversion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Conversion").field(&self.constants).finish()
    }
}

impl Conversion {
    fn line<const BITS: u32>(conversion: DividedConversion<BITS>) -> Self {
        Self {
            constants: Constants::Line(conversion.constants()),
            answers: Arc::new(conversion),
        }
    }

    fn quotient(conversion: tallyvolt::SupplyConversion) -> Self {
        Self {
            constants: Constants::Quotient(conversion.constants()),
            answers: Arc::new(conversion),
        }
    }

    /// What firmware answers for a count.
    #[inline]
    pub fn outcome(&self, count: u32) -> Outcome {
        answered(self.answers.voltage(Count(count)))
    }

    /// What it converts with.
    pub fn constants(&self) -> Constants {
        self.constants
    }
}

/// Its window, its sums and its limits are those of the crate.
impl Deref for Conversion {
    type Target = dyn VoltageLimits + Send + Sync;

    fn deref(&self) -> &Self::Target {
        self.answers.as_ref()
    }
}

/// An answer of the crate in the harness's words.
#[inline]
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
