//! The `[limits]` table.

use num_rational::BigRational;
use num_traits::ToPrimitive;
use tallyvolt::bounds::{CELL_UV, DEBOUNCE_READINGS};
use tallyvolt_model::front_end::{LimitMeaning, Limits};

use super::reader::{Read, TableReader, within};

/// A cell at its limit goes unnoticed once in a thousand readings, unless the file says otherwise.
const MISS_PPM: u32 = 1000;

/// A converted temperature is a multiple of 0.1 degC, and a limit is compared with it.
const TENTHS: i64 = 10;

/// Reads the table; voltages must be multiples of the output unit, temperatures of 0.1 degC.
pub(super) fn read(mut table: TableReader<'_>, unit_uv: u32) -> Option<Limits> {
    let millivolts = 1..=CELL_UV.max / 1000;
    let per_millivolt = i64::from(1000 / unit_uv);
    let mut volts = |key, range| {
        let read = table.optional_read(key, range, " mV");
        read.map(|read| stepped(&table, key, read, per_millivolt, "the output unit"))
    };
    let over = volts("over_voltage_mv", millivolts.clone());
    let under = volts("under_voltage_mv", millivolts);
    let hysteresis = volts("hysteresis_mv", 0..=10_000);
    // At most 1 V: more would leave no cell a reading.
    let over_guard = table.optional_read("over_voltage_guard_mv", 0..=1000, " mV");
    let under_guard = table.optional_read("under_voltage_guard_mv", 0..=1000, " mV");
    let mut degrees = |key, range| {
        let read = table.optional_read(key, range, " degC");
        read.map(|read| stepped(&table, key, read, TENTHS, "0.1 degC"))
    };
    let hot = degrees("over_temperature_c", -250..=1000);
    let cold = degrees("under_temperature_c", -250..=1000);
    let hysteresis_c = degrees("hysteresis_c", 0..=100);
    let debounce_readings = table.whole_or("debounce_readings", within(DEBOUNCE_READINGS), "", 1);
    let meaning = table.choice_or(
        "meaning",
        &[
            (LimitMeaning::Reading.word(), LimitMeaning::Reading),
            (LimitMeaning::TrueValue.word(), LimitMeaning::TrueValue),
        ],
    );
    let miss_ppm = table.optional_read("miss_ppm", 1..=500_000, " ppm");
    for (key, read, why) in [
        (
            "miss_ppm",
            &miss_ppm,
            "has no guard band that could miss it",
        ),
        ("over_voltage_guard_mv", &over_guard, "has no guard band"),
        ("under_voltage_guard_mv", &under_guard, "has no guard band"),
    ] {
        if let (Some(LimitMeaning::Reading), Some(read)) = (meaning, read) {
            let fix = format!("write meaning = \"true-value\", or remove {key}");
            let rule = format!("belongs to limits on the true value: a limit on the reading {why}");
            table.report(key, read.span.clone(), rule, fix);
        }
    }
    let latching = table.truth_or("latching", false);
    table.finish();

    let in_uv = |steps: Option<Option<i64>>| match steps {
        None => Some(None),
        Some(steps) => u32::try_from(steps? * i64::from(unit_uv)).ok().map(Some),
    };
    let in_tenths = |steps: Option<Option<i64>>| match steps {
        None => Some(None),
        Some(steps) => i32::try_from(steps?).ok().map(Some),
    };
    Some(Limits {
        meaning: meaning?,
        over_uv: in_uv(over)?,
        under_uv: in_uv(under)?,
        miss_ppm: miss_ppm.map_or_else(
            || BigRational::from_integer(MISS_PPM.into()),
            |read| read.value,
        ),
        over_guard_uv: in_microvolts(over_guard),
        under_guard_uv: in_microvolts(under_guard),
        hysteresis_uv: in_uv(hysteresis)?.unwrap_or(0),
        over_tenths: in_tenths(hot)?,
        under_tenths: in_tenths(cold)?,
        hysteresis_tenths: in_tenths(hysteresis_c)?.unwrap_or(0).unsigned_abs(),
        debounce_readings: debounce_readings?,
        latching: latching?,
    })
}

/// In whole microvolts, rounded up: a guard band is never made smaller.
fn in_microvolts(guard: Option<Read<BigRational>>) -> u32 {
    guard
        .map(|read| read.value * BigRational::from_integer(1000.into()))
        .and_then(|uv| uv.ceil().to_integer().to_u32())
        .unwrap_or(0)
}

/// The value in whole steps, or a problem: a limit between two steps would be another limit once compared.
fn stepped(
    table: &TableReader<'_>,
    key: &'static str,
    read: Read<BigRational>,
    steps_per_unit: i64,
    step: &str,
) -> Option<i64> {
    let steps = read.value * BigRational::from_integer(steps_per_unit.into());
    if !steps.is_integer() {
        table.report(
            key,
            read.span,
            format!("must be a multiple of {step}"),
            match key {
                "hysteresis_mv" | "hysteresis_c" => "round it; up, an alarm lasts longer",
                _ => "round it to the side that alarms earlier",
            }
            .to_owned(),
        );
        return None;
    }
    steps.to_integer().to_i64()
}
