//! The formulas in double precision, with the validity checks that the crate makes.
//!
//! Rounded to nearest by adding a half and truncating, which is the cheapest way there is.

use num_rational::BigRational;
use num_traits::ToPrimitive;
use tallyvolt::{Count, Fault, Voltage};
use tallyvolt_model::acquisition::AcquisitionModel;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{FrontEnd, Topology};

use super::Answer;

/// Term by term, as it stands in a textbook.
#[derive(Debug, Clone, Copy)]
pub struct Formula {
    pub largest: u32,
    /// Code centre less offset, in counts.
    pub centre: f64,
    pub full_scale: f64,
    /// In output units.
    pub reference: f64,
    pub top: f64,
    pub bottom: f64,
    pub gain: f64,
}

/// All constants folded into one by a careful author.
#[derive(Debug, Clone, Copy)]
pub struct Folded {
    largest: u32,
    centre: f64,
    constant: f64,
}

impl Formula {
    pub fn new(front_end: &FrontEnd, calibration: &CalibrationModel) -> Self {
        let acquisition = AcquisitionModel::new(&front_end.converter);
        let double = |value: &BigRational| value.to_f64().expect("every term is a small number");
        let offset = acquisition.in_count_units(&calibration.offset);
        let (top, bottom) = match &front_end.topology {
            Topology::DividedInput(divider) => {
                (double(&divider.top_ohms), double(&divider.bottom_ohms))
            }
            Topology::SupplyReference => (0.0, 1.0),
        };
        Self {
            largest: acquisition.largest_count(),
            centre: double(&(acquisition.centre() - offset)),
            full_scale: double(&acquisition.full_scale()),
            reference: f64::from(front_end.reference.microvolts) / f64::from(front_end.unit_uv),
            top,
            bottom,
            gain: double(&calibration.gain),
        }
    }

    #[inline]
    pub fn divided(&self, count: Count) -> Answer {
        let x = f64::from(count.0) + self.centre;
        let pin = x / self.full_scale * self.reference;
        let units = pin * (self.top + self.bottom) / self.bottom * self.gain;
        checked(count, self.largest, units)
    }

    #[inline]
    pub fn supply(&self, count: Count) -> Answer {
        let x = f64::from(count.0) + self.centre;
        let units = self.reference * self.full_scale * self.gain / x;
        checked(count, self.largest, above_pole(x, units))
    }
}

impl Folded {
    /// Of a divided input: the constant is a factor.
    pub const fn divided_from(formula: &Formula) -> Self {
        let ratio = (formula.top + formula.bottom) / formula.bottom;
        Self {
            largest: formula.largest,
            centre: formula.centre,
            constant: formula.reference * ratio * formula.gain / formula.full_scale,
        }
    }

    /// Of a supply reference: the constant is the numerator.
    pub const fn supply_from(formula: &Formula) -> Self {
        Self {
            largest: formula.largest,
            centre: formula.centre,
            constant: formula.reference * formula.full_scale * formula.gain,
        }
    }

    #[inline]
    pub fn divided(&self, count: Count) -> Answer {
        let units = (f64::from(count.0) + self.centre) * self.constant;
        checked(count, self.largest, units)
    }

    #[inline]
    pub fn supply(&self, count: Count) -> Answer {
        let x = f64::from(count.0) + self.centre;
        checked(count, self.largest, above_pole(x, self.constant / x))
    }
}

/// At and below the pole a supply reference's voltage is beyond any bound.
#[inline]
fn above_pole(x: f64, units: f64) -> f64 {
    if x > 0.0 { units } else { f64::INFINITY }
}

#[inline]
fn checked(count: Count, largest: u32, units: f64) -> Answer {
    if count.0 == 0 {
        Err(Fault::ZeroCount)
    } else if count.0 >= largest {
        Err(Fault::Rail)
    } else if units < -0.5 {
        Err(Fault::BelowRange)
    } else if units < 65_535.5 {
        Ok(Voltage((units + 0.5) as u16))
    } else {
        Err(Fault::AboveRange)
    }
}
