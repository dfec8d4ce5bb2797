//! Inputs for the tests: front ends, calibrations and counts. None of them knows what the right answer is.
//!
//! | file | makes |
//! |---|---|
//! | `edge` | counts at the ends of everything |
//! | `spaced` | counts evenly spread, all of them where the range is small |
//! | `random` | numbers and counts from a seed |
//! | `worst` | counts whose exact value is nearest to a rounding boundary |
//! | `front_ends` | valid front ends from a seed |
//! | `calibrations` | valid stored calibrations from a seed |
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

use tallyvolt::Calibration;
use tallyvolt::fixed::types::{I24F8, U8F24};

use crate::firmware::{Conversion, DescribeError, Firmware};
use crate::front_end::FrontEnd;
use crate::model::Model;
use crate::model::calibration::CalibrationModel;
use crate::model::integer_form::IntegerForm;
use crate::sweep::Sweep;

/// One module: a front end and the words of its stored calibration.
#[derive(Debug, Clone, PartialEq)]
pub struct Case {
    /// The drawing.
    pub front_end: FrontEnd,
    /// Gain in steps of 2^-24.
    pub gain: u32,
    /// Offset in steps of 1/256 single-sample count.
    pub offset: i32,
}

impl Case {
    /// A module without calibration.
    #[must_use]
    pub fn uncalibrated(front_end: FrontEnd) -> Self {
        Self {
            front_end,
            gain: calibrations::UNITY,
            offset: 0,
        }
    }

    /// What the firmware crate makes of it.
    ///
    /// # Errors
    /// [`DescribeError`] when the crate refuses the front end or the calibration.
    pub fn conversion(&self) -> Result<Conversion, DescribeError> {
        let stored = Calibration::new(U8F24::from_bits(self.gain), I24F8::from_bits(self.offset))?;
        Ok(Firmware::describe(&self.front_end)?.conversion(stored)?)
    }

    /// Every count compared with the model.
    ///
    /// # Panics
    /// When the crate refuses the case: every case here is made to be taken.
    #[must_use]
    pub fn sweep(&self) -> Sweep {
        let conversion = self
            .conversion()
            .unwrap_or_else(|error| panic!("{error}: {self:?}"));
        let form = IntegerForm::of(&self.model());
        Sweep::run(
            &form,
            self.model().largest_count(),
            |count| conversion.outcome(count),
            |_| {},
        )
    }

    /// The truth about it.
    #[must_use]
    pub fn model(&self) -> Model {
        Model::new(
            &self.front_end,
            CalibrationModel::from_words(self.gain, self.offset),
        )
    }
}
