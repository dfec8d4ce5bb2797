//! What each column of a file is: names as people write them, units, and the separator that makes sense of them.

use std::ops::Range;

use super::fields::{Fields, QuoteError};
use super::problem::{Complaint, quoted};

/// Separators that are looked for, and what they are called.
pub const SEPARATORS: [(u8, &str); 3] = [(b',', "comma"), (b';', "semicolon"), (b'\t', "tab")];

/// A column that a command reads.
#[derive(Debug, Clone, Copy)]
pub struct Wanted {
    /// Its name as the documentation writes it.
    pub key: &'static str,
    /// Its names without the unit, in small letters, one space between words.
    pub names: &'static [&'static str],
    /// Its units, in small letters, each with the power of ten that makes the key's unit of it; none where it has no unit.
    pub units: &'static [(&'static str, i32)],
    /// What stands for the key's unit where a name has none; without it such a name is refused.
    pub unit_may_lack: bool,
    /// Smallest and largest number, in the key's unit; nothing reads them where there are no units.
    pub limits: (f64, f64),
    /// Whether a file without it is refused.
    pub required: bool,
}

impl Wanted {
    /// A column without a unit.
    pub const fn plain(key: &'static str, names: &'static [&'static str]) -> Self {
        Self {
            key,
            names,
            units: &[],
            unit_may_lack: true,
            limits: (0.0, 0.0),
            required: true,
        }
    }

    /// A quantity, which says its unit.
    pub const fn quantity(
        key: &'static str,
        names: &'static [&'static str],
        units: &'static [(&'static str, i32)],
        limits: (f64, f64),
    ) -> Self {
        Self {
            key,
            names,
            units,
            unit_may_lack: false,
            limits,
            required: true,
        }
    }

    /// The same, where a file may do without it.
    pub const fn optional(mut self) -> Self {
        self.required = false;
        self
    }

    /// The same, where a name without a unit means the key's.
    pub const fn unit_may_lack(mut self) -> Self {
        self.unit_may_lack = true;
        self
    }

    /// Whether words are a name of this column: the power of ten of their unit; none where they lack one that they must say.
    fn reads(&self, words: &str) -> Option<Option<i32>> {
        self.names.iter().find_map(|name| {
            let rest = words.strip_prefix(name)?;
            if rest.is_empty() {
                return Some(self.unit_may_lack.then_some(0));
            }
            let unit = rest.strip_prefix(' ')?;
            let found = self.units.iter().find(|(word, _)| *word == unit)?;
            Some(Some(found.1))
        })
    }
}

/// A volt in millivolts, and so on.
pub const MILLIVOLTS: &[(&str, i32)] = &[
    ("mv", 0),
    ("millivolt", 0),
    ("millivolts", 0),
    ("v", 3),
    ("volt", 3),
    ("volts", 3),
    ("uv", -3),
];
pub const CELSIUS: &[(&str, i32)] = &[("c", 0), ("degc", 0), ("deg c", 0), ("celsius", 0)];
pub const SECONDS: &[(&str, i32)] = &[("s", 0), ("seconds", 0), ("ms", -3), ("milliseconds", -3)];

/// A wanted column in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Number of the field, from 0.
    pub at: usize,
    /// Its name as the file writes it.
    pub written: String,
    /// Power of ten that makes the wanted unit of the file's.
    pub power: i32,
}

/// A header that was understood.
#[derive(Debug, Clone)]
pub struct Header<const N: usize> {
    /// What stands between fields.
    pub separator: u8,
    pub columns: [Option<Column>; N],
    /// Further ones, which are not used.
    pub unused: Vec<String>,
    pub fields: usize,
}

/// Understands a header: with the separator that gives the most wanted columns.
///
/// # Errors
/// A complaint, and the bytes that it is about: a column that is missing, there twice, without its unit, or nearly named like a
/// wanted one.
pub fn header<const N: usize>(
    line: &[u8],
    wanted: &[Wanted; N],
) -> Result<Header<N>, (Range<usize>, Complaint)> {
    let tries = SEPARATORS.map(|(separator, _)| {
        let mut fields = Fields::default();
        let split = fields.split(line, separator);
        (separator, fields, split)
    });
    let score = |fields: &Fields| {
        let names = (0..fields.len()).map(|at| words(fields.value(line, at)));
        names
            .filter(|name| wanted.iter().any(|wanted| wanted.reads(name).is_some()))
            .count()
    };
    // The first of several that are equally good: a header without any wanted column is complained of as commas.
    let [comma, semicolon, tab] = &tries;
    let mut best = comma;
    for tried in [semicolon, tab] {
        if score(&tried.1) > score(&best.1) {
            best = tried;
        }
    }
    let (_, fields, _) = best;
    with(line, best, wanted).map_err(|complaint| {
        let whole = 0..line.len();
        let place = complaint.field.map_or(whole, |at| fields.place(at));
        (place, complaint)
    })
}

