//! Names of modules: legal as a file's name, and spelled one way in a file.

use std::collections::HashMap;

use super::problem::{Complaint, quoted};

/// Characters of a module's name: it becomes a file's name.
const NAME_CHARACTERS_MAX: usize = 64;

/// A module's name.
///
/// # Errors
/// A complaint for anything but 1 to 64 letters, digits, `-`, `_` and `.`, beginning with a letter or digit.
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
        Complaint::new(
            format!("module `{}` is no name", quoted(field)),
            format!(
                "use 1 to {NAME_CHARACTERS_MAX} letters, digits, - _ and ., beginning with a letter or digit"
            ),
        )
    })
}

/// How each name is spelled. Two names that differ in capitals only are one module or a mistake, and one file where file
/// systems do not tell capitals.
#[derive(Debug, Clone, Default)]
pub struct Spellings(HashMap<String, (String, u64)>);

impl Spellings {
    /// Takes a name that was not seen before in this spelling.
    ///
    /// # Errors
    /// A complaint when it was seen in another one.
    pub fn take(&mut self, name: &str, line: u64) -> Result<(), Complaint> {
        let (first, first_line) = self
            .0
            .entry(name.to_ascii_lowercase())
            .or_insert_with(|| (name.to_owned(), line));
        if first == name {
            return Ok(());
        }
        Err(Complaint::new(
            format!("module `{name}` differs in capitals only from `{first}` of line {first_line}"),
            "write one module's name in one way, and give different modules different names",
        ))
    }
}
