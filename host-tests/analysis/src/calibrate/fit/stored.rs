//! What a module stores: constants chosen for its fitted curve, swept, and their record.

use num_rational::BigRational;
use num_traits::ToPrimitive;
use serde::Serialize;
use tallyvolt::Record;
use tallyvolt_model::calibration::CalibrationModel;
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::outcome::Outcome;

use super::bench::Bench;
use super::constants;
use super::verdict::{Check, Reason};
use crate::describe::firmware::Constants;
use crate::prove::sweep::Sweep;

/// Gain and offset limits of a module: beyond, something else is wrong with it.
const GAIN: (f64, f64) = (0.5, 2.0);
const OFFSET_COUNTS: f64 = 4096.0;

/// A module's constants as firmware gets them.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Stored {
    /// The first count that is a voltage.
    pub first: u32,
    /// How many counts are.
    pub counts: u32,
    /// What they are.
    #[serde(flatten)]
    pub words: Words,
    /// Largest distance between the constants and the fitted curve over the cell's range, in millivolts, the rounding of the output
    /// left out.
    pub distance_mv: f64,
    /// Counts that were converted and compared with the exact rational of the constants.
    pub swept: u64,
    /// The record.
    #[serde(skip)]
    pub record: Record,
    /// The constants as the crate takes them.
    #[serde(skip)]
    pub constants: Constants,
}

/// The constants by topology.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(untagged)]
pub enum Words {
    /// `(factor * (count - first) + addend) >> shift`.
    Line {
        /// M.
        factor: u64,
        /// B.
        addend: u64,
        /// S.
        shift: u8,
    },
    /// `numerator / (2^step_log2 * (count - first) + at_first)`.
    Quotient {
        /// K.
        numerator: u64,
        /// D at the first count.
        at_first: u32,
        /// t.
        step_log2: u8,
    },
}

/// The form of the constants as an exact sweep takes it.
pub fn form(constants: &Constants, largest_count: u32) -> IntegerForm {
    let window = constants.window();
    match constants {
        Constants::Line(line) => {
            IntegerForm::of_line(window, line.factor, line.addend, line.shift, largest_count)
        }
        Constants::Quotient(quotient) => IntegerForm::of_quotient(
            window,
            quotient.numerator,
            quotient.at_first,
            quotient.step_log2,
            largest_count,
        ),
    }
}

/// Chooses the constants of a fitted curve, converts every count with them, and makes their record.
pub fn stored(
    bench: &Bench<'_>,
    gain: f64,
    offset: f64,
    reasons: &mut Vec<Reason>,
) -> Option<Stored> {
    let mut refuse = |found: String| {
        reasons.push(Check::Stored.found(found));
        None
    };
    if !(GAIN.0..=GAIN.1).contains(&gain) || offset.abs() > OFFSET_COUNTS {
        return refuse(format!(
            "gain {gain:.5} and offset {offset:+.2} counts: stored are gains of {} to {} and offsets up to {OFFSET_COUNTS} counts",
            GAIN.0, GAIN.1
        ));
    }
    let exact = |value: f64| BigRational::from_float(value);
    let (Some(gain), Some(offset)) = (exact(gain), exact(offset)) else {
        return refuse("gain or offset is no number".to_owned());
    };
    let transfer = bench.transfer;
    let curve = CalibrationModel { gain, offset };
    let firmware = transfer.firmware();
    let chosen = constants::choose(bench.front_end, firmware, &curve).and_then(|chosen| {
        let record = firmware.record(chosen.constants, bench.settings.sequence)?;
        Ok((chosen, record))
    });
    let (chosen, record) = match chosen {
        Ok(chosen) => chosen,
        Err(error) => return refuse(format!("{error}: {}", error.fix())),
    };
    let (constants, conversion) = (chosen.constants, chosen.conversion);
    let sweep = sweep(&constants, transfer.largest, &|count| {
        conversion.outcome(count)
    });
    if sweep.wrong > 0 {
        return refuse(format!(
            "{} of {} counts are not the exact rational of the constants",
            sweep.wrong, sweep.counts
        ));
    }
    let (first, counts) = (conversion.window().first().0, conversion.window().counts());
    Some(Stored {
        first,
        counts,
        words: words(&constants)?,
        distance_mv: chosen.distance.to_f64().unwrap_or(f64::NAN) * transfer.unit_mv,
        swept: sweep.counts,
        record,
        constants,
    })
}

