//! What 32 bytes are for a front end: what the crate loads of them, what that does at every count, and every reason against it.

use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive, Zero};
use tallyvolt::{Record, RecordError};
use tallyvolt_model::Model;
use tallyvolt_model::acquisition::AcquisitionModel;
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::outcome::Outcome;
use tallyvolt_model::rational::{fraction, in_millivolts, whole};

use super::layout::Fields;
use crate::calibrate::fit::constants::{cut, exact_units, two_to};
use crate::calibrate::fit::stored::form;
use crate::describe::firmware::{Constants, Conversion, DescribeError, Firmware};
use crate::prove::sweep::Sweep;

/// A front end that records are judged for.
#[derive(Debug, Clone)]
pub struct Judge<'a> {
    front_end: &'a FrontEnd,
    firmware: Firmware,
    drawn: Model,
}

/// What was found.
#[derive(Debug, Clone)]
pub struct Judged {
    /// Why a chip would not load it, or should not go on with it; empty for a sound record.
    pub reasons: Vec<String>,
    /// What the bytes say of themselves, where they have a record's mark.
    pub head: Option<Fields>,
    /// What it converts with, where the crate takes it.
    pub module: Option<Module>,
    /// Whether nothing was written there: no record, and no fault beside one.
    pub blank: bool,
}

/// A record's conversion, swept.
#[derive(Debug, Clone)]
pub struct Module {
    /// As stored.
    pub constants: Constants,
    /// Factor on the drawing's voltage.
    pub gain: f64,
    /// Subtracted first, in counts of one sample; none where the voltage does not depend on the count.
    pub offset: Option<f64>,
    /// Every count against the exact rational of the constants.
    pub sweep: Sweep,
    /// Lowest and highest voltage in millivolts.
    pub range_mv: Option<(f64, f64)>,
}

impl Judged {
    /// Whether a chip may go on with it.
    pub fn is_sound(&self) -> bool {
        self.reasons.is_empty()
    }
}

impl<'a> Judge<'a> {
    /// For a front end.
    ///
    /// # Errors
    /// [`DescribeError`].
    pub fn new(front_end: &'a FrontEnd) -> Result<Self, DescribeError> {
        Ok(Self {
            front_end,
            firmware: Firmware::describe(front_end)?,
            drawn: Model::as_drawn(front_end),
        })
    }

    /// Fingerprint of the front end.
    pub fn fingerprint(&self) -> u32 {
        self.firmware.fingerprint().0
    }

    /// Counts that a sweep compares.
    pub fn counts(&self) -> u64 {
        u64::from(self.drawn.largest_count()) + 1
    }

    /// Judges bytes. `subject` is what a chip answers with a conversion: [`Conversion::outcome`], or something wrong to be caught.
    pub fn judge(
        &self,
        bytes: &[u8],
        subject: &(dyn Fn(&Conversion, u32) -> Outcome + Sync),
        progress: &(dyn Fn(u64) + Sync),
    ) -> Judged {
        let fields = Fields::of(bytes).filter(Fields::has_mark);
        let mut judged = Judged {
            reasons: Vec::new(),
            head: fields,
            module: None,
            blank: false,
        };
        let loaded = Record::decode(bytes, self.firmware.fingerprint())
            .and_then(|record| self.firmware.recorded(&record));
        match (loaded, fields) {
            (Ok(conversion), Some(fields)) => {
                let constants = fields.constants(&self.front_end.topology);
                let sweep = Sweep::run(
                    &form(&constants, self.drawn.largest_count()),
                    self.drawn.largest_count(),
                    &|count| subject(&conversion, count),
                    progress,
                );
                let module = self.module(constants, sweep);
                self.reasons(&module, &mut judged.reasons);
                judged.module = Some(module);
            }
            (Ok(_), None) => judged.reasons.push(RecordError::NotARecord.to_string()),
            (Err(error), _) => {
                judged.blank = error == RecordError::Blank;
                judged.reasons.push(self.refusal(error));
            }
        }
        judged
    }

    fn refusal(&self, error: RecordError) -> String {
        let fix = match error {
            RecordError::Unreadable | RecordError::Length { .. } => "read the memory again",
            RecordError::Blank => "the module converts as drawn: write its record",
            RecordError::NotARecord => "look for the record's address",
            RecordError::Damaged => "read it again, and write it again if that does not help",
            RecordError::OtherFrontEnd { .. } => {
                "give the front-end file that it was fitted with, or fit the module with this one"
            }
            RecordError::Constants => {
                "a chip refuses them: take constants from `fit` or a self-calibration"
            }
            _ => "write the record again",
        };
        format!("{error}; {fix}")
    }

