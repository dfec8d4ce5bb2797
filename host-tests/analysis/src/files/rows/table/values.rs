//! What the fields of a row hold: names, numbers, counts, times.

use super::Table;
use crate::files::rows::decimals::Asked;
use crate::files::rows::names;
use crate::files::rows::problem::{Complaint, quoted};
use crate::files::rows::times::{self, Form};

impl<const N: usize> Table<'_, N> {
    /// A module's name.
    ///
    /// # Errors
    /// As [`names::module_name`].
    pub fn name(&self, wanted: usize) -> Result<&str, Complaint> {
        names::module_name(self.field(wanted)).map_err(|complaint| self.about(wanted, complaint))
    }

    /// A number in the wanted unit.
    ///
    /// # Errors
    /// As [`crate::files::rows::decimals::Decimals::number`].
    pub fn number(&mut self, wanted: usize) -> Result<f64, Complaint> {
        let column = self.header.columns.get(wanted).and_then(Option::as_ref);
        let (Some(wanted), Some(column)) = (self.wanted.get(wanted), column) else {
            return Err(Complaint::new("no such column".to_owned(), ""));
        };
        let asked = Asked {
            name: wanted.key,
            field: self.fields.value(&self.raw, column.at),
            power: column.power,
            limits: wanted.limits,
            line: self.lines.number(),
        };
        let at = column.at;
        self.decimals
            .number(&asked)
            .map_err(|complaint| complaint.at(at))
    }

    /// A number where there is one: none for an empty field or a column that is not there.
    ///
    /// # Errors
    /// As [`Table::number`].
    pub fn optional_number(&mut self, wanted: usize) -> Result<Option<f64>, Complaint> {
        if self.field(wanted).is_empty() {
            return Ok(None);
        }
        self.number(wanted).map(Some)
    }

    /// A count.
    ///
    /// # Errors
    /// A complaint for anything but 0 to the converter's largest count.
    pub fn count(&self, wanted: usize, largest: u32) -> Result<u32, Complaint> {
        let field = self.field(wanted);
        let name = self.wanted.get(wanted).map_or("", |wanted| wanted.key);
        let digits = field.iter().all(u8::is_ascii_digit);
        let text = std::str::from_utf8(field).unwrap_or("");
        text.parse()
            .ok()
            .filter(|count| digits && *count <= largest)
            .ok_or_else(|| {
                let rule = format!(
                    "{name} = {}: not a whole number from 0 to {largest}",
                    quoted(field)
                );
                let fix = "give the raw count of this front end's converter";
                self.about(wanted, Complaint::new(rule, fix))
            })
    }

    /// A time in seconds: a number, or ISO 8601.
    ///
    /// # Errors
    /// A complaint for anything else, and for a second form in one file.
    pub fn time(&mut self, wanted: usize) -> Result<f64, Complaint> {
        let (form, value) = match times::iso(self.field(wanted)) {
            Some(read) => read,
            None => {
                let number = self.number(wanted);
                let refused = |complaint| times::refused(complaint, self.field(wanted));
                (Form::Seconds, number.map_err(refused)?)
            }
        };
        let form = times::same(self.form, form, self.field(wanted))
            .map_err(|complaint| self.about(wanted, complaint))?;
        self.form = Some(form);
        Ok(value)
    }
}
