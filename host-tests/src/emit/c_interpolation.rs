//! The header's way from a position in the sensor's table to a temperature.

use super::sensing::Sensor;

/// The interpolation of `core/src/convert/table.rs`, lifted so that nothing negative is shifted: C leaves open what that gives.
pub(super) fn interpolation(sensor: &Sensor<'_>) -> String {
    let (step_log2, fraction_bits) = (sensor.built.step_log2(), sensor.built.fraction_bits());
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
    let table = &sensor.built.table;
    let gentle = |pair: &[i16]| match pair {
        [from, to] => to.checked_sub(*from).is_some(),
        _ => false,
    };
    table.high_wire < 1 << 16
        && table.first + table.counts <= 1 << 16
        && table.entries.windows(2).all(gentle)
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
    let of_raised = ("(uint8_t)raised", "(uint8_t)(raised >> 8)");
    let of_position = ("(uint8_t)position", "(uint8_t)(position >> 8)");
    let ((part, entry), text) = match step_log2 {
        0 | 7 | 8 => (
            of_raised,
            "    const uint16_t raised = (uint16_t)/* RAISED */;\n",
        ),
        5..=6 => (of_position, include_str!("c/segment_shifted.h")),
        1..=4 => (of_raised, include_str!("c/segment_8.h")),
        _ => (("part", "entry"), include_str!("c/segment_16.h")),
    };
    let places = if step_log2 <= 8 { 8 } else { 16 } - step_log2;
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
pub(super) fn position(sensor: &Sensor<'_>, rail: u32) -> Option<&'static str> {
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