    fn module(&self, constants: Constants, sweep: Sweep) -> Module {
        let (gain, offset) = self.gain_and_offset(&constants);
        let unit_mv = in_millivolts(self.front_end.unit_uv);
        let units = |count: u32| {
            exact_units(&constants, count)
                .to_f64()
                .map(|units| (units + 0.5).floor() * unit_mv)
        };
        let range_mv = sweep.valid.and_then(|(first, last)| {
            let (first, last) = (units(first)?, units(last)?);
            Some((first.min(last), first.max(last)))
        });
        Module {
            constants,
            gain: gain.to_f64().unwrap_or(f64::NAN),
            offset: offset.and_then(|offset| offset.to_f64()),
            sweep,
            range_mv,
        }
    }

    /// What the constants differ by from the drawing, exactly.
    fn gain_and_offset(&self, constants: &Constants) -> (BigRational, Option<BigRational>) {
        let acquisition = AcquisitionModel::new(&self.front_end.converter);
        let centre = acquisition.centre();
        let drawn = |count| self.drawn.units(count).unwrap_or_else(BigRational::zero);
        // Where the curve is zero, or has its pole, in counts: the drawing's is at -centre.
        let (gain, at) = match constants {
            Constants::Line(line) => {
                let [near, far] =
                    [line.first, line.first + 1].map(|count| exact_units(constants, count));
                let slope = &far - &near;
                let gain = &slope / (drawn(2) - drawn(1));
                if !slope.is_positive() {
                    return (gain, None);
                }
                (gain, whole(line.first) - near / slope)
            }
            Constants::Quotient(quotient) => {
                let step = two_to(quotient.step_log2.into());
                let largest = self.drawn.largest_count();
                let numerator = drawn(largest) * (whole(largest) + &centre);
                let gain = BigRational::from_integer(quotient.numerator.into()) / &step / numerator;
                (
                    gain,
                    whole(quotient.first) - whole(quotient.at_first) / step,
                )
            }
        };
        let offset = (at + centre) / acquisition.in_count_units(&whole(1));
        (gain, Some(offset))
    }

    /// A count that the window leaves out although the constants make a voltage of it; a fit cuts off one in 256 at most.
    fn left_out(&self, constants: &Constants) -> Option<u32> {
        let (first, counts) = constants.window();
        let largest = self.drawn.largest_count();
        let cut = cut(largest);
        let before = first.checked_sub(cut + 1);
        let behind = first
            .checked_add(counts)
            .and_then(|end| end.checked_add(cut));
        // The converter's ends are no voltage in this form either.
        let form = form(constants, largest).without_window();
        before
            .into_iter()
            .chain(behind)
            .find(|count| matches!(form.outcome(*count), Outcome::Units(_)))
    }

    fn reasons(&self, module: &Module, reasons: &mut Vec<String>) {
        let sweep = &module.sweep;
        if let Some((count, answer)) = sweep.examples.first() {
            let wanted = form(&module.constants, self.drawn.largest_count()).outcome(*count);
            reasons.push(format!(
                "{} of {} counts are not the exact rational of the constants: count {count} gives {answer} and not {wanted}; fit the \
                 module again",
                sweep.wrong, sweep.counts
            ));
        }
        if let Some(count) = self.left_out(&module.constants) {
            reasons.push(format!(
                "the window leaves out count {count}, which the constants give a voltage; fit the module again"
            ));
        }
        if !sweep.monotonic {
            reasons.push("voltages turn back along the counts; fit the module again".to_owned());
        }
        let (least, most) = (fraction(1, 2), whole(2));
        let (gain, offset) = self.gain_and_offset(&module.constants);
        if gain < least || gain > most {
            reasons.push(format!(
                "gain {:.5}, stored are 0.5 to 2; look for a wrong part, and fit the module again",
                module.gain
            ));
        }
        match offset {
            Some(offset) if offset.abs() <= whole(4096) => {}
            Some(_) => reasons.push(format!(
                "offset {:+.2} counts, stored are up to 4096; look for a wrong part, and fit the module again",
                module.offset.unwrap_or(f64::NAN)
            )),
            None => reasons.push(
                "every count gives the same voltage; fit the module again".to_owned(),
            ),
        }
        let [min, _, max] = self.front_end.cell.millivolts();
        match module.range_mv {
            Some((low, high)) => {
                if low > min {
                    reasons.push(format!(
                        "the emptiest cell, {min} mV, is not read: the lowest voltage is {low:.1} mV; fit the module again"
                    ));
                }
                if high < max {
                    reasons.push(format!(
                        "the fullest cell, {max} mV, is not read: the highest voltage is {high:.1} mV; fit the module again"
                    ));
                }
            }
            None => reasons.push("no count is a voltage; fit the module again".to_owned()),
        }
    }
}
