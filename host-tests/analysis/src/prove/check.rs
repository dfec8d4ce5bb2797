//! The whole-range check of one front end: every count against the exact model, and what the range looks like.

pub mod found;
pub mod limits;
pub mod thermistor;

use num_rational::BigRational;
use num_traits::ToPrimitive;
use tallyvolt::{ConfigError, Microvolts, Temperature};
use tallyvolt_model::front_end::FrontEnd;
use tallyvolt_model::integer_form::IntegerForm;
use tallyvolt_model::limits::Walk;
use tallyvolt_model::outcome::Outcome;
use tallyvolt_model::rational::{decimal_text, float, in_order, nearest_ties_up, whole};
use tallyvolt_model::{Model, float_reference};

use crate::choose::described_limits;
use crate::choose::findings::{findings, meets};
use crate::describe::firmware::{Constants, Conversion, DescribeError, Firmware};
use crate::describe::thermistor_table::BuiltTable;
use crate::prove::sweep::Sweep;
use found::{Arithmetic, Check, Fit, Steps, WrongCount};
use limits::LimitsCheck;
use thermistor::ThermistorCheck;

/// Counts at which the double-precision formula is measured against the exact model.
const FLOAT_PROBES: u32 = 1024;

/// Checks a front end without calibration over every count.
///
/// `progress` is told how many counts were done, from any thread.
///
/// # Errors
/// [`DescribeError`] when the firmware crate refuses the front end.
pub fn check(
    front_end: &FrontEnd,
    progress: &(dyn Fn(u64) + Sync),
) -> Result<Check, DescribeError> {
    let conversion = conversion(front_end)?;
    Ok(check_subject(
        front_end,
        &conversion,
        &|count| conversion.outcome(count),
        progress,
    ))
}

/// The same for any subject that claims to be this conversion; negative controls hand in a wrong one.
pub fn check_subject(
    front_end: &FrontEnd,
    conversion: &Conversion,
    subject: &(dyn Fn(u32) -> Outcome + Sync),
    progress: &(dyn Fn(u64) + Sync),
) -> Check {
    let model = Model::as_drawn(front_end);
    let form = IntegerForm::of(&model);
    let largest = model.largest_count();
    let mut sweep = Sweep::run(&form, largest, subject, progress);
    for beyond in [largest + 1, u32::MAX / 2, u32::MAX] {
        sweep.counts += 1;
        if subject(beyond) != model.outcome(beyond) {
            sweep.wrong += 1;
            sweep.examples.push((beyond, subject(beyond)));
        }
    }

    let cell = &front_end.cell;
    let unit = model.unit_uv();
    let in_units = |uv: u32| {
        nearest_ties_up(&(whole(uv) / &unit))
            .to_u32()
            .unwrap_or(u32::MAX)
    };
    let (low, high) = (in_units(cell.min_uv), in_units(cell.max_uv));
    let (unreachable_values, doubled_values) = sweep.gaps_and_doubles(low, high);
    let ends = sweep.valid.and_then(|(first, last)| {
        Some(in_order(model.voltage_uv(first)?, model.voltage_uv(last)?))
    });
    let read = ends.as_ref();
    let fit = Fit {
        emptiest: read.is_some_and(|(lowest, _)| *lowest <= whole(cell.min_uv)),
        fullest: read.is_some_and(|(_, highest)| *highest >= whole(cell.max_uv)),
        output: high <= u32::from(u16::MAX),
    };
    let (float_distance_units, float_counts) = match sweep.valid {
        Some((first, last)) => float_reference::largest_distance(&model, first, last, FLOAT_PROBES),
        None => (0.0, 0),
    };
    let step_mv = |uv: u32| millivolts(&model.step_uv(&whole(uv)));
    let (arithmetic, proof) = arithmetic(conversion, &sweep);
    let (thermistor, limits) = sensor_and_limits(front_end, conversion, &form, &sweep);
    let exact = sweep.wrong == 0
        && sweep.monotonic
        && thermistor.as_ref().is_none_or(ThermistorCheck::holds)
        && limits.as_ref().is_none_or(LimitsCheck::holds);
    let findings = findings(front_end);
    let meets = meets(&findings);
    Check {
        name: front_end.name.clone(),
        topology: front_end.topology.word(),
        counts_swept: sweep.counts,
        wrong_counts: sweep.wrong,
        wrong_examples: sweep
            .examples
            .iter()
            .map(|(count, answered)| WrongCount {
                count: *count,
                answered: answered.to_string(),
                exact: model.units(*count).map_or_else(
                    || model.outcome(*count).to_string(),
                    |units| format!("{} ({})", decimal_text(&units, 6), model.outcome(*count)),
                ),
            })
            .collect(),
        largest_rounding_error_units: sweep.largest_error,
        arithmetic,
        proof,
        unit_uv: front_end.unit_uv,
        valid_counts: sweep.valid,
        range_mv: ends.map(|(lowest, highest)| (millivolts(&lowest), millivolts(&highest))),
        step_mv: Steps {
            at_min: step_mv(cell.min_uv),
            at_nominal: step_mv(cell.nominal_uv),
            at_max: step_mv(cell.max_uv),
        },
        unreachable_values,
        doubled_values,
        cell_values: u64::from(high.saturating_sub(low)) + 1,
        monotonic: sweep.monotonic,
        exact,
        meets,
        holds: exact && meets,
        findings,
        thermistor,
        limits,
        fit,
        float_distance_units,
        float_counts,
    }
}

