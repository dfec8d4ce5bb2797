//! The C header: constants made here around texts that are C themselves (`c/*.h`), written for a front end of the name
//! `front_end`.

use std::fmt::Write as _;

use tallyvolt::{LineConstants, QuotientConstants};

use super::c_calibrated;
use super::c_sensing;
use super::description::Description;
use crate::firmware::Constants;

/// The text of the header.
pub(super) fn header(description: &Description<'_>) -> String {
    let mut head = String::from("/* ");
    for (number, line) in description.head().iter().enumerate() {
        let sign = if number == 0 { "" } else { " * " };
        let _ = writeln!(head, "{}", format!("{sign}{line}").trim_end());
    }
    head.push_str(" */\n");
    let (constants, position) = (constants(description), position(description.rail));
    let faults =
        include_str!("c/faults.h").replace("/* LAST */", c_sensing::last_faults(description));
    let (as_drawn, calibrated) = (as_drawn(description), c_calibrated::part(description));
    let sensing = c_sensing::part(description);
    let mut parts = vec![
        "#ifndef TALLYVOLT_FRONT_END_H\n#define TALLYVOLT_FRONT_END_H\n\n#include <stdint.h>\n",
        &constants,
        &faults,
        &position,
        &as_drawn,
        include_str!("c/voltage.h"),
        &calibrated,
        &sensing,
        "#endif\n",
    ];
    parts.retain(|part| !part.is_empty());
    head + &description.names.put_into(&parts.join("\n"))
}

/// What an application may ask at compile time.
fn constants(description: &Description<'_>) -> String {
    let (first, last) = description.ends;
    let (before, behind) = match description.conversion.constants() {
        Constants::Line(_) => ("BELOW_RANGE", "ABOVE_RANGE"),
        Constants::Quotient(_) => ("ABOVE_RANGE", "BELOW_RANGE"),
    };
    format!(
        "/* Step of a voltage in microvolts. */
#define FRONT_END_UNIT_UV UINT32_C({unit})
/* The counts that are voltages as drawn: this many from the first on. */
#define FRONT_END_FIRST_COUNT UINT32_C({first})
#define FRONT_END_COUNTS UINT32_C({counts})
/* The largest count; it and everything above is FRONT_END_RAIL. */
#define FRONT_END_RAIL_COUNT UINT32_C({rail})
/* What a calibration record of this front end carries. */
#define FRONT_END_FINGERPRINT UINT32_C({fingerprint:#010x})
#define FRONT_END_FAULT_BEFORE FRONT_END_{before}
#define FRONT_END_FAULT_BEHIND FRONT_END_{behind}

{}",
        include_str!("c/core.h"),
        unit = description.front_end.unit_uv,
        counts = last - first + 1,
        rail = description.rail,
        fingerprint = description.firmware.fingerprint().0,
    )
}

/// The type of a position in the window: 16 bits where counts have no more and the core is of 8 bits.
fn position(rail: u32) -> String {
    let plain = "typedef uint32_t front_end_position;\n#define FRONT_END_TOO_WIDE(count) 0\n";
    if rail > 1 << 16 {
        return format!("#define FRONT_END_PRODUCTS_16 0\n{plain}");
    }
    format!(
        "/* 1: positions and products are of 16 bits, for 8-bit cores. The values are the same. */
#ifndef FRONT_END_PRODUCTS_16
#if defined(__AVR__)
#define FRONT_END_PRODUCTS_16 1
#else
#define FRONT_END_PRODUCTS_16 0
#endif
#endif

/* How far a count lies behind the first that is a voltage. */
#if FRONT_END_PRODUCTS_16
typedef uint16_t front_end_position;
#define FRONT_END_TOO_WIDE(count) ((count) > UINT32_C(0xFFFF))
#else
{plain}#endif
"
    )
}

/// The conversion with constants, at a position in the window.
fn as_drawn(description: &Description<'_>) -> String {
    let (helpers, body) = match description.conversion.constants() {
        Constants::Line(line) => (
            include_str!("c/product_16.h").to_owned(),
            multiplier(&line, description.rail),
        ),
        Constants::Quotient(quotient) => (quotients(), division(&quotient)),
    };
    format!(
        "{helpers}
/* {formula}, with position = count - {first} below FRONT_END_COUNTS. */
static inline uint16_t front_end_as_drawn_at(front_end_position position)
{{
{body}}}
",
        formula = description.formula(),
        first = description.ends.0,
    )
}

