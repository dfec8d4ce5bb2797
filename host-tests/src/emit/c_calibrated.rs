//! The header's calibrated part: a module's constants from a record's bytes, and the conversion with them.

use super::c;
use super::description::Description;
use crate::firmware::Constants;

/// Refusals, constants, conversion and record.
pub(super) fn part(description: &Description<'_>) -> String {
    let (module, take) = match description.conversion.constants() {
        Constants::Line(_) => line(description),
        Constants::Quotient(quotient) => {
            let (quick, take) = match c::denominator_bytes(&quotient, description.rail) {
                Some(_) => (
                    include_str!("c/supply_quick_avr.h"),
                    include_str!("c/supply_take_avr.h"),
                ),
                None => ("", ""),
            };
            (
                include_str!("c/supply_module.h").replace("/* AVR */", quick),
                include_str!("c/supply_take.h").replace("/* AVR */", take),
            )
        }
    };
    [
        include_str!("c/refusals.h"),
        &module,
        include_str!("c/calibrated_voltage.h"),
        &include_str!("c/record.h").replace("/* TAKE */", take.trim_end()),
    ]
    .join("\n")
}

/// Of a divided input. Counts wider than 16 bits have the long form only, in sums of 64 bits.
fn line(description: &Description<'_>) -> (String, String) {
    let bits = description.firmware.count_bits();
    let take = include_str!("c/divided_take.h");
    if bits > 16 {
        let module = "typedef uint64_t front_end_sum;\n\n".to_owned()
            + include_str!("c/divided_module.h")
            + "\n"
            + include_str!("c/divided_no_quick.h");
        return (module, take.replace("/* SHORT */\n", ""));
    }
    let shift = bits + 3;
    let module = format!(
        "#define FRONT_END_SHORT_SHIFT {shift}\ntypedef uint32_t front_end_sum;\n\n{}\n{}",
        include_str!("c/divided_module.h"),
        include_str!("c/divided_quick.h").replace("/* PLACES */", &places(shift)),
    );
    (
        module,
        take.replace("/* SHORT */\n", include_str!("c/divided_take_short.h")),
    )
}

/// Shifts that bring the value, of 16 bits from bit `shift` of a sum on, to the sum's upper half.
fn places(shift: u32) -> String {
    let (one, times) = if shift <= 16 {
        (
            "lsl %A[s]\\n\\trol %B[s]\\n\\trol %C[s]\\n\\trol %D[s]\\n\\t",
            16 - shift,
        )
    } else {
        ("lsr %D[s]\\n\\tror %C[s]\\n\\t", shift - 16)
    };
    one.repeat(times as usize)
}
