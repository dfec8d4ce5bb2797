//! The header's temperature sensor, and its limits behind it.

use tallyvolt_model::front_end::SensorSide;

use super::c_interpolation::{interpolation, position};
use super::c_limits::{alarms, calibrated};
use super::c_rows::rows;
use super::description::Description;
use super::sensing::Sensor;

/// The end of the fault enumeration: the last of a voltage's, and a temperature's where there is a sensor.
pub(super) fn last_faults(description: &Description<'_>) -> &'static str {
    if description.sensing.sensor.is_none() {
        return "FRONT_END_ABOVE_RANGE = 4  /* would round to more than 65535 output units */";
    }
    "FRONT_END_ABOVE_RANGE = 4, /* would round to more than 65535 output units */
    FRONT_END_OPEN_CIRCUIT = 5,  /* the sensor's circuit is open */
    FRONT_END_SHORT_CIRCUIT = 6, /* the sensor's circuit is shorted */
    FRONT_END_BELOW_TABLE = 7,   /* colder than the sensor's table */
    FRONT_END_ABOVE_TABLE = 8    /* hotter than the sensor's table */"
}

/// Sensor, limits, and limits of a calibrated module; each may be missing.
pub(super) fn part(description: &Description<'_>) -> String {
    let sensing = &description.sensing;
    let sensors = sensing.sensor.iter();
    let mut parts: Vec<String> = sensors
        .map(|drawn| sensor(drawn, description.rail))
        .collect();
    if let (Some(limits), false) = (&description.front_end.limits, sensing.limits.is_empty()) {
        parts.push(alarms(limits, &sensing.limits));
        if sensing.on_voltage().next().is_some() {
            parts.push(calibrated(description));
        }
    }
    parts.join("\n")
}

fn sensor(sensor: &Sensor<'_>, rail: u32) -> String {
    let table = &sensor.built.table;
    let (short, open) = ("SHORT_CIRCUIT", "OPEN_CIRCUIT");
    let (low_wire, high_wire) = match table.side {
        SensorSide::Low => (short, open),
        SensorSide::High => (open, short),
    };
    let (below, above) = ("BELOW_TABLE", "ABOVE_TABLE");
    let (before, behind) = if table.entries.first() < table.entries.last() {
        (below, above)
    } else {
        (above, below)
    };
    let (rows, position) = (rows(&table.entries), position(sensor, rail));
    let declared = format!(
        "/* Every {step} counts from the first on, in steps of {entry_step}. */
static const int16_t front_end_temperatures[{entries}] FRONT_END_IN_FLASH = {{
    {rows}
}};

{at}",
        step = table.step,
        entry_step = sensor.entry_step(),
        entries = table.entries.len(),
        at = interpolation(sensor),
    );
    let text = format!(
        "/* ---- the temperature sensor: a count is the sum of so many samples, shifted right ---- */
#define FRONT_END_SENSOR_SAMPLES {samples}
#define FRONT_END_SENSOR_RIGHT_SHIFT {right_shift}
#define FRONT_END_SENSOR_FIRST_COUNT UINT32_C({first})
#define FRONT_END_SENSOR_COUNTS UINT32_C({counts})
#define FRONT_END_SENSOR_LOW_WIRE UINT32_C({low}) /* up to here a wire is broken or shorted */
#define FRONT_END_SENSOR_HIGH_WIRE UINT32_C({high}) /* and from here on */

{text}",
        samples = sensor.drawn.samples,
        right_shift = sensor.drawn.right_shift,
        first = table.first,
        counts = table.counts,
        low = table.low_wire,
        high = table.high_wire,
        text = include_str!("c/sensor.h")
            .replace("/* POSITION */\n\n", position.unwrap_or_default())
            .replace("/* FLASH */", include_str!("c/flash.h").trim_end())
            .replace("/* TABLE */", declared.trim_end())
            .replace("FAULT_LOW_WIRE", low_wire)
            .replace("FAULT_HIGH_WIRE", high_wire)
            .replace("FAULT_BEFORE_TABLE", before)
            .replace("FAULT_BEHIND_TABLE", behind),
    );
    if position.is_some() {
        return text;
    }
    text.replace("front_end_sensor_position", "front_end_position")
        .replace("FRONT_END_SENSOR_TOO_WIDE", "FRONT_END_TOO_WIDE")
}
