//! A front end as its file describes it: exact values in the units of the trade, nothing derived.

use num_rational::BigRational;

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
    /// Temperatures, for the error budget.
    pub environment: Option<Environment>,
    /// The temperature sensor's input.
    pub thermistor: Option<Thermistor>,
    /// Alarm limits.
    pub limits: Option<Limits>,
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

/// The converter and what sums its samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Converter {
    /// Width of a sample, 8 to 16.
    pub bits: u32,
    /// The sample that would mean ratio 1.
    pub full_scale: FullScale,
    /// Where a code stands.
    pub code_centre: CodeCentre,
    /// Samples in a count, a power of two from 1 to 1024.
    pub samples: u32,
    /// Right shift of the sum, 0 to 8.
    pub right_shift: u32,
    /// What the shift does with the bits it drops.
    pub shift_rounding: ShiftRounding,
    /// Lowest supply the converter is specified for, in microvolts.
    pub supply_min_uv: Option<u32>,
    /// Data sheet maxima in single-sample steps.
    pub accuracy: Accuracy,
}

/// The sample that would mean ratio 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FullScale {
    /// `2^n`
    PowerOfTwo,
    /// `2^n-1`
    TopCode,
}

/// Where a code stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CodeCentre {
    /// `edge`
    Edge,
    /// `half`
    Half,
}

/// What a right shift does with the bits it drops.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShiftRounding {
    /// `truncate`
    Truncate,
    /// `nearest`
    Nearest,
}

/// Data sheet maxima of the converter, in single-sample steps; all optional.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Accuracy {
    /// Offset error.
    pub offset_lsb: Option<BigRational>,
    /// Gain error.
    pub gain_lsb: Option<BigRational>,
    /// Integral nonlinearity.
    pub inl_lsb: Option<BigRational>,
    /// Noise, root mean square.
    pub noise_rms_lsb: Option<BigRational>,
}

/// A part's tolerance at 25 degC and its drift; both optional.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tolerance {
    /// Initial tolerance in parts per million.
    pub ppm: Option<BigRational>,
    /// Drift in parts per million per kelvin.
    pub ppm_per_k: Option<BigRational>,
}

/// The fixed reference.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// Nominal voltage in microvolts.
    pub microvolts: u32,
    /// How far it may be off.
    pub tolerance: Tolerance,
}

/// The resistor divider.
#[derive(Debug, Clone, PartialEq)]
pub struct Divider {
    /// From the cell to the converter's pin, in ohms.
    pub top_ohms: BigRational,
    /// From the pin to ground, in ohms.
    pub bottom_ohms: BigRational,
    /// How far each resistor may be off.
    pub tolerance: Tolerance,
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

/// Alarm limits. Voltages in microvolts, temperatures in tenths of a degree Celsius.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// Above this the cell is too high.
    pub over_uv: Option<u32>,
    /// Below this it is too low.
    pub under_uv: Option<u32>,
    /// How far a voltage must come back.
    pub hysteresis_uv: u32,
    /// Above this the sensor is too hot.
    pub over_tenths: Option<i32>,
    /// Below this it is too cold.
    pub under_tenths: Option<i32>,
    /// How far a temperature must come back.
    pub hysteresis_tenths: u32,
    /// Consecutive readings that must agree.
    pub debounce_readings: u32,
    /// Whether an alarm stays until it is acknowledged.
    pub latching: bool,
}
