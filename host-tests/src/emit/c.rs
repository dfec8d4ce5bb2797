//! The C header: constants made here around texts that are C themselves (`c/*.h`), written for a front end of the name
//! `front_end`.

use std::fmt::Write as _;

use tallyvolt::{LineConstants, QuotientConstants};

use super::c_additions;
use super::c_calibrated;
use super::c_sensing;
use super::description::Description;
use crate::firmware::Constants;

/// The text of the header; `channel` is its last part, where it has one.
pub(super) fn header(description: &Description<'_>, channel: &str) -> String {
    let mut head = String::from("/* ");
    for (number, line) in description.head().iter().enumerate() {
        let sign = if number == 0 { "" } else { " * " };
        let _ = writeln!(head, "{}", format!("{sign}{line}").trim_end());
    }
    head.push_str(" */\n");
    let guard = format!(
        "#if defined(TALLYVOLT_FRONT_END_H) && TALLYVOLT_FRONT_END_H != {fingerprint:#010x}
#error \"two different front ends of the name front_end\"
#endif
#ifndef TALLYVOLT_FRONT_END_H
#define TALLYVOLT_FRONT_END_H {fingerprint:#010x}

#include <stdint.h>
",
        fingerprint = description.firmware.fingerprint().0
    );
    let (constants, position) = (constants(description), position(description.rail));
    let faults =
        include_str!("c/faults.h").replace("/* LAST */", c_sensing::last_faults(description));
    let (as_drawn, calibrated) = (as_drawn(description), c_calibrated::part(description));
    let sensing = c_sensing::part(description);
    let mut parts = vec![
        &guard,
        &constants,
        &position,
        &faults,
        &as_drawn,
        include_str!("c/voltage.h"),
        &calibrated,
        &sensing,
        channel,
        "#endif\n",
    ];
    parts.retain(|part| !part.is_empty());
    head + &description.names.put_into(&parts.join("\n"))
}

/// What an application may ask at compile time.
fn constants(description: &Description<'_>) -> String {
    let (first, last) = description.ends;
    let converter = &description.front_end.converter;
    let (before, behind) = match description.conversion.constants() {
        Constants::Line(_) => ("BELOW_RANGE", "ABOVE_RANGE"),
        Constants::Quotient(_) => ("ABOVE_RANGE", "BELOW_RANGE"),
    };
    format!(
        "/* A count is the sum of so many samples of so many bits, shifted right. */
#define FRONT_END_BITS {bits}
#define FRONT_END_SAMPLES {samples}
#define FRONT_END_RIGHT_SHIFT {right_shift}
/* Step of a voltage in microvolts. */
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
    let with_multiplier = include_str!("c/product_16.h").replace("/* UPPER */", upper);
    format!("{with_multiplier}\n{}", include_str!("c/product_adds.h"))
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
        "#if FRONT_END_AVR_ADDS && FRONT_END_PRODUCTS_16\n{}#elif FRONT_END_PRODUCTS_16\n    return (uint16_t)({small});\n#else\n{plain}#endif\n",
        c_additions::value(line)
    )
}

/// The ways to form a quotient.
fn quotients(quotient: &QuotientConstants, rail: u32) -> String {
    let seeds: Vec<String> = (16..128_u32)
        .map(|index| {
            let middle = 2 * index + 1;
            ((2 * (1 << 13) + middle) / (2 * middle)).to_string()
        })
        .collect();
    let rows: Vec<String> = seeds.chunks(28).map(|row| row.join(", ")).collect();
    let by_bytes = denominator_bytes(quotient, rail)
        .map_or_else(String::new, |bytes| format!("\n{}", short_division(bytes)));
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

{}{by_bytes}
{}",
        include_str!("c/quotient.h"),
        include_str!("c/quotient_refined.h")
            .replace("/* SEEDS */", &rows.join(",\n    "))
            .replace("/* ASIDE */\n", include_str!("c/aside.h"))
    )
}

/// Bytes of the halves of denominators in the division for AVR, 2 or 3; none where counts or denominators are wider.
pub(super) fn denominator_bytes(quotient: &QuotientConstants, rail: u32) -> Option<u32> {
    let largest = largest_denominator(quotient);
    match largest {
        _ if rail >> 16 != 0 => None,
        0..0x1_0000 if rail >> 12 == 0 => Some(2),
        0..0x100_0000 => Some(3),
        _ => None,
    }
}

fn largest_denominator(quotient: &QuotientConstants) -> u64 {
    (u64::from(quotient.counts - 1) << quotient.step_log2) + u64::from(quotient.at_first)
}

/// Shift, compare and subtract for AVR, in so many bytes.
fn short_division(bytes: u32) -> String {
    let third = |text: &'static str| if bytes == 3 { text } else { "" };
    include_str!("c/quotient_avr.h")
        .replace(
            "/* END */",
            ["0x10000", "0x1000000"][usize::from(bytes == 3)],
        )
        .replace(
            "/* HALF */",
            ["uint16_t", "uint32_t"][usize::from(bytes == 3)],
        )
        .replace("/* ROL */", third("rol %C[r]\\n\\t"))
        .replace("/* CPC */", third("cpc %C[r], %C[d]\\n\\t"))
        .replace("/* SBC */", third("sbc %C[r], %C[d]\\n\\t"))
        .replace("/* HIGH */", third(" | (uint32_t)high << 16"))
        .replace("/* TOP */", ["r1", "%C[d]"][usize::from(bytes == 3)])
        .replace("/* ADC */", third("adc %C[r], r1\\n\\t"))
        .replace("/* ROR */", third("lsr %C[r]\\n\\t"))
        .replace(
            "/* VOID */",
            if bytes == 3 { "" } else { "\n    (void)high;" },
        )
}

fn division(quotient: &QuotientConstants, rail: u32) -> String {
    let (k, step_log2, at_first) = (quotient.numerator, quotient.step_log2, quotient.at_first);
    // D is even; two of the ways take its half.
    let (half_step, half_first) = (step_log2 - 1, at_first / 2);
    let half = format!("((uint32_t)position << {half_step}) + UINT32_C({half_first})");
    let (low, high) = (k & 0xFFFF_FFFF, k >> 32);
    let bitwise = match denominator_bytes(quotient, rail) {
        Some(_) => format!(
            "front_end_short_division((front_end_half_denominator)({half}), UINT32_C({low}), UINT16_C({high}))"
        ),
        None => format!(
            "(uint16_t)front_end_long_division(({half}) << 1, UINT32_C({}), UINT16_C({}))",
            k >> 16,
            k & 0xFFFF
        ),
    };
    let mut largest = largest_denominator(quotient);
    let mut doublings = 0;
    while largest < 1 << 26 {
        largest <<= 1;
        doublings += 1;
    }
    let raised = k << doublings;
    let numerator = if high == 0 {
        format!("UINT32_C({k})")
    } else {
        format!("UINT64_C({k})")
    };
    format!(
        "#if FRONT_END_DIVISION == 1
    static const uint32_t numerator[3] = {{ UINT32_C({raised_low}), 0, UINT32_C({raised_top}) }};
    return front_end_refined(((uint32_t)position << {raised_step}) + UINT32_C({raised_first}), numerator);
#elif FRONT_END_DIVISION == 2
    return {bitwise};
#else
    return (uint16_t)(({numerator} / ({half}) + 1) >> 1);
#endif
",
        raised_step = u32::from(step_log2) + doublings,
        raised_first = u64::from(at_first) << doublings,
        raised_low = raised & 0xFFFF_FFFF,
        raised_top = raised >> 24,
    )
}
