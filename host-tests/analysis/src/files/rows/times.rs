//! Times of a log: seconds from any zero, or ISO 8601, one way in a file.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::Offset;

use super::problem::{Complaint, quoted};

/// Largest time in seconds: some 3 million years, exact to a millisecond of a century in an f64.
pub const TIME_MAX: f64 = 1e14;

/// How a file writes its times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Seconds, or another unit that its column names.
    Seconds,
    /// ISO 8601 with an offset from UTC, or Z.
    Zoned,
    /// ISO 8601 without one: a clock that is never put forward or back.
    Clock,
}

impl Form {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Seconds => "seconds",
            Self::Zoned => "ISO 8601 with its offset from UTC",
            Self::Clock => "ISO 8601 without an offset, taken as one clock that is never changed",
        }
    }
}

/// The form of a field, and where it is ISO 8601 its seconds from 1970, UTC or by that clock.
pub fn iso(field: &[u8]) -> Option<(Form, f64)> {
    // Seconds have no colon, and a time of ISO 8601 without one is a date or a number.
    if !field.contains(&b':') {
        return None;
    }
    let text = std::str::from_utf8(field).ok()?;
    let (form, timestamp) = match text.parse::<Timestamp>() {
        Ok(timestamp) => (Form::Zoned, timestamp),
        Err(_) => {
            let clock: DateTime = text.parse().ok()?;
            (Form::Clock, Offset::UTC.to_timestamp(clock).ok()?)
        }
    };
    let part = f64::from(timestamp.subsec_nanosecond()) * 1e-9;
    Some((form, timestamp.as_second() as f64 + part))
}

/// Why a field is no time, after what a number makes of it: of a date, that it is no number tells nobody anything.
pub fn refused(complaint: Complaint, field: &[u8]) -> Complaint {
    let text = String::from_utf8_lossy(field).replace(',', ".");
    let number = text.is_empty() || text.parse::<f64>().is_ok();
    let date = || {
        let shown = quoted(field);
        format!("time = {shown} is neither seconds nor a time of ISO 8601")
    };
    Complaint {
        rule: if number { complaint.rule } else { date() },
        fix: "give seconds, or ISO 8601 like 2026-01-10T18:00:00Z".to_owned(),
        ..complaint
    }
}

/// The file's form after one more time.
///
/// # Errors
/// A complaint when the file wrote its times in another form before.
pub fn same(before: Option<Form>, now: Form, field: &[u8]) -> Result<Form, Complaint> {
    match before {
        Some(before) if before != now => Err(Complaint::new(
            format!(
                "time = {}: {}, and the rows before have {}",
                quoted(field),
                now.words(),
                before.words()
            ),
            "write all times of a file in one way",
        )),
        _ => Ok(now),
    }
}

#[cfg(test)]
mod tests {
    use super::{Form, iso, refused, same};
    use crate::files::rows::problem::Complaint;

    /// RFC 3339, section 5.8, has the first three; seconds from `date -u -d TEXT +%s`.
    #[test]
    fn iso_8601_is_read() {
        for (text, form, seconds) in [
            ("1985-04-12T23:20:50.52Z", Form::Zoned, 482_196_050.52),
            ("1996-12-19T16:39:57-08:00", Form::Zoned, 851_042_397.0),
            (
                "1937-01-01T12:00:27.87+00:20",
                Form::Zoned,
                -1_041_337_172.13,
            ),
            ("2026-01-10 18:00:00", Form::Clock, 1_768_068_000.0),
            ("2026-01-10T18:00", Form::Clock, 1_768_068_000.0),
        ] {
            let (found, value) = iso(text.as_bytes()).expect(text);
            assert_eq!(found, form, "{text}");
            assert!((value - seconds).abs() < 1e-6, "{text} {value}");
        }
        for text in ["12.5", "2026-01-10", "18:00", "10.01.2026 18:00", "::", ""] {
            assert_eq!(iso(text.as_bytes()), None, "{text}");
        }
    }

    #[test]
    fn a_date_is_not_called_a_wrong_number() {
        for (text, number) in [
            ("29.03.2026 10:00:00", false),
            ("29.03.2026", false),
            ("10:00", false),
            ("1e99", true),
            ("-1,5", true),
            ("", true),
        ] {
            let told = refused(Complaint::new("a rule".to_owned(), ""), text.as_bytes());
            assert_eq!(told.rule == "a rule", number, "{text}: {}", told.rule);
            assert!(told.fix.contains("ISO 8601"));
        }
    }

    #[test]
    fn two_forms_in_one_file_are_refused() {
        assert_eq!(same(None, Form::Clock, b"x"), Ok(Form::Clock));
        assert_eq!(same(Some(Form::Zoned), Form::Zoned, b"x"), Ok(Form::Zoned));
        assert!(same(Some(Form::Zoned), Form::Clock, b"x").is_err());
    }
}
