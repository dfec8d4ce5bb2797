//! The temperature sensor's input.

use num_rational::BigRational;

use super::converter::Converter;

/// A resistive temperature sensor against a fixed resistor, on the same converter.
#[derive(Debug, Clone, PartialEq)]
pub struct Thermistor {
    /// Where the sensor sits.
    pub side: SensorSide,
    /// The fixed resistor in ohms.
    pub fixed_ohms: BigRational,
    /// What feeds the two, in microvolts; none is the converter's own reference.
    pub excitation_uv: Option<u32>,
    /// Samples in a count of the sensor.
    pub samples: u32,
    /// Right shift of their sum.
    pub right_shift: u32,
    /// Coldest temperature to be read, in degrees Celsius.
    pub min_c: BigRational,
    /// Hottest.
    pub max_c: BigRational,
    /// Largest error of an answer against the sensor's law, in thousandths of a degree.
    pub max_error_mc: u32,
    /// What its measurement heats.
    pub self_heating: Option<SelfHeating>,
    /// How far its parts may be off.
    pub accuracy: SensorAccuracy,
    /// The sensor's law.
    pub law: SensorLaw,
}

impl Thermistor {
    /// The converter as it samples the sensor.
    #[must_use]
    pub fn converter(&self, converter: &Converter) -> Converter {
        Converter {
            samples: self.samples,
            right_shift: self.right_shift,
            ..converter.clone()
        }
    }
}

/// How far the parts of a temperature input may be off; all optional.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SensorAccuracy {
    /// The sensor's resistance at 25 degC, in parts per million.
    pub r25_ppm: Option<BigRational>,
    /// Its B, in parts per million.
    pub b_ppm: Option<BigRational>,
    /// Its tolerance in thousandths of a kelvin, as a table or IEC 60751 states it.
    pub tolerance_mk: Option<BigRational>,
    /// What is added for each degree away from 0 degC, in thousandths of a kelvin.
    pub tolerance_mk_per_k: Option<BigRational>,
    /// The fixed resistor at 25 degC, in parts per million.
    pub fixed_ppm: Option<BigRational>,
    /// Its drift in parts per million per kelvin.
    pub fixed_ppm_per_k: Option<BigRational>,
    /// The excitation, in parts per million.
    pub excitation_ppm: Option<BigRational>,
    /// Temperature of a one-point calibration in degrees Celsius.
    pub calibrated_at_c: Option<BigRational>,
    /// The count that this very sensor gave there, the mean of several perhaps; none while a calibration is only planned.
    pub calibrated_count: Option<BigRational>,
    /// Limit of error of the thermometer that it is made with, in thousandths of a kelvin.
    pub thermometer_mk: Option<BigRational>,
}

/// Where a sensor sits in its divider.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SensorSide {
    /// To ground.
    Low,
    /// To the excitation.
    High,
}

/// How a sensor's resistance follows from its temperature.
#[derive(Debug, Clone, PartialEq)]
pub enum SensorLaw {
    /// ln(R / R25) = B (1/T - 1/T25).
    BEquation {
        /// Resistance at 25 degC in ohms.
        r25_ohms: BigRational,
        /// B between 25 and 85 degC, in kelvin.
        b25_85_k: BigRational,
    },
    /// 1/T = A + B ln R + C (ln R)^3, R in ohms.
    SteinhartHart {
        /// A.
        a: BigRational,
        /// B.
        b: BigRational,
        /// C.
        c: BigRational,
    },
    /// A maker's table: degrees Celsius and ohms, by rising temperature.
    Table {
        /// The file's name as written.
        file: String,
        /// Its points.
        points: Vec<(BigRational, BigRational)>,
    },
    /// A platinum resistor by IEC 60751.
    Platinum {
        /// Resistance at 0 degC in ohms: 100, 1000, ..
        r0_ohms: BigRational,
    },
}

/// What heats a temperature sensor, and how much of it is accepted.
#[derive(Debug, Clone, PartialEq)]
pub struct SelfHeating {
    /// The sensor's dissipation constant in microwatts per kelvin.
    pub dissipation_uw_per_k: BigRational,
    /// Part of the time that it is switched on, in parts per thousand.
    pub on_permille: BigRational,
    /// Most heating that is accepted, in millikelvins.
    pub max_mk: BigRational,
}
