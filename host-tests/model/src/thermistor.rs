//! The sensor's physics in double precision: count to resistance to temperature, and back.
//!
//! Temperature T in kelvin, t in degrees Celsius, 0 degC = 273.15 K.
//!
//! ```text
//! B equation       ln(R / R25) = B (1/T - 1/298.15)                              (IEC 60539-1)
//! Steinhart-Hart   1/T = A + B ln R + C (ln R)^3
//! platinum         R = R0 (1 + A t + B t^2 + C (t - 100) t^3), C for t < 0 only  (IEC 60751)
//! maker's table    falling: the B equation between two points; rising: a straight line between two points
//! one point        t = law(R(count)) - offset,  offset = law(R(calibrated count)) - calibrated temperature
//! ```
//!
//! Double precision is good to some 1e-9 degC here; errors are stated in thousandths of a degree.

use num_rational::BigRational;
use num_traits::ToPrimitive;

use super::acquisition::AcquisitionModel;
use crate::front_end::{FrontEnd, SensorLaw, SensorSide, Thermistor};

const ZERO_K: f64 = 273.15;
const T25_K: f64 = 298.15;

/// IEC 60751 coefficients.
const PLATINUM_A: f64 = 3.9083e-3;
const PLATINUM_B: f64 = -5.775e-7;
const PLATINUM_C: f64 = -4.183e-12;
/// The range for which IEC 60751 gives the law.
const PLATINUM_C_RANGE: (f64, f64) = (-200.0, 850.0);

/// A sensor's law, ready to be evaluated.
#[derive(Debug, Clone, PartialEq)]
pub enum Law {
    /// R25 in ohms and B in kelvin.
    BEquation(f64, f64),
    /// A, B, C.
    SteinhartHart(f64, f64, f64),
    /// (degC, ohms), by rising temperature.
    Table(Vec<(f64, f64)>),
    /// R0 in ohms.
    Platinum(f64),
}

impl Law {
    /// From a front end's exact numbers.
    #[must_use]
    pub fn new(law: &SensorLaw) -> Self {
        match law {
            SensorLaw::BEquation { r25_ohms, b25_85_k } => {
                Self::BEquation(float(r25_ohms), float(b25_85_k))
            }
            SensorLaw::SteinhartHart { a, b, c } => {
                Self::SteinhartHart(float(a), float(b), float(c))
            }
            SensorLaw::Table { points, .. } => Self::Table(
                points
                    .iter()
                    .map(|(celsius, ohms)| (float(celsius), float(ohms)))
                    .collect(),
            ),
            SensorLaw::Platinum { r0_ohms } => Self::Platinum(float(r0_ohms)),
        }
    }

    /// The resistance in ohms at a temperature in degC; beyond a table's ends its last segment goes on. None where no
    /// resistance from a milliohm to a gigaohm has it.
    #[must_use]
    pub fn ohms(&self, celsius: f64) -> Option<f64> {
        let at = |ln_ohms: f64| self.celsius_beyond(ln_ohms.exp());
        let (mut low, mut high) = (1e-3_f64.ln(), 1e9_f64.ln());
        let falls = match self {
            Self::Platinum(_) => false,
            Self::Table(points) => points.first()?.1 > points.last()?.1,
            Self::BEquation(..) | Self::SteinhartHart(..) => true,
        };
        // Where a law has no temperature, the side tells: a platinum sensor's ends are cold and hot, and so are an NTC's.
        for _ in 0..96 {
            let middle = f64::midpoint(low, high);
            let below = match at(middle) {
                Some(found) => (found < celsius) != falls,
                None => self.is_small(middle.exp()),
            };
            if below {
                low = middle;
            } else {
                high = middle;
            }
        }
        let ohms = f64::midpoint(low, high).exp();
        let found = self.celsius_beyond(ohms)?;
        ((found - celsius).abs() < 1e-6).then_some(ohms)
    }

    /// Whether a resistance without a temperature is too small for the law, and not too large.
    fn is_small(&self, ohms: f64) -> bool {
        match self {
            Self::Platinum(r0) => ohms < *r0,
            Self::BEquation(r25, _) => ohms < *r25,
            Self::SteinhartHart(..) | Self::Table(_) => ohms < 1000.0,
        }
    }

