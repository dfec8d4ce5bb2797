//! A refusal as a compile error: how to fix the description, and the values that were given.
//!
//! A compiler that evaluates constants cannot format numbers, so their digits are written here.

use crate::error::ConfigError;

/// The longest fix has 115 bytes, and the longest values have 92.
const CAPACITY: usize = 256;

/// Text put together while compiling. What does not fit is left out.
#[derive(Clone, Copy)]
struct Text {
    bytes: [u8; CAPACITY],
    length: usize,
}

impl Text {
    const fn new() -> Self {
        Self {
            bytes: [0; CAPACITY],
            length: 0,
        }
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "length < CAPACITY before it grows by one"
    )]
    #[expect(clippy::indexing_slicing, reason = "length < CAPACITY")]
    const fn push(mut self, byte: u8) -> Self {
        if self.length < CAPACITY {
            self.bytes[self.length] = byte;
            self.length += 1;
        }
        self
    }

    const fn text(mut self, text: &str) -> Self {
        let mut rest = text.as_bytes();
        while let [first, others @ ..] = rest {
            self = self.push(*first);
            rest = others;
        }
        self
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "n % 10 is at most 9, and b'0' + 9 is below 2^8"
    )]
    const fn number(mut self, value: i64) -> Self {
        let mut digits = Self::new();
        let mut rest = value.unsigned_abs();
        loop {
            digits = digits.push(b'0' + (rest % 10) as u8);
            rest /= 10;
            if rest == 0 {
                break;
            }
        }
        if value < 0 {
            self = self.push(b'-');
        }
        // Least significant first: written from behind.
        let (mut reversed, _) = digits.bytes.split_at(digits.length);
        while let [others @ .., last] = reversed {
            self = self.push(*last);
            reversed = others;
        }
        self
    }

    const fn unsigned(self, value: u32) -> Self {
        self.number(value as i64)
    }

    /// All of it: only whole texts and digits were written, so a part of it is lost at most at the end.
    const fn as_str(&self) -> &str {
        match core::str::from_utf8(self.bytes.split_at(self.length).0) {
            Ok(text) => text,
            Err(_) => "",
        }
    }
}

/// The values that an error is about, for reading behind its fix.
const fn values(error: &ConfigError, text: Text) -> Text {
    match *error {
        ConfigError::OutOfBounds { value, .. } => text.text(" (given: ").number(value),
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

    #[test]
    fn digits_are_those_of_the_number() {
        for (value, digits) in [
            (0, "0"),
            (-7, "-7"),
            (10, "10"),
            (1_225_000, "1225000"),
            (i64::MAX, "9223372036854775807"),
            (i64::MIN, "-9223372036854775808"),
        ] {
            assert_eq!(Text::new().number(value).as_str(), digits);
        }
    }

    #[test]
    fn what_does_not_fit_is_left_out() {
        let full = (0..CAPACITY).fold(Text::new(), |text, _| text.push(b'7'));
        assert_eq!(full.length, CAPACITY);
        assert_eq!(full.number(-89).text("behind").as_str(), full.as_str());
    }

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
