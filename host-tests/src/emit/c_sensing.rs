//! The header's temperature sensor, limits and alarms.

use std::fmt::Write as _;

use tallyvolt::{LimitSide, SensorSide};
use tallyvolt_model::front_end::{Limits, Topology};

use super::description::Description;
use super::sensing::{Sensor, SetLimit};

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
    let mut parts: Vec<String> = sensing.sensor.as_ref().map(sensor).into_iter().collect();
    if let (Some(limits), false) = (&description.front_end.limits, sensing.limits.is_empty()) {
        parts.push(alarms(limits, &sensing.limits));
        let voltage: Vec<&SetLimit> = sensing
            .limits
            .iter()
            .filter(|set| set.name.is_of_voltage())
            .collect();
        if !voltage.is_empty() {
            parts.push(calibrated(description, limits, &voltage));
        }
    }
    parts.join("\n")
}

fn sensor(sensor: &Sensor<'_>) -> String {
    let built = &sensor.built;
    let (short, open) = ("SHORT_CIRCUIT", "OPEN_CIRCUIT");
    let (low_wire, high_wire) = match built.side {
        SensorSide::Low => (short, open),
        SensorSide::High => (open, short),
    };
    let (below, above) = ("BELOW_TABLE", "ABOVE_TABLE");
    let (before, behind) = if built.entries.first() < built.entries.last() {
        (below, above)
    } else {
        (above, below)
    };
    let rows: Vec<String> = built
        .entries
        .chunks(12)
        .map(|row| {
            row.iter()
                .map(i16::to_string)
                .collect::<Vec<_>>()
                .join(", ")
        })
        .collect();
    let table = format!(
        "/* Every {step} counts from the first on, in steps of {entry_step}. */
static const int16_t front_end_temperatures[{entries}] FRONT_END_IN_FLASH = {{
    {rows}
}};

{at}",
        step = 1_u32 << built.step_log2,
        entry_step = sensor.entry_step(),
        entries = built.entries.len(),
        rows = rows.join(",\n    "),
        at = interpolation(sensor),
    );
    format!(
        "/* ---- the temperature sensor: a count is the sum of so many samples, shifted right ---- */
#define FRONT_END_SENSOR_SAMPLES {samples}
#define FRONT_END_SENSOR_RIGHT_SHIFT {right_shift}
#define FRONT_END_SENSOR_FIRST_COUNT UINT32_C({first})
#define FRONT_END_SENSOR_COUNTS UINT32_C({counts})
/* Counts up to the first of these, and from the second on, are of a broken or shorted wire. */
#define FRONT_END_SENSOR_LOW_WIRE UINT32_C({low})
#define FRONT_END_SENSOR_HIGH_WIRE UINT32_C({high})

{text}",
        samples = sensor.drawn.samples,
        right_shift = sensor.drawn.right_shift,
        first = built.first,
        counts = built.counts,
        low = built.low_wire,
        high = built.high_wire,
        text = include_str!("c/sensor.h")
            .replace("/* POSITION */", position(sensor).trim_end())
            .replace("/* FLASH */", include_str!("c/flash.h").trim_end())
            .replace("/* TABLE */", table.trim_end())
            .replace("FAULT_LOW_WIRE", low_wire)
            .replace("FAULT_HIGH_WIRE", high_wire)
            .replace("FAULT_BEFORE_TABLE", before)
            .replace("FAULT_BEHIND_TABLE", behind),
    )
}

