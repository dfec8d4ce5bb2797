//! The terms of a temperature: everything that the file says may be off, each with its distribution.

use num_rational::BigRational;
use tallyvolt_model::front_end::{FrontEnd, Thermistor};
use tallyvolt_model::rational::float_or_zero;

use super::super::distribution::Distribution;
use super::super::noise;
use super::circuit::{OWNS, Own, PARTS, Part, SLOTS, Sensor};
use crate::choose::budget::input::Input;
use crate::describe::thermistor_table::BuiltTable;
use crate::describe::thermistor_table::offset::SensorOffset;

/// An answer is rounded to 0.1 degC, in kelvin to either side.
const ROUNDING_K: f64 = 0.05;

/// A row before its sensitivities are known.
pub(super) struct Row {
    pub(super) slot: usize,
    pub(super) term: &'static str,
    pub(super) unit: &'static str,
}

/// What a budget of a temperature is made of.
pub(super) struct Prepared {
    pub(super) sensor: Sensor,
    pub(super) inputs: Vec<Input>,
    /// The terms that are there.
    pub(super) rows: Vec<Row>,
    /// The calibrated reading, if there is one.
    pub(super) offset: Option<SensorOffset>,
}

/// The circuit, its inputs, and the rows of the terms that are there.
pub(super) fn prepare(
    front_end: &FrontEnd,
    thermistor: &Thermistor,
    sites_c: &[f64],
) -> Option<Prepared> {
    let built = BuiltTable::build(front_end, thermistor).ok()?;
    let sensor = Sensor::new(front_end, thermistor, sites_c)?;
    let mut inputs = vec![Input::around_zero(Distribution::Constant); SLOTS];
    let mut rows = Vec::new();
    let mut add = |slot: usize, (term, unit), input: Input| {
        if !input.distribution.is_constant() {
            inputs[slot] = input;
            if slot < PARTS + OWNS {
                rows.push(Row { slot, term, unit });
            }
        }
    };
    let known = Input::around_zero;
    let whole = |half| known(Distribution::rectangular(half));
    let limit = |value: &Option<BigRational>| whole(float_or_zero(value));
    let mut part = |part: Part, input| add(part as usize, part.words(), input);
    let accuracy = &thermistor.accuracy;
    part(Part::R25, limit(&accuracy.r25_ppm));
    part(Part::B, limit(&accuracy.b_ppm));
    let in_kelvin = accuracy.tolerance_mk.is_some() || accuracy.tolerance_mk_per_k.is_some();
    part(Part::Tolerance, whole(if in_kelvin { 1.0 } else { 0.0 }));
    part(Part::Fixed, limit(&accuracy.fixed_ppm));
    part(Part::FixedDrift, limit(&accuracy.fixed_ppm_per_k));
    if sensor.over_reference.is_some() {
        let reference = &front_end.reference;
        part(Part::Excitation, limit(&accuracy.excitation_ppm));
        part(Part::Reference, limit(&reference.tolerance.ppm));
        part(Part::ReferenceDrift, limit(&reference.tolerance.ppm_per_k));
        part(Part::ReferenceAgeing, limit(&reference.ageing_ppm));
    }
    let converter = &front_end.converter;
    part(Part::Offset, limit(&converter.accuracy.offset_lsb));
    part(Part::Gain, limit(&converter.accuracy.gain_lsb));
    part(Part::Leakage, limit(&converter.sampling.leakage_na));
    // From none to all of it: how still the air is, nobody knows. Half of it is the estimate.
    let heated = if sensor.heating_k > 0.0 { 0.5 } else { 0.0 };
    let heating = Input {
        estimate: heated,
        ..whole(heated)
    };
    part(Part::Heating, heating);
    if sensor.calibration.is_some() {
        let thermometer_k = float_or_zero(&accuracy.thermometer_mk) / 1000.0;
        part(Part::Thermometer, whole(thermometer_k));
    }
    let averaged = noise::averaged(&thermistor.converter(converter), 1);
    let mut own = |first: usize, own: Own, input| add(first + own as usize, own.words(), input);
    for first in [PARTS, PARTS + OWNS] {
        own(first, Own::Nonlinearity, limit(&converter.accuracy.inl_lsb));
        own(first, Own::Noise, known(averaged.noise));
        own(first, Own::Quantisation, known(averaged.quantisation));
        own(first, Own::Dither, known(averaged.stairs));
        own(first, Own::Shift, known(averaged.shift));
        let between_k = built.interpolation_mc / 1000.0;
        own(first, Own::Interpolation, whole(between_k));
    }
    own(PARTS, Own::Table, whole(built.table_error_mc / 1000.0));
    own(PARTS, Own::Rounding, whole(ROUNDING_K));
    Some(Prepared {
        sensor,
        inputs,
        rows,
        offset: built.offset,
    })
}
