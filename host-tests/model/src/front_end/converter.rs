//! The converter: its counts, how it samples, what its data sheet says it errs by.

use num_rational::BigRational;

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
