//! CSV files of readings and logs: their columns, and what is wrong with a row: file, line, rule and mend, the row shown.

use std::fmt;

use csv::{ByteRecord, StringRecord};
use miette::{
    Diagnostic, LabeledSpan, MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents,
};
use thiserror::Error;

/// Characters of a module's name: it becomes a file's name.
const NAME_CHARACTERS_MAX: usize = 64;
/// Bytes of a row that are shown.
const SHOWN_BYTES: usize = 200;

/// One row, or the header, that breaks a rule.
#[derive(Debug, Clone, Error)]
#[error("{file}:{line}: {rule}")]
pub struct RowProblem {
    /// The file.
    pub file: String,
    /// Line, from 1.
    pub line: u64,
    /// The row, fields joined by commas.
    pub row: String,
    /// The rule that is broken, with the value.
    pub rule: String,
    /// How to mend it.
    pub mend: String,
}

impl RowProblem {
    /// A problem of a row as it was read.
    #[must_use]
    pub fn new(file: &str, line: u64, row: &ByteRecord, (rule, mend): Complaint) -> Self {
        let fields: Vec<_> = row.iter().map(String::from_utf8_lossy).collect();
        Self {
            file: file.to_owned(),
            line,
            row: fields.join(",").chars().take(SHOWN_BYTES).collect(),
            rule,
            mend,
        }
    }

    /// In one line, without the row.
    #[must_use]
    pub fn line_text(&self) -> String {
        format!("{self} ({})", self.mend)
    }
}

/// A broken rule with its value, and the mend.
pub type Complaint = (String, String);

impl SourceCode for RowProblem {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        _before: usize,
        _after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let above = usize::try_from(self.line.saturating_sub(1)).unwrap_or(usize::MAX);
        Ok(Box::new(MietteSpanContents::new_named(
            self.file.clone(),
            self.row.as_bytes(),
            *span,
            above,
            0,
            1,
        )))
    }
}

impl Diagnostic for RowProblem {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.mend))
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        (!self.row.is_empty()).then_some(self)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let here = LabeledSpan::new_primary_with_span(Some("here".to_owned()), 0..self.row.len());
        Some(Box::new(std::iter::once(here)))
    }
}

/// Why a file gives no rows at all.
#[derive(Debug, Clone, Error)]
pub enum RowsError {
    /// The file could not be read.
    #[error("{file}: cannot be read: {reason}")]
    Unreadable {
        /// The file.
        file: String,
        /// The system's reason.
        reason: String,
    },
    /// The header names the wrong columns.
    #[error(transparent)]
    Header(RowProblem),
}

/// Where each wanted column stands.
///
/// # Errors
/// [`RowsError::Header`] for a missing, doubled or unknown column.
pub fn columns<const R: usize, const O: usize>(
    file: &str,
    header: &StringRecord,
    required: [&str; R],
    optional: [&str; O],
) -> Result<([usize; R], [Option<usize>; O]), RowsError> {
    let refuse = |rule: String| {
        let listed = required.join(",");
        let mend = match optional.as_slice() {
            [] => format!("write the header {listed}"),
            _ => format!(
                "write the header {listed}; optional: {}",
                optional.join(",")
            ),
        };
        RowsError::Header(RowProblem::new(
            file,
            1,
            header.as_byte_record(),
            (rule, mend),
        ))
    };
    for (at, name) in header.iter().enumerate() {
        let name = name.trim();
        if !required.contains(&name) && !optional.contains(&name) {
            return Err(refuse(format!("unknown column `{name}`")));
        }
        if header.iter().take(at).any(|earlier| earlier.trim() == name) {
            return Err(refuse(format!("column `{name}` stands twice")));
        }
    }
    let place = |wanted: &str| header.iter().position(|name| name.trim() == wanted);
    let mut places = [0; R];
    for (slot, wanted) in places.iter_mut().zip(required) {
        *slot = place(wanted).ok_or_else(|| refuse(format!("column `{wanted}` is missing")))?;
    }
    Ok((places, optional.map(place)))
}

/// A module's name.
///
/// # Errors
/// A sentence for anything but 1 to 64 letters, digits, `-`, `_` and `.`, beginning with a letter or digit.
pub fn module_name(field: &[u8]) -> Result<&str, Complaint> {
    let legal = |name: &&str| {
        name.len() <= NAME_CHARACTERS_MAX
            && name.starts_with(|c: char| c.is_ascii_alphanumeric())
            && name
                .chars()
                .all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.'))
    };
    let name = std::str::from_utf8(field).ok().map(str::trim);
    name.filter(legal).ok_or_else(|| {
        (
            format!("module `{}` is no name", String::from_utf8_lossy(field)),
            format!(
                "use 1 to {NAME_CHARACTERS_MAX} letters, digits, - _ and ., beginning with a letter or digit"
            ),
        )
    })
}

/// A count.
///
/// # Errors
/// A sentence for anything but 0 to the converter's largest count.
pub fn count(field: &[u8], largest: u32) -> Result<u32, Complaint> {
    let text = std::str::from_utf8(field).unwrap_or("").trim();
    text.parse()
        .ok()
        .filter(|count| *count <= largest)
        .ok_or_else(|| {
            (
                format!(
                    "count = {}: not a whole number from 0 to {largest}",
                    String::from_utf8_lossy(field)
                ),
                "give the raw count of this front end's converter".to_owned(),
            )
        })
}

/// A finite decimal number within limits.
///
/// # Errors
/// A sentence that names the column, the value and the limits.
pub fn number(
    name: &str,
    field: &[u8],
    limits: std::ops::RangeInclusive<f64>,
) -> Result<f64, Complaint> {
    let text = std::str::from_utf8(field).unwrap_or("").trim();
    text.parse()
        .ok()
        .filter(|value| limits.contains(value))
        .ok_or_else(|| {
            (
                format!(
                    "{name} = {}: not a number from {} to {}",
                    String::from_utf8_lossy(field),
                    limits.start(),
                    limits.end()
                ),
                "correct the value, or take the row out".to_owned(),
            )
        })
}
