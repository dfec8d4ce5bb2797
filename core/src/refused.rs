//! A refusal in words, with the values that were given: as text, and behind its fix as a compile error.

use core::fmt;

use crate::error::ConfigError;
use crate::text::Text;

/// What is wrong, with the values.
const fn sentence(error: &ConfigError) -> Text {
    let text = Text::new();
    match *error {
        ConfigError::OutOfBounds {
            field,
            value,
            min,
            max,
        } => text
            .text(field.name())
            .text(" is ")
            .fraction(value, field.fraction_bits())
            .text(", allowed are ")
            .fraction(min, field.fraction_bits())
            .text(" to ")
            .fraction(max, field.fraction_bits()),
        ConfigError::SamplesNotPowerOfTwo { samples } => text.filled(
            "samples in a count is #, not a power of two",
            &[samples as i64],
        ),
        ConfigError::ShiftTooLarge {
            right_shift,
            largest_count,
        } => text.filled(
            "right shift # leaves # as the largest count, at least 2 is needed",
            &[right_shift as i64, largest_count as i64],
        ),
        ConfigError::CellRangeEmpty { min_uv, max_uv } => text.filled(
            "the cell's lowest voltage, # uV, is not below its highest, # uV",
            &[min_uv as i64, max_uv as i64],
        ),
        ConfigError::CellAboveOutput { max_uv, limit_uv } => text.filled(
            "the fullest cell, # uV, is above the largest output, # uV",
            &[max_uv as i64, limit_uv as i64],
        ),
        ConfigError::DividerAboveReference {
            pin_uv,
            reference_uv,
        } => text.filled(
            "the fullest cell puts # uV on the converter's pin, above the reference of # uV",
            &[pin_uv as i64, reference_uv as i64],
        ),
        ConfigError::ReferenceNotBelowCell {
            reference_uv,
            min_uv,
        } => text.filled(
            "the supply reference, # uV, is not below the emptiest cell's # uV",
            &[reference_uv as i64, min_uv as i64],
        ),
        ConfigError::TableTurnsBack { index } => text.filled(
            "the temperature table turns back at entry #",
            &[index as i64],
        ),
        ConfigError::TableCounts {
            first,
            counts,
            positions,
        } => text.filled(
            "# counts from # on do not fit a table over # counts and its wire limits",
            &[counts as i64, first as i64, positions as i64],
        ),
        ConfigError::LimitNotReadable { limit } => text.filled(
            "no readable value lies on each side of the limit # (in steps of the value)",
            &[limit as i64],
        ),
        ConfigError::HysteresisTooLong {
            limit_uv,
            hysteresis_uv,
        } => text.filled(
            "with a hysteresis of # uV no voltage comes back inside the limit of # uV",
            &[hysteresis_uv as i64, limit_uv as i64],
        ),
        ConfigError::WindowMismatch {
            window,
            samples,
            right_shift,
        } => text.filled(
            "a window of # samples is not a sum of # samples shifted right by #",
            &[window as i64, samples as i64, right_shift as i64],
        ),
        ConfigError::CountsWider {
            largest_count,
            bits,
        } => text.filled(
            "the largest count, #, has more than # bits",
            &[largest_count as i64, bits as i64],
        ),
        ConfigError::Unproven { shift } => {
            text.filled("no line with a shift up to # is exact", &[shift as i64])
        }
        ConfigError::Constants => text.text(
            "module constants that leave no count a voltage, or one beyond the output's range",
        ),
    }
}

/// The fix, and behind it the values.
const fn refusal(error: &ConfigError) -> Text {
    let fix = Text::new().text(error.fix());
    match error {
        // The fix has the limits, or there is nothing that a person could compare.
        ConfigError::OutOfBounds { field, value, .. } => fix
            .text(" (given: ")
            .fraction(*value, field.fraction_bits())
            .text(")"),
        ConfigError::Constants => fix,
        _ => fix.text(" (").text(sentence(error).as_str()).text(")"),
    }
}

impl fmt::Display for ConfigError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(sentence(self).as_str())
    }
}

impl core::error::Error for ConfigError {}

impl ConfigError {
    /// What `proven!` does with an error: the compiler shows the fix and the values given.
    #[doc(hidden)]
    #[track_caller]
    #[expect(
        clippy::panic,
        reason = "only a `const` block calls it, so the panic is a compile error"
    )]
    pub const fn refuse(&self) -> ! {
        panic!("{}", refusal(self).as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Field;
    use crate::text::CAPACITY;

    /// As the compiler shows it: the fix, and the values where there are some.
    #[test]
    #[should_panic = "choose a lower reference (the supply reference, 2500000 uV, is not below the emptiest cell's 2000000 uV)"]
    fn a_refusal_is_the_fix_and_the_values() {
        let error = ConfigError::ReferenceNotBelowCell {
            reference_uv: 2_500_000,
            min_uv: 2_000_000,
        };
        error.refuse();
    }

    /// Constants have no values that a person could compare.
    #[test]
    #[should_panic = "or draw a circuit in which the output can hold some count"]
    fn a_refusal_without_values_ends_with_the_fix() {
        ConfigError::Constants.refuse();
    }

    #[test]
    fn every_message_fits() {
        let errors = [
            ConfigError::OutOfBounds {
                field: Field::Resistance,
                value: i64::MIN,
                min: 1,
                max: 2,
            },
            ConfigError::SamplesNotPowerOfTwo { samples: u16::MAX },
            ConfigError::CellRangeEmpty {
                min_uv: u32::MAX,
                max_uv: u32::MAX,
            },
            ConfigError::CellAboveOutput {
                max_uv: u32::MAX,
                limit_uv: u32::MAX,
            },
            ConfigError::ReferenceNotBelowCell {
                reference_uv: u32::MAX,
                min_uv: u32::MAX,
            },
            ConfigError::HysteresisTooLong {
                limit_uv: u32::MAX,
                hysteresis_uv: u32::MAX,
            },
            ConfigError::TableTurnsBack { index: u32::MAX },
            ConfigError::Unproven { shift: u32::MAX },
            ConfigError::WindowMismatch {
                window: u32::MAX,
                samples: u16::MAX,
                right_shift: u8::MAX,
            },
            ConfigError::TableCounts {
                first: u32::MAX,
                counts: u32::MAX,
                positions: u32::MAX,
            },
            ConfigError::DividerAboveReference {
                pin_uv: u32::MAX,
                reference_uv: u32::MAX,
            },
            ConfigError::CountsWider {
                largest_count: u32::MAX,
                bits: u32::MAX,
            },
            ConfigError::ShiftTooLarge {
                right_shift: u8::MAX,
                largest_count: u32::MAX,
            },
            ConfigError::LimitNotReadable { limit: i32::MIN },
        ];
        for error in errors {
            let text = refusal(&error);
            assert!(text.length < CAPACITY, "{}", text.as_str());
            assert!(text.as_str().starts_with(error.fix()));
            assert!(text.as_str().ends_with(')'), "{}", text.as_str());
        }
    }
}
