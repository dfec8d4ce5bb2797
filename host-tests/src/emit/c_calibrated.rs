//! The header's calibrated part: a module's constants from the bytes of a record, and the conversion with them.

use super::c_quotient::Short;
use super::description::Description;
use tallyvolt_analysis::describe::firmware::Constants;

/// What differs between the kinds of constants.
struct Kind<'a> {
    /// What the record's second byte is.
    letter: &'a str,
    /// Where the constants stand in it.
    layout: &'a str,
    /// Whether 32 bits of it are read at once too.
    words: bool,
    /// The conversion.
    convert: String,
    /// Variables of the check, and what it does.
    names: &'a str,
    or: &'a str,
    take: String,
}

/// Refusals, constants, conversion and record.
pub(super) fn part(description: &Description<'_>) -> String {
    let bits = description.firmware.count_bits();
    let kind = match description.conversion.constants() {
        Constants::Line(_) => line(bits),
        Constants::Quotient(quotient) => quotients(Short::of(&quotient, description.rail)),
    };
    let (whole, narrow) = if bits > 16 {
        ("FRONT_END_WORD(digit)", "")
    } else {
        (
            "((front_end_position)*(digit))",
            "(digit[5] | digit[7]) != 0 || ",
        )
    };
    let convert = format!(
        "#define FRONT_END_WHOLE(digit) {whole} /* a count */\n\n{}",
        kind.convert
    );
    include_str!("c/record.h")
        .replace("LETTER", kind.letter)
        .replace("/* LAYOUT */", kind.layout)
        .replace("/* CONVERT */\n", &(convert + "\n"))
        .replace("/* STRUCT */", if kind.words { "union" } else { "struct" })
        .replace(
            "/* WORD */",
            if kind.words {
                "    uint32_t word[FRONT_END_RECORD_BYTES / 4]; /* the same, where the lower digit comes first */\n"
            } else {
                ""
            },
        )
        .replace("/* NAMES */", kind.names)
        .replace("/* OR */", kind.or)
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
        convert,
        words: false,
        names: "",
        or: "",
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

/// A supply reference; without a short division where its counts are too wide.
fn quotients(short: Option<Short>) -> Kind<'static> {
    let filled = |text: &str| {
        short.map_or_else(String::new, |short| {
            // With a first D of 16 bits K + D / 2 has 32 at most, at any D of 17.
            text.replace("/* END */", &format!("{:#x}", short.end()))
                .replace(
                    "/* SUM */",
                    if short.wide { " && digit[11] == 0" } else { "" },
                )
                .replace("/* HIGH */", if short.high { ", 0" } else { "" })
        })
    };
    Kind {
        letter: "t",
        layout: " *   8, 9 K  10, 11 the first D  12, 13 what of K lies above its lowest 16 bits",
        convert: include_str!("c/quotient_convert.h")
            .replace(
                "/* SHORT */",
                &filled(include_str!("c/quotient_short_convert.h")),
            )
            .replace("/* END */", &filled("#endif\n")),
        words: short.is_some(),
        or: "\n        || (uint8_t)(step_log2 - 1) >= 28 || digit[13] != 0 || (digit[10] & 1) != 0 || digit[11] > 0x1FFF",
        names: "    const uint8_t step_log2 = (uint8_t)(digit[0] >> 8);
    uint32_t largest = last;
",
        take: include_str!("c/quotient_take.h").replace(
            "/* STEP */",
            &filled(include_str!("c/quotient_short_take.h")),
        ),
    }
}
