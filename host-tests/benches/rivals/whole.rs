//! The formula in whole numbers of 64 bits, as it is written by those who avoid floats.

use num_rational::BigRational;
use num_traits::ToPrimitive;
use tallyvolt::{Count, Fault, Voltage};
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::{FrontEnd, Topology};

use super::Answer;

/// `(a count + b) / (c count + d)` with one plain division; the half that rounds to nearest is in `a` and `b`.
#[derive(Debug, Clone, Copy)]
pub struct Whole {
    largest: u32,
    a: u64,
    b: u64,
    c: u64,
    d: u64,
}

impl Whole {
    /// Of a front end without calibration: a stored gain would need more than 64 bits.
    pub fn new(front_end: &FrontEnd) -> Self {
        let model = Model::new(front_end, CalibrationModel::identity());
        let at = |count| model.units(count).expect("these counts have a value");
        let integer = |value: u32| BigRational::from_integer(value.into());
        let half = integer(1) / integer(2);
        // V is a line in the count, or 1 / V is: two points give it.
        let terms = match front_end.topology {
            Topology::DividedInput(_) => {
                let slope = at(2) - at(1);
                let raised = at(1) - &slope + half;
                [slope, raised, integer(0), integer(1)]
            }
            Topology::SupplyReference => {
                let slope = at(2).recip() - at(1).recip();
                let intercept = at(1).recip() - &slope;
                let raised = integer(1) + &intercept * &half;
                [&slope * &half, raised, slope, intercept]
            }
        };
        let common = terms.iter().fold(integer(1), |common, term| {
            let rest = (term * &common).denom().clone();
            common * BigRational::from_integer(rest)
        });
        let [a, b, c, d] = terms.map(|term| {
            let whole = (term * &common).to_integer();
            whole.to_u64().expect("an uncalibrated term fits 64 bits")
        });
        let largest = model.largest_count();
        Self {
            largest,
            a,
            b,
            c,
            d,
        }
    }

    #[inline]
    pub fn voltage(&self, count: Count) -> Answer {
        if count.0 == 0 {
            return Err(Fault::ZeroCount);
        }
        if count.0 >= self.largest {
            return Err(Fault::Rail);
        }
        let count = u64::from(count.0);
        let units = (self.a * count + self.b) / (self.c * count + self.d);
        u16::try_from(units).map_or(Err(Fault::AboveRange), |units| Ok(Voltage(units)))
    }
}
