//! Numbers as benches write them: a decimal point, or a decimal comma where commas do not stand between fields.
//!
//! `3,285` may be 3.285 or 3285. Which sign a file means is settled by the first number that can mean one thing only, because of
//! its digits or because of the limits of its column; until then a number of two meanings is refused.

use super::problem::{Complaint, quoted};

/// The sign before the decimals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// `3.285`
    Point,
    /// `3,285`
    Comma,
}

impl Sign {
    /// In one word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Point => "point",
            Self::Comma => "comma",
        }
    }

    const fn character(self) -> char {
        match self {
            Self::Point => '.',
            Self::Comma => ',',
        }
    }
}

/// What a file's numbers look like, as far as is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Decimals {
    commas_separate: bool,
    settled: Option<(Sign, u64)>,
}

/// A number of a row: its column, its digits and what it may be.
#[derive(Debug, Clone)]
pub struct Asked<'a> {
    pub name: &'a str,
    pub field: &'a [u8],
    /// Power of ten that makes the wanted unit of the file's.
    pub power: i32,
    /// Smallest and largest in the wanted unit.
    pub limits: (f64, f64),
    /// Line, from 1.
    pub line: u64,
}

impl Decimals {
    /// Of a file with this separator: only a point where commas separate.
    pub const fn new(separator: u8) -> Self {
        Self {
            commas_separate: separator == b',',
            settled: None,
        }
    }

    /// The sign that the file uses, where it is known.
    pub fn sign(&self) -> Option<Sign> {
        if self.commas_separate {
            return Some(Sign::Point);
        }
        self.settled.map(|(sign, _)| sign)
    }

    /// A number in the wanted unit: the float nearest to the digits that were written, with their unit applied exactly.
    ///
    /// # Errors
    /// A complaint for what is no number, beyond the limits, or of two meanings.
    pub fn number(&mut self, asked: &Asked<'_>) -> Result<f64, Complaint> {
        let Asked {
            name,
            field,
            power,
            limits: (smallest, largest),
            line,
        } = asked;
        let text = std::str::from_utf8(field).unwrap_or("\u{FFFD}");
        let value = |text: &str| {
            parsed(text, *power).filter(|value| (*smallest..=*largest).contains(value))
        };
        let wrong = || {
            let unit = match power {
                0 => String::new(),
                power => format!(", times 10^{power},"),
            };
            let rule = if field.is_empty() {
                format!("{name} is empty")
            } else {
                let shown = quoted(field);
                format!("{name} = {shown}{unit} is not a number from {smallest} to {largest}")
            };
            Complaint::new(rule, "correct the value, or take the row out")
        };
        let refused = |what: &str, fix: &str| {
            let shown = quoted(field);
            Err(Complaint::new(format!("{name} = {shown}: {what}"), fix))
        };
        let signs = text.bytes().filter(|byte| b".,".contains(byte)).count();
        let comma = text.contains(',');
        if signs == 0 || self.commas_separate && !comma {
            return value(text).ok_or_else(wrong);
        }
        let thousands = "separators of thousands are not read";
        if self.commas_separate {
            let what = "a comma, in a file with commas between fields";
            let fix = "write a decimal point, or put semicolons or tabs between fields";
            return refused(what, fix);
        }
        if signs > 1 {
            let what = format!("more than one comma or point; {thousands}");
            return refused(&what, "write one, before the decimals");
        }
        let sign = if comma { Sign::Comma } else { Sign::Point };
        let decimal = value(&text.replace(sign.character(), "."));
        match self.settled {
            Some((settled, _)) if settled == sign => return decimal.ok_or_else(wrong),
            Some((settled, settled_at)) => {
                let (now, then) = (sign.word(), settled.word());
                let what = format!("a decimal {now}, and line {settled_at} has a decimal {then}");
                return refused(&what, "use one sign in the whole file");
            }
            None => {}
        }
        let grouped = as_thousands(text, sign).and_then(|whole| value(&whole));
        match (decimal, grouped) {
            (Some(decimal), None) => {
                self.settled = Some((sign, *line));
                Ok(decimal)
            }
            (None, None) => Err(wrong()),
            (None, Some(_)) => refused(thousands, &format!("leave the {} out", sign.word())),
            (Some(_), Some(_)) => {
                let [whole, decimal] = ["", "."].map(|as_| text.replace(sign.character(), as_));
                let what = format!("may be {decimal} or {whole}, and no number before tells which");
                refused(&what, &format!("write {whole}, or a fourth decimal"))
            }
        }
    }
}

