//! Headroom: how far every board within its limits still reads, at both ends of the cell's range.
//!
//! A board reads a voltage where none of its samples is at a rail and the count is a voltage, whatever its parts: reference
//! tolerance, drift and ageing, both resistors, leakage, the converter's offset, gain error and nonlinearity, and the peak of a
//! sample's noise. Noise of one sample counts, not of their mean: a sample at the rail moves the mean whatever the others say.

use serde::Serialize;
use tallyvolt_model::Model;
use tallyvolt_model::front_end::{CodeCentre, Converter, FrontEnd, ShiftRounding, Topology};
use tallyvolt_model::outcome::Outcome;
use tallyvolt_model::rational::{float_or_zero, in_millivolts, whole};

use super::combine::combine;
use super::distribution::Distribution;
use super::input::Input;
use super::quantity::{Place, Quantity};
use super::reading::Rails;
use super::terms::Terms;
use crate::choose::halving::first_where;

/// One end of the range.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reach {
    /// What must be read, in millivolts.
    pub must_read_mv: f64,
    /// In words: the fullest cell, the upper limit, ..
    pub must_read: &'static str,
    /// How far a board with nominal parts reads.
    pub nominal_mv: f64,
    /// How far every board reads.
    pub surely_mv: f64,
    /// From what must be read to how far every board reads; negative where it falls short.
    pub headroom_mv: f64,
}

/// Both ends.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Headroom {
    /// Towards the emptiest cell.
    pub low: Reach,
    /// Towards the fullest.
    pub high: Reach,
}

/// The headroom of a front end; none where its nominal voltage is not read at all.
pub fn headroom(front_end: &FrontEnd) -> Option<Headroom> {
    let [low, high] = reach(front_end)?;
    let (must_low, must_high) = must_read(front_end);
    let reach = |(must_read_mv, must_read), (nominal_mv, surely_mv), sign| Reach {
        must_read_mv,
        must_read,
        nominal_mv,
        surely_mv,
        headroom_mv: sign * (surely_mv - must_read_mv),
    };
    Some(Headroom {
        low: reach(must_low, low, -1.0),
        high: reach(must_high, high, 1.0),
    })
}

/// Lowest and highest voltage that must be read, in millivolts, each with what it is.
pub fn must_read(front_end: &FrontEnd) -> ((f64, &'static str), (f64, &'static str)) {
    let cell = &front_end.cell;
    let mut low = (cell.min_uv, "the emptiest cell");
    let mut high = (cell.max_uv, "the fullest cell");
    let mut include = |uv: u32, below: &'static str, above: &'static str| {
        if uv < low.0 {
            low = (uv, below);
        }
        if uv > high.0 {
            high = (uv, above);
        }
    };
    if let Some(limits) = &front_end.limits {
        for uv in [limits.under_uv, limits.over_uv].into_iter().flatten() {
            include(uv, "the lower limit", "the upper limit");
        }
    }
    let (lower, upper) = front_end.calibration_points_uv();
    let points: &[u32] = match front_end.calibration.points {
        0 => &[],
        1 => &[front_end.calibration_point_uv()],
        _ => &[lower, upper],
    };
    for uv in points {
        include(
            *uv,
            "the lower calibration voltage",
            "the upper calibration voltage",
        );
    }
    let millivolts = |(uv, what): (u32, &'static str)| (in_millivolts(uv), what);
    (millivolts(low), millivolts(high))
}

/// Lowest and highest voltage in millivolts, each that a board with nominal parts reads, and that every board reads.
fn reach(front_end: &FrontEnd) -> Option<[(f64, f64); 2]> {
    let terms = Terms::of(front_end, Vec::new());
    let rails = rails(front_end)?;
    let mut inputs = terms.inputs.clone();
    let mut set = |quantity: Quantity, distribution| {
        inputs[quantity.slot()] = Input::around_zero(distribution);
    };
    // What a sample's code is counts, so nothing is quantised or shifted here: the rails are edges of codes.
    let rms = float_or_zero(&front_end.converter.accuracy.noise_rms_lsb);
    set(
        Quantity::Noise(Place::Reading),
        Distribution::noise(rms, None),
    );
    for quantity in [
        Quantity::Quantisation(Place::Reading),
        Quantity::Dither(Place::Reading),
        Quantity::Shift(Place::Reading),
    ] {
        set(quantity, Distribution::Constant);
    }
    let model = |values: &[f64], ends: &mut [f64]| {
        (ends[0], ends[1]) = terms.circuit.reach_mv(values, rails);
    };
    let found = combine(&inputs, &terms.correlations, 2, &model);
    let [low, high] = found.as_slice() else {
        return None;
    };
    Some([(low.estimate, low.worst.1), (high.estimate, high.worst.0)])
}

/// The steps of one sample between which every sample has a code that makes a voltage; none where the nominal cell is none.
fn rails(front_end: &FrontEnd) -> Option<Rails> {
    let (first, last) = counts(front_end)?;
    let converter = &front_end.converter;
    let (low, high) = codes(converter, first, last);
    // At `edge` makers differ: a code begins at its number, or half a step before. The narrower of both is taken.
    let beyond = match converter.code_centre {
        CodeCentre::Half => 1.0,
        CodeCentre::Edge => 0.5,
    };
    let high = high + beyond;
    Some(Rails { low, high })
}

/// First and last count that are voltages around the nominal cell.
pub(crate) fn counts(front_end: &FrontEnd) -> Option<(u32, u32)> {
    let model = Model::as_drawn(front_end);
    let is_voltage = |count| matches!(model.outcome(count), Outcome::Units(_));
    let rail = model.largest_count();
    let nominal = whole(front_end.cell.nominal_uv);
    let falls = front_end.topology == Topology::SupplyReference;
    let passed = |count| {
        let voltage = model.voltage_uv(count);
        voltage.is_none_or(|voltage| (voltage >= nominal) != falls)
    };
    let middle = first_where(1, rail, passed).min(rail.saturating_sub(1));
    if !is_voltage(middle) {
        return None;
    }
    let first = first_where(1, middle, is_voltage);
    let last = first_where(middle, rail, |count| !is_voltage(count)) - 1;
    Some((first, last))
}

/// Lowest and highest code of a sample that, in all of them, give a count from `first` to `last`.
fn codes(converter: &Converter, first: u32, last: u32) -> (f64, f64) {
    let divisor = 2_f64.powi(i32::try_from(converter.right_shift).unwrap_or(0));
    let added = match converter.shift_rounding {
        ShiftRounding::Truncate => 0.0,
        ShiftRounding::Nearest => (divisor / 2.0).floor(),
    };
    let samples = f64::from(converter.samples);
    let lowest = (f64::from(first) * divisor - added) / samples;
    let highest = ((f64::from(last) + 1.0) * divisor - 1.0 - added) / samples;
    (lowest.ceil(), highest.floor())
}
