//! Typed reading of one TOML table, collecting every problem instead of stopping at the first.

mod reports;

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::ops::{Range, RangeInclusive};

use num_rational::BigRational;
use num_traits::{ToPrimitive, Zero};
use tallyvolt::bounds::Bound;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::decimal;
use super::problem::Problem;

/// What reading a file leaves behind besides its values.
#[derive(Debug, Default)]
pub(crate) struct Notes {
    /// What is wrong.
    pub(crate) problems: RefCell<Vec<Problem>>,
    /// Every key that was asked for, as `table.key`.
    pub(crate) keys: RefCell<BTreeSet<String>>,
}

impl Notes {
    pub(crate) fn note(&self, problem: Problem) {
        self.problems.borrow_mut().push(problem);
    }
}

/// A value with the place it was read from.
#[derive(Debug, Clone)]
pub struct Read<T> {
    /// The value.
    pub value: T,
    /// Its place in the text.
    pub span: Range<usize>,
}

/// Bytes of one of its lines.
pub(crate) const LINE_BYTES_MAX: usize = 300;

/// Reads one table; every key asked for is a known key, and the rest are reported by [`TableReader::finish`].
pub struct TableReader<'t> {
    text: &'t str,
    name: &'static str,
    span: Range<usize>,
    table: &'t DeTable<'t>,
    known: Vec<&'static str>,
    notes: &'t Notes,
}

impl<'t> TableReader<'t> {
    /// A whole file.
    pub(crate) fn root(text: &'t str, table: &'t DeTable<'t>, notes: &'t Notes) -> Self {
        Self {
            text,
            name: "",
            span: 0..0,
            table,
            known: Vec::new(),
            notes,
        }
    }

