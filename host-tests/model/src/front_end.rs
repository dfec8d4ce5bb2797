//! A front end as its file describes it: exact values in the units of the trade, nothing derived.

mod bench;
mod circuit;
mod converter;
mod thermistor;

use num_rational::BigRational;

use crate::rational::in_millivolts;

pub use bench::{CalibrationPlan, LimitMeaning, Limits, Meter};
pub use circuit::{Divider, Drift, Reference, Tolerance};
pub use converter::{Accuracy, CodeCentre, Converter, FullScale, Sampling, ShiftRounding};
pub use thermistor::{SelfHeating, SensorAccuracy, SensorLaw, SensorSide, Thermistor};

/// Everything a front-end file says.
#[derive(Debug, Clone, PartialEq)]
pub struct FrontEnd {
    /// Identifier: lower-case letters, digits and `-`.
    pub name: String,
    /// How the cell reaches the converter.
    pub topology: Topology,
    /// The cell in use.
    pub cell: Cell,
    /// The converter.
    pub converter: Converter,
    /// The fixed reference.
    pub reference: Reference,
    /// Step of the result in microvolts: 1000 or 100.
    pub unit_uv: u32,
    /// What its readings must hold beyond the cell's own range.
    pub asks: Asks,
    /// Temperatures, for the error budget.
    pub environment: Option<Environment>,
    /// The temperature sensor's input.
    pub thermistor: Option<Thermistor>,
    /// What modules are calibrated with.
    pub meter: Option<Meter>,
    /// How modules are calibrated.
    pub calibration: CalibrationPlan,
    /// Alarm limits.
    pub limits: Option<Limits>,
    /// What was measured of its firmware.
    pub measured: Option<Measured>,
    /// Clock and currents, for the charge of a reading.
    pub energy: Option<Energy>,
}

impl FrontEnd {
    /// A front end of which only what converts is known: no tolerances, no temperatures, no calibration, no limits.
    #[must_use]
    pub fn bare(
        name: String,
        topology: Topology,
        cell: Cell,
        converter: Converter,
        reference: Reference,
        unit_uv: u32,
    ) -> Self {
        Self {
            name,
            topology,
            cell,
            converter,
            reference,
            unit_uv,
            asks: Asks::default(),
            environment: None,
            thermistor: None,
            meter: None,
            calibration: CalibrationPlan::default(),
            limits: None,
            measured: None,
            energy: None,
        }
    }

    /// Lower and upper voltage of a two-point calibration in microvolts: the cell's ends where the file is silent.
    #[must_use]
    pub fn calibration_points_uv(&self) -> (u32, u32) {
        (
            self.calibration.low_uv.unwrap_or(self.cell.min_uv),
            self.calibration.high_uv.unwrap_or(self.cell.max_uv),
        )
    }

    /// Voltage of a one-point calibration in microvolts: nominal where the file is silent.
    #[must_use]
    pub fn calibration_point_uv(&self) -> u32 {
        self.calibration.at_uv.unwrap_or(self.cell.nominal_uv)
    }
}

/// What a file asks of readings, beyond the cell's own range; both optional.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Asks {
    /// How far beyond what must be read every board must still read, at both ends, in microvolts; 0 where it is left out.
    pub headroom_uv: u32,
    /// Largest error of a reading that serves, in microvolts.
    pub max_error_uv: Option<u32>,
}

/// How the cell reaches the converter.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "one a file; a box would only hide the divider"
)]
pub enum Topology {
    /// Through a resistor divider, against the fixed reference.
    DividedInput(Divider),
    /// As the converter's supply and reference; the fixed reference is sampled.
    SupplyReference,
}

impl Topology {
    /// The word used in files.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::DividedInput(_) => "divided-input",
            Self::SupplyReference => "supply-reference",
        }
    }

    /// The divider; none of a supply reference.
    #[must_use]
    pub fn divider(&self) -> Option<&Divider> {
        match self {
            Self::DividedInput(divider) => Some(divider),
            Self::SupplyReference => None,
        }
    }
}

/// The cell in use.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// A label.
    pub chemistry: String,
    /// Emptiest cell in microvolts.
    pub min_uv: u32,
    /// Usual voltage in microvolts.
    pub nominal_uv: u32,
    /// Fullest cell in microvolts.
    pub max_uv: u32,
}

impl Cell {
    /// Emptiest, usual and fullest in millivolts.
    #[must_use]
    pub fn millivolts(&self) -> [f64; 3] {
        [self.min_uv, self.nominal_uv, self.max_uv].map(in_millivolts)
    }
}

/// Temperatures in degrees Celsius.
#[derive(Debug, Clone, PartialEq)]
pub struct Environment {
    /// Where modules are calibrated.
    pub calibrated_at_c: BigRational,
    /// Coldest in use.
    pub min_c: BigRational,
    /// Hottest in use.
    pub max_c: BigRational,
}

/// What was measured of a front end's firmware on its core.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measured {
    /// The core it was measured on.
    pub core: String,
    /// Most cycles of one conversion.
    pub cycles: Option<u32>,
    /// Flash of the conversion in bytes.
    pub flash_bytes: Option<u32>,
}

/// What the core draws and how often it reads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Energy {
    /// Core clock.
    pub clock_hz: f64,
    /// Current while the core runs, in microamperes.
    pub active_ua: f64,
    /// Readings a second.
    pub samples_per_second: f64,
    /// Current while it sleeps, in microamperes.
    pub sleep_ua: Option<f64>,
    /// How long the converter takes.
    pub converter: Option<ConverterTiming>,
}

/// How long the converter takes for a sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConverterTiming {
    /// Its clock.
    pub clock_hz: f64,
    /// Clocks of one conversion, sampling included.
    pub conversion_clocks: f64,
    /// Conversions that are thrown away before the samples of an input.
    pub discarded: u32,
}

impl ConverterTiming {
    /// Seconds for the samples of so many inputs.
    #[must_use]
    pub fn seconds(&self, samples: impl IntoIterator<Item = u32>) -> f64 {
        let conversions: f64 = samples
            .into_iter()
            .map(|samples| f64::from(samples) + f64::from(self.discarded))
            .sum();
        conversions * self.conversion_clocks / self.clock_hz
    }
}
