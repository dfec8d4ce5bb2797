//! The C header: generated constants around fixed C templates (`c/*.h`), which are written for the name `front_end`.

use std::fmt::Write as _;

use tallyvolt::LineConstants;

use super::c_additions;
use super::c_calibrated;
use super::c_quotient::{division, quotients};
use super::c_sensing;
use super::description::Description;
use tallyvolt_analysis::describe::firmware::Constants;

/// The text of the header; `channel` is its last part, where it has one.
pub(super) fn header(description: &Description<'_>, channel: &str) -> String {
    let mut head = String::from("/* ");
    for (number, line) in description.head().iter().enumerate() {
        let sign = if number == 0 { "" } else { " * " };
        let _ = writeln!(head, "{}", format!("{sign}{line}").trim_end());
    }
    head.push_str(" */\n");
    let (constants, position) = (constants(description), position(description.rail));
    let (before, behind) = match description.conversion.constants() {
        Constants::Line(_) => ("BELOW_RANGE", "ABOVE_RANGE"),
        Constants::Quotient(_) => ("ABOVE_RANGE", "BELOW_RANGE"),
    };
    let faults = include_str!("c/faults.h")
        .replace("/* LAST */", c_sensing::last_faults(description))
        .replace("FAULT_BEFORE", before)
        .replace("FAULT_BEHIND", behind);
    let (as_drawn, calibrated) = (as_drawn(description), c_calibrated::part(description));
    let sensing = c_sensing::part(description);
    let mut parts = vec![
        &constants,
        &position,
        &faults,
        &as_drawn,
        include_str!("c/voltage.h"),
        &calibrated,
        &sensing,
        channel,
    ];
    parts.retain(|part| !part.is_empty());
    head + &description.names.put_into(&guarded(&parts.join("\n")))
}

/// A header's text, once in a program. Another text under the same name is an error; a fingerprint would not tell them apart, because it
/// knows no limits, sensors or channels.
fn guarded(text: &str) -> String {
    let sum = crc32fast::hash(text.as_bytes());
    format!(
        "#ifndef TALLYVOLT_FRONT_END_H
#define TALLYVOLT_FRONT_END_H {sum:#010x} /* another text has another number */

#include <stdint.h>

{text}
#elif TALLYVOLT_FRONT_END_H != {sum:#010x}
#error \"two different headers of the name front_end: generate both anew from one file, with the same options\"
#endif
"
    )
}

/// What an application may ask at compile time.
fn constants(description: &Description<'_>) -> String {
    let (first, last) = description.ends;
    let converter = &description.front_end.converter;
    format!(
        "/* A count is the sum of so many samples of so many bits, shifted right. */
#define FRONT_END_BITS {bits}
#define FRONT_END_SAMPLES {samples}
#define FRONT_END_RIGHT_SHIFT {right_shift}
#define FRONT_END_UNIT_UV UINT32_C({unit}) /* step of a voltage in microvolts */
#define FRONT_END_FIRST_COUNT UINT32_C({first}) /* the first count that is a voltage as drawn */
#define FRONT_END_COUNTS UINT32_C({counts}) /* how many are, from there on */
#define FRONT_END_RAIL_COUNT UINT32_C({rail}) /* the largest count; it and everything above is FRONT_END_RAIL */
#define FRONT_END_FINGERPRINT UINT32_C({fingerprint:#010x}) /* what a calibration record of this front end carries */

{}",
        include_str!("c/core.h"),
        bits = converter.bits,
        samples = converter.samples,
        right_shift = converter.right_shift,
        unit = description.front_end.unit_uv,
        counts = last - first + 1,
        rail = description.rail,
        fingerprint = description.firmware.fingerprint().0,
    )
}

/// The type of a position in the window: 16 bits where counts have no more and the core is of 8 bits.
fn position(rail: u32) -> String {
    if rail > 1 << 16 {
        "typedef uint32_t front_end_position;\n#define FRONT_END_TOO_WIDE(count) 0\n".to_owned()
    } else {
        include_str!("c/position.h").to_owned()
    }
}

/// The conversion with constants, at a position in the window.
fn as_drawn(description: &Description<'_>) -> String {
    let (helpers, body) = match description.conversion.constants() {
        Constants::Line(line) => (
            products(line.shift, description.rail),
            multiplier(&line, description.rail),
        ),
        Constants::Quotient(quotient) => (
            quotients(&quotient, description.rail),
            division(&quotient, description.rail),
        ),
    };
    format!(
        "{helpers}{gap}/* {formula}, with position = count - {first} below FRONT_END_COUNTS. */
static inline uint16_t front_end_as_drawn_at(front_end_position position)
{{
{body}}}
",
        gap = if helpers.is_empty() { "" } else { "\n" },
        formula = description.formula(),
        first = description.ends.0,
    )
}

/// What products of 16 bits need; nothing where counts are wider.
fn products(shift: u8, rail: u32) -> String {
    if rail > 1 << 16 {
        return String::new();
    }
    let upper = match shift {
        24 | 32 => include_str!("c/product_48.h"),
        _ => include_str!("c/product_32.h"),
    };
    include_str!("c/product_16.h").replace("/* UPPER */", upper.trim_end())
}

fn multiplier(line: &LineConstants, rail: u32) -> String {
    let (m, b, shift) = (line.factor, line.addend, line.shift);
    match shift {
        0..=23 => {
            // To a shift of 16, or on from there.
            let places = 16_u8.saturating_sub(shift);
            let rest = match shift.saturating_sub(16) {
                0 => String::new(),
                rest => format!(" >> {rest}"),
            };
            in_products_16(
                rail,
                line,
                &format!(
                    "front_end_upper_of_32(position, UINT32_C({}), UINT32_C({})){rest}",
                    m << places,
                    b << places
                ),
                &format!(
                    "    return (uint16_t)((UINT32_C({m}) * position + UINT32_C({b})) >> {shift});\n"
                ),
            )
        }
        24 | 32 => {
            let scaled = |value: u128| value << (32 - shift);
            let (high_m, low_m) = (scaled(m) >> 16, scaled(m) & 0xFFFF);
            let (high_b, low_b) = (scaled(b) >> 16, scaled(b) & 0xFFFF);
            in_products_16(
                rail,
                line,
                &format!(
                    "front_end_upper_of_48(position, UINT32_C({high_m}), UINT16_C({low_m}), UINT32_C({high_b}), UINT16_C({low_b}))"
                ),
                &format!(
                    "    const uint32_t low = UINT32_C({low_m}) * position + UINT32_C({low_b});
    return (uint16_t)((UINT32_C({high_m}) * position + UINT32_C({high_b}) + (low >> 16)) >> 16);
"
                ),
            )
        }
        _ => format!(
            "    const uint64_t low = UINT64_C({}) * position + UINT64_C({});
    return (uint16_t)((UINT64_C({}) * position + UINT64_C({}) + (low >> 32)) >> 32);
",
            m & 0xFFFF_FFFF,
            b & 0xFFFF_FFFF,
            m >> 32,
            b >> 32
        ),
    }
}

/// All ways where the core decides, one where counts are too wide for the others.
fn in_products_16(rail: u32, line: &LineConstants, small: &str, plain: &str) -> String {
    if rail > 1 << 16 {
        return plain.to_owned();
    }
    format!(
        "#ifdef FRONT_END_AVR_ADDS\n{}#elif defined(FRONT_END_PRODUCTS_16)\n    return (uint16_t)({small});\n#else\n{plain}#endif\n",
        c_additions::value(line)
    )
}
