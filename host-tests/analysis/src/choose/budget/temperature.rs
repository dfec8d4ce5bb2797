//! The error budget of a temperature: sensor, fixed resistor, excitation, converter, self-heating, table, rounding.
//!
//! ```text
//! circuit   what may be off -> error of a reading
//! terms     front-end file  -> what may be off, with distributions
//! ```

mod circuit;
mod terms;

use serde::Serialize;
use tallyvolt_model::front_end::{FrontEnd, LimitMeaning};
use tallyvolt_model::rational::float;

use super::combine::{FirstOrder, combine, coverage_factor};
use super::input::Input;
use super::monte_carlo::{COVERAGE, Run};
use super::thresholds::guard_band;
use crate::describe::limit_name::Direction;
use crate::describe::limits::{TemperatureAlarm, temperatures_as_written};
use crate::describe::thermistor_table::offset::SensorOffset;
use terms::{Prepared, Row, prepare};

/// No temperature in tenths of a degree that firmware reads: 16 bits wide there.
const NO_READING: i32 = i32::MAX;

/// Temperatures a budget is made for: the coldest, the middle and the hottest of the range.
const SITES: usize = 3;
/// What `budget` finds out about a temperature sensor; errors in millikelvins.
#[derive(Debug, Clone, Serialize)]
pub struct TemperatureBudget {
    /// Coldest, middle and hottest temperature, degC.
    pub sites_c: [f64; SITES],
    /// The calibrated reading whose offset firmware takes off; none where a calibration is only planned, or not even that.
    pub offset: Option<SensorOffset>,
    /// Every term, as it acts without a calibration.
    pub terms: Vec<TemperatureTerm>,
    /// At each temperature: without a calibration, then with one point where the file describes one.
    pub totals: Vec<TemperatureTotal>,
    /// The alarms of the temperature limits.
    pub alarms: Vec<TemperatureAlarm>,
}

/// One term.
#[derive(Debug, Clone, Serialize)]
pub struct TemperatureTerm {
    /// In words.
    pub term: &'static str,
    /// Limit or standard deviation, in `unit`.
    pub value: f64,
    /// Unit of the value.
    pub unit: &'static str,
    /// Distribution in words.
    pub distribution: String,
    /// Standard uncertainty of the temperature from this term alone, at the three temperatures.
    pub contribution_mk: [f64; SITES],
}

/// All terms together at one temperature.
#[derive(Debug, Clone, Serialize)]
pub struct TemperatureTotal {
    /// `uncalibrated` or `one-point`.
    pub calibration: &'static str,
    /// True temperature, degC.
    pub at_c: f64,
    /// Lowest and highest error with every term at its worst.
    pub worst_mk: [f64; 2],
    /// Combined standard uncertainty.
    pub combined_mk: f64,
    /// Expanded uncertainty, 95 %, by the coverage factor.
    pub expanded_mk: f64,
    /// Mean error of the trials: self-heating has one.
    pub mean_mk: f64,
    /// Shortest 95 % interval of the trials.
    pub interval_mk: [f64; 2],
}

/// The budget of a front end's thermistor; none without one, or where its table cannot be built.
pub(super) fn temperature(front_end: &FrontEnd, run: Run) -> Option<TemperatureBudget> {
    let thermistor = front_end.thermistor.as_ref()?;
    let (min, max) = (float(&thermistor.min_c), float(&thermistor.max_c));
    let sites_c = [min, f64::midpoint(min, max), max];
    let prepared = prepare(front_end, thermistor, &sites_c)?;
    let Prepared { sensor, inputs, .. } = &prepared;
    let outputs = 2 * SITES;
    let model = |values: &[f64], errors: &mut [f64]| sensor.errors_k(values, errors);
    let firsts = combine(inputs, &[], outputs, &model);
    let trials = run.go(inputs, &[], outputs, &model, &|_| ());
    let wanted: Vec<usize> = (0..outputs).collect();
    let totals = firsts
        .iter()
        .zip(trials.summaries(&wanted))
        .zip(sites_c.iter().cycle())
        .enumerate()
        .filter(|(output, _)| *output < SITES || sensor.calibration.is_some())
        .map(|(output, ((first, summary), at_c))| TemperatureTotal {
            calibration: if output < SITES {
                "uncalibrated"
            } else {
                "one-point"
            },
            at_c: *at_c,
            worst_mk: [1000.0 * first.worst.0, 1000.0 * first.worst.1],
            combined_mk: 1000.0 * first.combined,
            expanded_mk: 1000.0 * coverage_factor(COVERAGE, first.dof) * first.combined,
            mean_mk: 1000.0 * summary.mean,
            interval_mk: [1000.0 * summary.low, 1000.0 * summary.high],
        })
        .collect();
    Some(TemperatureBudget {
        sites_c,
        offset: prepared.offset,
        terms: prepared
            .rows
            .iter()
            .map(|row| term(row, inputs, &firsts))
            .collect(),
        totals,
        alarms: alarms(front_end),
    })
}

