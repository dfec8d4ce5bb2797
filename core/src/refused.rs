//! A refusal as a compile error: how to fix the description, and the values that were given.

use crate::error::ConfigError;
use crate::text::Text;

/// The values that an error is about, for reading behind its fix.
const fn values(error: &ConfigError, text: Text) -> Text {
    match *error {
        ConfigError::OutOfBounds { field, value, .. } => text
            .text(" (given: ")
            .fraction(value, field.fraction_bits()),
        ConfigError::SamplesNotPowerOfTwo { samples } => {
            text.text(" (given: ").unsigned(samples as u32)
        }
        ConfigError::ShiftTooLarge {
            right_shift,
            largest_count,
        } => text
            .text(" (shifted right by ")
            .unsigned(right_shift as u32)
            .text(", the largest count is ")
            .unsigned(largest_count),
        ConfigError::CellRangeEmpty { min_uv, max_uv } => text
            .text(" (lowest ")
            .unsigned(min_uv)
            .text(" uV, highest ")
            .unsigned(max_uv)
            .text(" uV"),
        ConfigError::CellAboveOutput { max_uv, limit_uv } => text
            .text(" (fullest cell ")
            .unsigned(max_uv)
            .text(" uV, largest output ")
            .unsigned(limit_uv)
            .text(" uV"),
        ConfigError::DividerAboveReference {
            pin_uv,
            reference_uv,
        } => text
            .text(" (the pin gets ")
            .unsigned(pin_uv)
            .text(" uV, the reference is ")
            .unsigned(reference_uv)
            .text(" uV"),
        ConfigError::ReferenceNotBelowCell {
            reference_uv,
            min_uv,
        } => text
            .text(" (reference ")
            .unsigned(reference_uv)
            .text(" uV, emptiest cell ")
            .unsigned(min_uv)
            .text(" uV"),
        ConfigError::TableTurnsBack { index } => text.text(" (at entry ").unsigned(index),
        ConfigError::TableCounts {
            first,
            counts,
            positions,
        } => text
            .text(" (first count ")
            .unsigned(first)
            .text(", counts ")
            .unsigned(counts)
            .text(", counts that the entries span ")
            .unsigned(positions),
        ConfigError::LimitNotReadable { limit } => text
            .text(" (given, in steps of the value: ")
            .number(limit as i64),
        ConfigError::HysteresisTooLong {
            limit_uv,
            hysteresis_uv,
        } => text
            .text(" (limit ")
            .unsigned(limit_uv)
            .text(" uV, hysteresis ")
            .unsigned(hysteresis_uv)
            .text(" uV"),
        ConfigError::WindowMismatch {
            window,
            samples,
            right_shift,
        } => text
            .text(" (window of ")
            .unsigned(window)
            .text(", samples ")
            .unsigned(samples as u32)
            .text(", right shift ")
            .unsigned(right_shift as u32),
        ConfigError::CountsWider {
            largest_count,
            bits,
        } => text
            .text(" (the largest count is ")
            .unsigned(largest_count)
            .text(", BITS is ")
            .unsigned(bits),
        ConfigError::Unproven { shift } => text.text(" (shifts up to ").unsigned(shift),
        ConfigError::Constants => return text,
    }
    .push(b')')
}

impl ConfigError {
    /// What `proven!` does with an error: the compiler shows the fix and the values given.
    #[doc(hidden)]
    #[track_caller]
    #[expect(
        clippy::panic,
        reason = "only a `const` block calls it, so the panic is a compile error"
    )]
    pub const fn refuse(&self) -> ! {
        let text = values(self, Text::new().text(self.fix()));
        panic!("{}", text.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Field;
    use crate::text::CAPACITY;

    /// As the compiler shows it: the fix, and the values where there are some.
    #[test]
    #[should_panic = "choose a lower reference (reference 2500000 uV, emptiest cell 2000000 uV)"]
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
            let text = values(&error, Text::new().text(error.fix()));
            assert!(text.length < CAPACITY, "{}", text.as_str());
            assert!(text.as_str().starts_with(error.fix()));
            assert!(text.as_str().ends_with(')'), "{}", text.as_str());
        }
    }
}
