//! A CSV file, row by row, in a fixed amount of memory.

mod understood;
mod values;

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::Path;

use super::columns::{self, Column, Header, Wanted};
use super::decimals::{Asked, Decimals};
use super::fields::Fields;
use super::lines::{LINE_BYTES_MAX, Line, Lines};
use super::problem::{Complaint, RowProblem, RowsError};
use super::source::{BUFFER, decoded, sampled};
use super::times::{self, Form};
use crate::files::input_file;

/// Bytes that are looked at to learn what decimals look like.
const SAMPLE: u64 = 1 << 16;
/// Most columns that are used or named; a header with more is no table of readings.
const COLUMNS_MAX: usize = 256;

/// What the next row is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// A row, to be asked for its fields.
    Row,
    /// A row that is not one: too long, with an open quote or with fields beyond the header's.
    Bad(Complaint),
    /// There is none.
    End,
}

/// A file and its row at hand. Lines that are empty or begin with `#` are no rows.
pub struct Table<'a, const N: usize> {
    file: String,
    wanted: &'a [Wanted; N],
    lines: Lines<BufReader<Box<dyn Read + 'a>>>,
    header: Header<N>,
    header_line: Vec<u8>,
    header_number: u64,
    decimals: Decimals,
    form: Option<Form>,
    raw: Vec<u8>,
    fields: Fields,
}

/// A file that is to be read as rows, with its name for messages.
///
/// # Errors
/// [`RowsError::Unreadable`].
pub fn open(path: &Path) -> Result<(String, File), RowsError> {
    let file = path.display().to_string();
    match input_file::open(path) {
        Ok(opened) => Ok((file, opened)),
        Err(error) => Err(RowsError::unreadable(&file, &error)),
    }
}

impl<'a, const N: usize> Table<'a, N> {
    /// Understands the header of a source of bytes; `file` serves messages only.
    ///
    /// # Errors
    /// [`RowsError`] when the source or its header cannot be used.
    pub fn from_source(
        file: &str,
        source: impl Read + 'a,
        wanted: &'a [Wanted; N],
    ) -> Result<Self, RowsError> {
        let decoded = decoded(source).map_err(|error| RowsError::unreadable(file, &error))?;
        let (sample, all) = sampled(decoded, SAMPLE);
        let mut lines = Lines::new(BufReader::with_capacity(BUFFER, all));
        let mut raw = Vec::new();
        let found =
            next_line(&mut lines, &mut raw).map_err(|error| RowsError::unreadable(file, &error))?;
        let refuse = |place, complaint| {
            RowsError::Header(RowProblem::new(
                file,
                lines.number().max(1),
                &raw,
                place,
                complaint,
            ))
        };
        let whole = 0..raw.len();
        match found {
            Line::Whole => {}
            Line::TooLong => return Err(refuse(0..0, too_long())),
            Line::End => {
                let keys: Vec<&str> = wanted.iter().map(|wanted| wanted.key).collect();
                let rule = "the file is empty: no header and no row".to_owned();
                let fix = format!("give a file with the columns {}", keys.join(","));
                return Err(refuse(whole, Complaint::new(rule, fix)));
            }
        }
        let header = match columns::header(&raw, wanted) {
            Ok(header) if header.fields <= COLUMNS_MAX => header,
            Ok(header) => {
                let rule = format!("{} columns, at most {COLUMNS_MAX} are read", header.fields);
                return Err(refuse(whole, Complaint::new(rule, "leave some out")));
            }
            Err((place, complaint)) => return Err(refuse(place, complaint)),
        };
        let mut table = Self {
            file: file.to_owned(),
            wanted,
            decimals: Decimals::new(header.separator),
            header_number: lines.number(),
            header_line: raw.clone(),
            header,
            lines,
            form: None,
            raw,
            fields: Fields::default(),
        };
        table.learn(&sample);
        Ok(table)
    }

    /// Learns the sign of decimals from the first rows, so that the very first is read as the others are.
    fn learn(&mut self, sample: &[u8]) {
        let mut lines = Lines::new(sample);
        let mut raw = Vec::new();
        let mut fields = Fields::default();
        while self.decimals.sign().is_none() && matches!(lines.next(&mut raw), Ok(Line::Whole)) {
            if lines.number() <= self.header_number
                || is_comment(&raw)
                || fields.split(&raw, self.header.separator).is_err()
            {
                continue;
            }
            for (column, wanted) in self.header.columns.iter().zip(self.wanted) {
                if let Some(column) = column
                    && !wanted.units.is_empty()
                    && times::iso(fields.value(&raw, column.at)).is_none()
                {
                    // A complaint is made again when its row comes.
                    let _ = self.decimals.number(&Asked {
                        name: wanted.key,
                        field: fields.value(&raw, column.at),
                        power: column.power,
                        limits: wanted.limits,
                        line: lines.number(),
                    });
                }
            }
        }
    }

