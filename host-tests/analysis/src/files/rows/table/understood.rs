//! In one line, how a file was read: separator, decimals, columns and their units, times.

use super::super::times::Form;
use super::Table;
use crate::files::rows::columns::SEPARATORS;
use crate::files::rows::problem::shortened;

/// Characters of what was understood.
const UNDERSTOOD: usize = 400;

impl<const N: usize> Table<'_, N> {
    /// In one line, what was understood of the file so far.
    pub fn understood(&self) -> String {
        let separator = SEPARATORS
            .iter()
            .find(|(separator, _)| *separator == self.header.separator)
            .map_or("", |(_, name)| name);
        let mut parts = vec![format!("{separator} between fields")];
        if let Some(sign) = self.decimals.sign() {
            parts.push(format!("decimal {}", sign.word()));
        }
        for (column, wanted) in self.header.columns.iter().zip(self.wanted) {
            let Some(column) = column else { continue };
            let key = wanted.key;
            let unit = match column.power {
                0 => String::new(),
                power => format!(" times 10^{power}"),
            };
            parts.push(if column.written == key && column.power == 0 {
                key.to_owned()
            } else {
                format!("{key} from `{}`{unit}", column.written)
            });
        }
        if let Some(form) = self.form
            && form != Form::Seconds
        {
            parts.push(format!("times {}", form.words()));
        }
        if !self.header.unused.is_empty() {
            parts.push(format!("not used: {}", self.header.unused.join(" ")));
        }
        // A header of many long names would bury the rest.
        shortened(&parts.join(", "), UNDERSTOOD)
    }
}
