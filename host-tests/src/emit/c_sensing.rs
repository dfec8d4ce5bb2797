//! The header's temperature sensor, limits and alarms.

use std::fmt::Write as _;

use tallyvolt::{LimitSide, SensorSide};
use tallyvolt_model::front_end::{Limits, Topology};

use super::c_rows::rows;
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
    let sensors = sensing.sensor.iter();
    let mut parts: Vec<String> = sensors
        .map(|drawn| sensor(drawn, description.rail))
        .collect();
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

fn sensor(sensor: &Sensor<'_>, rail: u32) -> String {
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
    let (rows, position) = (rows(&built.entries), position(sensor, rail));
    let table = format!(
        "/* Every {step} counts from the first on, in steps of {entry_step}. */
static const int16_t front_end_temperatures[{entries}] FRONT_END_IN_FLASH = {{
    {rows}
}};

{at}",
        step = 1_u32 << built.step_log2,
        entry_step = sensor.entry_step(),
        entries = built.entries.len(),
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
        first = built.first,
        counts = built.counts,
        low = built.low_wire,
        high = built.high_wire,
        text = include_str!("c/sensor.h")
            .replace("/* POSITION */\n\n", position.unwrap_or_default())
            .replace("/* FLASH */", include_str!("c/flash.h").trim_end())
            .replace("/* TABLE */", table.trim_end())
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

/// The interpolation of `core/src/convert/table.rs`, lifted so that nothing negative is shifted: C leaves open what that gives.
fn interpolation(sensor: &Sensor<'_>) -> String {
    let (step_log2, fraction_bits) = (sensor.built.step_log2, sensor.built.fraction_bits);
    let shift = step_log2 + fraction_bits;
    let half = (1_u32 << shift) >> 1;
    let (share, small, end) = if narrow(sensor) {
        let share = match step_log2 {
            0..=8 => include_str!("c/sensor_8.h"),
            _ => include_str!("c/sensor_16.h"),
        };
        let avr = "#if defined(FRONT_END_AVR) || defined(FRONT_END_AVR_ADDS)\n";
        (
            format!("{avr}{}#endif\n\n", rounded(share, fraction_bits == 0)),
            format!("{avr}{}#else\n", small(step_log2, fraction_bits)),
            "#endif\n",
        )
    } else {
        (String::new(), String::new(), "")
    };
    format!(
        "{share}/* floor((e[i] * 2^{step_log2} + (e[i + 1] - e[i]) * f) / 2^{shift} + 1/2) for position = i * 2^{step_log2} + f, before the last entry. Without
 * assembly modulo 2^32 and lifted by 2^15 entry steps, so that it is not negative: below 2^{whole} before the one shift. */
static inline int16_t front_end_temperature_at(front_end_sensor_position position)
{{
    int16_t from, to;
{small}    const uint32_t part = position & UINT32_C({mask});
    front_end_entries(front_end_temperatures + (uint8_t)(position >> {step_log2}), &from, &to);
    const uint32_t value = ((uint32_t)from << {step_log2}) + ((uint32_t)to - (uint32_t)from) * part + UINT32_C({lift});
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

/// The same for AVR in products of 16 bits: the part of a step in 2^8 or 2^16, then the entries' own fraction, whose last bit
/// that is dropped rounds.
fn small(step_log2: u8, fraction_bits: u8) -> String {
    let (part, entry, segment) = segment(step_log2);
    let sum = format!("(from + front_end_share((int16_t)(to - from), {part}))");
    let entries =
        format!("{segment}    front_end_entries(front_end_temperatures + {entry}, &from, &to);\n");
    if fraction_bits == 0 {
        return format!("{entries}    return (int16_t){sum};\n");
    }
    let halvings = [r"asr %B[v]\n\tror %A[v]\n\t"].repeat(fraction_bits.into());
    let rows: Vec<String> = halvings.chunks(4).map(<[&str]>::concat).collect();
    let halved = format!(
        "    __asm__(\"{}adc %A[v], r1\\n\\tadc %B[v], r1\" : [v] \"+r\"(value));\n",
        rows.join("\"\n            \"")
    );
    // Many halvings take more flash than a shift in C, lifted by 2^15 so that nothing negative is shifted.
    let halved = if fraction_bits < 5 {
        halved
    } else {
        format!(
            "#ifdef FRONT_END_AVR
{halved}#else
    value = (uint16_t)((uint16_t)(value ^ 0x8000u) >> {});
    value = (uint16_t)((uint16_t)((uint16_t)(value + 1) >> 1) - UINT16_C({}));
#endif
",
            fraction_bits - 1,
            1_u32 << (15 - fraction_bits)
        )
    };
    format!("{entries}    uint16_t value = (uint16_t){sum};\n{halved}    return (int16_t)value;\n")
}

/// A share of a rise, to nearest where the entries have no fraction, which else rounds.
fn rounded(share: &str, nearest: bool) -> String {
    [
        ("/* HALF */", " + 1/2"),
        ("/* ROUNDS */", "    uint8_t rounds;\n"),
        ("/* MOV */", r"mov %[rounds], r0\n\t"),
        ("/* WRITTEN */", r#", [rounds] "=&r"(rounds)"#),
        ("/* ZERO */", ", rounds = 0"),
        ("/* ROR */", r"ror %[rounds]\n\t"),
        ("/* CHANGED */", r#", [rounds] "+r"(rounds)"#),
    ]
    .iter()
    .fold(share.to_owned(), |text, (place, filled)| {
        text.replace(place, if nearest { filled } else { "" })
    })
    .replace(
        "/* SHARE */",
        if nearest {
            "(rounds >= 0x80 ? share + 1 : share)"
        } else {
            "share"
        },
    )
}

/// The part left of a step and the table's entry before a position, and the statements that find them. A shift by few bits,
/// either way, is short without a multiplier too.
fn segment(step_log2: u8) -> (&'static str, &'static str, String) {
    let (part, entry, places, text) = match step_log2 {
        0 | 7 | 8 => (
            "(uint8_t)raised",
            "(uint8_t)(raised >> 8)",
            8 - step_log2,
            "    const uint16_t raised = (uint16_t)/* RAISED */;\n",
        ),
        5..=6 => (
            "(uint8_t)position",
            "(uint8_t)(position >> 8)",
            8 - step_log2,
            include_str!("c/segment_shifted.h"),
        ),
        1..=4 => (
            "(uint8_t)raised",
            "(uint8_t)(raised >> 8)",
            8 - step_log2,
            include_str!("c/segment_8.h"),
        ),
        _ => (
            "part",
            "entry",
            16 - step_log2,
            include_str!("c/segment_16.h"),
        ),
    };
    let raised = match places {
        0 => "position".to_owned(),
        places => format!("(position << {places})"),
    };
    let text = text
        .replace("/* RAISED */", &raised)
        .replace(
            "/* SHIFTS */",
            &[r"lsl %A[k]\n\trol %B[k]"; 8][..places.into()].join(r"\n\t"),
        )
        .replace("/* TIMES */", &(1_u32 << places).to_string())
        .replace("/* STEP */", &step_log2.to_string());
    (part, entry, text)
}

/// Whether a position in the table has the type of one in the window, and else its own.
fn position(sensor: &Sensor<'_>, rail: u32) -> Option<&'static str> {
    match (narrow(sensor), rail <= 1 << 16) {
        (true, true) => None,
        (true, false) => Some(
            "#ifdef __AVR__
typedef uint16_t front_end_sensor_position;
#define FRONT_END_SENSOR_TOO_WIDE(count) ((count) > UINT32_C(0xFFFF))
#else
typedef uint32_t front_end_sensor_position;
#define FRONT_END_SENSOR_TOO_WIDE(count) 0
#endif

",
        ),
        (false, _) => Some(
            "typedef uint32_t front_end_sensor_position;
#define FRONT_END_SENSOR_TOO_WIDE(count) 0

",
        ),
    }
}

fn alarms(limits: &Limits, set: &[SetLimit]) -> String {
    let mut text = String::from(
        "/* ---- limits: one comparison of counts, with the verdict of comparing converted values at every count ----
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
        "#define FRONT_END_ALARM_READINGS {} /* as many in a row must agree */
#define FRONT_END_ALARM_LATCHES {} /* 1: an alarm stays until it is acknowledged */

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
{{ return front_end_alarm_update(alarm, count, FRONT_END_{upper}_TRIP, FRONT_END_{upper}_HOLD, {}); }}
",
            u8::from(set.is_upper())
        );
    }
    text
}

fn calibrated(description: &Description<'_>, limits: &Limits, set: &[&SetLimit]) -> String {
    let rises = matches!(description.front_end.topology, Topology::DividedInput(_));
    let hysteresis = i64::from(limits.hysteresis_uv / description.front_end.unit_uv);
    let (mut fields, mut found, mut updates) = (String::new(), Vec::new(), String::new());
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
        found.push(format!(
            "front_end_limit_of(module, {}, {trip}, {hold}, &limits->{name})",
            u8::from(over)
        ));
        let _ = write!(
            updates,
            "static inline int front_end_calibrated_{name}(const front_end_limits *limits, front_end_alarm *alarm, uint32_t count)
{{ return front_end_alarm_update(alarm, count, limits->{name}.trip, limits->{name}.hold, {}); }}
",
            u8::from(set.is_upper())
        );
    }
    format!(
        "#define FRONT_END_COUNT_RISES {}
{}
typedef struct {{
{fields}}} front_end_limits;

/* Finds a module's limits after each load. FRONT_END_LIMIT when one, or where it comes back, is not readable. */
static inline front_end_refusal front_end_calibrated_limits(const front_end_module *module, front_end_limits *limits)
{{
    return (front_end_refusal)({found});
}}

/* The same as drawn has, with a module's own limits. */
{updates}",
        u8::from(rises),
        include_str!("c/calibrated_limits.h"),
        found = found.join("\n        | "),
    )
}
