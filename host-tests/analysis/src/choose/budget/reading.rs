//! The measurement model: the error of a reading as a function of everything that may be off in the circuit.
//!
//! It follows one board through its life. Its parts have their deviations; it is calibrated on the bench, or not; then it
//! reads a cell at some temperature, and firmware converts with the nominal values (or a module's constants):
//!
//! ```text
//! divided input      ratio = V * k / Vref      steps p = F * ratio + offset + gain * ratio + ..    reads p / F * Vref0 / k0
//! supply reference   ratio = Vref / V                                                              reads Vref0 * F / p
//! one point          gain = meter / reading
//! two points         gain and offset so that both readings agree with the meter
//! ```
//!
//! k is `Rbottom / (Rtop + Rbottom)`, F the full scale of one sample, and p is in single-sample steps. The same function
//! serves the GUM's sensitivities, the worst case and the Monte Carlo trials.

use super::quantity::{Place, Quantity, SLOTS};

/// Voltages a budget is made for: the cell's minimum, nominal and maximum.
pub const CELL_SITES: usize = 3;

/// What has been taken out of a module's readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Nothing.
    Uncalibrated,
    /// Gain.
    OnePoint,
    /// Gain and offset.
    TwoPoint,
}

impl State {
    /// In the order of outputs.
    pub const ALL: [Self; 3] = [Self::Uncalibrated, Self::OnePoint, Self::TwoPoint];

    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Uncalibrated => "uncalibrated",
            Self::OnePoint => "one-point",
            Self::TwoPoint => "two-point",
        }
    }
}

/// At what temperature the module reads.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Temperature {
    /// Where it is calibrated.
    Calibration,
    /// At the end of the range that is farther from where its values hold.
    Range,
}

impl Temperature {
    /// In the order of outputs.
    pub const ALL: [Self; 2] = [Self::Calibration, Self::Range];

    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Calibration => "at calibration temperature",
            Self::Range => "over the range",
        }
    }
}

/// How many kelvins of drift a part has behind it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Climate {
    /// The reference.
    pub reference_k: f64,
    /// The resistors.
    pub resistor_k: f64,
}

/// The climates of a module's life.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Climates {
    /// On the bench, while it is calibrated and afterwards.
    pub bench: Climate,
    /// Uncalibrated, at the bench's temperature, against the data sheet's 25 degC.
    pub uncalibrated_bench: Climate,
    /// Uncalibrated, farthest from 25 degC.
    pub uncalibrated_range: Climate,
    /// Calibrated, farthest from the bench's temperature.
    pub calibrated_range: Climate,
}

/// The circuit with its nominal values.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// Reference in millivolts.
    pub reference_mv: f64,
    /// Top and bottom resistance in ohms; none for a supply reference.
    pub divider_ohms: Option<(f64, f64)>,
    /// The sample that would mean ratio 1.
    pub full_scale: f64,
    /// Limits of error of the meter: parts of the reading, and millivolts.
    pub meter: (f64, f64),
    /// One-point, lower and upper calibration voltage in millivolts.
    pub calibration_mv: (f64, f64, f64),
    /// The temperatures.
    pub climates: Climates,
    /// The true voltages at which it reads, in millivolts.
    pub sites_mv: Vec<f64>,
}

/// The steps of one sample, before it is quantised, between which a board reads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rails {
    /// The fewest.
    pub low: f64,
    /// The most.
    pub high: f64,
}

/// Values of all quantities, in the units of the terms.
struct Values<'x>(&'x [f64]);

impl Values<'_> {
    #[inline]
    fn of(&self, quantity: Quantity) -> f64 {
        self.0.get(quantity.slot()).copied().unwrap_or(0.0)
    }

    /// What differs from reading to reading, in steps.
    #[inline]
    fn steps(&self, place: Place) -> f64 {
        self.of(Quantity::Nonlinearity(place))
            + self.of(Quantity::Noise(place))
            + self.of(Quantity::Quantisation(place))
            + self.of(Quantity::Dither(place))
            + self.of(Quantity::Shift(place))
    }
}

/// What firmware multiplies by and subtracts.
#[derive(Clone, Copy)]
struct Correction {
    gain: f64,
    offset: f64,
    /// What its constants add to a reading, in millivolts.
    constants_mv: f64,
}

