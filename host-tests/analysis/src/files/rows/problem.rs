//! What is wrong with a row: file, line, rule and help, the row shown as it is and the field underlined.

use std::fmt;
use std::io;
use std::ops::Range;

use miette::{
    Diagnostic, LabeledSpan, MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents,
};
use thiserror::Error;

use crate::files::input_file::with_fix;

/// Bytes of a row that are shown.
const SHOWN_BYTES: usize = 80;
/// Bytes of it before the field.
const BEFORE_BYTES: usize = 24;
/// Characters of a value that are quoted in a sentence.
const QUOTED: usize = 40;

/// A broken rule with its value, what helps, and the field that it is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Complaint {
    /// The rule that is broken, with the value.
    pub rule: String,
    /// How to fix it.
    pub fix: String,
    /// Number of the field in its row, from 0; none for the whole row.
    pub field: Option<usize>,
}

impl Complaint {
    /// About a whole row.
    pub fn new(rule: String, fix: impl Into<String>) -> Self {
        Self {
            rule,
            fix: fix.into(),
            field: None,
        }
    }

    /// About a field.
    pub fn at(mut self, field: usize) -> Self {
        self.field = Some(field);
        self
    }
}

/// One row, or the header, that breaks a rule.
#[derive(Debug, Clone, Error)]
#[error("{file}:{line}: {rule}")]
pub struct RowProblem {
    /// The file.
    pub file: String,
    /// Line, from 1.
    pub line: u64,
    /// The row as it is, or a part of it around the field.
    pub row: String,
    /// What is underlined of it, in bytes.
    pub place: Range<usize>,
    /// The rule that is broken, with the value.
    pub rule: String,
    /// How to fix it.
    pub fix: String,
}

impl RowProblem {
    /// A problem of a row as it was read; `place` are the bytes to underline.
    pub fn new(
        file: &str,
        line: u64,
        row: &[u8],
        place: Range<usize>,
        complaint: Complaint,
    ) -> Self {
        let start = place.start.min(row.len());
        let (from, left_out) = if row.len() <= SHOWN_BYTES {
            (0, "")
        } else {
            let from = start.saturating_sub(BEFORE_BYTES);
            (from, if from > 0 { "[...] " } else { "" })
        };
        let to = row.len().min(from + SHOWN_BYTES);
        let end = place.end.clamp(start, to.max(start));
        let part = |range: Range<usize>| printable(row.get(range).unwrap_or_default());
        let before = format!("{left_out}{}", part(from..start));
        let field = part(start..end);
        let more = if to < row.len() { " [...]" } else { "" };
        Self {
            file: file.to_owned(),
            line,
            place: before.len()..before.len() + field.len(),
            row: format!("{before}{field}{}{more}", part(end..to)),
            rule: complaint.rule,
            fix: complaint.fix,
        }
    }

    /// In one line, without the row.
    pub fn line_text(&self) -> String {
        format!("{self} ({})", self.fix)
    }
}

/// Bytes as text on one line that cannot steer a terminal; what is no character becomes U+FFFD.
fn printable(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes)
        .chars()
        .map(|c| match c {
            '\t' => c,
            c if c.is_control() => char::REPLACEMENT_CHARACTER,
            c => c,
        })
        .collect()
}

/// A value for a sentence: at most 40 characters, on one line.
pub fn quoted(value: &[u8]) -> String {
    // A character has four bytes at most, so that no more of a long value needs a look.
    let text = printable(value.get(..4 * QUOTED + 4).unwrap_or(value)).replace('\t', " ");
    shortened(&text, QUOTED)
}

/// A text, or the beginning of one that has more than so many characters.
pub fn shortened(text: &str, characters: usize) -> String {
    match text.char_indices().nth(characters) {
        Some((end, _)) => format!("{}...", &text[..end]),
        None => text.to_owned(),
    }
}

impl SourceCode for RowProblem {
    fn read_span<'a>(
        &'a self,
        _span: &SourceSpan,
        _before: usize,
        _after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let above = usize::try_from(self.line.saturating_sub(1)).unwrap_or(usize::MAX);
        let whole = SourceSpan::from(0..self.row.len());
        Ok(Box::new(MietteSpanContents::new_named(
            self.file.clone(),
            self.row.as_bytes(),
            whole,
            above,
            0,
            1,
        )))
    }
}

impl Diagnostic for RowProblem {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.fix))
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        (!self.row.is_empty()).then_some(self)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let here = LabeledSpan::new_primary_with_span(Some("here".to_owned()), self.place.clone());
        Some(Box::new(std::iter::once(here)))
    }
}

/// Why a file gives no rows at all.
#[derive(Debug, Clone, Error)]
pub enum RowsError {
    /// The file could not be read.
    #[error("{file}: {reason}")]
    Unreadable {
        /// The file.
        file: String,
        /// The system's reason, and what helps.
        reason: String,
    },
    /// The header names the wrong columns, or a row refuses the whole file.
    #[error(transparent)]
    Header(RowProblem),
}

impl RowsError {
    /// For a file that never began.
    pub fn unreadable(file: &str, error: &io::Error) -> Self {
        Self::Unreadable {
            file: file.to_owned(),
            reason: format!("cannot be read: {}", with_fix(error)),
        }
    }

    /// For a file that breaks off behind so many rows.
    pub fn broken_off(file: &str, rows: u64, error: &io::Error) -> Self {
        let noun = if rows == 1 { "row" } else { "rows" };
        Self::Unreadable {
            file: file.to_owned(),
            reason: format!("breaks off after {rows} {noun}: {}", with_fix(error)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Complaint, RowProblem, quoted};

    #[test]
    fn the_field_is_underlined_wherever_it_stands() {
        let long = "x".repeat(5000);
        for (row, field) in [
            ("a,3O65,b".to_owned(), "3O65"),
            (format!("a,{long},3O65"), "3O65"),
            (format!("a,3O65,{long}"), "3O65"),
            ("\u{1B}[31m,3O65".to_owned(), "3O65"),
        ] {
            let at = row.find(field).expect("it is there");
            let complaint = Complaint::new(String::new(), "");
            let problem = RowProblem::new("f", 1, row.as_bytes(), at..at + field.len(), complaint);
            assert_eq!(&problem.row[problem.place.clone()], field, "{row}");
            assert!(problem.row.len() < 200 && !problem.row.contains('\u{1B}'));
        }
    }

    #[test]
    fn a_quoted_value_is_short() {
        assert_eq!(quoted(b"3O65"), "3O65");
        assert!(quoted(&vec![0xFF; 1 << 20]).len() < 200);
        assert!(quoted("µ".repeat(300).as_bytes()).ends_with("µ..."));
    }
}