    /// The temperature in degC at a resistance; beyond a table's ends its last segment goes on.
    #[must_use]
    pub fn celsius_beyond(&self, ohms: f64) -> Option<f64> {
        let found = self.celsius(ohms);
        match self {
            Self::Table(points) if found.is_none() && ohms > 0.0 && ohms.is_finite() => {
                let [first, second, ..] = points.as_slice() else {
                    return None;
                };
                let [.., before, last] = points.as_slice() else {
                    return None;
                };
                let rises = first.1 < last.1;
                let pair = if (ohms < first.1) == rises {
                    [*first, *second]
                } else {
                    [*before, *last]
                };
                between(pair, ohms)
            }
            _ => found,
        }
    }

    /// How far straight interpolation between a maker's points may be from the curve behind them, in kelvin: its distance from
    /// the curve of third order through the four points around. 0 for a formula; none for a table of fewer than four points.
    #[must_use]
    pub fn interpolation_k(&self, ohms: f64) -> Option<f64> {
        let Self::Table(points) = self else {
            return Some(0.0);
        };
        let straight = in_table(points, ohms)?;
        let rises = points.first()?.1 < points.last()?.1;
        let passed = points
            .iter()
            .take_while(|(_, at)| if rises { *at <= ohms } else { *at >= ohms })
            .count();
        let start = passed.saturating_sub(2).min(points.len().checked_sub(4)?);
        let four = points.get(start..start + 4)?;
        // In the variables in which a segment is straight: an NTC's law is of third order in these.
        let x = |ohms: f64| if rises { ohms } else { ohms.ln() };
        let y = |celsius: f64| {
            if rises {
                celsius
            } else {
                1.0 / (celsius + ZERO_K)
            }
        };
        let curved: f64 = four
            .iter()
            .enumerate()
            .map(|(place, (celsius, at))| {
                let others = four.iter().enumerate().filter(|(other, _)| *other != place);
                let weight: f64 = others
                    .map(|(_, (_, other))| (x(ohms) - x(*other)) / (x(*at) - x(*other)))
                    .product();
                weight * y(*celsius)
            })
            .sum();
        let curved = if rises { curved } else { 1.0 / curved - ZERO_K };
        Some((curved - straight).abs())
    }

    /// The temperature in degC at a resistance; none where the law has none.
    #[must_use]
    pub fn celsius(&self, ohms: f64) -> Option<f64> {
        if !ohms.is_finite() || ohms <= 0.0 {
            return None;
        }
        let celsius = match self {
            Self::BEquation(r25, b) => kelvin_of_inverse(1.0 / T25_K + (ohms / r25).ln() / b)?,
            Self::SteinhartHart(a, b, c) => {
                let ln = ohms.ln();
                kelvin_of_inverse(a + b * ln + c * ln.powi(3))?
            }
            Self::Table(points) => in_table(points, ohms)?,
            Self::Platinum(r0) => {
                let (mut low, mut high) = PLATINUM_C_RANGE;
                if ohms < platinum(*r0, low) || ohms > platinum(*r0, high) {
                    return None;
                }
                // Halved until the interval is as fine as a double.
                for _ in 0..64 {
                    let middle = f64::midpoint(low, high);
                    if platinum(*r0, middle) < ohms {
                        low = middle;
                    } else {
                        high = middle;
                    }
                }
                return Some(f64::midpoint(low, high));
            }
        };
        Some(celsius)
    }
}

/// Resistance of a platinum sensor by IEC 60751.
#[must_use]
pub fn platinum(r0: f64, celsius: f64) -> f64 {
    let c = if celsius < 0.0 { PLATINUM_C } else { 0.0 };
    r0 * (1.0
        + PLATINUM_A * celsius
        + PLATINUM_B * celsius.powi(2)
        + c * (celsius - 100.0) * celsius.powi(3))
}

/// Above zero only: an inverse temperature of zero or less is beyond any sensor.
fn kelvin_of_inverse(inverse: f64) -> Option<f64> {
    (inverse > 0.0).then(|| 1.0 / inverse - ZERO_K)
}

fn in_table(points: &[(f64, f64)], ohms: f64) -> Option<f64> {
    points.windows(2).find_map(|pair| {
        let [one, other] = pair else {
            return None;
        };
        let (low, high) = (one.1.min(other.1), one.1.max(other.1));
        (low..=high)
            .contains(&ohms)
            .then(|| between([*one, *other], ohms))
            .flatten()
    })
}

