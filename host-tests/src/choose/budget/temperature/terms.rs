//! The terms of a temperature: everything that the file says may be off, each with its distribution.

use num_rational::BigRational;
use tallyvolt_model::front_end::{FrontEnd, Thermistor};
use tallyvolt_model::rational::float;

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
    let mut add = |slot: usize, term: &'static str, unit, input: Input| {
        if let Some(place) = inputs
            .get_mut(slot)
            .filter(|_| !input.distribution.is_constant())
        {
            *place = input;
            if slot < PARTS + OWNS {
                rows.push(Row { slot, term, unit });
            }
        }
    };
    let limit = |value: &Option<BigRational>| {
        Input::around_zero(Distribution::rectangular(value.as_ref().map_or(0.0, float)))
    };
    let whole = |half| Input::around_zero(Distribution::rectangular(half));
    let accuracy = &thermistor.accuracy;
    let reference = &front_end.reference;
    add(
        Part::R25 as usize,
        "sensor's R25",
        "ppm",
        limit(&accuracy.r25_ppm),
    );
    add(
        Part::B as usize,
        "sensor's B",
        "ppm",
        limit(&accuracy.b_ppm),
    );
    let in_kelvin = accuracy.tolerance_mk.is_some() || accuracy.tolerance_mk_per_k.is_some();
    let stated = if in_kelvin { 1.0 } else { 0.0 };
    add(
        Part::Tolerance as usize,
        "sensor's tolerance",
        "of limit",
        whole(stated),
    );
    add(
        Part::Fixed as usize,
        "fixed resistor",
        "ppm",
        limit(&accuracy.fixed_ppm),
    );
    let drift = limit(&accuracy.fixed_ppm_per_k);
    add(
        Part::FixedDrift as usize,
        "fixed resistor's drift",
        "ppm/K",
        drift,
    );
    if sensor.over_reference.is_some() {
        let tolerance = &reference.tolerance;
        add(
            Part::Excitation as usize,
            "excitation",
            "ppm",
            limit(&accuracy.excitation_ppm),
        );
        add(
            Part::Reference as usize,
            "reference tolerance",
            "ppm",
            limit(&tolerance.ppm),
        );
        let drift = limit(&tolerance.ppm_per_k);
        add(
            Part::ReferenceDrift as usize,
            "reference drift",
            "ppm/K",
            drift,
        );
        let ageing = limit(&reference.ageing_ppm);
        add(
            Part::ReferenceAgeing as usize,
            "reference ageing",
            "ppm",
            ageing,
        );
    }
    let converter = &front_end.converter;
    add(
        Part::Offset as usize,
        "converter offset",
        "steps",
        limit(&converter.accuracy.offset_lsb),
    );
    add(
        Part::Gain as usize,
        "converter gain error",
        "steps",
        limit(&converter.accuracy.gain_lsb),
    );
    add(
        Part::Leakage as usize,
        "input leakage",
        "nA",
        limit(&converter.sampling.leakage_na),
    );
    // From none to all of it: how still the air is, nobody knows. Half of it is the estimate.
    let heated = if sensor.heating_k > 0.0 { 0.5 } else { 0.0 };
    let heating = Input {
        estimate: heated,
        distribution: Distribution::rectangular(heated),
    };
    add(Part::Heating as usize, "self-heating", "of all", heating);
    if sensor.calibration.is_some() {
        let thermometer = accuracy.thermometer_mk.as_ref().map_or(0.0, float) / 1000.0;
        add(
            Part::Thermometer as usize,
            "calibration thermometer",
            "K",
            whole(thermometer),
        );
    }
    let averaged = noise::averaged(&thermistor.converter(converter), 1);
    for first in [PARTS, PARTS + OWNS] {
        let slot = |own: Own| first + own as usize;
        let known = Input::around_zero;
        add(
            slot(Own::Nonlinearity),
            "nonlinearity",
            "steps",
            limit(&converter.accuracy.inl_lsb),
        );
        add(slot(Own::Noise), "noise", "steps", known(averaged.noise));
        add(
            slot(Own::Quantisation),
            "quantisation",
            "steps",
            known(averaged.quantisation),
        );
        add(
            slot(Own::Dither),
            "stairs left by dither",
            "steps",
            known(averaged.stairs),
        );
        add(
            slot(Own::Shift),
            "right shift",
            "steps",
            known(averaged.shift),
        );
        let between = built.interpolation_mc / 1000.0;
        add(
            slot(Own::Interpolation),
            "between the maker's points",
            "K",
            whole(between),
        );
    }
    let firmware = |own: Own| PARTS + own as usize;
    add(
        firmware(Own::Table),
        "firmware's table",
        "K",
        whole(built.table_error_mc / 1000.0),
    );
    add(
        firmware(Own::Rounding),
        "output rounding",
        "K",
        whole(ROUNDING_K),
    );
    Some(Prepared {
        sensor,
        inputs,
        rows,
        offset: built.offset,
    })
}
