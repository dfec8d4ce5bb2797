//! The exact truth: what every count means, in rational numbers.
//!
//! One file for each stage of the firmware crate, same names, sharing no code and no constant with it. Everything is
//! worked out from the front end's own values by the formulas of the trade:
//!
//! ```text
//! x = count + centre - offset                     (count units)
//! divided input      V = x / F * Vref * (Rtop + Rbottom) / Rbottom * gain
//! supply reference   V = Vref * F * gain / x
//! ```

pub mod acquisition;
pub mod calibration;
pub mod channel;
pub mod decimate;
pub mod divided_input;
pub mod filter;
pub mod float_reference;
pub mod front_end;
pub mod integer_form;
pub mod limits;
pub mod outcome;
pub mod rational;
pub mod supply_reference;
pub mod table;
pub mod thermistor;

use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive};

use crate::front_end::{FrontEnd, Topology};
use crate::outcome::{FaultName, Outcome};
use acquisition::AcquisitionModel;
use calibration::CalibrationModel;
use rational::{nearest_ties_up, whole};

/// Largest voltage in output units: the firmware's voltage is 16 bits wide.
const LARGEST_UNITS: u32 = 65_535;

/// The exact model of one module: a front end and a calibration.
#[derive(Debug, Clone)]
pub struct Model {
    front_end: FrontEnd,
    acquisition: AcquisitionModel,
    calibration: CalibrationModel,
}

impl Model {
    /// The model of a front end with a module's calibration.
    #[must_use]
    pub fn new(front_end: &FrontEnd, calibration: CalibrationModel) -> Self {
        Self {
            front_end: front_end.clone(),
            acquisition: AcquisitionModel::new(&front_end.converter),
            calibration,
        }
    }

    /// The model of a front end as drawn, without a calibration.
    #[must_use]
    pub fn as_drawn(front_end: &FrontEnd) -> Self {
        Self::new(front_end, CalibrationModel::identity())
    }

    /// The largest count the converter can give.
    #[must_use]
    pub fn largest_count(&self) -> u32 {
        self.acquisition.largest_count()
    }

    /// The exact voltage in microvolts, calibration applied; `None` where the formula has none.
    #[must_use]
    pub fn voltage_uv(&self, count: u32) -> Option<BigRational> {
        self.voltage_at(&self.position(count))
    }

    /// The exact voltage in output units; `None` where the formula has none.
    #[must_use]
    pub fn units(&self, count: u32) -> Option<BigRational> {
        self.voltage_uv(count).map(|uv| uv / self.unit_uv())
    }

    /// What firmware must answer for a count.
    #[must_use]
    pub fn outcome(&self, count: u32) -> Outcome {
        if count == 0 {
            return Outcome::Fault(FaultName::ZeroCount);
        }
        if count >= self.largest_count() {
            return Outcome::Fault(FaultName::Rail);
        }
        let Some(exact) = self.units(count) else {
            // Supply reference at or below the pole: the voltage would be beyond any bound.
            return Outcome::Fault(FaultName::AboveRange);
        };
        let nearest = nearest_ties_up(&exact);
        match nearest.to_u32() {
            Some(units) if units <= LARGEST_UNITS => Outcome::Units(units),
            _ if nearest.is_negative() => Outcome::Fault(FaultName::BelowRange),
            _ => Outcome::Fault(FaultName::AboveRange),
        }
    }

    /// Voltage change in microvolts for one count more, at a given voltage: the slope of the characteristic.
    #[must_use]
    pub fn step_uv(&self, voltage_uv: &BigRational) -> BigRational {
        let front_end = &self.front_end;
        let full_scale = self.acquisition.full_scale();
        match &front_end.topology {
            Topology::DividedInput(divider) => divided_input::step_uv(
                &full_scale,
                &whole(front_end.reference.microvolts),
                divider,
                &self.calibration.gain,
            ),
            Topology::SupplyReference => supply_reference::step_uv(
                voltage_uv,
                &full_scale,
                &whole(front_end.reference.microvolts),
                &self.calibration.gain,
            ),
        }
    }

    /// The front end that is modelled.
    #[must_use]
    pub fn front_end(&self) -> &FrontEnd {
        &self.front_end
    }

    /// Output unit in microvolts.
    #[must_use]
    pub fn unit_uv(&self) -> BigRational {
        whole(self.front_end.unit_uv)
    }

    /// x: where a count stands, in count units, calibration's offset taken off.
    fn position(&self, count: u32) -> BigRational {
        whole(count) + self.acquisition.centre()
            - self.acquisition.in_count_units(&self.calibration.offset)
    }

    fn voltage_at(&self, x: &BigRational) -> Option<BigRational> {
        let front_end = &self.front_end;
        let full_scale = self.acquisition.full_scale();
        let reference_uv = whole(front_end.reference.microvolts);
        match &front_end.topology {
            Topology::DividedInput(divider) => Some(divided_input::voltage_uv(
                x,
                &full_scale,
                &reference_uv,
                divider,
                &self.calibration.gain,
            )),
            Topology::SupplyReference => {
                supply_reference::voltage_uv(x, &full_scale, &reference_uv, &self.calibration.gain)
            }
        }
    }
}