    /// A table below this one, if present.
    pub(crate) fn table(&mut self, key: &'static str) -> Option<TableReader<'t>> {
        let value = self.find(key)?;
        match value.get_ref() {
            DeValue::Table(table) => Some(TableReader {
                name: key,
                span: value.span(),
                ..TableReader::root(self.text, table, self.notes)
            }),
            other => {
                let rule = format!("is {}, a table is wanted", Self::article(other.type_str()));
                self.report(key, value.span(), rule, format!("write it as [{key}]"));
                None
            }
        }
    }

    /// A table that must be there.
    pub(crate) fn required_table(&mut self, key: &'static str) -> Option<TableReader<'t>> {
        if !self.has(key) {
            self.missing(key, format!("add a table [{key}]"));
        }
        self.table(key)
    }

    /// A string.
    pub(crate) fn text(&mut self, key: &'static str) -> Option<Read<String>> {
        let value = self.required(key, "a string in quotes")?;
        match value.get_ref() {
            DeValue::String(text) => Some(Read {
                value: text.to_string(),
                span: value.span(),
            }),
            other => {
                self.wrong_type(key, value, other, "a string in quotes");
                None
            }
        }
    }

    /// One of a few words.
    pub(crate) fn choice<T: Copy>(
        &mut self,
        key: &'static str,
        choices: &[(&str, T)],
    ) -> Option<Read<T>> {
        let read = self.text(key)?;
        let span = read.span;
        if let Some(&(_, value)) = choices.iter().find(|(word, _)| *word == read.value) {
            return Some(Read { value, span });
        }
        let words = choices.iter().map(|(word, _)| format!("\"{word}\""));
        let words = words.collect::<Vec<_>>().join(" or ");
        let fix = format!("write {key} = {}", words.split(" or ").next().unwrap_or(""));
        self.report(key, span, format!("must be {words}"), fix);
        None
    }

    /// One of a few words; the first is the default.
    pub(crate) fn choice_or<T: Copy>(
        &mut self,
        key: &'static str,
        choices: &[(&str, T)],
    ) -> Option<T> {
        let (_, default) = choices.first()?;
        self.or_else(key, *default, |table| {
            table.choice(key, choices).map(|read| read.value)
        })
    }

    /// What a key holds, or its default where it is left out.
    fn or_else<T>(
        &mut self,
        key: &'static str,
        default: T,
        read: impl FnOnce(&mut Self) -> Option<T>,
    ) -> Option<T> {
        if self.has(key) {
            return read(self);
        }
        self.known.push(key);
        Some(default)
    }

    /// A decimal that must be there, within limits (inclusive).
    pub(crate) fn decimal(
        &mut self,
        key: &'static str,
        limits: RangeInclusive<i64>,
        unit: &str,
    ) -> Option<Read<BigRational>> {
        let value = self.required(key, "a number")?;
        let span = value.span();
        let exact = match value.get_ref() {
            DeValue::Integer(integer) if integer.radix() == 10 => decimal::exact(integer.as_str()),
            DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix())
                .map(|whole| BigRational::from_integer(whole.into()))
                .map_err(|_| "not a number that fits".to_owned()),
            DeValue::Float(float) => decimal::exact(float.as_str()),
            other => {
                self.wrong_type(key, value, other, "a number");
                return None;
            }
        };
        let (low, high) = (*limits.start(), *limits.end());
        let [least, most] = [low, high].map(|end| BigRational::from_integer(end.into()));
        let (rule, fix) = match exact {
            Ok(value) if (least..=most).contains(&value) => return Some(Read { value, span }),
            Ok(_) => (
                format!("allowed are {low} to {high}{unit}"),
                "check the value and the unit in the key's name",
            ),
            Err(rule) => (rule, "write it as a plain decimal"),
        };
        self.report(key, span, rule, fix.to_owned());
        None
    }

    /// A decimal that may be left out.
    pub(crate) fn optional_decimal(
        &mut self,
        key: &'static str,
        limits: RangeInclusive<i64>,
        unit: &str,
    ) -> Option<BigRational> {
        Some(self.optional_read(key, limits, unit)?.value)
    }

    /// A decimal that must be there where another key is, and is 0 where it is left out else.
    pub(crate) fn decimal_if(
        &mut self,
        required: bool,
        key: &'static str,
        limits: RangeInclusive<i64>,
        unit: &str,
    ) -> Option<BigRational> {
        if required {
            return Some(self.decimal(key, limits, unit)?.value);
        }
        let read = self.optional_decimal(key, limits, unit);
        Some(read.unwrap_or_else(BigRational::zero))
    }

    /// A whole number that must be there, after multiplication by `scale` (1000 reads millivolts as microvolts).
    pub(crate) fn whole(
        &mut self,
        key: &'static str,
        limits: RangeInclusive<i64>,
        scale: i64,
        unit: &str,
    ) -> Option<Read<u32>> {
        let read = self.decimal(key, limits, unit)?;
        let scaled = &read.value * BigRational::from_integer(scale.into());
        let whole = scaled.is_integer().then(|| scaled.to_integer().to_u32());
        let span = read.span;
        if let Some(value) = whole.flatten() {
            return Some(Read { value, span });
        }
        let places = if scale == 1 { "no" } else { "at most 3" };
        let fix = "round it to what the unit in the key's name allows".to_owned();
        self.report(key, span, format!("may have {places} decimals"), fix);
        None
    }

    /// A whole number that may be left out, scaled as by [`TableReader::whole`].
    pub(crate) fn optional_whole(
        &mut self,
        key: &'static str,
        limits: RangeInclusive<i64>,
        scale: i64,
        unit: &str,
    ) -> Option<u32> {
        self.find(key)?;
        Some(self.whole(key, limits, scale, unit)?.value)
    }

    /// A whole number with a default.
    pub(crate) fn whole_or(
        &mut self,
        key: &'static str,
        limits: RangeInclusive<i64>,
        unit: &str,
        default: u32,
    ) -> Option<u32> {
        self.or_else(key, default, |table| {
            table.whole(key, limits, 1, unit).map(|read| read.value)
        })
    }

    /// `true` or `false`, with a default.
    pub(crate) fn truth_or(&mut self, key: &'static str, default: bool) -> Option<bool> {
        let Some(value) = self.find(key) else {
            return Some(default);
        };
        match value.get_ref() {
            DeValue::Boolean(truth) => Some(*truth),
            other => {
                self.wrong_type(key, value, other, "true or false");
                None
            }
        }
    }

    /// A decimal that may be left out, with its place.
    pub(crate) fn optional_read(
        &mut self,
        key: &'static str,
        limits: RangeInclusive<i64>,
        unit: &str,
    ) -> Option<Read<BigRational>> {
        self.find(key)?;
        self.decimal(key, limits, unit)
    }

    /// Counts a key as known without reading it.
    pub(crate) fn expect(&mut self, key: &'static str) {
        self.known.push(key);
    }

    /// Where the table itself stands.
    pub(crate) fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    /// Whether the table holds a key.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    fn find(&mut self, key: &'static str) -> Option<&'t Spanned<DeValue<'t>>> {
        if !self.known.contains(&key) {
            self.known.push(key);
        }
        self.table.get(key)
    }

    fn required(&mut self, key: &'static str, kind: &str) -> Option<&'t Spanned<DeValue<'t>>> {
        let found = self.find(key);
        if found.is_none() {
            self.missing(key, format!("add {key}, {kind}"));
        }
        found
    }
}

pub(super) fn within(bound: Bound) -> RangeInclusive<i64> {
    bound.min..=bound.max
}