    /// Goes to the next row.
    ///
    /// # Errors
    /// The source's.
    pub fn step(&mut self) -> io::Result<Step> {
        match next_line(&mut self.lines, &mut self.raw)? {
            Line::End => return Ok(Step::End),
            Line::TooLong => {
                self.fields = Fields::default();
                return Ok(Step::Bad(too_long()));
            }
            Line::Whole => {}
        }
        let complaint = match self.fields.split(&self.raw, self.header.separator) {
            Ok(()) => match self.surplus() {
                None => return Ok(Step::Row),
                Some(surplus) => surplus,
            },
            Err(wrong) => wrong.complaint(),
        };
        // The field at fault is the one behind those that were read.
        let field = complaint.field.unwrap_or(self.fields.len());
        Ok(Step::Bad(complaint.at(field)))
    }

    /// Fields that no column is for; empty ones do not count, which spreadsheets add.
    fn surplus(&self) -> Option<Complaint> {
        let (found, columns) = (self.fields.len(), self.header.fields);
        let filled = (columns..found).find(|at| !self.fields.value(&self.raw, *at).is_empty())?;
        let rule = format!("{found} fields, the header has {columns}");
        Some(Complaint::new(rule, "take the surplus fields out").at(filled))
    }

    /// Line of the row, from 1.
    pub fn line(&self) -> u64 {
        self.lines.number()
    }

    /// Whether the file has a wanted column.
    pub fn has(&self, wanted: usize) -> bool {
        self.column(wanted).is_some()
    }

    /// A field of the row; empty where the column or the field is not there.
    pub fn field(&self, wanted: usize) -> &[u8] {
        self.column(wanted)
            .map_or(b"", |column| self.fields.value(&self.raw, column.at))
    }

    /// Any field of the row, by its place in the header.
    pub fn any_field(&self, at: usize) -> &[u8] {
        self.fields.value(&self.raw, at)
    }

    /// The header's fields as they are written.
    pub fn headings(&self) -> Vec<String> {
        let mut fields = Fields::default();
        // It was split before.
        let _ = fields.split(&self.header_line, self.header.separator);
        let heading =
            |at| String::from_utf8_lossy(fields.value(&self.header_line, at)).into_owned();
        (0..fields.len()).map(heading).collect()
    }

    /// A complaint about a wanted column's field.
    pub fn about(&self, wanted: usize, complaint: Complaint) -> Complaint {
        match self.column(wanted) {
            Some(column) => complaint.at(column.at),
            None => complaint,
        }
    }

    /// A problem of the row.
    pub fn problem(&self, complaint: Complaint) -> RowProblem {
        let place = match complaint.field {
            // What could not be split begins behind the last field that could.
            Some(at) if at >= self.fields.len() => {
                let end = self.fields.len().checked_sub(1);
                let end = end.map_or(0, |last| self.fields.place(last).end + 1);
                end.min(self.raw.len())..self.raw.len()
            }
            Some(at) => self.fields.place(at),
            None => 0..self.raw.len(),
        };
        RowProblem::new(&self.file, self.line(), &self.raw, place, complaint)
    }

    /// A problem of the header.
    pub fn header_problem(&self, complaint: Complaint) -> RowsError {
        RowsError::Header(RowProblem::new(
            &self.file,
            self.header_number,
            &self.header_line,
            0..self.header_line.len(),
            complaint,
        ))
    }

    fn column(&self, wanted: usize) -> Option<&Column> {
        self.header.columns.get(wanted)?.as_ref()
    }
}

fn too_long() -> Complaint {
    Complaint::new(
        format!("the line is longer than {LINE_BYTES_MAX} bytes, the most that a row may have"),
        "check that this is the table, and take the line out",
    )
}

fn is_comment(raw: &[u8]) -> bool {
    raw.first() == Some(&b'#') || raw.trim_ascii().is_empty()
}

/// The next line that is neither empty nor a comment.
fn next_line<R: Read>(lines: &mut Lines<BufReader<R>>, raw: &mut Vec<u8>) -> io::Result<Line> {
    loop {
        let found = lines.next(raw)?;
        if found != Line::Whole || !is_comment(raw) {
            return Ok(found);
        }
    }
}