/// Between two points, and beyond them by the same formula.
fn between([(cold, at_cold), (hot, at_hot)]: [(f64, f64); 2], ohms: f64) -> Option<f64> {
    if at_cold < at_hot {
        let part = (ohms - at_cold) / (at_hot - at_cold);
        return Some(cold + part * (hot - cold));
    }
    let part = (at_cold / ohms).ln() / (at_cold / at_hot).ln();
    let (inverse_cold, inverse_hot) = (1.0 / (cold + ZERO_K), 1.0 / (hot + ZERO_K));
    kelvin_of_inverse(inverse_cold + part * (inverse_hot - inverse_cold))
}

/// The sensor's input of a front end: from counts to temperatures.
#[derive(Debug, Clone)]
pub struct ThermistorModel {
    law: Law,
    side: SensorSide,
    fixed_ohms: f64,
    /// Converter's reference over excitation.
    reference_over_excitation: f64,
    centre: f64,
    full_scale: f64,
    largest_count: u32,
    offset_k: f64,
}

impl ThermistorModel {
    /// The model of a front end's thermistor.
    #[must_use]
    pub fn new(front_end: &FrontEnd, thermistor: &Thermistor) -> Self {
        let acquisition = AcquisitionModel::new(&thermistor.converter(&front_end.converter));
        let reference = f64::from(front_end.reference.microvolts);
        let mut model = Self {
            law: Law::new(&thermistor.law),
            side: thermistor.side,
            fixed_ohms: float(&thermistor.fixed_ohms),
            reference_over_excitation: thermistor
                .excitation_uv
                .map_or(1.0, |excitation| reference / f64::from(excitation)),
            centre: float(&acquisition.centre()),
            full_scale: float(&acquisition.full_scale()),
            largest_count: acquisition.largest_count(),
            offset_k: 0.0,
        };
        let accuracy = &thermistor.accuracy;
        if let (Some(celsius), Some(count)) =
            (&accuracy.calibrated_at_c, &accuracy.calibrated_count)
        {
            let read = model
                .ohms_at(float(count))
                .and_then(|ohms| model.law.celsius_beyond(ohms));
            model.offset_k = read.unwrap_or(f64::NAN) - float(celsius);
        }
        model
    }

    /// What one calibrated reading was too high by, in kelvin: taken off every temperature. 0 without one; not a number where
    /// its count is no temperature.
    #[must_use]
    pub fn offset_k(&self) -> f64 {
        self.offset_k
    }

    /// The largest count the converter can give for the sensor.
    #[must_use]
    pub fn largest_count(&self) -> u32 {
        self.largest_count
    }

    /// The count of an input at the excitation: an open sensor on the low side, a shorted one on the high side.
    #[must_use]
    pub fn top_count(&self) -> u32 {
        let at_excitation = self.full_scale / self.reference_over_excitation - self.centre;
        self.largest_count.min(at_excitation as u32)
    }

    /// The sensor's resistance in ohms at a count; none where the divider cannot give it.
    #[must_use]
    pub fn ohms(&self, count: u32) -> Option<f64> {
        self.ohms_at(f64::from(count))
    }

    fn ohms_at(&self, count: f64) -> Option<f64> {
        let ratio = (count + self.centre) / self.full_scale * self.reference_over_excitation;
        (ratio > 0.0 && ratio < 1.0).then(|| match self.side {
            SensorSide::Low => self.fixed_ohms * ratio / (1.0 - ratio),
            SensorSide::High => self.fixed_ohms * (1.0 - ratio) / ratio,
        })
    }

    /// How far a maker's table may be from the curve behind it at a count, in kelvin; none as for [`Law::interpolation_k`].
    #[must_use]
    pub fn interpolation_k(&self, count: u32) -> Option<f64> {
        self.law.interpolation_k(self.ohms(count)?)
    }

    /// The temperature in degC at a count, by the sensor's law less the offset of a calibrated reading.
    #[must_use]
    pub fn celsius(&self, count: u32) -> Option<f64> {
        Some(self.law.celsius(self.ohms(count)?)? - self.offset_k)
    }
}

fn float(value: &BigRational) -> f64 {
    value.to_f64().unwrap_or(f64::NAN)
}