/// The digits without the sign, where it could part thousands: one to three digits, the first not 0, and three behind.
fn as_thousands(text: &str, sign: Sign) -> Option<String> {
    let (whole, behind) = text.split_once(sign.character())?;
    let digits = whole.trim_start_matches(['+', '-']);
    let like = (1..=3).contains(&digits.len())
        && !digits.starts_with('0')
        && behind.len() == 3
        && digits
            .bytes()
            .chain(behind.bytes())
            .all(|b| b.is_ascii_digit());
    like.then(|| format!("{whole}{behind}"))
}

/// Plain decimals, with an exponent or without, times a power of ten: the nearest float of the exact product.
fn parsed(text: &str, power: i32) -> Option<f64> {
    let (mantissa, exponent) = match text.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, exponent.parse::<i32>().ok()?),
        None => (text, 0),
    };
    let number = mantissa
        .bytes()
        .all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'+' | b'-'));
    if !number {
        return None;
    }
    match exponent.checked_add(power)? {
        0 => mantissa.parse().ok(),
        exponent => format!("{mantissa}e{exponent}").parse().ok(),
    }
}

#[cfg(test)]
mod tests {
    use super::{Asked, Decimals};
    use proptest::prelude::*;

    fn read(decimals: &mut Decimals, field: &str, power: i32) -> Result<f64, String> {
        let asked = Asked {
            name: "meter_mv",
            field: field.as_bytes(),
            power,
            limits: (1e-3, 65_535.0),
            line: 7,
        };
        decimals.number(&asked).map_err(|complaint| complaint.rule)
    }

    #[test]
    fn what_can_mean_one_thing_is_read_and_settles_the_file() {
        for (field, power, value) in [
            ("3285,1", 0, 3285.1),
            ("3285.1", 0, 3285.1),
            ("3,285", 3, 3285.0),
            ("3.2851", 3, 3285.1),
            ("0,125", 0, 0.125),
            ("3285", 0, 3285.0),
            ("3285100", -3, 3285.1),
            ("32851e-1", 0, 3285.1),
        ] {
            let mut decimals = Decimals::new(b';');
            assert_eq!(read(&mut decimals, field, power), Ok(value), "{field}");
            assert_eq!(decimals.sign().is_some(), field.contains([',', '.']));
        }
        let mut decimals = Decimals::new(b';');
        assert!(read(&mut decimals, "3285,12", 0).is_ok());
        assert_eq!(read(&mut decimals, "3,285", 0), Ok(3.285));
        let said = read(&mut decimals, "3285.1", 0).expect_err("another sign");
        assert!(said.contains("line 7 has a decimal comma"), "{said}");
    }

    #[test]
    fn what_can_mean_two_things_is_refused_with_the_reason() {
        for (separator, field, said) in [
            (b';', "3,285", "may be 3.285 or 3285"),
            (b'\t', "3.285", "may be 3.285 or 3285"),
            (b';', "3.285,1", "thousands"),
            (b';', "1,234,567", "thousands"),
            (b',', "3285,1", "commas between fields"),
            (b',', "nan", "not a number"),
            (b',', "inf", "not a number"),
            (b',', "", "is empty"),
            (b',', "1e400", "not a number"),
            (b',', "1e99999999999", "not a number"),
            (b';', "70,000", "may be 70.000"),
        ] {
            let mut decimals = Decimals::new(separator);
            let rule = match read(&mut decimals, field, 0) {
                Err(rule) => rule,
                // Seventy thousand is beyond the meter: it is seventy.
                Ok(value) => {
                    assert_eq!((field, value), ("70,000", 70.0));
                    continue;
                }
            };
            assert!(rule.contains(said), "{field}: {rule}");
        }
    }

    proptest! {
        /// Volts and millivolts of the same digits are the same float, whichever sign was used.
        #[test]
        fn a_unit_changes_no_bit(whole in 1_u32..65, micro in 0_u32..1_000_000) {
            let volts = format!("{whole}.{micro:06}");
            let millivolts = format!("{whole}{:03}.{:03}", micro / 1000, micro % 1000);
            let exact = read(&mut Decimals::new(b','), &millivolts, 0);
            prop_assert_eq!(read(&mut Decimals::new(b','), &volts, 3), exact.clone());
            prop_assert_eq!(read(&mut Decimals::new(b';'), &volts.replace('.', ","), 3), exact);
        }
    }
}