/// The interpolation of `core/src/convert/table.rs`, lifted so that nothing negative is shifted: C leaves open what that gives.
fn interpolation(sensor: &Sensor<'_>) -> String {
    let (step_log2, fraction_bits) = (sensor.built.step_log2, sensor.built.fraction_bits);
    let shift = step_log2 + fraction_bits;
    let half = (1_u32 << shift) >> 1;
    let (small, end) = if narrow(sensor) {
        let small = small(step_log2, fraction_bits);
        (
            format!("#if FRONT_END_SENSOR_16\n{small}#else\n"),
            "#endif\n",
        )
    } else {
        (String::new(), "")
    };
    format!(
        "/* floor((e[i] * 2^{step_log2} + (e[i + 1] - e[i]) * f) / 2^{shift} + 1/2) for position = i * 2^{step_log2} + f, before the last entry. The
 * second form is modulo 2^32 and lifted by 2^15 entry steps, so that it is not negative: below 2^{whole} before the one shift. */
static inline int16_t front_end_temperature_at(front_end_sensor_position position)
{{
    int16_t from, to;
{small}    const uint32_t part = position & UINT32_C({mask});
    uint32_t value;
    front_end_entries(front_end_temperatures + (uint8_t)(position >> {step_log2}), &from, &to);
    value = ((uint32_t)from << {step_log2}) + ((uint32_t)to - (uint32_t)from) * part + UINT32_C({lift});
    return (int16_t)((int32_t)(value >> {shift}) - INT32_C({lifted}));
{end}}}
",
        whole = 17 + step_log2,
        mask = (1_u32 << step_log2) - 1,
        lift = (1_u32 << (15 + step_log2)) + half,
        lifted = 1_u32 << (15 - fraction_bits),
    )
}

/// Whether positions fit 16 bits and the steps between entries their signed half.
fn narrow(sensor: &Sensor<'_>) -> bool {
    let built = &sensor.built;
    let gentle = |pair: &[i16]| match pair {
        [from, to] => to.checked_sub(*from).is_some(),
        _ => false,
    };
    built.high_wire < 1 << 16
        && built.first + built.counts <= 1 << 16
        && built.entries.windows(2).all(gentle)
}