const NONE: Correction = Correction {
    gain: 1.0,
    offset: 0.0,
    constants_mv: 0.0,
};

impl Circuit {
    /// How many outputs [`Circuit::errors_mv`] has.
    pub fn outputs(&self) -> usize {
        State::ALL.len() * Temperature::ALL.len() * self.sites_mv.len()
    }

    /// Where the error of a state, a temperature and a site stands among the outputs.
    pub fn output(&self, state: State, temperature: Temperature, site: usize) -> usize {
        (state as usize * Temperature::ALL.len() + temperature as usize) * self.sites_mv.len()
            + site
    }

    /// Reading minus true voltage in millivolts, for every state, temperature and site.
    ///
    /// `values` are those of every [`Quantity`] by its slot.
    pub fn errors_mv(&self, values: &[f64], errors: &mut [f64]) {
        debug_assert_eq!(values.len(), SLOTS);
        let values = Values(values);
        let corrections = self.calibrate(&values);
        let mut rows = errors.chunks_exact_mut(self.sites_mv.len());
        for (state, correction) in State::ALL.into_iter().zip(corrections) {
            for temperature in Temperature::ALL {
                let Some(row) = rows.next() else { return };
                self.row(&values, correction, self.climate(state, temperature), row);
            }
        }
    }

    /// The same for one state over the range of temperature: an error for each site.
    pub fn range_errors_mv(&self, state: State, values: &[f64], errors: &mut [f64]) {
        let values = Values(values);
        let correction = self.calibrate(&values)[state as usize];
        let climate = self.climate(state, Temperature::Range);
        self.row(&values, correction, climate, errors);
    }

    fn climate(&self, state: State, temperature: Temperature) -> Climate {
        match (state, temperature) {
            (State::Uncalibrated, Temperature::Calibration) => self.climates.uncalibrated_bench,
            (State::Uncalibrated, Temperature::Range) => self.climates.uncalibrated_range,
            (_, Temperature::Calibration) => self.climates.bench,
            (_, Temperature::Range) => self.climates.calibrated_range,
        }
    }

    /// The errors of every site with a correction, in a climate.
    #[inline]
    fn row(&self, values: &Values<'_>, correction: Correction, climate: Climate, row: &mut [f64]) {
        let board = self.board(values, climate, values.of(Quantity::ReferenceAgeing));
        let leakage_mv = values.of(Quantity::Leakage) * board.leakage_mv_per_na;
        for (error, &true_mv) in row.iter_mut().zip(&self.sites_mv) {
            let steps = board.steps(true_mv, leakage_mv, values) + values.steps(Place::Reading);
            let read = self.voltage_mv(steps - correction.offset) * correction.gain;
            *error = read - true_mv + correction.constants_mv + values.of(Quantity::OutputRounding);
        }
    }

    /// The true voltages between which a board in use reads, in millivolts, over the range of temperature.
    pub(crate) fn reach_mv(&self, values: &[f64], rails: Rails) -> (f64, f64) {
        let values = Values(values);
        let aged = values.of(Quantity::ReferenceAgeing);
        let board = self.board(&values, self.climates.uncalibrated_range, aged);
        let leakage_mv = values.of(Quantity::Leakage) * board.leakage_mv_per_na;
        let own = values.steps(Place::Reading);
        let [low, high] =
            [rails.low, rails.high].map(|steps| board.true_mv(steps - own, leakage_mv, &values));
        (low.min(high), low.max(high))
    }