/// The checks of what a file describes beyond the cell's own count.
///
/// A table that cannot be built was refused when the file was read; here it is simply not there.
fn sensor_and_limits(
    front_end: &FrontEnd,
    conversion: &Conversion,
    form: &IntegerForm,
    sweep: &Sweep,
) -> (Option<ThermistorCheck>, Option<LimitsCheck>) {
    let drawn = front_end.thermistor.as_ref();
    let built = drawn.and_then(|drawn| Some((drawn, BuiltTable::build(front_end, drawn).ok()?)));
    let built = built.as_ref();
    let sensor = built.and_then(|(drawn, built)| Some((*drawn, built, built.firmware().ok()?)));
    let thermistor_check = sensor.as_ref().map(|(drawn, built, sensor)| {
        thermistor::check(front_end, drawn, built, &|count| sensor.temperature(count))
    });
    if front_end.limits.is_none() {
        return (thermistor_check, None);
    }

    let (first, last) = sweep.valid.unwrap_or((1, 0));
    let voltages = (first..=last).filter_map(|count| {
        let units = form.outcome(count).units()?;
        Some((count, i32::try_from(units).ok()?))
    });
    let (voltage_limits, wrong_voltage_limits) = Walk::over(voltages).map_or((0, 0), |walk| {
        limits::compare(&walk, |side, units| {
            // Beyond the output type lies no value that a limit could be.
            let whole =
                u16::try_from(units).map_err(|_| ConfigError::LimitNotReadable { limit: units })?;
            conversion.count_limit(side, Microvolts(u32::from(whole) * front_end.unit_uv))
        })
    });
    let (temperature_limits, wrong_temperature_limits) = sensor
        .as_ref()
        .and_then(|(_, built, sensor)| {
            let temperatures = (built.table.first..).map_while(|count| {
                let exact = thermistor::exact(built, count).ok()?;
                Some((count, i32::from(exact.0)))
            });
            Some((sensor, Walk::over(temperatures)?))
        })
        .map_or((0, 0), |(sensor, walk)| {
            limits::compare(&walk, |side, tenths| {
                let tenths = i16::try_from(tenths)
                    .map_err(|_| ConfigError::LimitNotReadable { limit: tenths })?;
                sensor.count_limit(side, Temperature(tenths))
            })
        });
    let sensor = sensor.as_ref().map(|(_, _, sensor)| sensor);
    let described = described_limits::described(front_end, conversion, sensor);
    let limits_check = LimitsCheck {
        voltage_limits,
        wrong_voltage_limits,
        temperature_limits,
        wrong_temperature_limits,
        described: limits::counted(&described),
    };
    (thermistor_check, Some(limits_check))
}

/// The uncalibrated conversion of a front end.
///
/// # Errors
/// [`DescribeError`] when the firmware crate refuses it.
pub fn conversion(front_end: &FrontEnd) -> Result<Conversion, DescribeError> {
    Ok(Firmware::describe(front_end)?.conversion()?)
}

fn arithmetic(conversion: &Conversion, sweep: &Sweep) -> (Arithmetic, String) {
    let (arithmetic, proof) = match conversion.constants() {
        Constants::Line(line) => {
            let products = match line.shift {
                0..=23 => "one of 32 bits",
                24..=32 => "two of 32 bits",
                _ => "two of 64 bits",
            };
            let arithmetic = Arithmetic::Multiplier {
                multiplier: line.factor.to_string(),
                addend: line.addend.to_string(),
                shift: line.shift,
                first_count: line.first,
                products,
            };
            let proof = format!(
                "on either side of where it crosses the exact line it never lies beyond it, and its sum over {} counts is equal \
                 there: therefore equal at every count",
                line.counts
            );
            (arithmetic, proof)
        }
        Constants::Quotient(quotient) => {
            let narrow = u32::try_from(quotient.numerator).is_ok();
            let arithmetic = Arithmetic::Numerator {
                numerator: quotient.numerator,
                step_log2: quotient.step_log2,
                at_first: quotient.at_first,
                first_count: quotient.first,
                division: if narrow { "32 bits" } else { "64 bits" },
            };
            let proof = "rounding down before a division by a whole number changes nothing, so with D even floor(N/D + 1/2) = \
                         floor((floor(N) + D/2)/D): one integer numerator serves all counts"
                .to_owned();
            (arithmetic, proof)
        }
    };
    let found = match sweep.wrong {
        0 => "confirmed count by count".to_owned(),
        wrong => format!("CONTRADICTED by {wrong} counts"),
    };
    (arithmetic, format!("{proof}; {found}"))
}

/// The double nearest to an exact voltage in microvolts, as millivolts.
pub fn millivolts(uv: &BigRational) -> f64 {
    float(&(uv / whole(1000)))
}