fn multiplier(line: &LineConstants, rail: u32) -> String {
    let (m, b, shift) = (line.factor, line.addend, line.shift);
    match shift {
        16 => in_products_16(
            rail,
            &format!("front_end_upper_of_32(position, UINT32_C({m}), UINT32_C({b}))"),
            &format!("    return (uint16_t)((UINT32_C({m}) * position + UINT32_C({b})) >> 16);\n"),
        ),
        0..=23 => in_products_16(
            rail,
            &format!("((uint32_t)UINT16_C({m}) * position + UINT32_C({b})) >> {shift}"),
            &format!(
                "    return (uint16_t)((UINT32_C({m}) * position + UINT32_C({b})) >> {shift});\n"
            ),
        ),
        24 | 32 => {
            let scaled = |value: u128| value << (32 - shift);
            let (high_m, low_m) = (scaled(m) >> 16, scaled(m) & 0xFFFF);
            let (high_b, low_b) = (scaled(b) >> 16, scaled(b) & 0xFFFF);
            in_products_16(
                rail,
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

/// Both ways where the core decides, one where counts are too wide for the first.
fn in_products_16(rail: u32, small: &str, plain: &str) -> String {
    if rail > 1 << 16 {
        return plain.to_owned();
    }
    format!("#if FRONT_END_PRODUCTS_16\n    return (uint16_t)({small});\n#else\n{plain}#endif\n")
}

/// The quotient for cores without a divider.
fn quotients() -> String {
    let seeds: Vec<String> = (16..128_u32)
        .map(|index| {
            let middle = 2 * index + 1;
            ((2 * (1 << 13) + middle) / (2 * middle)).to_string()
        })
        .collect();
    let rows: Vec<String> = seeds.chunks(16).map(|row| row.join(", ")).collect();
    format!(
        "/* How quotients are formed; the values are the same. 0: by the core's divider. 1: by refining a reciprocal, for cores with a
 * multiplier and no divider. 2: bit by bit, for 8-bit cores. */
#ifndef FRONT_END_DIVISION
#if defined(__AVR__)
#define FRONT_END_DIVISION 2
#elif defined(__ARM_ARCH_6M__) || (defined(__riscv) && defined(__riscv_mul) && !defined(__riscv_div))
#define FRONT_END_DIVISION 1
#else
#define FRONT_END_DIVISION 0
#endif
#endif

{}",
        include_str!("c/quotient.h").replace("/* SEEDS */", &rows.join(",\n    "))
    )
}

/// The least E that is too long for remainders of three bytes (`FRONT_END_SHORT_END` of `c/quotient.h`), and of two.
const SHORT_END: u64 = 0x80_0000;
const SHORTER_END: u64 = 0x8000;

fn division(quotient: &QuotientConstants) -> String {
    let (k, step_log2, at_first) = (quotient.numerator, quotient.step_log2, quotient.at_first);
    // D is even; the divisions here take its half and double it.
    let (step_log2, at_first) = (step_log2 - 1, at_first / 2);
    let mut largest_e = ((u64::from(quotient.counts - 1) << step_log2) + u64::from(at_first)) << 1;
    let denominator = format!("((uint32_t)position << {step_log2}) + UINT32_C({at_first})");
    let (h_low, h_high) = (k & 0xFFFF_FFFF, k >> 32);
    let bitwise = if largest_e < SHORTER_END {
        format!("front_end_shorter_division((uint16_t)({denominator}), UINT32_C({h_low}))")
    } else {
        let (name, argument) = if largest_e < SHORT_END {
            ("short", denominator.clone())
        } else {
            ("long", format!("({denominator}) << 1"))
        };
        format!("front_end_{name}_division({argument}, UINT32_C({h_low}), UINT32_C({h_high}))")
    };
    let mut doublings = 0;
    while largest_e < 1 << 26 {
        largest_e <<= 1;
        doublings += 1;
    }
    let raised = k << doublings;
    let numerator = if u32::try_from(k).is_ok() {
        format!("UINT32_C({k})")
    } else {
        format!("UINT64_C({k})")
    };
    format!(
        "#if FRONT_END_DIVISION == 1
    static const uint32_t numerator[2] = {{ UINT32_C({low}), UINT32_C({top}) }};
    return front_end_refined(((uint32_t)position << {e_log2}) + UINT32_C({e_first}), numerator);
#elif FRONT_END_DIVISION == 2
    return {bitwise};
#else
    return (uint16_t)(({numerator} / ({denominator}) + 1) >> 1);
#endif
",
        e_log2 = u32::from(step_log2) + 1 + doublings,
        e_first = u64::from(at_first) << (1 + doublings),
        low = raised & 0xFFFF_FFFF,
        top = raised >> 24,
    )
}