/// What the offset of a calibrated reading is, and what the parts as described allow it to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OffsetBounds {
    /// The reading.
    pub offset: SensorOffset,
    /// Lowest and highest offset with every term at its worst, in kelvin.
    pub worst_k: (f64, f64),
    /// Whether the file states a tolerance of the sensor: without one the bounds say nothing.
    pub known: bool,
}

/// The offset of the file's calibrated reading against what is allowed; none without one.
pub fn offset_bounds(front_end: &FrontEnd) -> Option<OffsetBounds> {
    let thermistor = front_end.thermistor.as_ref()?;
    thermistor.accuracy.calibrated_count.as_ref()?;
    let prepared = prepare(front_end, thermistor, &[])?;
    let model = |values: &[f64], errors: &mut [f64]| errors.fill(prepared.sensor.offset_k(values));
    let first = combine(&prepared.inputs, &[], 1, &model)
        .into_iter()
        .next()?;
    let accuracy = &thermistor.accuracy;
    let stated = [
        &accuracy.r25_ppm,
        &accuracy.b_ppm,
        &accuracy.tolerance_mk,
        &accuracy.tolerance_mk_per_k,
    ];
    Some(OffsetBounds {
        offset: prepared.offset?,
        worst_k: first.worst,
        known: stated.into_iter().any(Option::is_some),
    })
}

/// The alarms of the temperature limits, from the file alone: with a calibration where the file has its reading.
pub fn alarms(front_end: &FrontEnd) -> Vec<TemperatureAlarm> {
    let mut alarms = temperatures_as_written(front_end);
    let (Some(limits), Some(thermistor)) = (&front_end.limits, &front_end.thermistor) else {
        return alarms;
    };
    if limits.meaning == LimitMeaning::Reading {
        return alarms;
    }
    let sites: Vec<f64> = alarms.iter().map(|alarm| alarm.limit_c).collect();
    let Some(prepared) = prepare(front_end, thermistor, &sites) else {
        // A guard band that is not known leaves no alarm that could be promised.
        for alarm in &mut alarms {
            alarm.quiet_tenths = NO_READING;
        }
        return alarms;
    };
    let model = |values: &[f64], errors: &mut [f64]| prepared.sensor.errors_k(values, errors);
    let firsts = combine(&prepared.inputs, &[], 2 * sites.len(), &model);
    let miss = 1e-6 * float(&limits.miss_ppm);
    let known = prepared.offset.map_or(0, |_| sites.len());
    for (alarm, first) in alarms.iter_mut().zip(firsts.iter().skip(known)) {
        // What is missed is an error away from the alarm, counted from the mean one, which self-heating has.
        let (worst, mean) = first.inwards(alarm.direction);
        let guard = guard_band(first.combined, first.dof, miss) + mean;
        if !guard.is_finite() {
            alarm.quiet_tenths = NO_READING;
            continue;
        }
        alarm.guard_k = guard.min(worst).max(0.0);
        let steps = ((10.0 * alarm.guard_k).ceil() as i32).saturating_add(1);
        alarm.quiet_tenths = match alarm.direction {
            Direction::Over => alarm.quiet_tenths.saturating_sub(steps),
            Direction::Under => alarm.quiet_tenths.saturating_add(steps),
        };
    }
    alarms
}

fn term(row: &Row, inputs: &[Input], firsts: &[FirstOrder]) -> TemperatureTerm {
    let distribution = inputs[row.slot].distribution;
    TemperatureTerm {
        term: row.term,
        value: distribution.size(),
        unit: row.unit,
        distribution: distribution.to_string(),
        contribution_mk: std::array::from_fn(|site| 1000.0 * firsts[site].contributions[row.slot]),
    }
}