/// The same in products of 16 bits: the part of a step in 2^8 or 2^16, then the entries' own fraction.
fn small(step_log2: u8, fraction_bits: u8) -> String {
    let nearest = u8::from(fraction_bits == 0);
    let part = if step_log2 <= 8 {
        "uint8_t"
    } else {
        "uint16_t"
    };
    let mut text = format!(
        "    {part} part;
    uint16_t value;
    front_end_entries(front_end_temperatures + front_end_segment(position, &part), &from, &to);
    value = (uint16_t)(from + front_end_share((int16_t)(to - from), part, {nearest}));
"
    );
    // The last bit that is dropped rounds. In C lifted by 2^15, so that nothing negative is shifted.
    match fraction_bits {
        0 => {}
        bits => {
            let shifts = "asr %B[v]\\n\\tror %A[v]\\n\\t".repeat(bits.into());
            let _ = write!(
                text,
                "#if FRONT_END_AVR
    __asm__(\"{shifts}adc %A[v], r1\\n\\tadc %B[v], r1\" : [v] \"+r\"(value));
#else
    value = (uint16_t)((uint16_t)(value ^ 0x8000u) >> {});
    value = (uint16_t)((value >> 1) + (value & 1u) - UINT16_C({}));
#endif
",
                bits - 1,
                1_u32 << (15 - bits)
            );
        }
    }
    text + "    return (int16_t)value;\n"
}

/// The type of a position in the table, and its product.
fn position(sensor: &Sensor<'_>) -> String {
    let plain = "typedef uint32_t front_end_sensor_position;
#define FRONT_END_SENSOR_TOO_WIDE(count) 0
";
    if !narrow(sensor) {
        return plain.to_owned();
    }
    let (raise, small) = match sensor.built.step_log2 {
        step_log2 @ 0..=8 => (8 - step_log2, include_str!("c/sensor_8.h")),
        step_log2 => (16 - step_log2, include_str!("c/sensor_16.h")),
    };
    format!(
        "/* 1: positions and products are of 16 bits, for 8-bit cores. The values are the same. */
#ifndef FRONT_END_SENSOR_16
#if defined(__AVR__)
#define FRONT_END_SENSOR_16 1
#else
#define FRONT_END_SENSOR_16 0
#endif
#endif

#if FRONT_END_SENSOR_16
typedef uint16_t front_end_sensor_position;
#define FRONT_END_SENSOR_TOO_WIDE(count) ((count) > UINT32_C(0xFFFF))
#define FRONT_END_SENSOR_RAISE {raise}

{small}
#else
{plain}#endif
"
    )
}

fn alarms(limits: &Limits, set: &[SetLimit]) -> String {
    let mut text = String::from(
        "/* ---- limits: one comparison of counts, with the verdict of comparing converted values at every count ----
 *
 * Beyond is strictly beyond. A count that is a fault belongs to the side it lies on. */
",
    );
    for set in set {
        let (trip, hold) = set.ends();
        let upper = set.name.identifier().to_uppercase();
        // Writing to a String cannot fail.
        let _ = write!(
            text,
            "#define FRONT_END_{upper}_TRIP UINT32_C({trip}) /* {} */
#define FRONT_END_{upper}_HOLD UINT32_C({hold})
",
            set.words
        );
    }
    let _ = write!(
        text,
        "/* Readings in a row that must agree, and whether an alarm stays until it is acknowledged. */
#define FRONT_END_ALARM_READINGS {}
#define FRONT_END_ALARM_LATCHES {}

{}",
        limits.debounce_readings,
        u8::from(limits.latching),
        include_str!("c/alarm.h")
    );
    text.push_str(
        "
/* Each takes a count, of the cell as drawn or of the sensor, and answers whether the alarm is active. */
",
    );
    for set in set {
        let (name, upper) = (set.name.identifier(), set.name.identifier().to_uppercase());
        let _ = write!(
            text,
            "static inline int front_end_{name}(front_end_alarm *alarm, uint32_t count)
{{
    return front_end_alarm_update(alarm, count, FRONT_END_{upper}_TRIP, FRONT_END_{upper}_HOLD, {});
}}
",
            u8::from(set.is_upper())
        );
    }
    text
}

fn calibrated(description: &Description<'_>, limits: &Limits, set: &[&SetLimit]) -> String {
    let rises = matches!(description.front_end.topology, Topology::DividedInput(_));
    let hysteresis = i64::from(limits.hysteresis_uv / description.front_end.unit_uv);
    let (mut fields, mut found, mut updates) = (String::new(), String::new(), String::new());
    for set in set {
        let name = set.name.identifier();
        let over = set.side == LimitSide::Over;
        let trip = i64::from(set.steps);
        let hold = if over {
            trip - hysteresis
        } else {
            trip + hysteresis
        };
        let _ = writeln!(fields, "    front_end_limit {name}; /* {} */", set.words);
        let _ = writeln!(
            found,
            "    if (!front_end_limit_of(module, {}, {trip}, {hold}, &limits->{name}))
        refusal = FRONT_END_LIMIT;",
            u8::from(over)
        );
        let _ = write!(
            updates,
            "static inline int front_end_calibrated_{name}(const front_end_limits *limits, front_end_alarm *alarm, uint32_t count)
{{
    return front_end_alarm_update(alarm, count, limits->{name}.trip, limits->{name}.hold, {});
}}
",
            u8::from(set.is_upper())
        );
    }
    format!(
        "#define FRONT_END_COUNT_RISES {}

{}
typedef struct {{
{fields}}} front_end_limits;

/* Finds a module's limits, once after it was loaded: new constants need new limits. FRONT_END_LIMIT when one, or where it
 * comes back, is not readable. */
static inline front_end_refusal front_end_calibrated_limits(const front_end_module *module, front_end_limits *limits)
{{
    front_end_refusal refusal = FRONT_END_ACCEPTED;
{found}    return refusal;
}}

/* The same as drawn has, with a module's own limits. */
{updates}",
        u8::from(rises),
        include_str!("c/calibrated_limits.h"),
    )
}