    /// What a calibration on the bench takes out, with what its constants are beside it; for each state in the order of [`State::ALL`].
    fn calibrate(&self, values: &Values<'_>) -> [Correction; 3] {
        let board = self.board(values, self.climates.bench, 0.0);
        let (at, low, high) = self.calibration_mv;
        let steps = |true_mv: f64, place| board.steps(true_mv, 0.0, values) + values.steps(place);
        let (reading_part, range_mv) = self.meter;
        let metered = |true_mv: f64| {
            true_mv + values.of(Quantity::Meter) * (reading_part * true_mv + range_mv)
        };
        let constants_mv = values.of(Quantity::Constants);
        let one_point = Correction {
            gain: metered(at) / self.voltage_mv(steps(at, Place::AtPoint)),
            constants_mv,
            ..NONE
        };
        let (p_low, p_high) = (steps(low, Place::LowPoint), steps(high, Place::HighPoint));
        let (m_low, m_high) = (metered(low), metered(high));
        // The steps that the meter's values would be, but for one factor; the readings lie on a line through them.
        let (x_low, x_high) = (self.nominal_steps(m_low), self.nominal_steps(m_high));
        let slope = (p_high - p_low) / (x_high - x_low);
        let offset = p_low - slope * x_low;
        let gain = if self.divider_ohms.is_some() {
            1.0 / slope
        } else {
            slope
        };
        let two_point = Correction {
            gain,
            offset,
            constants_mv,
        };
        [NONE, one_point, two_point]
    }

    /// What firmware makes of a number of steps, with nominal values.
    #[inline]
    fn voltage_mv(&self, steps: f64) -> f64 {
        match self.divider_ohms {
            Some((top, bottom)) => {
                steps / self.full_scale * self.reference_mv * ((top + bottom) / bottom)
            }
            None => self.reference_mv * self.full_scale / steps,
        }
    }

    /// Its inverse.
    #[inline]
    fn nominal_steps(&self, voltage_mv: f64) -> f64 {
        match self.divider_ohms {
            Some((top, bottom)) => {
                voltage_mv * (bottom / (top + bottom)) / self.reference_mv * self.full_scale
            }
            None => self.reference_mv * self.full_scale / voltage_mv,
        }
    }

    /// The board as its parts are, in a climate.
    #[inline]
    fn board(&self, values: &Values<'_>, climate: Climate, aged_ppm: f64) -> Board {
        let reference_ppm = values.of(Quantity::ReferenceTolerance)
            + values.of(Quantity::ReferenceDrift) * climate.reference_k
            + aged_ppm;
        let reference_mv = self.reference_mv * (1.0 + 1e-6 * reference_ppm);
        let (divider, leakage_mv_per_na) = match self.divider_ohms {
            Some((top, bottom)) => {
                let ohms = |nominal: f64, tolerance, drift| {
                    let ppm = values.of(tolerance) + values.of(drift) * climate.resistor_k;
                    nominal * (1.0 + 1e-6 * ppm)
                };
                let top = ohms(top, Quantity::TopTolerance, Quantity::TopDrift);
                let bottom = ohms(bottom, Quantity::BottomTolerance, Quantity::BottomDrift);
                let part = bottom / (top + bottom);
                // nA * ohm = 1e-6 mV.
                (Some(part), 1e-6 * top * part)
            }
            None => (None, 0.0),
        };
        Board {
            reference_mv,
            divider,
            leakage_mv_per_na,
            full_scale: self.full_scale,
        }
    }
}

/// A supply reference's smallest ratio that is told from zero: far below one step of any converter.
const SMALLEST_RATIO: f64 = 1e-7;

/// The parts of one board in one climate.
struct Board {
    reference_mv: f64,
    divider: Option<f64>,
    leakage_mv_per_na: f64,
    full_scale: f64,
}

impl Board {
    /// Mean steps for a true voltage, converter offset and gain error included.
    #[inline]
    fn steps(&self, true_mv: f64, leakage_mv: f64, values: &Values<'_>) -> f64 {
        let ratio = match self.divider {
            Some(part) => (true_mv * part + leakage_mv) / self.reference_mv,
            None => self.reference_mv / true_mv,
        };
        (self.full_scale + values.of(Quantity::ConverterGain)) * ratio
            + values.of(Quantity::ConverterOffset)
    }

    /// The inverse of [`Board::steps`].
    fn true_mv(&self, steps: f64, leakage_mv: f64, values: &Values<'_>) -> f64 {
        let span = self.full_scale + values.of(Quantity::ConverterGain);
        let ratio = (steps - values.of(Quantity::ConverterOffset)) / span;
        match self.divider {
            Some(part) => (ratio * self.reference_mv - leakage_mv) / part,
            // No voltage, however high, gives so small a ratio.
            None => self.reference_mv / ratio.max(SMALLEST_RATIO),
        }
    }
}

#[cfg(test)]
mod tests;
