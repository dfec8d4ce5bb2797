//! Gain and offset as words, verified through the firmware's own conversion.

use serde::Serialize;
use tallyvolt::fixed::types::{I24F8, U8F24};
use tallyvolt::{Calibration, Fingerprint, Record};

use super::line::Line;
use super::module::Bench;
use super::verdict::{Check, Reason};
use crate::outcome::Outcome;

/// Steps of the stored gain and offset in one.
const GAIN_STEPS: f64 = 16_777_216.0;
const OFFSET_STEPS: f64 = 256.0;
/// Voltages at which the firmware's own conversion is compared with the fit.
const VERIFIED: u32 = 33;
/// Rounding of output and words together, in output units, that the firmware may be off the fit.
const STORED_LIMIT_UNITS: f64 = 0.6;

/// Gain and offset as firmware gets them.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Stored {
    /// Steps of 2^-24.
    pub gain_word: u32,
    /// Steps of 1/256 count.
    pub offset_word: i32,
    /// Largest distance between the firmware's own conversion and the fit, over the cell's range, in millivolts.
    pub rounding_mv: f64,
    /// The record.
    #[serde(skip)]
    pub record: Record,
}

/// Rounds gain and offset to their words and asks the firmware's own conversion what it makes of them.
pub fn stored(
    bench: &Bench<'_>,
    line: &Line,
    gain: f64,
    offset: f64,
    reasons: &mut Vec<Reason>,
) -> Option<Stored> {
    // Saturating, so a wild value is refused by the bounds, not wrapped.
    let gain_word = (gain * GAIN_STEPS).round() as u32;
    let offset_word = (offset * OFFSET_STEPS).round() as i32;
    let transfer = bench.transfer;
    let proven = Calibration::new(U8F24::from_bits(gain_word), I24F8::from_bits(offset_word))
        .and_then(|calibration| Ok((calibration, transfer.conversion(calibration)?)));
    let (calibration, conversion) = match proven {
        Ok(proven) => proven,
        Err(error) => {
            reasons.push(Reason::new(
                Check::Stored,
                format!("{error}: {}", error.mend()),
            ));
            return None;
        }
    };
    let mut rounding_mv: f64 = 0.0;
    for mv in transfer.grid(VERIFIED) {
        let place = line.at(transfer.position(mv)) - transfer.place(0);
        let count = place.round() as u32;
        let fitted = transfer.voltage_mv((transfer.place(count) - line.intercept) / line.slope);
        match conversion.outcome(count) {
            Outcome::Units(units) => {
                rounding_mv = rounding_mv.max((f64::from(units) * transfer.unit_mv - fitted).abs());
            }
            Outcome::Fault(fault) => {
                let found = format!(
                    "with these words firmware reads {mv:.0} mV (count {count}) as {fault}"
                );
                reasons.push(Reason::new(Check::Stored, found));
                return None;
            }
        }
    }
    if rounding_mv > STORED_LIMIT_UNITS * transfer.unit_mv {
        let found = format!("firmware is off the fit by {rounding_mv:.3} mV");
        reasons.push(Reason::new(Check::Stored, found));
    }
    let front_end: Fingerprint = transfer.fingerprint();
    let record = Record {
        front_end,
        calibration,
        sequence: bench.sequence,
    };
    Some(Stored {
        gain_word,
        offset_word,
        rounding_mv,
        record,
    })
}
