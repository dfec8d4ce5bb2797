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
    /// Highest supply the converter is specified for, in microvolts.
    pub supply_max_uv: Option<u32>,
    /// Data sheet maxima in single-sample steps.
    pub accuracy: Accuracy,
    /// What its sampling asks of a source.
    pub sampling: Sampling,
}

impl Converter {
    /// One sample a count, full scale 2^n, codes at the middle of their interval; nothing known of its accuracy.
    #[must_use]
    pub fn single(bits: u32) -> Self {
        Self {
            bits,
            full_scale: FullScale::PowerOfTwo,
            code_centre: CodeCentre::Half,
            samples: 1,
            right_shift: 0,
            shift_rounding: ShiftRounding::Truncate,
            supply_min_uv: None,
            supply_max_uv: None,
            accuracy: Accuracy::default(),
            sampling: Sampling::default(),
        }
    }
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
    /// Readings that the noise was estimated from; known exactly where it is left out.
    pub noise_readings: Option<u32>,
}

/// How the converter samples; all optional.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sampling {
    /// Sampling capacitance in picofarads.
    pub picofarads: Option<BigRational>,
    /// Resistance of its switch in ohms.
    pub switch_ohms: Option<BigRational>,
    /// Time it has, in nanoseconds.
    pub nanoseconds: Option<BigRational>,
    /// Highest source resistance that the data sheet allows, in ohms.
    pub source_max_ohms: Option<BigRational>,
    /// Input leakage in nanoamperes.
    pub leakage_na: Option<BigRational>,
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
    /// What `tolerance.ppm_per_k` bounds.
    pub drift: Drift,
    /// Drift over its service life in parts per million.
    pub ageing_ppm: Option<BigRational>,
    /// Supply that it needs, in microvolts.
    pub supply_min_uv: Option<u32>,
    /// How far its supply must lie above its own voltage, in microvolts.
    pub dropout_uv: Option<u32>,
    /// Time after switching on until it is accurate, in microseconds.
    pub settling_us: Option<BigRational>,
    /// Time that firmware gives it, in microseconds.
    pub wait_us: Option<BigRational>,
    /// Shortest sampling time on the reference's own channel, in nanoseconds.
    pub sampling_min_ns: Option<BigRational>,
}

impl Reference {
    /// A reference of which only the voltage is known.
    #[must_use]
    pub fn nominal(microvolts: u32) -> Self {
        Self {
            microvolts,
            tolerance: Tolerance::default(),
            drift: Drift::default(),
            ageing_ppm: None,
            supply_min_uv: None,
            dropout_uv: None,
            settling_us: None,
            wait_us: None,
            sampling_min_ns: None,
        }
    }
}

/// What a reference's temperature coefficient bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Drift {
    /// `slope`: the change for each kelvin.
    #[default]
    Slope,
    /// `box`: the whole change over the range of temperature, with no word on where in it.
    Box,
}

impl Drift {
    /// The word used in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Slope => "slope",
            Self::Box => "box",
        }
    }
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
    /// Correlation coefficient of the two resistors' deviations, 0 to 1; 0 where it is left out.
    pub correlation: Option<BigRational>,
    /// Capacitor from the pin to ground in nanofarads.
    pub filter_nf: Option<BigRational>,
    /// Most current it may take from the fullest cell, in microamperes.
    pub drain_max_ua: Option<BigRational>,
}

impl Divider {
    /// A divider of which only the resistances are known, in ohms.
    #[must_use]
    pub fn nominal(top_ohms: BigRational, bottom_ohms: BigRational) -> Self {
        Self {
            top_ohms,
            bottom_ohms,
            tolerance: Tolerance::default(),
            correlation: None,
            filter_nf: None,
            drain_max_ua: None,
        }
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

/// What the limits of a file are compared with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LimitMeaning {
    /// `reading`: with what the firmware reads, whatever its error.
    #[default]
    Reading,
    /// `true-value`: they bound the true value, so firmware alarms earlier by a guard band.
    TrueValue,
}

impl LimitMeaning {
    /// The word used in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Reading => "reading",
            Self::TrueValue => "true-value",
        }
    }
}

/// Alarm limits. Voltages in microvolts, temperatures in tenths of a degree Celsius.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    /// What they are compared with.
    pub meaning: LimitMeaning,
    /// Above this the cell is too high.
    pub over_uv: Option<u32>,
    /// Below this it is too low.
    pub under_uv: Option<u32>,
    /// Largest probability, in parts per million, that a cell at a limit on the true value is not noticed.
    pub miss_ppm: BigRational,
    /// Least guard band of the upper voltage limit, in microvolts: what a fitted batch was found to need. 0 where it is left out.
    pub over_guard_uv: u32,
    /// The same of the lower one.
    pub under_guard_uv: u32,
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

/// The meter that modules are calibrated against: limits of error as its data sheet gives them.
#[derive(Debug, Clone, PartialEq)]
pub struct Meter {
    /// Parts per million of the reading.
    pub reading_ppm: BigRational,
    /// Parts per million of the range.
    pub range_ppm: BigRational,
    /// The range in millivolts.
    pub range_mv: BigRational,
    /// Last digits.
    pub digits: BigRational,
    /// What the last digit stands for, in millivolts.
    pub resolution_mv: BigRational,
}

/// How modules are calibrated.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CalibrationPlan {
    /// At how many points modules are calibrated: none, one (gain) or two (gain and offset).
    pub points: u32,
    /// Cell voltage of a one-point calibration in microvolts; nominal where it is left out.
    pub at_uv: Option<u32>,
    /// Lower voltage of a two-point calibration in microvolts; the cell's minimum where it is left out.
    pub low_uv: Option<u32>,
    /// Upper voltage in microvolts; the cell's maximum where it is left out.
    pub high_uv: Option<u32>,
    /// Readings averaged at each point; 1 where it is left out.
    pub readings: Option<u32>,
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
}
