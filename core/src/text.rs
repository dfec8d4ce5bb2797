//! Text put together while compiling: a compiler that evaluates constants cannot format numbers, so their digits are written here.

/// The longest fix has 195 bytes, and the longest with values behind it 198.
pub(crate) const CAPACITY: usize = 256;

/// Text put together while compiling. What does not fit is left out.
#[derive(Clone, Copy)]
pub(crate) struct Text {
    bytes: [u8; CAPACITY],
    pub(crate) length: usize,
}

impl Text {
    pub(crate) const fn new() -> Self {
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
    pub(crate) const fn push(mut self, byte: u8) -> Self {
        if self.length < CAPACITY {
            self.bytes[self.length] = byte;
            self.length += 1;
        }
        self
    }

    pub(crate) const fn text(self, text: &str) -> Self {
        self.filled(text, &[])
    }

    #[expect(
        clippy::arithmetic_side_effects,
        reason = "n % 10 is at most 9, and b'0' + 9 is below 2^8"
    )]
    pub(crate) const fn number(mut self, value: i64) -> Self {
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

    /// Words with a number in place of each `#`.
    pub(crate) const fn filled(mut self, words: &str, mut numbers: &[i64]) -> Self {
        let mut rest = words.as_bytes();
        while let [byte, others @ ..] = rest {
            rest = others;
            match (*byte, numbers) {
                (b'#', [number, later @ ..]) => {
                    self = self.number(*number);
                    numbers = later;
                }
                (byte, _) => self = self.push(byte),
            }
        }
        self
    }

    /// A number of `fraction_bits` binary places in at most four decimal ones, rounded to nearest.
    ///
    /// # Range
    /// Below 2^48 where there are places: steps of a gain or an offset, 32 bits, are all that has them.
    #[expect(
        clippy::arithmetic_side_effects,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "below 2^48 times 10^4; a place is one of 24 at most; a digit is 0 to 9"
    )]
    pub(crate) const fn fraction(self, value: i64, fraction_bits: u32) -> Self {
        if fraction_bits == 0 {
            return self.number(value);
        }
        let ten_thousandths = (value * 10_000 + (1 << (fraction_bits - 1))) >> fraction_bits;
        let sign = if ten_thousandths < 0 { "-" } else { "" };
        let mut rest = ten_thousandths.abs() % 10_000;
        let mut text = self.text(sign).number(ten_thousandths.abs() / 10_000);
        if rest != 0 {
            text = text.push(b'.');
        }
        while rest != 0 {
            text = text.push(b'0' + (rest / 1000) as u8);
            rest = rest % 1000 * 10;
        }
        text
    }

    /// All of it: only whole texts and digits were written, so a part of it is lost at most at the end.
    pub(crate) const fn as_str(&self) -> &str {
        match core::str::from_utf8(self.bytes.split_at(self.length).0) {
            Ok(text) => text,
            Err(_) => "",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
    fn a_number_stands_for_each_sign_that_has_one() {
        for (words, numbers, filled) in [
            ("# of #", &[1, -2][..], "1 of -2"),
            ("# of #", &[7], "7 of #"),
            ("none", &[7], "none"),
            ("", &[], ""),
        ] {
            assert_eq!(Text::new().filled(words, numbers).as_str(), filled);
        }
    }

    #[test]
    fn what_does_not_fit_is_left_out() {
        let full = (0..CAPACITY).fold(Text::new(), |text, _| text.push(b'7'));
        assert_eq!(full.length, CAPACITY);
        assert_eq!(full.number(-89).text("behind").as_str(), full.as_str());
    }

    #[test]
    fn fractions_have_four_places_at_most() {
        for (value, bits, digits) in [
            (5_033_165, 24, "0.3"),
            (35_232_154, 24, "2.1"),
            (1 << 23, 24, "0.5"),
            (1 << 25, 24, "2"),
            (0, 24, "0"),
            (-1_048_577, 8, "-4096.0039"),
            (-77, 8, "-0.3008"),
            (12, 0, "12"),
            (i64::MIN, 0, "-9223372036854775808"),
        ] {
            assert_eq!(Text::new().fraction(value, bits).as_str(), digits);
        }
    }
}
