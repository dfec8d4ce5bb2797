//! The header's calibrated part: a module's constants from the bytes of a record, and the conversion with them.

use super::c_quotient::denominator_bytes;
use super::description::Description;
use crate::describe::firmware::Constants;

/// What differs between the kinds of constants.
struct Kind<'a> {
    /// What the record's second byte is.
    letter: &'a str,
    /// Where the constants stand in it.
    layout: &'a str,
    /// Fields of a module beside the record.
    fields: &'a str,
    /// The conversion.
    convert: String,
    /// Variables of the check, and what it does.
    names: &'a str,
    take: String,
}

/// Refusals, constants, conversion and record.
pub(super) fn part(description: &Description<'_>) -> String {
    let bits = description.firmware.count_bits();
    let kind = match description.conversion.constants() {
        Constants::Line(_) => line(bits),
        Constants::Quotient(quotient) => quotients(denominator_bytes(&quotient, description.rail)),
    };
    let (whole, narrow) = if bits > 16 {
        ("FRONT_END_WORD(digit)", "")
    } else {
        (
            "((front_end_position)*(digit))",
            "(digit[5] | digit[7]) != 0 || ",
        )
    };
    let convert = format!("#define FRONT_END_WHOLE(digit) {whole}\n\n{}", kind.convert);
    include_str!("c/record.h")
        .replace("LETTER", kind.letter)
        .replace("/* LAYOUT */", kind.layout)
        .replace("/* FIELDS */", kind.fields)
        .replace("/* CONVERT */\n", &(convert + "\n"))
        .replace("/* NAMES */", kind.names)
        .replace("/* NARROW */", narrow)
        .replace("/* TAKE */", &kind.take)
}

/// A divided input. Counts wider than 16 bits have the long form only, in sums of 64 bits.
fn line(bits: u32) -> Kind<'static> {
    let (convert, take) = if bits > 16 {
        (
            include_str!("c/line_wide.h").to_owned(),
            include_str!("c/line_wide_take.h"),
        )
    } else {
        let shift = bits + 3;
        let text = include_str!("c/line.h").replace("/* PLACES */", &places(shift));
        (
            format!("#define FRONT_END_SHORT_SHIFT {shift}\n\n{text}"),
            include_str!("c/line_take.h"),
        )
    };
    Kind {
        letter: "S",
        layout: " *   8, 9 M  10, 11 B, where S is 32 without their lowest 16 bits  12, 13 these, of M and of B",
        fields: "",
        convert,
        names: "",
        take: take.to_owned(),
    }
}

/// Shifts for AVR that bring a value of 16 bits, from bit `shift` of a sum on, to the sum's upper half.
fn places(shift: u32) -> String {
    let (one, times) = if shift <= 16 {
        (
            r"lsl %B[l]\n\trol %A[v]\n\trol %B[v]\n\t",
            16_u32.saturating_sub(shift),
        )
    } else {
        (r"lsr %B[v]\n\tror %A[v]\n\t", shift.saturating_sub(16))
    };
    one.repeat(times as usize)
}

/// A supply reference, whose denominators' halves fit so many bytes.
fn quotients(bytes: Option<u32>) -> Kind<'static> {
    let (half, product) = match bytes {
        Some(2) => (
            "digit[11] << 15 | digit[10] >> 1",
            "(uint16_t)((uint16_t)position * half_step + half)",
        ),
        _ => (
            "FRONT_END_WORD(digit + 10) >> 1",
            "(uint32_t)(uint16_t)position * half_step + half",
        ),
    };
    let (avr, step) = match bytes {
        Some(_) => (
            include_str!("c/quotient_convert_avr.h")
                .replace("/* HALF */", half)
                .replace("/* PRODUCT */", product),
            include_str!("c/quotient_take_avr.h"),
        ),
        None => (String::new(), ""),
    };
    Kind {
        letter: "t",
        layout: " *   8, 9 K  10, 11 the first D  12, 13 what of K lies above its lowest 16 bits",
        fields: "#if FRONT_END_DIVISION == 1
    uint32_t raised[4]; /* K, the first D, floor(K / 2^24) and t, all for a D doubled until the largest is 2^26 or more */
#endif
",
        convert: include_str!("c/quotient_convert.h").replace("/* AVR */", &avr),
        names: "    const uint32_t end = UINT32_C(1) << 29;
    const uint8_t step_log2 = (uint8_t)(digit[0] >> 8);
    uint32_t largest = last;
    uint8_t i;
",
        take: include_str!("c/quotient_take.h").replace("/* STEP */", step),
    }
}
