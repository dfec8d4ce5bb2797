//! Inputs for the tests: front ends, calibrations and counts. None of them knows what the right answer is.
//!
//! | file | makes |
//! |---|---|
//! | `edge` | counts at the ends of everything |
//! | `spaced` | counts evenly spread, all of them where the range is small |
//! | `random` | numbers and counts from a seed |
//! | `worst` | counts whose exact value is nearest to a rounding boundary |
//! | `front_ends` | valid front ends from a seed |
//! | `calibrations` | gains and offsets of modules from a seed |
//! | `shipped` | the front-end files of this repository |
//!
//! Every maker is deterministic: the same seed gives the same inputs on every machine.

pub mod calibrations;
pub mod edge;
pub mod front_ends;
pub mod random;
pub mod shipped;
pub mod spaced;
pub mod worst;

use tallyvolt_analysis::calibrate::fit::constants::{Chosen, choose};
use tallyvolt_analysis::calibrate::fit::stored::form;
use tallyvolt_analysis::describe::firmware::{Conversion, DescribeError, Firmware};
use tallyvolt_analysis::prove::sweep::Sweep;
use tallyvolt_model::Model;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::integer_form::IntegerForm;

/// One module: a front end, and gain and offset of its curve where it is calibrated.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// The drawing.
    pub front_end: FrontEnd,
    /// Gain in steps of 2^-24 and offset in steps of 1/256 single-sample count; none as drawn.
    pub curve: Option<(u32, i32)>,
}

impl Case {
    /// A module without calibration.
    #[must_use]
    pub fn uncalibrated(front_end: FrontEnd) -> Self {
        Self {
            front_end,
            curve: None,
        }
    }

    /// What the firmware crate makes of it: the drawing's own conversion, or that of constants chosen for the curve.
    ///
    /// # Errors
    /// [`DescribeError`] when the crate refuses the front end or the constants.
    pub fn conversion(&self) -> Result<Conversion, DescribeError> {
        let firmware = Firmware::describe(&self.front_end)?;
        Ok(match self.curve {
            None => firmware.conversion()?,
            Some(_) => self.chosen(&firmware)?.conversion,
        })
    }

    /// The constants chosen for the curve.
    ///
    /// # Errors
    /// [`DescribeError`] when no constants leave the cell's range a voltage.
    pub fn chosen(&self, firmware: &Firmware) -> Result<Chosen, DescribeError> {
        Ok(choose(&self.front_end, firmware, &self.calibration())?)
    }

    /// Every count compared: as drawn with the model of the drawing, calibrated with the exact rational of the constants.
    ///
    /// # Panics
    /// When the crate refuses the case: every case here is made to be taken.
    #[must_use]
    pub fn sweep(&self) -> Sweep {
        let conversion = self
            .conversion()
            .unwrap_or_else(|error| panic!("{error}: {self:?}"));
        let largest = self.model().largest_count();
        let form = match self.curve {
            None => IntegerForm::of(&self.model()),
            Some(_) => form(&conversion.constants(), largest),
        };
        Sweep::run(&form, largest, &|count| conversion.outcome(count), &|_| {})
    }

    /// The curve, exact.
    #[must_use]
    pub fn model(&self) -> Model {
        Model::new(&self.front_end, self.calibration())
    }

    fn calibration(&self) -> CalibrationModel {
        self.curve
            .map_or_else(CalibrationModel::identity, |(gain, offset)| {
                CalibrationModel::from_words(gain, offset)
            })
    }
}