/// Every count of a subject against the exact rational of the constants.
pub fn sweep(
    constants: &Constants,
    largest_count: u32,
    subject: &(dyn Fn(u32) -> Outcome + Sync),
) -> Sweep {
    let form = form(constants, largest_count);
    Sweep::run(&form, largest_count, subject, &|_| {})
}

fn words(constants: &Constants) -> Option<Words> {
    Some(match constants {
        Constants::Line(line) => Words::Line {
            factor: line.factor.to_u64()?,
            addend: line.addend.to_u64()?,
            shift: line.shift,
        },
        Constants::Quotient(quotient) => Words::Quotient {
            numerator: quotient.numerator,
            at_first: quotient.at_first,
            step_log2: quotient.step_log2,
        },
    })
}

#[cfg(test)]
mod tests {
    use tallyvolt::{LineConstants, QuotientConstants};

    use super::super::bench::Settings;
    use super::super::examples;
    use super::super::guards::Guards;
    use super::super::transfer::Transfer;
    use super::*;

    /// A conversion with one constant a little off, by a five-hundredth of a step, is caught, in both topologies.
    #[test]
    fn a_wrong_constant_is_caught() {
        let line = Constants::Line(LineConstants {
            first: 1,
            counts: 4094,
            factor: 34_202,
            addend: 67_687,
            shift: 15,
        });
        let quotient = Constants::Quotient(QuotientConstants {
            first: 74,
            counts: 4021,
            numerator: 314_572_800,
            at_first: 4768,
            step_log2: 6,
        });
        for constants in [line, quotient] {
            let right = form(&constants, 4095);
            assert_eq!(
                sweep(&constants, 4095, &|count| right.outcome(count)).wrong,
                0
            );
            let wrong = match constants {
                Constants::Line(line) => Constants::Line(LineConstants {
                    addend: line.addend + 64,
                    ..line
                }),
                Constants::Quotient(quotient) => Constants::Quotient(QuotientConstants {
                    numerator: quotient.numerator + 2000,
                    ..quotient
                }),
            };
            let wrong = form(&wrong, 4095);
            assert!(sweep(&constants, 4095, &|count| wrong.outcome(count)).wrong > 0);
        }
    }

    /// Gains of 0.5 to 2 and offsets up to 4096 counts are looked at, both ends among them; others are refused by that rule.
    #[test]
    fn gain_and_offset_have_limits() {
        let front_end = examples::divided();
        let transfer = Transfer::new(&front_end).expect("legal");
        let bench = Bench {
            front_end: &front_end,
            transfer: &transfer,
            settings: &Settings::default(),
            noise: &examples::stated_noise(&front_end, 1),
            tests: 1.0,
            guards: &Guards::default(),
        };
        let by_the_rule = |gain, offset| {
            let mut reasons = Vec::new();
            let _ = stored(&bench, gain, offset, &mut reasons);
            let mut found = reasons.iter().map(|reason| &reason.found);
            found.any(|found| found.contains("gains of 0.5 to 2 and offsets up to 4096 counts"))
        };
        for offset in [4096.0, -4096.0] {
            assert!(!by_the_rule(1.0, offset) && by_the_rule(1.0, offset * 1.001));
        }
        assert!(!by_the_rule(0.5, 0.0) && by_the_rule(0.499, 0.0));
        assert!(!by_the_rule(2.0, 0.0) && by_the_rule(2.001, 0.0));
    }
}
