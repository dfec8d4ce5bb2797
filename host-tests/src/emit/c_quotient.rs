//! The C header's quotients: how wide a division is needed, and the shortest that each core has.

use tallyvolt::QuotientConstants;

use super::c_rows::rows;

/// The ways to form a quotient.
pub(super) fn quotients(quotient: &QuotientConstants, rail: u32) -> String {
    let seeds: Vec<u32> = (16..128_u32)
        .map(|index| {
            let middle = 2 * index + 1;
            (2 * (1 << 13) + middle) / (2 * middle)
        })
        .collect();
    let rows = rows(&seeds);
    let by_bytes = denominator_bytes(quotient, rail)
        .map_or_else(String::new, |bytes| format!("\n{}", short_division(bytes)));
    format!(
        "/* How quotients are formed. 0: by the core's divider. 1: by refining a reciprocal, for cores with a multiplier and no divider.
 * 2: bit by bit, for 8-bit cores. The values are the same. */
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
        include_str!("c/quotient_refined.h").replace("/* SEEDS */", &rows)
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

/// The body of the drawing's conversion: one quotient, in the way that the core takes.
pub(super) fn division(quotient: &QuotientConstants, rail: u32) -> String {
    let (k, step_log2, at_first) = (quotient.numerator, quotient.step_log2, quotient.at_first);
    // D is even; two of the ways take its half.
    let (half_step, half_first) = (step_log2 - 1, at_first / 2);
    let half = format!("((uint32_t)position << {half_step}) + UINT32_C({half_first})");
    let (low, high) = (k & 0xFFFF_FFFF, k >> 32);
    let short = match denominator_bytes(quotient, rail) {
        Some(_) => format!(
            "#elif FRONT_END_DIVISION == 2 && (defined(FRONT_END_AVR) || defined(FRONT_END_AVR_ADDS))
    return front_end_short_division((front_end_half_denominator)({half}), UINT32_C({low}), UINT16_C({high}));
"
        ),
        None => String::new(),
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
{short}#elif FRONT_END_DIVISION == 2
    return (uint16_t)front_end_long_division(({half}) << 1, UINT32_C({}), UINT16_C({}));
#else
    return (uint16_t)(({numerator} / ({half}) + 1) >> 1);
#endif
",
        k >> 16,
        k & 0xFFFF,
        raised_step = u32::from(step_log2) + doublings,
        raised_first = u64::from(at_first) << doublings,
        raised_low = raised & 0xFFFF_FFFF,
        raised_top = raised >> 24,
    )
}
