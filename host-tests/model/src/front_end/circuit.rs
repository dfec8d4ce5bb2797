//! What stands around the converter: reference and divider, with their tolerances.

use num_rational::BigRational;

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