/// The same with one separator, the fields it makes, and whether they end as they must.
fn with<const N: usize>(
    line: &[u8],
    (separator, fields, split): &(u8, Fields, Result<(), QuoteError>),
    wanted: &[Wanted; N],
) -> Result<Header<N>, Complaint> {
    if line.contains(&0) {
        let rule = "bytes 0 in the header: UTF-16 without a byte order mark?".to_owned();
        let fix = "save the file as UTF-8, or with its byte order mark";
        return Err(Complaint::new(rule, fix));
    }
    if let Err(wrong) = split {
        return Err(wrong.complaint());
    }
    let mut columns: [Option<Column>; N] = std::array::from_fn(|_| None);
    let mut unused = Vec::new();
    for at in 0..fields.len() {
        let written = quoted(fields.value(line, at));
        let words = words(fields.value(line, at));
        let mut reads = columns
            .iter_mut()
            .zip(wanted)
            .filter_map(|(column, wanted)| Some((column, wanted, wanted.reads(&words)?)));
        let Some((column, wanted_one, unit)) = reads.next() else {
            if let Some(near) = near(&words, wanted) {
                let rule = format!("column `{written}` is not known and nearly `{near}`");
                return Err(Complaint::new(rule, listed(wanted)).at(at));
            }
            unused.push(written);
            continue;
        };
        let Some(power) = unit else {
            let units: Vec<&str> = wanted_one.units.iter().map(|(unit, _)| *unit).collect();
            let rule = format!("column `{written}` does not say its unit");
            let fix = format!(
                "name it like {}; units: {}",
                wanted_one.key,
                units.join(", ")
            );
            return Err(Complaint::new(rule, fix).at(at));
        };
        if let Some(earlier) = column {
            let rule = if earlier.written == written {
                format!("column `{written}` stands twice")
            } else {
                let earlier = &earlier.written;
                format!("`{earlier}` and `{written}` both mean {}", wanted_one.key)
            };
            return Err(Complaint::new(rule, "rename or remove the one that is not meant").at(at));
        }
        *column = Some(Column { at, written, power });
    }
    let missing = columns
        .iter()
        .zip(wanted)
        .find(|(column, wanted)| column.is_none() && wanted.required);
    if let Some((_, missing)) = missing {
        let rule = format!("column `{}` is missing", missing.key);
        return Err(Complaint::new(rule, listed(wanted)));
    }
    Ok(Header {
        separator: *separator,
        columns,
        unused,
        fields: fields.len(),
    })
}

/// A wanted column that a name is one wrong letter from.
fn near(words: &str, wanted: &[Wanted]) -> Option<&'static str> {
    let plain = words.replace(' ', "");
    let far = |name: &str| strsim::damerau_levenshtein(&plain, &name.replace([' ', '_'], "")) > 1;
    wanted
        .iter()
        .find(|wanted| {
            let mut names = wanted.names.iter().chain(std::iter::once(&wanted.key));
            names.any(|name| name.len() >= 4 && !far(name))
        })
        .map(|wanted| wanted.key)
}

fn listed(wanted: &[Wanted]) -> String {
    let of = |required: bool| {
        let wanted = wanted.iter().filter(|wanted| wanted.required == required);
        let keys: Vec<&str> = wanted.map(|wanted| wanted.key).collect();
        keys.join(",")
    };
    let (required, optional) = (of(true), of(false));
    if optional.is_empty() {
        format!("write the header {required}")
    } else {
        format!("write the header {required}; optional: {optional}")
    }
}

/// A name in small letters, its words one space apart: `Meter [mV]` and `meter_mv` are the same.
fn words(name: &[u8]) -> String {
    let name = String::from_utf8_lossy(name).to_lowercase();
    // The sign of a degree is no letter, and a micro is written u.
    let name = name.replace(['\u{B5}', '\u{3BC}'], "u");
    let words = name.split(|c: char| !c.is_alphanumeric());
    words
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

#[cfg(test)]
mod tests {
    use super::{CELSIUS, Header, MILLIVOLTS, Wanted, header};

    const WANTED: [Wanted; 4] = [
        Wanted::plain("module", &["module", "module name"]),
        Wanted::quantity(
            "meter_mv",
            &["meter", "voltage"],
            MILLIVOLTS,
            (1.0, 65_535.0),
        ),
        Wanted::plain("count", &["count", "counts"]),
        Wanted::quantity("temp_c", &["temp", "temperature"], CELSIUS, (-60.0, 200.0)).optional(),
    ];

    fn understood(line: &str) -> Result<Header<4>, String> {
        header(line.as_bytes(), &WANTED).map_err(|(_, complaint)| complaint.rule)
    }

    #[test]
    fn names_as_people_write_them() {
        for (line, separator, power) in [
            ("module,meter_mv,count,temp_c", b',', 0),
            (" Module ; Meter V ; Count ; Temp C", b';', 3),
            ("Module name\tVoltage_V\tcounts\tTemperature [°C]", b'\t', 3),
            ("\"Module\",\"voltage (µV)\",COUNT,temp degC,Note", b',', -3),
        ] {
            let found = understood(line).expect(line);
            assert_eq!(found.separator, separator, "{line}");
            let column = found.columns[1].as_ref().expect("the meter");
            assert_eq!((column.at, column.power), (1, power), "{line}");
            assert!(found.columns[3].is_some(), "{line}");
        }
    }

    #[test]
    fn further_columns_are_left_out_unless_they_are_nearly_known() {
        let found = understood("module,meter_mv,count,note,humidity,meter_range_mv");
        assert_eq!(
            found.expect("legal").unused,
            ["note", "humidity", "meter_range_mv"]
        );
        for (line, said) in [
            ("module,meter_mv,count,tmp_c", "nearly `temp_c`"),
            ("module,meter_mv,count,temp_f", "nearly `temp_c`"),
            ("module,metermv,cuont", "nearly"),
            ("module,meter,count", "does not say its unit"),
            ("module,meter_mv,voltage_v,count", "both mean meter_mv"),
            ("module,meter_mv,count,count", "stands twice"),
            ("module;meter_mv", "`count` is missing"),
            ("", "`module` is missing"),
            ("m\0o\0d\0", "UTF-16"),
            ("module,\"meter_mv,count", "not closed"),
            ("\"module\"s,meter_mv,count", "between a closing quote"),
        ] {
            let rule = understood(line).expect_err(line);
            assert!(rule.contains(said), "{line}: {rule}");
        }
    }
}
