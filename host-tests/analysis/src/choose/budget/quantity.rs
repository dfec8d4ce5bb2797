//! What may be off in a reading, and its slot among the inputs of the measurement model.

/// A reading, or one of the calibration's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The reading itself.
    Reading,
    /// The reading of a one-point calibration.
    AtPoint,
    /// The lower reading of a two-point calibration.
    LowPoint,
    /// The upper one.
    HighPoint,
}

/// What may be off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Reference at 25 degC, ppm.
    ReferenceTolerance,
    /// Reference over temperature, ppm/K.
    ReferenceDrift,
    /// Reference over its life, ppm.
    ReferenceAgeing,
    /// Top resistor at 25 degC, ppm.
    TopTolerance,
    /// Bottom resistor at 25 degC, ppm.
    BottomTolerance,
    /// Top resistor over temperature, ppm/K.
    TopDrift,
    /// Bottom resistor over temperature, ppm/K.
    BottomDrift,
    /// Converter offset, steps.
    ConverterOffset,
    /// Converter gain error at full scale, steps.
    ConverterGain,
    /// Current into the converter's pin, nA.
    Leakage,
    /// Rounding to the output unit, mV.
    OutputRounding,
    /// Meter, parts of its limit of error.
    Meter,
    /// Distance of a module's constants from its fitted curve, mV.
    Constants,
    /// Integral nonlinearity, steps.
    Nonlinearity(Place),
    /// Noise of a count, steps.
    Noise(Place),
    /// Quantisation of a count, steps.
    Quantisation(Place),
    /// What dither leaves of the quantiser's stairs, steps.
    Dither(Place),
    /// Bits that a right shift drops, steps.
    Shift(Place),
}

/// How many slots there are: 13 of the board and 5 for each of 4 readings.
pub const SLOTS: usize = 13 + 5 * 4;

impl Quantity {
    /// In words, and the unit of its value.
    pub const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::ReferenceTolerance => ("reference tolerance", "ppm"),
            Self::ReferenceDrift => ("reference drift", "ppm/K"),
            Self::ReferenceAgeing => ("reference ageing", "ppm"),
            Self::TopTolerance => ("top resistor tolerance", "ppm"),
            Self::BottomTolerance => ("bottom resistor tolerance", "ppm"),
            Self::TopDrift => ("top resistor drift", "ppm/K"),
            Self::BottomDrift => ("bottom resistor drift", "ppm/K"),
            Self::ConverterOffset => ("converter offset", "steps"),
            Self::ConverterGain => ("converter gain error", "steps"),
            Self::Leakage => ("input leakage", "nA"),
            Self::OutputRounding => ("output rounding", "mV"),
            Self::Meter => ("meter", "of its limit"),
            Self::Constants => ("module constants", "mV"),
            Self::Nonlinearity(_) => ("nonlinearity", "steps"),
            Self::Noise(_) => ("noise", "steps"),
            Self::Quantisation(_) => ("quantisation", "steps"),
            Self::Dither(_) => ("stairs left by dither", "steps"),
            Self::Shift(_) => ("right shift", "steps"),
        }
    }

    /// Its place among the inputs of the model.
    pub const fn slot(self) -> usize {
        match self {
            Self::ReferenceTolerance => 0,
            Self::ReferenceDrift => 1,
            Self::ReferenceAgeing => 2,
            Self::TopTolerance => 3,
            Self::BottomTolerance => 4,
            Self::TopDrift => 5,
            Self::BottomDrift => 6,
            Self::ConverterOffset => 7,
            Self::ConverterGain => 8,
            Self::Leakage => 9,
            Self::OutputRounding => 10,
            Self::Meter => 11,
            Self::Constants => 12,
            Self::Nonlinearity(place) => 13 + 5 * place as usize,
            Self::Noise(place) => 14 + 5 * place as usize,
            Self::Quantisation(place) => 15 + 5 * place as usize,
            Self::Dither(place) => 16 + 5 * place as usize,
            Self::Shift(place) => 17 + 5 * place as usize,
        }
    }
}
