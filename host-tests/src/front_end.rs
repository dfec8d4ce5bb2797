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
    /// Clock and currents, for the charge of a reading.
    pub energy: Option<Energy>,
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
}
